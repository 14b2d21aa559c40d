//! Cover marked again on other days: the log of a log is that log, whatever the order of files.

use crate::merge_simulator::{at, lake, mark, place};
use proptest::prelude::*;
use shoalwright::merge::{Settings, merge};
use shoalwright::terms::instant::Instant;
use shoalwright::terms::mark::{Kind, Mark};

const NAMES: [&str; 6] = ["BRUSH 22FT", "brush pile", "TREE", "0417", "", "BRUSH"];

/// Marks of cover in a square of 120 m on five days, east and north in metres.
fn marks() -> impl Strategy<Value = Vec<Mark>> {
    let one = (0..120_u32, 0..120_u32, 0..5_i64, 0..NAMES.len(), 0..2_u32);
    proptest::collection::vec(one, 0..25).prop_map(|all| {
        let each = |(record, (east, north, day, name, file)): (u32, (u32, u32, i64, usize, u32))| {
            let time = at("2024-05-01T12:00:00Z").plus_s(day * 86_400 + i64::from(record) * 7);
            let mut mark = mark(file, record, place(east.into(), north.into(), 7), Some(time), NAMES[name]);
            mark.kind = Kind::Cover;
            mark
        };
        (1..).zip(all).map(each).collect()
    })
}

/// All that the log says but where it stands.
fn said(marks: &[Mark]) -> Vec<(String, Option<i64>, String, usize)> {
    let one = |m: &Mark| {
        (m.id.to_string(), m.time.map(Instant::unix_ms), m.words.name().to_owned(), m.sources.len())
    };
    marks.iter().map(one).collect()
}

proptest! {
    #[test]
    fn the_log_of_a_log_of_cover_is_that_log(marks in marks()) {
        let once = merge(marks.clone(), &lake(), &[], &Settings::default());
        prop_assert_eq!(once.log.kept.len() + once.merged_away.len(), marks.len());
        let twice = merge(once.log.kept.clone(), &lake(), &[], &Settings::default());
        prop_assert_eq!(said(&once.log.kept), said(&twice.log.kept));
        let mut other_way = marks;
        other_way.reverse();
        let reversed = merge(other_way, &lake(), &[], &Settings::default());
        prop_assert_eq!(once.log.kept, reversed.log.kept);
    }
}
