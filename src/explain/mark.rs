//! A mark: its records, what was repaired, which copies are one, where it belongs.

use super::told::Told;
use super::{Known, counted, depth_json, depth_text, place_text, temp_text, with_unit};
use crate::layers::Results;
use crate::merge;
use crate::terms::finding::{Code, Finding};
use crate::terms::instant::Instant;
use crate::terms::mark::{Kind, Mark, Origin, RawMark, RawTime};
use serde_json::{Value, json};

/// Characters of a record that a person is shown.
const RECORD_SHOWN: usize = 160;

pub(super) fn mark(known: &Known<'_>, number: usize) -> Told {
    let mark = &known.log[number];
    let lake = known.lake;
    let id = mark.id.to_string();
    let name = if mark.words.name().is_empty() {
        "without a name".into()
    } else {
        format!("`{}`", mark.words.name())
    };
    let mut told =
        Told::new("mark", &id, format!("Mark `{id}`: {} {name}, {}.", mark.kind.word(), when(mark, known)));
    told.fact("kind", mark.kind.word().into());
    told.fact("name", mark.words.name().into());
    told.fact("time", json!(mark.time.map(Instant::rfc3339)));
    told.fact("local_date", json!(mark.day.map(|day| day.date.to_string())));
    told.say(
        "place",
        json!([super::rounded(mark.place.lon, 7), super::rounded(mark.place.lat, 7)]),
        format!("At `{}` (longitude, latitude).", place_text(mark.place)),
    );
    told.fact(&with_unit("fish_depth", lake), depth_json(mark.fish_depth, lake));
    told.fact(&with_unit("water_depth", lake), depth_json(mark.water_depth, lake));
    let temp = mark.water_temp.map(|t| super::rounded(lake.units.degrees(t), 1));
    told.fact(&format!("water_temp_{}", lake.units.temperature()), json!(temp));
    let measured: Vec<String> = [
        mark.fish_depth.map(|d| format!("fish at `{}`", depth_text(d, lake))),
        mark.water_depth.map(|d| format!("bottom at `{}`", depth_text(d, lake))),
        mark.water_temp.map(|t| format!("surface `{}`", temp_text(t, lake))),
    ]
    .into_iter()
    .flatten()
    .collect();
    if !measured.is_empty() {
        told.line(format!("It tells: {}.", measured.join(", ")));
    }
    if !mark.note.is_empty() {
        told.say("note", json!(&*mark.note), format!("Your note: `{}`.", mark.note));
    }
    records(known, mark, &mut told);
    repairs(known, mark, &mut told);
    belongs(known, number, &mut told);
    told
}

fn when(mark: &Mark, known: &Known<'_>) -> String {
    match (mark.time, mark.day) {
        (Some(time), _) => format!("`{}` at the lake", local(time, known)),
        (None, Some(day)) => format!("`{}`, time of day not known", day.date),
        (None, None) => String::from("undated"),
    }
}

/// A moment on the clock of the lake, to the second.
fn local(time: Instant, known: &Known<'_>) -> String {
    time.timestamp().map_or_else(
        || time.rfc3339(),
        |stamp| known.lake.time_zone.to_datetime(stamp).strftime("%Y-%m-%d %H:%M:%S").to_string(),
    )
}

fn label<'a>(known: &Known<'a>, origin: Origin) -> &'a str {
    known.exports.get(origin.file.0 as usize).map_or("", |export| export.label.as_str())
}

/// `exports/bow.gpx`, record 12 on line 88.
fn source_text(known: &Known<'_>, origin: Origin) -> String {
    format!("`{}`, record `{}` on line `{}`", label(known, origin), origin.record, origin.line)
}

