//! merge: invented logs exported several times become the log they came from.

use crate::merge_simulator::{
    CENTRE, Random, at, export, exported, lake, mark, origin, pairs_of, place, presses,
};
use jiff::civil::date;
use proptest::prelude::*;
use shoalwright::interpret::{Labels, interpret};
use shoalwright::merge::{Change, Merged, Settings, apply_edits, merge, read_edits};
use shoalwright::terms::export::FileId;
use shoalwright::terms::finding::Code;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::mark::{Fields, Kind, Mark, Origin, RawMark, RawTime, Words};
use shoalwright::terms::place::Place;
use shoalwright::terms::units::Depth;
use std::collections::{BTreeMap, BTreeSet};

fn run(marks: Vec<Mark>) -> Merged {
    let count = marks.len();
    let merged = merge(marks, &lake(), &[], &Settings::default());
    assert_eq!(
        merged.log.kept.len() + merged.merged_away.len() + merged.log.set_aside.len(),
        count,
        "conservation"
    );
    merged
}

/// What a mark says, without where it stands.
fn said(mark: &Mark) -> Mark {
    Mark { sources: vec![].into(), ..mark.clone() }
}

/// The log written to a file and merged again is that log, and so are two copies of that file.
#[track_caller]
fn assert_stands(merged: &Merged) {
    let log = &merged.log.kept;
    let in_file = |file: u32| {
        (1..).zip(log).map(move |(record, m)| Mark { sources: origin(file, record).into(), ..m.clone() })
    };
    let said_of = |marks: Vec<Mark>| -> Vec<Mark> { run(marks).log.kept.iter().map(said).collect() };
    let saying: Vec<Mark> = log.iter().map(said).collect();
    assert_eq!(said_of(in_file(0).collect()), saying, "merging again changes nothing");
    assert_eq!(said_of(in_file(0).chain(in_file(1)).collect()), saying, "nor does a copy");
}

/// Two marks, each `file | east north decimals | time | name`, and how many are left.
#[track_caller]
fn check(first: &str, second: &str, left: usize) {
    let read = |text: &str, record: u32| {
        let cells: Vec<&str> = text.split('|').map(str::trim).collect();
        let numbers: Vec<f64> = cells[1].split(' ').map(|n| n.parse().unwrap()).collect();
        let time = (!cells[2].is_empty()).then(|| at(cells[2]));
        mark(
            cells[0].parse().unwrap(),
            record,
            place(numbers[0], numbers[1], numbers[2] as i32),
            time,
            cells[3],
        )
    };
    let (a, b) = (read(first, 1), read(second, 2));
    let one_way = run(vec![a.clone(), b.clone()]);
    assert_eq!(one_way.log.kept.len(), left, "{first} / {second}");
    assert_eq!(run(vec![b, a]), one_way);
    assert_stands(&one_way);
}

#[test]
fn a_re_export_is_one_mark() {
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27", "1 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27", 1);
    check(
        "0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27",
        "1 | 10 10 6 | 2024-05-01T12:00:00Z | shad ball",
        1,
    );
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27", "1 | 10 10 4 | 2024-05-01T12:00:01Z | BAIT 27", 1);
    check("0 | 10 10 5 | 2024-05-01T12:00:00Z | BAIT 27", "1 | 10 10 4 | 2024-05-01T12:00:02Z | BAIT", 1);
}

#[test]
fn a_clock_fault_of_whole_hours_or_a_week_count_is_one_mark() {
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27", "1 | 10 10 5 | 2024-05-01T07:00:00Z | BAIT 27", 1);
    check("0 | 10 10 6 | 2024-07-20T12:00:00Z | BAIT 27", "1 | 10 10 5 | 2004-12-04T12:00:00Z | BAIT 27", 1);
    check("0 | 10 10 6 | 2024-07-20T12:00:00Z | BAIT 27", "1 | 10 10 5 | 2004-12-04T07:00:00Z | BAIT 27", 1);
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27", "1 | 10 10 5 | 2024-05-01T07:31:00Z | BAIT 27", 2);
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27", "1 | 10 10 5 | 2024-05-03T12:00:00Z | BAIT 27", 2);
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27", "1 | 10 10 5 | 2024-05-01T07:00:00Z | SHAD", 2);
}

