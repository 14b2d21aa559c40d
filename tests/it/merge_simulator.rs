//! Invented exports whose truth is known: presses of the key by three units over five seasons, each press told by
//! several files in other ways. Shared by the tests and the bench `merge_truth`.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use shoalwright::merge::Merged;
use shoalwright::terms::codes::Codes;
use shoalwright::terms::export::{Columns, CsvClock, Ele, Export, FileId, Format, RecordedDepth};
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark, Origin, Words};
use shoalwright::terms::place::{Place, PlanePoint};
use shoalwright::terms::random::Random as Bits;
use shoalwright::terms::units::{DepthUnit, TemperatureUnit};
use std::collections::BTreeMap;
use std::fmt::Write;

pub(crate) const CENTRE: Place = Place { lon: -94.05, lat: 35.05 };

pub(crate) fn lake() -> Lake {
    let mut lake = Lake::unknown_at(CENTRE);
    lake.time_zone = TimeZone::get("America/Chicago").unwrap();
    lake
}

pub(crate) fn at(text: &str) -> Instant {
    text.parse::<Timestamp>().unwrap().into()
}

pub(crate) fn origin(file: u32, record: u32) -> Origin {
    Origin { file: FileId(file), record, line: record, bytes: 1, start: u64::from(record) }
}

pub(crate) fn mark(file: u32, record: u32, place: Place, time: Option<Instant>, name: &str) -> Mark {
    let [lon, lat] = place.six_decimals();
    let moment = time.map_or_else(String::new, Instant::rfc3339);
    Mark {
        id: Id::of('m', &[&lon, &lat, &moment, name]),
        place,
        time,
        day: time.and_then(|t| lake().day_of(t)),
        kind: Kind::Bait,
        fish_depth: None,
        water_depth: None,
        water_temp: None,
        words: Words::new(name, "", "", "", ""),
        note: "".into(),
        sources: vec![origin(file, record)].into(),
        repairs: Codes::default(),
    }
}

/// A GPX file of a unit, both called the same, with what is taken where nothing is said.
pub(crate) fn export(label: &str) -> Export {
    Export {
        path: label.into(),
        label: label.into(),
        format: Format::Gpx,
        unit: label.into(),
        recorded_depth: RecordedDepth::Water,
        ele: Ele::default(),
        columns: Columns::default(),
        depth_unit: DepthUnit::Feet,
        temperature_unit: TemperatureUnit::Fahrenheit,
        time_zone: CsvClock::Local,
    }
}

/// Metres east and north of the middle of the lake, rounded to some decimals of a degree.
pub(crate) fn place(east_m: f64, north_m: f64, decimals: i32) -> Place {
    let place = lake().plane.to_place(PlanePoint { east_m, north_m });
    let unit = 10_f64.powi(decimals);
    Place { lon: (place.lon * unit).round() / unit, lat: (place.lat * unit).round() / unit }
}

/// Draws of a seed, from the library's generator.
pub(crate) struct Random(Bits);

impl Random {
    pub(crate) fn seeded(seed: u64) -> Self {
        Self(Bits::from_state(seed))
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.unit()
    }

    pub(crate) fn chance(&mut self, share: f64) -> bool {
        self.0.unit() < share
    }

    pub(crate) fn below(&mut self, n: u32) -> u32 {
        (self.0.bits() % u64::from(n)) as u32
    }
}

/// What really happened: one press of the key.
pub(crate) struct Press {
    pub(crate) unit: usize,
    pub(crate) place: Place,
    pub(crate) time: Instant,
    pub(crate) name: String,
}

