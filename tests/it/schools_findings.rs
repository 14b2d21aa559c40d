//! What schools say when the log does not carry a result: undated marks, too few gamefish, no track logs.

use crate::log_of::{lake, mark};
use shoalwright::schools::{AreaSettings, Schools, SightingSettings, Without, schools};
use shoalwright::terms::finding::Code;
use shoalwright::terms::mark::{Kind, Mark};
use shoalwright::terms::units::Depth;

const DAY_S: i64 = 86_400;
/// 2023-03-01T12:00:00Z.
const MARCH_S: i64 = 1_677_672_000;

fn run(log: &[Mark]) -> Schools {
    schools(log, &[], &lake(), &SightingSettings::default(), &AreaSettings::default(), 1)
}

fn seen(found: &Schools, code: Code) -> Vec<String> {
    found.findings.iter().filter(|f| f.code == code).map(|f| f.seen.to_string()).collect()
}

/// Bait at the middle and gamefish so many metres east of it, on so many outings.
fn outings(count: i64, east_m: f64) -> Vec<Mark> {
    (0..count)
        .flat_map(|n| {
            let at = MARCH_S + n * DAY_S;
            [mark(Kind::Bait, 0.0, 0.0, at, None), mark(Kind::Gamefish, east_m, 0.0, at, None)]
        })
        .collect()
}

#[test]
fn too_few_gamefish_or_no_track_logs_refuse_the_chance_but_not_the_lists() {
    let few = run(&outings(19, 100.0));
    assert_eq!(
        seen(&few, Code::PairingRefused),
        [
            "`19` dated gamefish marks; the median distance to bait of the same outing is `100 m`, the mean `100 m`"
        ]
    );
    let pairing = few.pairing.unwrap();
    assert_eq!((pairing.test, pairing.near, pairing.tested), (None, 19, 0));
    assert!(few.areas.iter().all(|a| a.gamefish.is_none()));

    let no_tracks = run(&outings(20, 130.0));
    assert_eq!(
        seen(&no_tracks, Code::PairingRefused),
        ["no track logs; the median distance to bait of the same outing is `130 m`, the mean `130 m`"]
    );
    let pairing = no_tracks.pairing.unwrap();
    assert_eq!((pairing.near, pairing.gamefish_without_bait.len()), (0, 20));
    assert_eq!(pairing.bait_without_gamefish.len(), 20);
}

#[test]
fn the_lists_tell_the_nearest_of_the_other_kind_on_the_same_outing() {
    let day = MARCH_S;
    let other_day = MARCH_S + DAY_S;
    let log = [
        mark(Kind::Bait, 0.0, 0.0, day, Depth::from_metres(10.0)),
        // Near in place and too far in depth; the nearer in place, not in both, is told.
        mark(Kind::Gamefish, 100.0, 0.0, day, Depth::from_metres(16.0)),
        mark(Kind::Gamefish, 0.0, 400.0, day, None),
        // Another outing, which has no gamefish.
        mark(Kind::Bait, 0.0, 0.0, other_day, Depth::from_metres(10.0)),
    ];
    let pairing = run(&log).pairing.unwrap();
    let told = |list: &[Without]| -> Vec<_> {
        let tenths = |m: f64| (m * 10.0).round() / 10.0;
        list.iter().map(|w| (w.number, w.nearest_m.map(tenths), w.depth_gap_m.map(tenths))).collect()
    };
    assert_eq!(told(&pairing.bait_without_gamefish), [(0, Some(100.0), Some(6.0)), (3, None, None)]);
    // Of the sightings, 0 and 3 are the bait; of the log, 1 and 2 are the gamefish.
    assert_eq!(told(&pairing.gamefish_without_bait), [(1, Some(100.0), Some(6.0)), (2, Some(400.0), None)]);
}

#[test]
fn the_lists_leave_out_seasons_in_which_one_kind_was_not_marked() {
    let mut log = outings(3, 500.0);
    // The year before, only bait was marked: its lack of gamefish tells nothing.
    log.push(mark(Kind::Bait, 0.0, 0.0, MARCH_S - 365 * DAY_S, None));
    let found = run(&log);
    let pairing = found.pairing.unwrap();
    let seasons: Vec<i16> =
        pairing.bait_without_gamefish.iter().map(|s| found.sightings[s.number].day.season).collect();
    assert_eq!(seasons, [2023, 2023, 2023]);
    let gamefish: Vec<usize> = pairing.gamefish_without_bait.iter().map(|m| m.number).collect();
    assert_eq!(gamefish, [1, 3, 5]);
}

#[test]
fn near_needs_the_same_outing_and_like_depth() {
    let feet = |feet: f64| Depth::from_feet(feet);
    let check = |gamefish_ft: Option<Depth>, days: i64, near: usize| {
        let log = [
            mark(Kind::Bait, 0.0, 0.0, MARCH_S, feet(10.0)),
            mark(Kind::Gamefish, 100.0, 0.0, MARCH_S + days * DAY_S, gamefish_ft),
        ];
        assert_eq!(run(&log).pairing.unwrap().near, near);
    };
    check(feet(25.0), 0, 1);
    check(feet(25.1), 0, 0);
    check(None, 0, 1);
    check(feet(10.0), 1, 0);
}

#[test]
fn undated_marks_are_counted() {
    let mut log = outings(2, 50.0);
    (log[0].time, log[0].day) = (None, None);
    let found = run(&log);
    assert_eq!(seen(&found, Code::UndatedMarks), ["`1` of `4` bait and gamefish marks are undated"]);
    assert_eq!(found.sightings.iter().map(|s| s.marks.len()).sum::<usize>(), 3);
    assert!(seen(&run(&outings(2, 50.0)), Code::UndatedMarks).is_empty());
}

#[test]
fn widely_spaced_sightings_suggest_a_wider_reach_and_change_nothing() {
    // A lattice of 400 m, all on one day: the fourth neighbour is 400 m away, and 1.3 times that is 520 m.
    let log: Vec<Mark> = (0..100)
        .map(|n| mark(Kind::Bait, f64::from(n % 10) * 400.0, f64::from(n / 10) * 400.0, MARCH_S, None))
        .collect();
    let found = run(&log);
    let advice = seen(&found, Code::AreaWidthAdvice);
    assert_eq!(advice.len(), 1);
    assert!(advice[0].contains("`520 m`") && advice[0].contains("`300 m`"), "{advice:?}");
    assert!(found.areas.is_empty());
}