#[test]
fn a_mark_without_a_time_is_known_by_name_and_place() {
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27", "1 | 10 10 4 | | BAIT 27", 1);
    check("0 | 10 10 6 | | BAIT 27", "1 | 10 10 6 | | BAIT 27", 1);
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27", "1 | 10 10 4 | | BAIT 31", 2);
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 27", "1 | 18 10 6 | | BAIT 27", 2);
}

#[test]
fn an_edited_time_is_seen_through_when_name_and_place_are_the_same_to_six_decimals() {
    let fine = |file: u32, time: &str| {
        mark(file, 1, Place { lon: -94.051_237, lat: 35.046_191 }, Some(at(time)), "BRUSH")
    };
    assert_eq!(run(vec![fine(0, "2024-05-01T12:00:00Z"), fine(1, "2025-01-07T19:31:12Z")]).log.kept.len(), 1);
    check("0 | 10 10 4 | 2024-05-01T12:00:00Z | BRUSH", "1 | 10 10 4 | 2025-01-07T19:31:12Z | BRUSH", 2);
}

#[test]
fn two_marks_on_one_school_stay_two() {
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT", "0 | 11 10 6 | 2024-05-01T12:00:01Z | BAIT", 2);
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT", "1 | 16 10 6 | 2024-05-01T12:01:00Z | BAIT", 2);
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT", "1 | 40 10 6 | 2024-05-01T12:00:00Z | BAIT", 2);
    // The same record twice in one file is one mark.
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT", "0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT", 1);
}

#[test]
fn a_time_to_the_minute_is_one_mark_with_its_copy_to_the_second() {
    check("0 | 10 10 6 | 2024-05-01T12:03:41Z | BAIT 27", "1 | 10 10 5 | 2024-05-01T12:03:00Z | BAIT 27", 1);
    check("0 | 10 10 6 | 2024-05-01T12:03:41Z | BAIT 27", "1 | 10 10 5 | 2024-05-01T12:04:00Z | BAIT 27", 1);
    check("0 | 10 10 6 | 2024-05-01T11:59:41Z | BAIT 27", "1 | 10 10 5 | 2024-05-01T07:00:00Z | BAIT 27", 1);
    check("0 | 10 10 6 | 2024-05-01T12:03:41Z | BAIT 27", "1 | 10 10 5 | 2024-05-01T12:05:00Z | BAIT 27", 2);
    check("0 | 10 10 6 | 2024-05-01T12:03:41Z | BAIT 27", "1 | 10 10 5 | 2024-05-01T12:03:05Z | BAIT 27", 2);
}

#[test]
fn a_name_cut_short_or_in_capitals_is_the_same_name() {
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | Shad Ball 24ft", "1 | 10 10 5 | | SHADBALL24", 1);
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | Shad Ball 24ft", "1 | 10 10 5 | | SHADBALL31", 2);
    check("0 | 10 10 6 | 2024-05-01T12:00:00Z | BAIT 2", "1 | 10 10 5 | | BAIT", 2);
}

#[test]
fn a_mark_without_a_time_does_not_make_one_of_two_presses() {
    // Two presses five minutes and 4 m apart; the undated copy of the second lies within rounding of the first, too.
    let (first, second) = (Some(at("2024-05-01T12:00:00Z")), Some(at("2024-05-01T12:05:29Z")));
    let marks = vec![
        mark(0, 1, place(0.0, 0.0, 4), first, "school"),
        mark(1, 1, place(4.0, 0.0, 6), second, "school"),
        mark(2, 1, place(4.0, 0.0, 5), None, "school"),
    ];
    let merged = run(marks);
    assert_eq!(merged.log.kept.len(), 2);
    assert_eq!(merged.merged_away, [origin(2, 1)]);
}