/// The records, which won, and by which rule the others are copies of it.
fn records(known: &Known<'_>, mark: &Mark, told: &mut Told) {
    let joined = if mark.sources.len() > 1 {
        merge::joined(known.before_merge, &mark.sources, known.lake, known.exports, known.merging)
    } else {
        Vec::new()
    };
    let is_object = matches!(mark.kind, Kind::Cover | Kind::Structure);
    let items = mark.sources.iter().enumerate().map(|(number, origin)| {
        let (raw, text) = (known.record)(*origin);
        let name = raw.as_ref().map_or("", |raw| raw.words.name()).to_owned();
        let why = joined.iter().filter(|j| j.records[0] == *origin || j.records[1] == *origin);
        let rules: Vec<Value> = why
            .clone()
            .map(|j| {
                let other = if j.records[0] == *origin { j.records[1] } else { j.records[0] };
                json!({
                    "with": format!("{}#{}", label(known, other), other.record),
                    "rule": j.rule.words(),
                    "metres": super::rounded(j.metres, 1),
                    "seconds": j.seconds.map(|s| super::rounded(s, 0)),
                })
            })
            .collect();
        let value = json!({
            "file": label(known, *origin),
            "record": origin.record,
            "line": origin.line,
            "name": name,
            "won": number == 0,
            "joined": rules,
            "text": text,
        });
        let told = match (number, why.clone().next()) {
            (0, _) if mark.sources.len() == 1 => String::new(),
            (0, _) => String::from(": its values were kept"),
            (_, Some(j)) => {
                let apart = j.seconds.map_or(String::new(), |s| format!(", `{:.0} s`", s.abs()));
                format!(": the same mark, because {} (`{:.1} m`{apart} apart)", j.rule.words(), j.metres)
            }
            (_, None) if is_object => String::from(": the same object, marked again on another day"),
            (_, None) => String::from(": the same mark, because it said the same once names were filled in"),
        };
        let name = if name.is_empty() { String::new() } else { format!(", `{name}`") };
        (value, format!("{}{name}{told}", source_text(known, *origin)))
    });
    let items: Vec<(Value, String)> = items.collect();
    let heading = if mark.sources.len() == 1 {
        String::from("It stands in one record:")
    } else {
        format!("It stands in {}, merged into one mark:", counted(mark.sources.len(), "record"))
    };
    told.list("sources", heading, items);
    if is_object && joined.len() + 1 < mark.sources.len() {
        told.line(format!(
            "Cover and structure marked again on other days within `{}` is one object; the earliest mark stays.",
            super::metres_text(known.merging.same_cover.metres(), known.lake)
        ));
    } else if mark.sources.len() > 1 {
        told.line(String::from(
            "The copy that won has a time, a sound clock, most decimals, most told and fewest repairs, in that order; it \
             took from the others what it lacked.",
        ));
    }
}

/// What was put right, with the value before and after.
fn repairs(known: &Known<'_>, mark: &Mark, told: &mut Told) {
    if mark.repairs.is_empty() {
        told.say("repairs", json!([]), String::from("Nothing was repaired."));
        return;
    }
    let items = mark
        .repairs
        .iter()
        .map(|code| {
            let (origin, finding) = finding_of(known, mark, code);
            let (raw, _) = (known.record)(origin);
            let (old, new) = old_and_new(known, mark, code, raw.as_ref(), finding);
            let done = finding.map_or("", |f| &*f.done);
            let value = json!({
                "code": code.word(),
                "file": label(known, origin),
                "record": origin.record,
                "line": origin.line,
                "old": old,
                "new": new,
                "seen": finding.map(|f| &*f.seen),
                "done": done,
            });
            let change = match (&old, &new) {
                (Some(old), Some(new)) => format!(" From `{old}` to `{new}`."),
                _ => finding.map_or(String::new(), |f| format!(" Seen: {}.", f.seen)),
            };
            (value, format!("`{}`: {}{change}", code.word(), code.meaning()))
        })
        .collect();
    told.list("repairs", format!("It was repaired ({}):", counted(mark.repairs.len(), "repair")), items);
}

/// The finding that tells of a repair: of one of the mark's records, else of its file as a whole.
fn finding_of<'a>(known: &Known<'a>, mark: &Mark, code: Code) -> (Origin, Option<&'a Finding>) {
    let of_code = || known.findings.iter().filter(move |f| f.code == code);
    let of_record = of_code().find(|f| f.origin.is_some_and(|o| o.record > 0 && mark.sources.contains(&o)));
    let of_file = |origin: &Origin| of_code().find(|f| f.origin.is_some_and(|o| o.file == origin.file));
    let first = of_record.or_else(|| mark.sources.iter().find_map(of_file));
    let file = first.and_then(|f| f.origin).map(|o| o.file);
    let origin =
        mark.sources.iter().find(|o| of_record.map_or(Some(o.file) == file, |f| f.origin == Some(**o)));
    (origin.copied().unwrap_or_else(|| mark.origin()), first)
}

