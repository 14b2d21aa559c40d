//! Where tracks cross, and by how much their soundings differ there: the check that hydrographers call crosslines.

use super::blocks::{Block, Soundings, cell_of};
use super::clean::median;
use super::offsets::UnitOffset;
use crate::terms::place::PlanePoint;
use std::collections::BTreeMap;

/// Differences of depth where tracks cross, taken as amounts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossings {
    /// How many crossings.
    pub count: usize,
    /// Half of them differ by no more, in metres.
    pub median_m: f64,
    /// 95 in a hundred differ by no more, in metres.
    pub p95_m: f64,
}

/// Where two logs cross: the logs, and by how much the first sounds deeper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Meeting {
    pub(super) logs: [usize; 2],
    pub(super) difference_m: f64,
}

/// Pieces of way are looked up by squares so many cells wide.
const BUCKET_CELLS: f64 = 5.0;
/// Of so many pieces in a square that all its pairs would cost too much, this many are taken, evenly.
const MOST_PIECES: usize = 64;

/// All meetings of different tracks, and of different units on one boat; one a pair of logs and square.
pub(super) fn meetings(soundings: &Soundings, cell_m: f64) -> Vec<Meeting> {
    let bucket_m = BUCKET_CELLS * cell_m;
    let mut pieces: Vec<((i32, i32), u32, u32)> = Vec::new();
    for (number, log) in (0..).zip(&soundings.logs) {
        for (step, pair) in (1..).zip(log.blocks.windows(2)) {
            if !pair[1].linked {
                continue;
            }
            let (a, b) = (cell_of(pair[0].at, bucket_m), cell_of(pair[1].at, bucket_m));
            for east in a.0.min(b.0)..=a.0.max(b.0) {
                for north in a.1.min(b.1)..=a.1.max(b.1) {
                    pieces.push(((east, north), number, step));
                }
            }
        }
    }
    pieces.sort_unstable();
    let mut met = Vec::new();
    for bucket in pieces.chunk_by(|a, b| a.0 == b.0) {
        let step = bucket.len().div_ceil(MOST_PIECES);
        let taken: Vec<_> = bucket.iter().step_by(step).collect();
        let mut once: BTreeMap<(u32, u32), f64> = BTreeMap::new();
        for (i, one) in taken.iter().enumerate() {
            for other in &taken[i + 1..] {
                let logs = [one.1, other.1].map(|log| &soundings.logs[log as usize]);
                let apart = logs[0].track != logs[1].track || logs[0].unit != logs[1].unit;
                if !apart || once.contains_key(&(one.1, other.1)) {
                    continue;
                }
                let ends = |log: usize, step: u32| {
                    [logs[log].blocks[step as usize - 1], logs[log].blocks[step as usize]]
                };
                if let Some((at, difference_m)) = cross(ends(0, one.2), ends(1, other.2))
                    && cell_of(at, bucket_m) == bucket[0].0
                {
                    once.insert((one.1, other.1), difference_m);
                }
            }
        }
        met.extend(
            once.into_iter()
                .map(|((a, b), difference_m)| Meeting { logs: [a as usize, b as usize], difference_m }),
        );
    }
    met
}

/// Where two pieces of way cross, and by how much the first is deeper there.
fn cross(one: [Block; 2], other: [Block; 2]) -> Option<(PlanePoint, f64)> {
    let step = |piece: &[Block; 2]| {
        (piece[1].at.east_m - piece[0].at.east_m, piece[1].at.north_m - piece[0].at.north_m)
    };
    let ((ax, ay), (bx, by)) = (step(&one), step(&other));
    let across = ax * by - ay * bx;
    if across == 0.0 {
        return None;
    }
    let (dx, dy) = (other[0].at.east_m - one[0].at.east_m, other[0].at.north_m - one[0].at.north_m);
    let (s, t) = ((dx * by - dy * bx) / across, (dx * ay - dy * ax) / across);
    let on = |share: f64| (0.0..=1.0).contains(&share);
    let depth_m =
        |piece: &[Block; 2], share: f64| piece[0].depth_m + share * (piece[1].depth_m - piece[0].depth_m);
    let at = PlanePoint { east_m: one[0].at.east_m + s * ax, north_m: one[0].at.north_m + s * ay };
    (on(s) && on(t)).then(|| (at, depth_m(&one, s) - depth_m(&other, t)))
}

/// The differences that are left once the offsets of units are taken out where they are; of different tracks only.
pub(super) fn crossings(soundings: &Soundings, met: &[Meeting], offsets: &[UnitOffset]) -> Option<Crossings> {
    let applied_m = |log: usize| {
        let unit = &soundings.units[soundings.logs[log].unit];
        offsets.iter().find(|o| o.applied && o.unit == *unit).map_or(0.0, |o| o.deeper_m)
    };
    let mut differences: Vec<f64> = met
        .iter()
        .filter(|m| soundings.logs[m.logs[0]].track != soundings.logs[m.logs[1]].track)
        .map(|m| (m.difference_m - applied_m(m.logs[0]) + applied_m(m.logs[1])).abs())
        .collect();
    if differences.is_empty() {
        return None;
    }
    differences.sort_unstable_by(f64::total_cmp);
    // The nearest rank: the least difference that 95 in a hundred do not exceed.
    let rank = (0.95 * differences.len() as f64).ceil() as usize;
    let p95_m = differences[rank.clamp(1, differences.len()) - 1];
    Some(Crossings { count: differences.len(), median_m: median(&mut differences), p95_m })
}
