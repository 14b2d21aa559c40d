//! The user's own corrections, in `edits.csv`: they hold whatever the exports say, run after run.
//!
//! Columns `id,action,value`: `drop` takes a mark out, `kind` sets what it is on, `move` puts it at `lon lat`, `note`
//! adds a note. Ids do not change by an edit, so the file stays valid.

use super::{Merged, log_order};
use crate::terms::finding::{Code, Finding, SetAside};
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark};
use crate::terms::place::Place;
use std::collections::HashMap;

/// What an edit does to a mark.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Takes it out of the log.
    Drop,
    /// Sets what it is on.
    Kind(Kind),
    /// Puts it elsewhere.
    Move(Place),
    /// Adds the user's note.
    Note(String),
}

/// One row of the edits file.
#[derive(Clone, Debug, PartialEq)]
pub struct Edit {
    /// Id of the mark, as outputs write it.
    pub id: String,
    /// What to do.
    pub change: Change,
    /// Line in the edits file, from 1.
    pub line: u64,
}

/// Reads the text of an edits file: a header row `id,action,value`, then a row an edit. Rows that cannot be read are
/// told and left out.
#[must_use]
pub fn read_edits(text: &str) -> (Vec<Edit>, Vec<Finding>) {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    let (mut edits, mut findings) = (Vec::new(), Vec::new());
    let column =
        |headers: &csv::StringRecord, name: &str| headers.iter().position(|h| h.eq_ignore_ascii_case(name));
    let columns = reader.headers().ok().and_then(|headers| {
        Some((column(headers, "id")?, column(headers, "action")?, column(headers, "value")))
    });
    let Some((id, action, value)) = columns else {
        if !text.trim().is_empty() {
            let first = text.lines().next().unwrap_or_default();
            findings.push(
                Finding::new(Code::EditUnreadable, format!("the edits file starts with `{first}`"))
                    .done("no edit was read")
                    .fix("start it with the row `id,action,value`"),
            );
        }
        return (edits, findings);
    };
    for record in reader.records() {
        match record {
            Ok(record) => {
                let line = record.position().map_or(0, csv::Position::line);
                let cell = |at: usize| record.get(at).unwrap_or_default();
                let value = value.map_or("", cell);
                match change(cell(action), value) {
                    Ok(change) if !cell(id).is_empty() => {
                        edits.push(Edit { id: cell(id).to_owned(), change, line });
                    }
                    Ok(_) => findings.push(unreadable(line, "", "write the id of the mark")),
                    Err(fix) => findings.push(unreadable(line, &format!("{},{value}", cell(action)), fix)),
                }
            }
            Err(error) => {
                let line = error.position().map_or(0, csv::Position::line);
                findings.push(unreadable(line, "", "write it as UTF-8 text"));
            }
        }
    }
    (edits, findings)
}

fn unreadable(line: u64, what: &str, fix: &'static str) -> Finding {
    Finding::new(Code::EditUnreadable, format!("line {line} of the edits file: `{what}`"))
        .done("the row was left out")
        .fix(fix)
}

fn change(action: &str, value: &str) -> Result<Change, &'static str> {
    match action.to_ascii_lowercase().as_str() {
        "drop" => Ok(Change::Drop),
        "kind" => Kind::from_word(value)
            .map(Change::Kind)
            .ok_or("write one of bait, gamefish, cover, structure, hazard, access, other"),
        "move" => {
            let numbers: Vec<f64> = value
                .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | '[' | ']'))
                .filter(|part| !part.is_empty())
                .map_while(|part| part.parse().ok())
                .collect();
            match numbers.as_slice() {
                [lon, lat] => Place::new(*lon, *lat).map(Change::Move),
                _ => None,
            }
            .ok_or("write longitude and latitude in degrees, like `-94.1 35.2`")
        }
        "note" => Ok(Change::Note(value.to_owned())),
        _ => Err("write one of the actions drop, kind, move, note"),
    }
}

/// Applies the edits in the order of their rows. Rows without a mark are told.
#[must_use]
pub fn apply_edits(mut merged: Merged, edits: &[Edit], lake: &Lake) -> Merged {
    if edits.is_empty() {
        return merged;
    }
    let marks = std::mem::take(&mut merged.log.kept);
    let by_id: HashMap<String, usize> =
        marks.iter().enumerate().map(|(i, mark)| (mark.id.to_string(), i)).collect();
    let mut slots: Vec<Option<Mark>> = marks.into_iter().map(Some).collect();
    for edit in edits {
        let Some(slot) = by_id.get(&edit.id.to_ascii_lowercase()).map(|i| &mut slots[*i]) else {
            merged.log.findings.push(
                Finding::new(
                    Code::EditUnmatched,
                    format!("line {} of the edits file: `{}`", edit.line, edit.id),
                )
                .done("nothing")
                .fix("copy the id from marks.csv"),
            );
            continue;
        };
        // A mark that an earlier row dropped is gone: later rows have nothing to do.
        let Some(mut mark) = slot.take() else { continue };
        let (origin, name) = (mark.origin(), mark.words.name().to_owned());
        let finding = |code, seen: String| Finding::new(code, seen).at(origin, &name);
        let seen = match &edit.change {
            Change::Drop => {
                let finding = finding(Code::EditDropped, format!("line {} drops `{}`", edit.line, edit.id))
                    .done("set aside")
                    .fix("take the row out of the edits file to have it back");
                merged.log.set_aside.push(SetAside::one(origin, finding));
                continue;
            }
            Change::Kind(kind) => {
                let old = std::mem::replace(&mut mark.kind, *kind);
                format!("kind `{}` -> `{}`", old.word(), kind.word())
            }
            Change::Move(place) => {
                let metres = lake.to_plane(mark.place).metres_to(lake.to_plane(*place));
                let [lon, lat] = mark.place.six_decimals();
                mark.place = *place;
                format!("moved `{metres:.0} m` from `{lon} {lat}`")
            }
            Change::Note(note) => {
                mark.note = note.as_str().into();
                format!("note `{note}`")
            }
        };
        merged.log.findings.push(finding(Code::EditApplied, format!("line {}: {seen}", edit.line)));
        mark.repairs.insert(Code::EditApplied);
        *slot = Some(mark);
    }
    merged.log.kept = slots.into_iter().flatten().collect();
    merged.log.kept.sort_by(log_order);
    merged.log.set_aside.sort_by_key(|aside| aside.origin);
    merged.log.findings.sort_by(|a, b| (a.origin, a.code, &a.seen).cmp(&(b.origin, b.code, &b.seen)));
    merged
}