#[test]
fn each_mark_matches_at_most_one_of_another_file() {
    let time = Some(at("2024-05-01T12:00:00Z"));
    let later = Some(at("2024-05-01T12:00:02Z"));
    let marks = vec![
        mark(0, 1, place(0.0, 0.0, 6), time, "BAIT"),
        mark(0, 2, place(5.0, 0.0, 6), later, "BAIT"),
        mark(1, 1, place(0.0, 0.0, 5), time, "BAIT"),
        mark(1, 2, place(5.0, 0.0, 5), later, "BAIT"),
    ];
    let merged = run(marks);
    let sources: Vec<Vec<u32>> =
        merged.log.kept.iter().map(|m| m.sources.iter().map(|s| s.record).collect()).collect();
    assert_eq!(sources, [[1, 1], [2, 2]]);
}

#[test]
fn the_winner_has_the_right_clock_and_takes_what_it_lacks() {
    let mut right = mark(1, 1, place(0.0, 0.0, 6), Some(at("2024-05-01T12:00:00Z")), "BAIT 27");
    right.words = Words::new("BAIT 27", "", "", "", "by the ledge");
    let mut local = mark(0, 1, place(0.0, 0.0, 5), Some(at("2024-05-01T07:00:00Z")), "BAIT 27");
    local.fish_depth = Depth::from_feet(27.0);
    local.words = Words::new("BAIT 27", "Fish", "", "", "");
    let mut undated = mark(2, 1, place(0.0, 0.0, 5), None, "BAIT 27");
    undated.water_depth = Depth::from_feet(41.0);
    let merged = run(vec![local, right.clone(), undated]);
    let [one] = merged.log.kept.as_slice() else { panic!("{:?}", merged.log.kept) };
    assert_eq!((one.id, one.time, one.place), (right.id, right.time, right.place));
    assert_eq!(one.fish_depth.map(|d| d.feet().round()), Some(27.0));
    assert_eq!(one.water_depth.map(|d| d.feet().round()), Some(41.0));
    assert_eq!(one.words.in_order(), ["BAIT 27", "Fish", "", "", "by the ledge"]);
    assert_eq!(one.sources[..], [origin(1, 1), origin(0, 1), origin(2, 1)]);
    assert_eq!(merged.merged_away, [origin(0, 1), origin(2, 1)]);
}

#[test]
fn copies_that_differ_are_told() {
    let time = Some(at("2024-05-01T12:00:00Z"));
    let mut other = mark(1, 1, place(0.0, 0.0, 6), time, "BRUSH");
    other.kind = Kind::Cover;
    let merged = run(vec![mark(0, 1, place(0.0, 0.0, 6), time, "BAIT"), other]);
    let seen: Vec<&str> = merged
        .log
        .findings
        .iter()
        .filter(|f| f.code == Code::MergeConflict)
        .map(|f| f.seen.as_ref())
        .collect();
    assert_eq!(seen.len(), 1);
    assert!(
        seen[0].contains("`BAIT`") && seen[0].contains("`BRUSH`") && seen[0].contains("`cover`"),
        "{}",
        seen[0]
    );
}

#[test]
fn a_fish_depth_is_never_filled_in_below_the_bottom() {
    let time = Some(at("2024-05-01T12:00:00Z"));
    let (mut a, mut b) = (mark(0, 1, CENTRE, time, "BAIT"), mark(1, 1, CENTRE, time, "BAIT"));
    a.water_depth = Depth::from_feet(20.0);
    b.fish_depth = Depth::from_feet(40.0);
    let merged = run(vec![a, b]);
    let one = &merged.log.kept[0];
    assert!(one.water_depth.is_none() || one.fish_depth.is_none());
}

