//! interpret: raw marks in, marks with place, time, kind, depth and temperature out.
//!
//! Sets aside: marks without a usable position, and our own suggestions come back.
//! Does not: open files, ask the clock, judge whether two marks are the same (that is `merge`).

mod burst;
mod clock;
mod depth;
mod depth_unit;
mod device;
mod kind;
mod kind_words;
mod local_time;
mod minutes;
mod phrases;
mod position;
mod rollover;
mod symbols;
mod tally;
mod temperature;
mod tokens;

use crate::terms::codes::Codes;
use crate::terms::export::{Export, FileId};
use crate::terms::finding::{Code, Finding, Outcome, SetAside, Severity};
use crate::terms::id::Id;
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark, RawMark, RawTime, SUGGESTION_TAG};
use crate::terms::place::Place;
use crate::terms::track_log::TrackLog;
use jiff::civil::Date;
use rayon::prelude::*;
use serde::Deserialize;
use std::collections::BTreeMap;
use tally::Tally;

pub use position::middle_of;

/// The user's `[labels]`: words (`shad`), phrases (`rock pile`) or patterns with `*` and `?` (`ball*`) that name a
/// kind. They are tried before the words that we know ourselves.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Labels {
    /// Words for forage fish.
    pub bait: Vec<String>,
    /// Words for the fish sought.
    pub gamefish: Vec<String>,
    /// Words for what grows or lies there.
    pub cover: Vec<String>,
    /// Words for the shape of the bottom.
    pub structure: Vec<String>,
    /// Words for what hits the motor.
    pub hazard: Vec<String>,
    /// Words for ramps and docks.
    pub access: Vec<String>,
    /// Words for anything else.
    pub other: Vec<String>,
}

/// What interpreting gives.
#[derive(Clone, Debug, PartialEq)]
pub struct Interpreted {
    /// The marks in the order of files and records: kept + set aside = raw marks that came in.
    pub marks: Outcome<Mark>,
    /// The track logs in the order of files and records, with the clock repairs of their unit.
    pub track_logs: Vec<TrackLog>,
}

/// A mark with its place known and its words not yet read.
#[derive(Debug)]
struct Draft {
    /// What was read, with the place put right, and the time once the clock is read. Apart from it they would weigh
    /// 50 MB in a log of a million.
    raw: RawMark,
    /// Metres to the shore when the place is not in the water.
    on_land_m: Option<f32>,
    repairs: Codes,
}

impl Draft {
    fn new(mut raw: RawMark, place: Place, on_land_m: Option<f32>, repairs: Codes) -> Self {
        (raw.lon_deg, raw.lat_deg) = (place.lon, place.lat);
        Self { raw, on_land_m, repairs }
    }

    const fn place(&self) -> Place {
        Place { lon: self.raw.lon_deg, lat: self.raw.lat_deg }
    }

    /// When it was dropped.
    const fn time(&self) -> Option<Instant> {
        if let RawTime::Instant(time) = self.raw.time { Some(time) } else { None }
    }

    /// The day, where the record tells a date and no time of day.
    const fn date(&self) -> Option<Date> {
        if let RawTime::Date(date) = self.raw.time { Some(date) } else { None }
    }

    fn set_time(&mut self, time: Instant) {
        self.raw.time = RawTime::Instant(time);
    }

    fn undate(&mut self) {
        self.raw.time = RawTime::Missing;
    }

    fn file(&self) -> FileId {
        self.raw.origin.file
    }

    /// A finding about this record.
    fn finding(&self, code: Code, seen: String) -> Finding {
        Finding::new(code, seen).at(self.raw.origin, self.raw.words.name())
    }
}