/// Presses of three units over five seasons, `schools` to `schools + 3` an outing; many on one school 5 to 30 m apart
/// within minutes.
pub(crate) fn presses(random: &mut Random, outings_a_season: u32, schools: u32) -> Vec<Press> {
    let names = ["BAIT", "SHAD", "BAIT 24", "shad 27ft", "BASS", "BRUSH", "0417", "school", "HUMP"];
    let mut all = Vec::new();
    let mut count = 0;
    for season in 0..5 {
        for outing in 0..outings_a_season {
            let day = season * 365 + outing * 330 / outings_a_season;
            let start = at("2020-01-20T12:30:00Z").plus_s(i64::from(day * 86_400 + random.below(5400)));
            let mut second = 0;
            for _ in 0..schools + random.below(4) {
                second += 900 + random.below(1800);
                let (east, north) = (random.between(-4000.0, 4000.0), random.between(-4000.0, 4000.0));
                for press in 0..=random.below(5) {
                    second += 8 + random.below(120);
                    let (away, angle) =
                        (random.between(5.0, 30.0), random.between(0.0, std::f64::consts::TAU));
                    let shift = if press == 0 { 0.0 } else { away };
                    count += 1;
                    // A third of the names are the unit's own numbers, as units without a keyboard give.
                    let name = if random.chance(0.33) {
                        format!("{count:04}")
                    } else {
                        names[random.below(names.len() as u32) as usize].to_owned()
                    };
                    all.push(Press {
                        unit: random.below(3) as usize,
                        place: place(east + shift * angle.cos(), north + shift * angle.sin(), 7),
                        time: start.plus_s(i64::from(second)),
                        name,
                    });
                }
            }
        }
    }
    all
}

/// How an export tells a press.
#[derive(Clone, Copy)]
struct Telling {
    decimals: i32,
    clock_s: i64,
    no_time: f64,
    renamed: f64,
    missing: f64,
    to_the_minute: bool,
}

/// Exports of the three units, with the number of the press behind each record.
pub(crate) fn exported(random: &mut Random, presses: &[Press]) -> Vec<Vec<(usize, Mark)>> {
    let plain =
        Telling { decimals: 6, clock_s: 0, no_time: 0.0, renamed: 0.0, missing: 0.0, to_the_minute: false };
    let tellings = [
        (0, plain),
        (0, Telling { decimals: 5, renamed: 0.15, missing: 0.1, ..plain }),
        (0, Telling { decimals: 4, renamed: 0.05, ..plain }),
        (1, plain),
        (1, Telling { decimals: 5, clock_s: -5 * 3600, renamed: 0.1, ..plain }),
        (1, Telling { decimals: 4, missing: 0.2, ..plain }),
        (2, plain),
        (2, Telling { decimals: 6, clock_s: -7168 * 86_400, ..plain }),
        (2, Telling { decimals: 5, no_time: 0.02, ..plain }),
        (1, Telling { decimals: 5, to_the_minute: true, ..plain }),
        (0, Telling { decimals: 4, no_time: 1.0, ..plain }),
        (2, Telling { decimals: 5, clock_s: 1, renamed: 0.1, ..plain }),
    ];
    (0..)
        .zip(tellings)
        .map(|(file, (unit, telling))| {
            let mut record = 0;
            let mut marks = Vec::new();
            for (number, press) in presses.iter().enumerate().filter(|(_, p)| p.unit == unit) {
                if random.chance(telling.missing) {
                    continue;
                }
                record += 1;
                let step = 10_f64.powi(telling.decimals);
                let round = |deg: f64| (deg * step).round() / step;
                let spot = Place { lon: round(press.place.lon), lat: round(press.place.lat) };
                let mut clock = press.time.plus_s(telling.clock_s);
                if telling.to_the_minute {
                    clock = Instant::from_unix_s(clock.unix_ms().div_euclid(60_000) * 60);
                }
                let time = (!random.chance(telling.no_time)).then_some(clock);
                let mut name = press.name.clone();
                if random.chance(telling.renamed) {
                    let _ = write!(name, " x{}", random.below(9));
                }
                marks.push((number, mark(file, record, spot, time, &name)));
            }
            marks
        })
        .collect()
}

/// Pairs of records that are of one press: (said to be, said rightly, truly).
pub(crate) fn pairs_of(merged: &Merged, truth: &BTreeMap<Origin, usize>) -> (usize, usize, usize) {
    let pairs = |n: usize| n * n.saturating_sub(1) / 2;
    let (mut said, mut right) = (0, 0);
    for mark in &merged.log.kept {
        let mut members: BTreeMap<usize, usize> = BTreeMap::new();
        for source in &mark.sources {
            *members.entry(truth[source]).or_default() += 1;
        }
        said += pairs(mark.sources.len());
        right += members.values().map(|n| pairs(*n)).sum::<usize>();
    }
    let mut of_press: BTreeMap<usize, usize> = BTreeMap::new();
    for press in truth.values() {
        *of_press.entry(*press).or_default() += 1;
    }
    (said, right, of_press.values().map(|n| pairs(*n)).sum())
}