#[test]
fn edits_drop_move_name_and_note_by_id() {
    let time = Some(at("2024-05-01T12:00:00Z"));
    let marks: Vec<Mark> =
        (0..4).map(|i| mark(0, i + 1, place(f64::from(i) * 500.0, 0.0, 6), time, "BAIT")).collect();
    let ids: Vec<String> = marks.iter().map(|m| m.id.to_string()).collect();
    let text = format!(
        "id,action,value\n{},drop,\n{},kind,hazard\n{},move,\"-94.2 35.2\"\n{},note,\"= big one, twice\"\nm-nothing,drop,\n{},paint,red\n{},move,200 200\n",
        ids[0], ids[1], ids[2], ids[3], ids[0], ids[0]
    );
    let (edits, findings) = read_edits(&text);
    assert_eq!(edits.len(), 5);
    assert_eq!(edits[2].change, Change::Move(Place { lon: -94.2, lat: 35.2 }));
    assert_eq!(findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::EditUnreadable; 2]);
    assert!(findings[0].seen.contains("line 7"), "{}", findings[0].seen);

    let merged = apply_edits(run(marks), &edits, &lake());
    assert_eq!(merged.log.set_aside.len(), 1);
    let by_id: BTreeMap<String, &Mark> = merged.log.kept.iter().map(|m| (m.id.to_string(), m)).collect();
    assert_eq!(by_id[&ids[1]].kind, Kind::Hazard);
    assert_eq!(by_id[&ids[2]].place, Place { lon: -94.2, lat: 35.2 });
    assert_eq!(&*by_id[&ids[3]].note, "= big one, twice");
    assert_eq!(by_id[&ids[3]].repairs, [Code::EditApplied]);
    let codes: BTreeSet<_> = merged.log.findings.iter().map(|f| f.code).collect();
    assert_eq!(codes, [Code::EditUnmatched, Code::EditApplied].into());
}

#[test]
fn an_edits_file_without_its_header_is_told_and_an_empty_one_is_not() {
    assert_eq!(read_edits("m-0123,drop\n").1[0].code, Code::EditUnreadable);
    assert_eq!(read_edits(""), (vec![], vec![]));
    assert_eq!(read_edits("id,action,value\n"), (vec![], vec![]));
}

#[test]
fn marks_that_share_an_id_get_ids_of_their_own() {
    let time = None;
    let (mut a, mut b) = (mark(0, 1, CENTRE, time, ""), mark(0, 2, CENTRE, time, ""));
    a.words = Words::new("", "", "", "first", "");
    b.words = Words::new("", "", "", "second", "");
    assert_eq!(a.id, b.id);
    let merged = run(vec![a.clone(), b.clone()]);
    assert_eq!(merged.log.kept.len(), 2);
    assert_ne!(merged.log.kept[0].id, merged.log.kept[1].id);
    assert_eq!(run(vec![b, a]), merged);
    assert_stands(&merged);
}

#[test]
fn a_hundred_thousand_marks_at_one_spot_do_not_take_their_square() {
    let marks: Vec<Mark> = (0..100_000_u32)
        .map(|i| {
            // All in a square of 8 m, in two files, half of them without a time, many at the same second.
            let spot = place(f64::from(i % 701) * 0.0113, f64::from(i % 709) * 0.0113, 7);
            let time = (i % 4 < 2).then(|| Instant::from_unix_s(1_700_000_000 + i64::from(i / 50)));
            mark(i % 2, i, spot, time, "BAIT")
        })
        .collect();
    // Of each file the dated marks that differ in second or in place to six decimals: at least those of one are left.
    let distinct = |file: u32| {
        let dated = marks.iter().filter(|m| m.time.is_some() && m.origin().file == FileId(file));
        let micro = |deg: f64| (deg * 1e6).round() as i64;
        dated.map(|m| (m.time, micro(m.place.lon), micro(m.place.lat))).collect::<BTreeSet<_>>().len()
    };
    let fewest = distinct(0).max(distinct(1));
    assert!(fewest > 15_000, "{fewest}");
    let merged = run(marks);
    assert!(merged.log.kept.len() >= fewest, "{} of {fewest}", merged.log.kept.len());
}

#[test]
fn simulated_exports_become_the_log_they_came_from() {
    let (mut said, mut right, mut truly) = (0, 0, 0);
    for seed in 1..=3 {
        let mut random = Random::seeded(seed);
        let presses = presses(&mut random, 30, 4);
        let exports = exported(&mut random, &presses);
        let truth: BTreeMap<Origin, usize> =
            exports.iter().flatten().map(|(press, mark)| (mark.origin(), *press)).collect();
        let marks: Vec<Mark> = exports.into_iter().flatten().map(|(_, mark)| mark).collect();
        let merged = run(marks);
        let (s, r, t) = pairs_of(&merged, &truth);
        (said, right, truly) = (said + s, right + r, truly + t);
        assert_stands(&merged);
    }
    let (precision, recall) = (right as f64 / said as f64, right as f64 / truly as f64);
    eprintln!("pairs said {said}, right {right}, true {truly}: precision {precision:.5}, recall {recall:.5}");
    assert!(precision >= 0.999, "precision {precision}");
    assert!(recall >= 0.995, "recall {recall}");
}