/// Reads what each raw mark says: place, time, kind, depths and surface temperature.
///
/// The order of `raw` and `track_logs` does not matter. `run_date` is the day of the run at the lake: nothing can
/// have been logged more than a day after it.
#[must_use]
pub fn interpret(
    mut raw: Vec<RawMark>,
    mut track_logs: Vec<TrackLog>,
    exports: &[Export],
    lake: &Lake,
    run_date: Date,
    labels: &Labels,
) -> Interpreted {
    raw.sort_by_key(|mark| mark.origin);
    track_logs.sort_by_key(|log| log.origin);
    let mut marks = Outcome::default();
    let mut tally = Tally::default();

    let raw = set_aside_own_suggestions(raw, &mut marks.set_aside);
    let mut drafts = position::place_all(raw, lake, &mut marks);
    position::tell_coarse(&drafts, &mut marks.findings);

    let devices = device::Devices::new(exports);
    clock::read(&mut drafts, &mut track_logs, lake, &mut marks.findings, &mut tally);
    rollover::repair(&mut drafts, &mut track_logs, &devices, run_date, &mut marks.findings, &mut tally);
    clock::undate_implausible(&mut drafts, &mut track_logs, run_date, &mut marks.findings);
    local_time::repair(&mut drafts, &mut track_logs, &devices, lake, &mut tally);
    minutes::repair(&mut drafts, &track_logs, lake, &mut tally);
    burst::undate(&mut drafts, lake, &mut marks.findings);

    let rules = kind::Rules::new(labels);
    let symbols = symbols::of_files(&drafts, &rules, &mut marks.findings);
    depth_unit::repair(&mut drafts, &mut track_logs, exports, lake, &rules, &mut marks.findings, &mut tally);
    let numbered = depth::numbered_stems(&drafts, &rules);
    let mut beside_bottom: BTreeMap<FileId, Vec<(u32, bool)>> = BTreeMap::new();
    marks.kept.reserve_exact(drafts.len());
    for block in blocks(drafts) {
        let read: Vec<_> = block
            .into_par_iter()
            .map(|draft| {
                let export = exports.get(draft.file().0 as usize);
                read_words(draft, export, lake, &rules, &symbols, &numbered)
            })
            .collect();
        for ReadMark { mark, told, rivals, depths } in read {
            if depths.beside_bottom {
                let of_file = beside_bottom.entry(mark.origin().file).or_default();
                of_file.push((marks.kept.len() as u32, depths.copied_bottom));
            }
            if !rivals.is_empty() {
                tally.count_rivals(rivals, mark.origin(), &mark.words);
            }
            for finding in told {
                match finding.code {
                    Code::KindUnknown | Code::DepthBare | Code::DepthRange => {
                        tally.count(finding.code, mark.origin(), &mark.words);
                    }
                    _ => marks.findings.push(finding),
                }
            }
            marks.kept.push(mark);
        }
    }
    for number in beside_bottom.values().flat_map(|of_file| depth::named_by_bottom(of_file)) {
        let mark = &mut marks.kept[number as usize];
        mark.fish_depth = None;
        mark.repairs.insert(Code::DepthIsBottom);
        tally.count(Code::DepthIsBottom, mark.origin(), &mark.words);
    }
    marks.findings.extend(tally.findings());
    marks.findings.sort_by(|a, b| (a.origin, a.code, &a.seen).cmp(&(b.origin, b.code, &b.seen)));
    marks.set_aside.sort_by_key(|aside| aside.origin);
    Interpreted { marks, track_logs }
}

fn set_aside_own_suggestions(raw: Vec<RawMark>, set_aside: &mut Vec<SetAside>) -> Vec<RawMark> {
    let is_ours =
        |text: &str| text.len() >= SUGGESTION_TAG.len() && text.to_ascii_lowercase().contains(SUGGESTION_TAG);
    let mut raw = raw;
    raw.retain(|mark| {
        let words = &mark.words;
        let ours = [words.cmt(), words.desc(), words.type_()].into_iter().any(is_ours);
        if ours {
            let seen = format!("its texts hold our own words `{SUGGESTION_TAG}`");
            let finding = Finding::new(Code::OwnSuggestion, seen)
                .at(mark.origin, mark.words.name())
                .done("set aside: a place that we suggested is no sighting")
                .fix("if something was seen there, drop a new mark");
            set_aside.push(SetAside::one(mark.origin, finding));
        }
        !ours
    });
    raw
}