/// The value that a repair is about, as it stood in the record and as the mark has it. Texts have none: what they were
/// stands in the record.
fn old_and_new(
    known: &Known<'_>,
    mark: &Mark,
    code: Code,
    raw: Option<&RawMark>,
    finding: Option<&Finding>,
) -> (Option<String>, Option<String>) {
    let word = code.word();
    let Some(raw) = raw else { return (None, None) };
    let or_none = |text: Option<String>| Some(text.unwrap_or_else(|| String::from("none")));
    if word.starts_with("position") {
        // How a coordinate was written is told by its finding; the record was read as degrees already.
        let old = if code == Code::PositionForm {
            finding.map(|f| f.seen.to_string())
        } else {
            Some(format!("{} {}", raw.lon_deg, raw.lat_deg))
        };
        (old, Some(place_text(mark.place)))
    } else if word.starts_with("clock") || word.starts_with("time") {
        let old = match &raw.time {
            RawTime::Missing => None,
            RawTime::Instant(time) => Some(time.rfc3339()),
            RawTime::Civil(time) => Some(time.to_string()),
            RawTime::Date(date) => Some(date.to_string()),
            RawTime::Unreadable(text) => Some(text.to_string()),
        };
        (or_none(old), or_none(mark.time.map(Instant::rfc3339)))
    } else if word.starts_with("depth") {
        let metres = [raw.fields.depth_m, raw.fields.fish_depth_m, raw.fields.water_depth_m];
        let old: Vec<String> = metres.into_iter().flatten().map(|m| format!("{m:.1} m")).collect();
        let lake = known.lake;
        let new = [("fish", mark.fish_depth), ("bottom", mark.water_depth)];
        let new: Vec<String> =
            new.iter().filter_map(|(what, d)| Some(format!("{what} {}", depth_text((*d)?, lake)))).collect();
        let joined = |list: Vec<String>| (!list.is_empty()).then(|| list.join(", "));
        (or_none(joined(old)), or_none(joined(new)))
    } else if word.starts_with("temp") {
        let old = raw.fields.water_temp_c.map(|c| format!("{c:.1} C"));
        (or_none(old), or_none(mark.water_temp.map(|t| temp_text(t, known.lake))))
    } else {
        (None, None)
    }
}

/// Its sighting and area.
fn belongs(known: &Known<'_>, number: usize, told: &mut Told) {
    let results = Results::new(
        known.lake,
        known.exports,
        known.log,
        &known.schools.sightings,
        &known.schools.areas,
        known.movement,
    );
    let (sighting, area) = (results.sighting_of(number), results.area_of(number));
    told.fact("sighting", json!(sighting.map(|s| s.id.to_string())));
    told.fact("area", json!(area.map(|a| a.id.to_string())));
    told.line(match (sighting, area) {
        (Some(s), Some(a)) => format!(
            "It belongs to sighting `{}` ({}) and holding area `{}` ({}).",
            s.id,
            counted(s.marks.len(), "mark"),
            a.id,
            counted(a.sightings.len(), "sighting")
        ),
        (Some(s), None) => {
            format!(
                "It belongs to sighting `{}` ({}), which recurs nowhere.",
                s.id,
                counted(s.marks.len(), "mark")
            )
        }
        (None, Some(a)) => format!("It is undated, and lies in holding area `{}`.", a.id),
        (None, None) => String::from("It belongs to no sighting: only dated bait and gamefish marks do."),
    });
}

/// A copy that became part of another mark.
pub(super) fn merged_away(known: &Known<'_>, copy: usize, into: usize) -> Told {
    let (copy, mark_id) = (&known.before_merge[copy], known.log[into].id.to_string());
    let mut told = Told::new(
        "merged-away",
        &copy.id.to_string(),
        format!(
            "{}, `{}`, is a copy: it became part of mark `{mark_id}`.",
            source_text(known, copy.origin()),
            copy.words.name()
        ),
    );
    told.fact("into", json!(mark_id));
    told.below("mark", mark(known, into));
    told
}

/// A record that was set aside.
pub(super) fn set_aside(known: &Known<'_>, number: usize) -> Told {
    let aside = &known.set_aside[number];
    let (origin, finding) = (aside.origin, &aside.finding);
    let (_, text) = (known.record)(origin);
    let id = known.before_merge.iter().find(|m| m.origin() == origin).map(|m| m.id.to_string());
    let name = format!("{}#{}", label(known, origin), origin.record);
    let mut told = Told::new(
        "set-aside",
        id.as_deref().unwrap_or(&name),
        format!("{} was set aside: {}", source_text(known, origin), finding.code.meaning()),
    );
    told.fact("file", label(known, origin).into());
    told.fact("record", origin.record.into());
    told.fact("line", origin.line.into());
    told.fact("code", finding.code.word().into());
    told.say("seen", json!(&*finding.seen), format!("Seen: {}.", finding.seen));
    if !finding.fix.is_empty() {
        told.say("fix", json!(&*finding.fix), format!("To mend it: {}.", finding.fix));
    }
    let one_line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let shown: String = one_line.chars().take(RECORD_SHOWN).collect();
    let more = if one_line.chars().count() > RECORD_SHOWN { "…" } else { "" };
    told.say("text", json!(text), format!("The record: `{shown}{more}`"));
    told
}
