//! The merged log for the boat's unit: names that fit it, symbols that it knows, no more marks than it takes.

use crate::layers::gpx::{Worn, write_all};
use crate::layers::{Results, Settings};
use crate::terms::finding::{Code, Finding};
use crate::terms::mark::{Kind, Mark};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Write};

/// Writes the merged log as GPX 1.1 for the boat: as `gpx::merged`, but that names are ASCII, at most
/// `settings.name_length` characters and unique in the file whatever their case, that `sym` stands only where the
/// settings give one for the kind, and that no more than `settings.most_marks` are written.
///
/// A name that had to change stands whole in `desc` where that is empty, and in our extension `name`, by which it is
/// itself again when the file is read as an input.
///
/// # Errors
/// When `out` cannot be written.
pub fn boat_marks(out: &mut impl Write, results: &Results<'_>, settings: &Settings) -> io::Result<()> {
    let kept = kept(results.log, settings.most_marks);
    let marks: Vec<&Mark> = kept.iter().map(|number| &results.log[*number]).collect();
    let names = names(&marks, settings.name_length);
    let symbol = |kind: Kind| settings.symbols.get(&kind).map_or("", String::as_str);
    write_all(out, results, &marks, |number| {
        Some(Worn { name: &names[number], symbol: symbol(marks[number].kind) })
    })
}

/// The numbers of the marks that a file of at most `most` marks keeps, in the order of the log: hazards before all, then
/// ramps and docks, then the newest; the undated are the oldest.
fn kept(log: &[Mark], most: Option<usize>) -> Vec<usize> {
    let mut numbers: Vec<usize> = (0..log.len()).collect();
    if let Some(most) = most.filter(|most| *most < log.len()) {
        let rank = |kind| match kind {
            Kind::Hazard => 0,
            Kind::Access => 1,
            _ => 2,
        };
        numbers.sort_by_key(|number| {
            let mark = &log[*number];
            (rank(mark.kind), Reverse(mark.day.map(|day| day.date)), Reverse(mark.time), *number)
        });
        numbers.truncate(most);
        numbers.sort_unstable();
    }
    numbers
}

/// What the boat's files leave out of `marks` merged marks and `areas` holding areas; `None`: nothing.
#[must_use]
pub fn left_out(marks: usize, areas: usize, settings: &Settings) -> Option<Finding> {
    let most = settings.most_marks?;
    let over = |count: usize| count.saturating_sub(most);
    (over(marks) + over(areas) > 0).then(|| {
        Finding::new(
            Code::BoatMarksLeftOut,
            format!(
                "`{}` marks and `{}` holding areas are more than `output.most_marks` = `{most}`",
                over(marks),
                over(areas)
            ),
        )
        .done("they were left out of the files for the boat: hazards and ramps go first, then the newest marks; areas by their sightings")
        .fix("raise the setting if the unit takes more; all of them are in layers and tables")
    })
}

/// A name a mark: its own where that is ASCII, short enough and nobody else's, else one made from it.
fn names(marks: &[&Mark], length: usize) -> Vec<String> {
    let mut taken: BTreeSet<String> = BTreeSet::new();
    let mut numbers: BTreeMap<String, usize> = BTreeMap::new();
    marks
        .iter()
        .map(|mark| {
            let whole = ascii(mark.words.name());
            let whole = if whole.is_empty() { mark.kind.word().to_ascii_uppercase() } else { whole };
            let cut = whole[..whole.len().min(length)].trim_end();
            if taken.insert(cut.to_ascii_uppercase()) {
                return cut.to_owned();
            }
            let number = numbers.entry(cut.to_ascii_uppercase()).or_insert(1);
            loop {
                *number += 1;
                let name = numbered(cut, *number, length);
                if taken.insert(name.to_ascii_uppercase()) {
                    return name;
                }
            }
        })
        .collect()
}

/// `SHAD 24FT` and 2 → `SHAD 24FT 2`, cut before the number so that it fits. Where digits leave no room for a letter, base 36
/// does with less: four characters hold 1,679,615. Beyond that names grow rather than repeat.
fn numbered(name: &str, number: usize, length: usize) -> String {
    let mut digits = number.to_string();
    if digits.len() + 2 > length {
        digits = super::boat::base_36(number);
    }
    let room = length.saturating_sub(digits.len() + 1);
    match name[..name.len().min(room)].trim_end() {
        "" => digits,
        stem => format!("{stem} {digits}"),
    }
}

/// Printable ASCII: Latin letters lose their accents, what has no such letter goes; white space is one space.
fn ascii(text: &str) -> String {
    let mut plain = String::new();
    for c in text.chars() {
        match c {
            ' '..='~' => plain.push(c),
            'À'..='Å' => plain.push('A'),
            'Ç' => plain.push('C'),
            'È'..='Ë' => plain.push('E'),
            'Ì'..='Ï' => plain.push('I'),
            'Ñ' => plain.push('N'),
            'Ò'..='Ö' | 'Ø' => plain.push('O'),
            'Ù'..='Ü' => plain.push('U'),
            'Ý' => plain.push('Y'),
            'à'..='å' => plain.push('a'),
            'ç' => plain.push('c'),
            'è'..='ë' => plain.push('e'),
            'ì'..='ï' => plain.push('i'),
            'ñ' => plain.push('n'),
            'ò'..='ö' | 'ø' => plain.push('o'),
            'ù'..='ü' => plain.push('u'),
            'ý' | 'ÿ' => plain.push('y'),
            'Æ' => plain.push_str("AE"),
            'æ' => plain.push_str("ae"),
            'ß' => plain.push_str("ss"),
            c if c.is_whitespace() => plain.push(' '),
            _ => {}
        }
    }
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lose_accents_and_what_no_unit_shows() {
        for (name, expected) in [
            ("SHAD 24FT", "SHAD 24FT"),
            ("  Bärschwarm\tnord ", "Barschwarm nord"),
            ("Łódź 🐟 3", "odz 3"),
            ("Straße Ø ÆON", "Strasse O AEON"),
            ("\u{202e}x\u{7}", "x"),
            ("鱼", ""),
        ] {
            // Of `Łódź` the letters outside Latin-1 go.
            assert_eq!(ascii(name), expected.replace("odz", "od"), "{name}");
        }
    }

    #[test]
    fn a_number_takes_the_room_it_needs() {
        for (number, length, expected) in [
            (2, 12, "SHAD 24FT 2"),
            (10, 12, "SHAD 24FT 10"),
            (100, 12, "SHAD 24F 100"),
            (2, 4, "SH 2"),
            (99, 4, "S 99"),
            (100, 4, "S 2S"),  // 2·36 + 28
            (1_296, 4, "100"), // 36²
            (1_679_615, 4, "ZZZZ"),
        ] {
            assert_eq!(numbered("SHAD 24FT", number, length), expected);
        }
    }
}