/// Cuts a list into blocks in order, so that a list made from it can grow while this one's memory is given back.
fn blocks<T>(mut list: Vec<T>) -> impl Iterator<Item = Vec<T>> {
    const LENGTH: usize = 1 << 14;
    // The usual allocator gives back to the system at once what is larger than 32 MiB, and keeps most of what is not.
    const GIVEN_BACK_BYTES: usize = 33 << 20;
    let length = GIVEN_BACK_BYTES / size_of::<T>() + 1;
    let mut backwards = Vec::new();
    while !list.is_empty() {
        backwards.push(list.split_off((list.len() - 1) / length * length));
        list.shrink_to_fit();
    }
    backwards.into_iter().rev().flat_map(|part| {
        let mut part = part.into_iter();
        std::iter::from_fn(move || {
            let block: Vec<T> = part.by_ref().take(LENGTH).collect();
            (!block.is_empty()).then_some(block)
        })
    })
}

/// A mark, what is told about it, the kinds that its texts name where they name several, and its depths.
struct ReadMark {
    mark: Mark,
    told: Vec<Finding>,
    rivals: Vec<Kind>,
    depths: depth::Depths,
}

/// Reads kind, depths and temperature of one mark, and names it.
fn read_words(
    draft: Draft,
    export: Option<&Export>,
    lake: &Lake,
    rules: &kind::Rules,
    symbols: &symbols::Symbols,
    numbered: &depth::NumberedStems,
) -> ReadMark {
    let mut told = Vec::new();
    let texts = draft.raw.words.in_order().map(tokens::lex);
    let spoken = kind::of(&draft, &texts, rules);
    let own_symbol = symbols::meaning(&draft, &spoken, symbols);
    let depth_unit = export.map_or_else(Default::default, |e| e.depth_unit);
    let temperature_unit = export.map_or_else(Default::default, |e| e.temperature_unit);
    let said: Vec<phrases::Said> = texts
        .iter()
        .zip(&spoken.matches)
        .map(|(tokens, matches)| phrases::read(tokens, matches, depth_unit, temperature_unit))
        .collect();
    let mut kind = own_symbol.unwrap_or(spoken.kind);
    if kind == Kind::Other && !spoken.named && said.iter().any(|s| s.weight) {
        kind = Kind::Gamefish;
    }
    if kind == Kind::Other && !spoken.named {
        told.push(draft.finding(Code::KindUnknown, String::new()));
    }
    let recorded_depth = export.map_or_else(Default::default, |e| e.recorded_depth);
    let depths = depth::decide(&draft, kind, &said, recorded_depth, numbered, &mut told);
    if said.iter().any(|s| s.range) && (depths.fish.is_some() || depths.water.is_some()) {
        told.push(draft.finding(Code::DepthRange, String::new()));
    }
    let water_temp = temperature::decide(&draft, &said, &mut told);
    if let Some(metres) = draft.on_land_m.filter(|_| kind != Kind::Access) {
        told.push(
            draft
                .finding(
                    Code::PositionOnLand,
                    format!("the mark lies `{metres:.0} m` from the shore, on land"),
                )
                .fix("nothing when the water was low; else a finer shoreline"),
        );
    }

    let (place, time, date) = (draft.place(), draft.time(), draft.date());
    let day = time.and_then(|time| lake.day_of(time)).or_else(|| date.map(|date| lake.day(date)));
    let moment = match (time, date) {
        (Some(time), _) => time.rfc3339(),
        (None, Some(date)) => date.to_string(),
        (None, None) => String::new(),
    };
    let [lon, lat] = place.six_decimals();
    let mut repairs = draft.repairs;
    if own_symbol.is_some() {
        repairs.insert(Code::SymbolMeaning);
    }
    repairs.extend(told.iter().map(|f| f.code).filter(|code| code.severity() == Severity::Repaired));
    let mark = Mark {
        id: Id::of('m', &[&lon, &lat, &moment, draft.raw.words.name()]),
        place,
        time,
        day,
        kind,
        fish_depth: depths.fish,
        water_depth: depths.water,
        water_temp,
        words: draft.raw.words,
        note: draft.raw.note,
        sources: draft.raw.origin.into(),
        repairs,
    };
    ReadMark { mark, told, rivals: spoken.rivals, depths }
}