#[test]
fn what_interpret_gives_merges_with_its_re_export() {
    let raw = |file: u32| -> Vec<RawMark> {
        (1..=50)
            .map(|i| RawMark {
                origin: origin(file, i),
                lon_deg: CENTRE.lon + f64::from(i) * 0.0003,
                lat_deg: CENTRE.lat,
                time: RawTime::Instant(at("2024-05-01T15:00:00Z").plus_s(i64::from(i) * 600)),
                words: Words::new("SHAD 24FT 71F", "", "", "", ""),
                fields: Fields::default(),
                note: "".into(),
            })
            .collect()
    };
    let exports = [export("a.gpx"), export("b.gpx")];
    let all = [raw(0), raw(1)].concat();
    let read = interpret(all, vec![], &exports, &lake(), date(2025, 1, 1), &Labels::default());
    let merged = merge(read.marks.kept, &lake(), &exports, &Settings::default());
    assert_eq!((merged.log.kept.len(), merged.merged_away.len()), (50, 50));
}

/// Thirty marks in file 0, and in file 1 the same from a unit that lies `east_m`, `north_m` off with a scatter of 2 m.
fn two_units(seed: u64, shared: u32, east_m: f64, north_m: f64) -> Vec<Mark> {
    let mut random = Random::seeded(seed);
    let mut scatter = || f64::from(random.below(4001)) / 1000.0 - 2.0;
    let mut marks = Vec::new();
    for i in 1..=40_u32 {
        let (east, north) = (f64::from(i % 7) * 400.0, f64::from(i) * 55.0);
        let time = Some(at("2024-05-01T12:00:00Z").plus_s(i64::from(i) * 500));
        let name = format!("{i:04}");
        marks.push(mark(0, i, place(east, north, 7), time, &name));
        if i <= shared {
            let spot = place(east + east_m + scatter(), north + north_m + scatter(), 7);
            marks.push(mark(1, i, spot, time, &name));
        }
    }
    marks
}

fn merge_units(marks: Vec<Mark>, apply_unit_offset: bool) -> Merged {
    let settings = Settings { apply_unit_offset, ..Settings::default() };
    merge(marks, &lake(), &[export("bow"), export("stern")], &settings)
}

#[test]
fn an_offset_between_units_is_told_and_taken_out_only_when_the_settings_say_so() {
    let told = merge_units(two_units(1, 30, 40.0, -25.0), false);
    let [finding] = told.log.findings.as_slice() else { panic!("{:?}", told.log.findings) };
    assert_eq!(finding.code, Code::UnitOffset);
    assert!(
        finding.seen.contains("unit `stern`") && finding.seen.contains("by 30 shared"),
        "{}",
        finding.seen
    );
    assert_eq!(told.log.kept.len(), 70);
    let applied = merge_units(two_units(1, 30, 40.0, -25.0), true);
    assert_eq!(applied.log.kept.len(), 40);
    // Too few shared marks, or none that is off: nothing is told.
    assert_eq!(merge_units(two_units(1, 19, 40.0, -25.0), true).log.findings, []);
    assert_eq!(merge_units(two_units(1, 30, 0.0, 0.0), true).log.findings, []);
}

/// Marks that crowd together in place, time and name, so that every rule meets every other.
fn crowd() -> impl Strategy<Value = Vec<Mark>> {
    let one = (0_u32..3, 0_i32..12, 0_i32..4, 4_i32..8, 0_usize..6, 0_usize..3, any::<bool>());
    proptest::collection::vec(one, 0..40).prop_map(|rows| {
        (1..)
            .zip(rows)
            .map(|(record, (file, east, north, decimals, time, name, deep))| {
                let seconds = [0, 1, 3, 3600, -5 * 3600, -7168 * 86_400];
                let time = (time < 5 || deep).then(|| at("2024-07-20T12:00:00Z").plus_s(seconds[time]));
                let spot = place(f64::from(east) * 3.0, f64::from(north) * 3.0, decimals);
                let mut mark = mark(file, record, spot, time, ["", "BAIT", "0417"][name]);
                mark.fish_depth = deep.then(|| Depth::from_feet(20.0)).flatten();
                mark
            })
            .collect()
    })
}

