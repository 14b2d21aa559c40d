//! The demo lake: what `scripts/make-demo` planted is found, and what it pressed comes out again. The numbers come
//! from `demo-data/PLANTED.md`, which the script writes from what it knows, not from what the program says.

use jiff::civil::date;
use jiff::tz::TimeZone;
use shoalwright::ingest::levels::read_levels;
use shoalwright::ingest::shoreline::read_shoreline;
use shoalwright::ingest::{FileRead, read};
use shoalwright::interpret::{Interpreted, Labels, interpret};
use shoalwright::merge::{Merged, Settings as MergeSettings, merge};
use shoalwright::movement::movement;
use shoalwright::schools::{AreaSettings, SightingSettings, schools};
use shoalwright::terms::export::{Columns, CsvClock, Ele, Export, FileId, Format, RecordedDepth};
use shoalwright::terms::finding::{Code, Finding};
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark, Origin};
use shoalwright::terms::place::LocalPlane;
use shoalwright::terms::units::{DepthUnit, Distance, TemperatureUnit, Units};
use shoalwright::terms::water::Water;
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::path::PathBuf;
use std::sync::LazyLock;

/// The demo run up to the merged log.
struct Demo {
    lake: Lake,
    exports: Vec<Export>,
    reads: Vec<FileRead>,
    interpreted: Interpreted,
    merged: Merged,
}

static DEMO: LazyLock<Demo> = LazyLock::new(run);

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("demo-data")
}

fn text(name: &str) -> String {
    fs::read_to_string(folder().join(name)).unwrap()
}

fn export(path: PathBuf) -> Export {
    let label = path.file_name().unwrap().to_str().unwrap().to_owned();
    Export {
        format: if path.extension().is_some_and(|ending| ending == "csv") {
            Format::Csv
        } else {
            Format::Gpx
        },
        unit: label.split('-').next().unwrap().to_owned(),
        label,
        path,
        recorded_depth: RecordedDepth::Water,
        ele: Ele::default(),
        columns: Columns {
            time: Some("Date".into()),
            clock: Some("Time".into()),
            name: Some("What".into()),
            fish_depth: Some("Fish depth ft".into()),
            water_depth: Some("Bottom ft".into()),
            water_temp: Some("Water temp F".into()),
            note: Some("Note".into()),
            ..Columns::default()
        },
        depth_unit: DepthUnit::Feet,
        temperature_unit: TemperatureUnit::Fahrenheit,
        time_zone: CsvClock::Local,
    }
}

fn run() -> Demo {
    let shore = read_shoreline(&text("shoreline.geojson")).unwrap();
    let mut lake = Lake::unknown_at(shore.middle);
    lake.time_zone = TimeZone::get("America/Miquelon").unwrap();
    lake.levels_m = read_levels(&text("levels.csv"), Units::Us).unwrap();
    lake.water = Some(Water::new(shore.polygons, LocalPlane::new(shore.middle)));

    let mut paths: Vec<PathBuf> =
        fs::read_dir(folder().join("exports")).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let exports: Vec<Export> = paths.into_iter().map(export).collect();
    let reads: Vec<FileRead> = exports
        .iter()
        .enumerate()
        .map(|(number, export)| read(export, FileId(number as u32), File::open(&export.path).unwrap()))
        .collect();
    let raw = reads.iter().flat_map(|file| file.marks.kept.clone()).collect();
    let track_logs = reads.iter().flat_map(|file| file.track_logs.clone()).collect();
    let labels = Labels { bait: vec!["pod".into(), "cloud".into()], ..Labels::default() };
    let interpreted = interpret(raw, track_logs, &exports, &lake, date(2025, 10, 6), &labels);
    let merged = merge(interpreted.marks.kept.clone(), &lake, &exports, &MergeSettings::default());
    Demo { lake, exports, reads, interpreted, merged }
}

impl Demo {
    fn file(&self, label: &str) -> FileId {
        FileId(self.exports.iter().position(|export| export.label == label).unwrap() as u32)
    }

    fn findings(&self) -> impl Iterator<Item = &Finding> {
        let told = self.reads.iter().flat_map(|file| &file.marks.findings);
        let aside = self.reads.iter().flat_map(|file| &file.marks.set_aside);
        told.chain(&self.interpreted.marks.findings)
            .chain(&self.merged.log.findings)
            .chain(aside.chain(&self.interpreted.marks.set_aside).map(|set_aside| &set_aside.finding))
    }

    /// Whether a code is told of a record: by a finding, by a repair of its mark, or by a finding that counts for the
    /// whole file. A finding of `merge` stands at the copy that won.
    fn tells(&self, code: Code, file: FileId, record: u32) -> bool {
        let here = |origin: Origin| origin.file == file && origin.record == record;
        let copies: BTreeSet<Origin> = self
            .merged
            .log
            .kept
            .iter()
            .filter(|mark| mark.sources.iter().any(|source| here(*source)))
            .flat_map(|mark| mark.sources.to_vec())
            .collect();
        // One finding tells of a whole burst.
        let burst = |origin: Origin| {
            let undated = |mark: &Mark| here(mark.origin()) && mark.day.is_none();
            code == Code::ClockBurst && origin.file == file && self.interpreted.marks.kept.iter().any(undated)
        };
        let repaired = |mark: &Mark| here(mark.origin()) && mark.repairs.contains(code);
        self.interpreted.marks.kept.iter().any(repaired)
            || self.findings().filter(|finding| finding.code == code).filter_map(|f| f.origin).any(|origin| {
                here(origin)
                    || origin == Origin::whole_file(file)
                    || burst(origin)
                    || code == Code::MergeConflict && copies.contains(&origin)
            })
    }
}

