//! The account as a person reads it.

use super::{Account, FileAccount, Records, place_text};
use crate::terms::export::Export;
use crate::terms::finding::{Code, Finding};
use std::collections::BTreeMap;
use std::fmt::Write;

/// Text from files made harmless for a terminal: control characters and those that turn the direction of writing
/// become `·`.
#[must_use]
pub fn printable(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => '·',
            c if c.is_control() => '·',
            c => c,
        })
        .collect()
}

/// The same for a text of several lines: line ends stay.
#[must_use]
pub fn printable_lines(text: &str) -> String {
    text.split('\n').map(printable).collect::<Vec<_>>().join("\n")
}

/// The files and their sum, one line each.
#[must_use]
pub fn table(account: &Account) -> String {
    let width = account.files.iter().map(|f| f.path.chars().count()).max().unwrap_or(0).clamp(8, 48);
    let mut text = format!(
        "{:width$}  {:>8} {:>8} {:>8} {:>9} {:>8}  track points\n",
        "file", "read", "kept", "merged", "set aside", "repaired"
    );
    for file in &account.files {
        line(&mut text, width, &file.path, file.records, &track_text(file));
    }
    if account.files.len() != 1 {
        let points: u64 = account.files.iter().map(|f| f.track_points).sum();
        line(&mut text, width, "all files", account.records, &points.to_string());
    }
    text
}

fn track_text(file: &FileAccount) -> String {
    if file.track_points == 0 { String::from("-") } else { file.track_points.to_string() }
}

fn line(text: &mut String, width: usize, path: &str, r: Records, track_points: &str) {
    let path = printable(path);
    // The end of a long path tells the file; its beginning goes.
    let excess = path.chars().count().saturating_sub(width);
    let shown: String =
        if excess > 0 { std::iter::once('…').chain(path.chars().skip(excess + 1)).collect() } else { path };
    // Writing into a String cannot fail.
    let _ = writeln!(
        text,
        "{shown:width$}  {:>8} {:>8} {:>8} {:>9} {:>8}  {track_points}",
        r.read, r.kept, r.merged_away, r.set_aside, r.repaired
    );
}

/// The findings: one block a code with its count and first example, or all of them.
#[must_use]
pub fn findings_text(findings: &[&Finding], exports: &[Export], all: bool) -> String {
    let mut by_code: BTreeMap<Code, Vec<&Finding>> = BTreeMap::new();
    for finding in findings {
        by_code.entry(finding.code).or_default().push(finding);
    }
    let mut text = String::new();
    for (code, group) in by_code {
        let count = if group.len() == 1 { String::new() } else { format!(" × {}", group.len()) };
        let _ = writeln!(text, "{}{count}: {} [{}]", code.severity().word(), code.meaning(), code.word());
        let shown = if all { group.len() } else { 1 };
        for finding in group.iter().take(shown) {
            let place = finding.origin.map_or_else(String::new, |o| format!("{}: ", place_text(exports, o)));
            let name = if finding.name.is_empty() { String::new() } else { format!("`{}`: ", finding.name) };
            let _ = writeln!(text, "  {}", printable(&format!("{place}{name}{}", finding.seen)));
            for (word, what) in [("done", &finding.done), ("fix", &finding.fix)] {
                if !what.is_empty() {
                    let _ = writeln!(text, "    {word}: {}", printable(what));
                }
            }
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escapes_and_direction_marks_do_not_reach_the_terminal() {
        assert_eq!(printable("\u{1b}[31mBAIT\u{202e}TIAB\u{7}"), "·[31mBAIT·TIAB·");
        assert_eq!(printable("Brême 27'"), "Brême 27'");
    }
}
