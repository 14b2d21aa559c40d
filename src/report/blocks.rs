//! The blocks of JSON in the page.

use super::Report;
use super::script_text::InScript;
use crate::account::place_text;
use crate::layers::{GENERATOR, caution, columnar};
use crate::terms::export::Export;
use crate::terms::finding::{Code, Finding};
use serde_json::{Value, json};
use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::io::{self, Write};

/// Most findings of one code that the page shows; all of them stand in `tables/findings.csv`.
const SHOWN: usize = 12;
/// Most characters of one text of a finding.
const LONGEST: usize = 400;

/// Writes the blocks, each in a `script` element of its own. A block without content is left out.
pub(super) fn write<W: Write>(out: &mut W, report: &Report<'_>) -> io::Result<()> {
    let r = report.results;
    block(out, "about", |w| Ok(serde_json::to_writer(w, &about(report))?))?;
    block(out, "colours", |w| columnar::colours(w))?;
    if let Some(water) = &r.lake.water {
        block(out, "water", |w| columnar::water(w, water))?;
    }
    if !r.contours.is_empty() {
        block(out, "contours", |w| columnar::contours(w, r))?;
    }
    if !r.log.is_empty() {
        block(out, "marks", |w| columnar::marks(w, r))?;
    }
    if !r.sightings.is_empty() {
        block(out, "sightings", |w| columnar::sightings(w, r))?;
    }
    if !r.areas.is_empty() {
        block(out, "areas", |w| columnar::areas(w, r))?;
    }
    if !r.movement.tracks.is_empty() {
        block(out, "movement", |w| columnar::movement(w, r))?;
        block(out, "movement-days", |w| columnar::movement_days(w, r))?;
    }
    if !report.effort.outings.is_empty() {
        block(out, "effort", |w| columnar::effort(w, r))?;
        block(out, "looks", |w| columnar::looks(w, r, report.effort))?;
    }
    if r.outlook_date().is_some() {
        block(out, "outlook", |w| columnar::outlook(w, r))?;
    }
    if r.planned.is_some() {
        block(out, "stops", |w| columnar::prefish_stops(w, r))?;
        block(out, "legs", |w| columnar::prefish_legs(w, r))?;
    }
    block(out, "account", |w| Ok(serde_json::to_writer(w, &account(report))?))?;
    block(out, "findings", |w| Ok(serde_json::to_writer(w, &grouped(&report.findings, r.exports))?))
}

fn block<W: Write>(
    out: &mut W,
    name: &str,
    content: impl FnOnce(&mut InScript<'_, W>) -> io::Result<()>,
) -> io::Result<()> {
    write!(out, "<script type=\"application/json\" id=\"data-{name}\">")?;
    let mut inside = InScript::new(out);
    content(&mut inside)?;
    inside.finish()?;
    out.write_all(b"</script>\n")
}

fn about(report: &Report<'_>) -> Value {
    let lake = report.results.lake;
    let units = lake.units;
    json!({
        "generator": GENERATOR,
        "lake": lake.name,
        "caution": caution::FULL,
        "units": {
            "depth": units.short_length(),
            "long": units.long_length(),
            "temp": units.temperature(),
            "area": units.area(),
        },
        "outlook_date": report.results.outlook_date().map(|date| date.to_string()),
        "level": lake.levels_m.last_key_value().map(|(date, metres)| {
            json!([date.to_string(), (units.short_from_metres(*metres) * 100.0).round() / 100.0])
        }),
        "cell_m": report.effort.cell_m,
        "cell_area": units.area_from_square_metres(report.effort.cell_m * report.effort.cell_m),
    })
}

fn account(report: &Report<'_>) -> Value {
    let account = report.account;
    json!({
        "records": account.records,
        "files": account.files,
        "counts": account.counts,
        "pairing": account.pairing,
        "season_shifts": account.season_shifts,
        "skill": account.skill,
        "settings": account.settings,
    })
}

/// Findings by code: what was set aside first, then what is doubtful, repaired, noted; within these the most frequent.
fn grouped(findings: &[&Finding], exports: &[Export]) -> Vec<Value> {
    let mut by_code: BTreeMap<Code, Vec<&Finding>> = BTreeMap::new();
    for finding in findings {
        by_code.entry(finding.code).or_default().push(finding);
    }
    let mut groups: Vec<(Code, Vec<&Finding>)> = by_code.into_iter().collect();
    groups.sort_by_key(|(code, of_code)| (Reverse(code.severity()), Reverse(of_code.len()), *code));
    let told = |finding: &&Finding| {
        json!({
            "where": finding.origin.map_or(String::new(), |origin| place_text(exports, origin)),
            "name": shortened(&finding.name),
            "seen": shortened(&finding.seen),
            "done": shortened(&finding.done),
            "fix": shortened(&finding.fix),
        })
    };
    groups
        .into_iter()
        .map(|(code, of_code)| {
            json!({
                "code": code.word(),
                "severity": code.severity().word(),
                "meaning": code.meaning(),
                "count": of_code.len(),
                "shown": of_code.iter().take(SHOWN).map(told).collect::<Vec<_>>(),
            })
        })
        .collect()
}

/// The beginning of a long text, with a sign that it goes on.
fn shortened(text: &str) -> String {
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}