/// Rows of the table under a heading of PLANTED.md, cells trimmed.
fn table(heading: &str) -> Vec<Vec<String>> {
    let planted = text("PLANTED.md");
    let rows: Vec<Vec<String>> = planted
        .split(&format!("\n## {heading}\n"))
        .nth(1)
        .unwrap()
        .lines()
        .skip_while(|line| !line.starts_with("|---"))
        .skip(1)
        .take_while(|line| line.starts_with('|'))
        .map(|line| line.trim_matches('|').split(" | ").map(|cell| cell.trim().to_owned()).collect())
        .collect();
    assert!(rows.len() > 5, "{heading}");
    rows
}

fn codes(cell: &str) -> Vec<Code> {
    let words = cell.split(", ").filter(|word| *word != "-");
    words.map(|word| *Code::ALL.iter().find(|code| code.word() == word).unwrap()).collect()
}

#[test]
fn every_planted_record_is_told_with_its_code() {
    let demo = &*DEMO;
    let mut silent = Vec::new();
    for row in table("Records") {
        let [quirk, label, numbers, _, cell, _] = row.as_slice() else { panic!("{row:?}") };
        let file = demo.file(label);
        for number in numbers.split(", ").map(|number| number.parse().unwrap()) {
            for code in codes(cell).into_iter().filter(|code| !demo.tells(*code, file, number)) {
                silent.push(format!("{label} record {number}: {quirk}: {}", code.word()));
            }
        }
    }
    assert!(silent.is_empty(), "{}", silent.join("\n"));
}

#[test]
fn every_planted_file_is_told_with_its_code_and_read_in_full() {
    let demo = &*DEMO;
    for row in table("Whole files") {
        let [label, records, logs, _, cell, _] = row.as_slice() else { panic!("{row:?}") };
        let file = demo.file(label);
        let counts = demo.reads[file.0 as usize].counts;
        assert_eq!(
            (counts.marks.to_string(), counts.tracks.to_string()),
            (records.clone(), logs.clone()),
            "{label}"
        );
        for code in codes(cell) {
            let told = demo.findings().any(|f| f.code == code && f.origin.is_some_and(|o| o.file == file))
                || demo
                    .interpreted
                    .marks
                    .kept
                    .iter()
                    .any(|m| m.origin().file == file && m.repairs.contains(code));
            assert!(told, "{label}: {}", code.word());
        }
    }
}

/// All years in which marks were truly pressed.
const YEARS: std::ops::RangeInclusive<i16> = 2021..=2025;

#[test]
fn no_mark_lies_outside_the_five_seasons() {
    let outside: Vec<&str> = DEMO
        .merged
        .log
        .kept
        .iter()
        .filter(|mark| mark.day.is_some_and(|day| !YEARS.contains(&day.date.year())))
        .map(|mark| mark.words.name())
        .collect();
    assert!(outside.is_empty(), "{outside:?}");
}

#[test]
fn all_track_logs_come_to_lie_in_daylight_of_the_five_seasons() {
    let demo = &*DEMO;
    let mut points = 0;
    for point in demo.interpreted.track_logs.iter().flat_map(|log| log.segments.iter().flatten()) {
        let local = demo.lake.time_zone.to_datetime(point.time.unwrap().timestamp().unwrap());
        assert!(YEARS.contains(&local.year()) && (4..=21).contains(&local.hour()), "{local}");
        points += 1;
    }
    assert!(points > 10_000, "{points}");
}

#[test]
fn merging_gives_back_the_marks_that_were_pressed() {
    // "Marks pressed, before doubling: 930 bait, 133 cover, …"; planted records add to them and never take away.
    let planted = text("PLANTED.md");
    let line =
        planted.lines().find_map(|line| line.strip_prefix("Marks pressed, before doubling: ")).unwrap();
    // Each press by itself: brush and humps are pressed again on later days.
    let demo = &*DEMO;
    let each = MergeSettings { same_cover: Distance::from_metres(0.0), ..MergeSettings::default() };
    let presses = merge(demo.interpreted.marks.kept.clone(), &demo.lake, &demo.exports, &each).log.kept;
    for part in line.trim_end_matches('.').split(", ") {
        let (count, word) = part.split_once(' ').unwrap();
        let pressed: usize = count.parse().unwrap();
        let kind = Kind::from_word(word).unwrap();
        let kept = presses.iter().filter(|mark| mark.kind == kind).count();
        assert!(
            (pressed * 98 / 100..=pressed + 45).contains(&kept),
            "{word}: {pressed} pressed, {kept} kept"
        );
    }
    // The makers of the lake laid 38 things of cover and 26 of structure; some lie near each other, some are never pressed.
    let objects = |kind| demo.merged.log.kept.iter().filter(|mark| mark.kind == kind).count();
    let (cover, structure) = (objects(Kind::Cover), objects(Kind::Structure));
    assert!((30..70).contains(&cover) && (20..40).contains(&structure), "{cover} {structure}");
}

#[test]
fn bait_recurs_in_places_and_its_movement_can_be_fitted() {
    let demo = &*DEMO;
    let found = schools(
        &demo.merged.log.kept,
        &demo.interpreted.track_logs,
        &demo.lake,
        &SightingSettings::default(),
        &AreaSettings::default(),
        1,
    );
    let areas = found.areas.iter().filter(|area| area.kind == Kind::Bait && area.seasons.len() >= 3).count();
    assert!(areas >= 6, "{areas} areas of bait over three seasons or more");
    let fitted = movement(&found.sightings, &demo.lake, &shoalwright::movement::Settings::default());
    assert!(!fitted.tracks.is_empty());
}
