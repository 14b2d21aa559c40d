//! The account as a person reads it.

use super::{Account, FileAccount, Records, place_text};
use crate::terms::export::Export;
use crate::terms::finding::{Code, Finding, Severity};
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// Text from files made harmless for a terminal: control characters, those that turn the direction of writing (UAX 9)
/// and those that end a line become `·`.
#[must_use]
pub fn printable(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => '·',
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
    let width = account.files.iter().map(|f| f.path.chars().count()).max().unwrap_or(0).clamp(9, 48);
    let mut lines = vec![format!(
        "{:width$}  {:>8} {:>8} {:>8} {:>9} {:>8}  track points",
        "file", "read", "kept", "merged", "set aside", "repaired"
    )];
    lines.extend(account.files.iter().map(|file| line(width, &file.path, file.records, file.track_points)));
    if account.files.len() != 1 {
        let points = account.files.iter().map(|f: &FileAccount| f.track_points).sum();
        lines.push(line(width, "all files", account.records, points));
    }
    lines.join("\n") + "\n"
}

fn line(width: usize, path: &str, r: Records, track_points: u64) -> String {
    let shown = shortened(path, width);
    let points = if track_points == 0 { String::from("-") } else { track_points.to_string() };
    format!(
        "{shown:width$}  {:>8} {:>8} {:>8} {:>9} {:>8}  {points}",
        r.read, r.kept, r.merged_away, r.set_aside, r.repaired
    )
}

/// A path in at most `width` characters. The end of a long one tells the file; its beginning goes.
pub(super) fn shortened(path: &str, width: usize) -> String {
    let path = printable(path);
    let excess = path.chars().count().saturating_sub(width);
    if excess > 0 { std::iter::once('…').chain(path.chars().skip(excess + 1)).collect() } else { path }
}

/// What came of the run, in words; empty when it went no further than the log.
#[must_use]
pub fn results(account: &Account) -> String {
    let counts = account.counts;
    if counts.sightings == 0 {
        return String::new();
    }
    let counted = |count: usize, what: &str| format!("{count} {what}{}", if count == 1 { "" } else { "s" });
    let mut told = vec![counted(counts.sightings, "sighting"), counted(counts.areas, "holding area")];
    // A stage that did not run found nothing, which is not the same as finding none.
    if account.stages.iter().any(|stage| stage.name == "movement") {
        told.push(counted(counts.movement_tracks, "movement track"));
    }
    let mut lines = vec![told.join(", ")];
    if let Some(pairing) = account.pairing
        && let (Some(near), Some(lift), Some(p)) = (pairing.tested_near, pairing.lift, pairing.p)
    {
        lines.push(format!(
            "{near} of {} gamefish marks lay near bait of the same outing, {lift} times what chance gives (p {p:.4}): \
             what this log shows, no rule",
            pairing.tested
        ));
    }
    if !account.season_shifts.is_empty() {
        let shifts: Vec<String> = account
            .season_shifts
            .iter()
            .map(|s| format!("{} {:+.0} days", s.season, s.days.round() + 0.0))
            .collect();
        lines.push(format!("bait later (+) or earlier (-) than usual: {}", shifts.join(", ")));
    }
    lines.extend(account.skill.iter().map(super::SkillAccount::text));
    lines.extend(account.review.iter().map(super::ReviewAccount::text));
    lines.join("\n") + "\n"
}

/// How much is told of the findings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Telling {
    /// One line a code: how many, what it means, the first of them.
    Short,
    /// Every finding, with what was done and how to mend it.
    Full,
}

/// The findings by code, what was set aside first, then what is doubtful, repaired and merely noted.
#[must_use]
pub fn findings_text(findings: &[&Finding], exports: &[Export], telling: Telling) -> String {
    let mut by_code: BTreeMap<(Reverse<Severity>, Code), Vec<&Finding>> = BTreeMap::new();
    for finding in findings {
        by_code.entry((Reverse(finding.code.severity()), finding.code)).or_default().push(finding);
    }
    let mut lines = Vec::new();
    for ((_, code), group) in by_code {
        lines.push(format!(
            "{:>9} {:>6}  {}: {}",
            code.severity().word(),
            group.len(),
            code.word(),
            code.meaning()
        ));
        let told = if telling == Telling::Short { 1 } else { group.len() };
        for finding in &group[..told] {
            lines.push(format!("{:18}{}", "", seen_text(finding, exports)));
            for (word, what) in [("done", &finding.done), ("fix", &finding.fix)] {
                if telling == Telling::Full && !what.is_empty() {
                    lines.push(format!("{:20}{word}: {}", "", printable(what)));
                }
            }
        }
    }
    lines.iter().map(|line| line.clone() + "\n").collect()
}

/// `season-2.gpx:312: name: what was seen`, cut to what a line holds.
fn seen_text(finding: &Finding, exports: &[Export]) -> String {
    const LONGEST: usize = 160;
    let place = finding.origin.map_or_else(String::new, |o| format!("{}: ", place_text(exports, o)));
    let name = if finding.name.is_empty() { String::new() } else { format!("`{}`: ", finding.name) };
    let text = printable(&format!("{place}{name}{}", finding.seen));
    if text.chars().count() <= LONGEST {
        return text;
    }
    text.chars().take(LONGEST - 1).chain(std::iter::once('…')).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escapes_and_direction_marks_do_not_reach_the_terminal() {
        assert_eq!(printable("\u{1b}[31mBAIT\u{202e}TIAB\u{7}"), "·[31mBAIT·TIAB·");
        assert_eq!(printable("\u{9b}2J\u{61c}a\u{2028}b"), "·2J·a·b");
        assert_eq!(printable("Brême 27'"), "Brême 27'");
    }

    #[test]
    fn what_was_set_aside_is_told_before_notes() {
        let note = Finding::new(Code::DateOrder, "rows");
        let aside = Finding::new(Code::PositionNull, "0, 0").fix("drop it again");
        let text = findings_text(&[&note, &aside], &[], Telling::Full);
        assert!(text.find("position-null").unwrap() < text.find("date-order").unwrap(), "{text}");
        assert!(text.contains("fix: drop it again"));
        assert!(!findings_text(&[&aside], &[], Telling::Short).contains("fix:"));
    }
}