proptest! {
    // Failing inputs are printed, not kept in files.
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn nothing_is_lost_order_does_not_matter_and_merging_again_changes_nothing(
        marks in crowd(),
        rotation in 0_usize..40,
    ) {
        let merged = run(marks.clone());
        let all: BTreeSet<Origin> = marks.iter().map(Mark::origin).collect();
        let listed: Vec<Origin> = merged.log.kept.iter().flat_map(|m| m.sources.to_vec()).collect();
        prop_assert_eq!(listed.len(), all.len());
        prop_assert_eq!(listed.into_iter().collect::<BTreeSet<_>>(), all);
        let ids: BTreeSet<_> = merged.log.kept.iter().map(|m| m.id).collect();
        prop_assert_eq!(ids.len(), merged.log.kept.len());

        let mut turned = marks.clone();
        if !turned.is_empty() {
            let by = rotation % turned.len();
            turned.rotate_left(by);
        }
        prop_assert_eq!(&run(turned), &merged);
        assert_stands(&merged);
    }

    /// Other file names give other file numbers: the same marks come out, only their sources are numbered otherwise.
    #[test]
    fn the_names_of_the_files_have_no_say(marks in crowd()) {
        let renumbered: Vec<Mark> = marks
            .iter()
            .cloned()
            .map(|mut mark| {
                let mut first = mark.origin();
                first.file = FileId(2 - first.file.0);
                mark.sources = first.into();
                mark
            })
            .collect();
        let plain = |merged: Merged| -> Vec<_> {
            let said = |m: &Mark| (m.id, m.time, m.words.clone(), m.sources.len());
            merged.log.kept.iter().map(said).collect()
        };
        prop_assert_eq!(plain(run(renumbered)), plain(run(marks)));
    }

    /// The whole lake one degree east merges in the same way.
    #[test]
    fn a_lake_one_degree_east_merges_in_the_same_way(marks in crowd()) {
        let east: Vec<Mark> = marks
            .iter()
            .map(|m| {
                let spot = Place { lon: ((m.place.lon + 1.0) * 1e7).round() / 1e7, lat: m.place.lat };
                let mut moved = mark(m.origin().file.0, m.origin().record, spot, m.time, m.words.name());
                moved.fish_depth = m.fish_depth;
                moved
            })
            .collect();
        let mut east_lake = lake();
        east_lake.plane = shoalwright::terms::place::LocalPlane::new(Place { lon: CENTRE.lon + 1.0, ..CENTRE });
        let there = merge(east, &east_lake, &[], &Settings::default());
        // Of two marks that say the very same the id goes first, and that is a hash of the place: which records are
        // one mark may not depend on it.
        let sources = |merged: &Merged| -> BTreeSet<BTreeSet<Origin>> {
            merged.log.kept.iter().map(|m| m.sources.iter().copied().collect()).collect()
        };
        prop_assert_eq!(sources(&there), sources(&run(marks)));
    }

    /// The offset told is the one planted: the scatter is 2 m at most and the error of the median well below that.
    #[test]
    fn the_offset_told_is_the_one_planted(seed in any::<u64>(), east in -90.0..90.0_f64, north in -90.0..90.0_f64) {
        prop_assume!(east.hypot(north) > 5.0);
        let merged = merge_units(two_units(seed, 40, east, north), false);
        let told: Vec<_> = merged.log.findings.iter().filter(|f| f.code == Code::UnitOffset).collect();
        prop_assert_eq!(told.len(), 1);
        let metres: Vec<f64> =
            told[0].seen.split('`').filter_map(|part| part.strip_suffix(" m")?.parse().ok()).collect();
        prop_assert!((metres[0] - east).abs() < 1.5 && (metres[1] - north).abs() < 1.5, "{}", told[0].seen);
    }
}
