//! The way of the boat on one outing, as a line to slide marks along.

use crate::terms::instant::Instant;
use crate::terms::lake::{Lake, LocalDates};
use crate::terms::place::{Place, PlanePoint};
use crate::terms::track_log::{TrackLog, TrackPoint};
use jiff::civil::Date;
use rstar::primitives::{GeomWithData, Line};
use rstar::{PointDistance, RTree};
use std::collections::{BTreeMap, BTreeSet};

/// Faster than this the boat was running, not looking (9 mph; common practice, no source).
const LOOKING_M_S: f64 = 9.0 * 1609.344 / 3600.0;
/// What a metre of running counts against a metre of looking: the share of schools that simulated boats found at
/// running speed was .3 of that at looking speed.
const RUNNING_WEIGHT: f64 = 0.25;
/// Track points nearer than this to the last one kept are passed over: they hold the jitter of a boat at rest.
const STEP_M: f64 = 10.0;
/// A mark farther than this from the track was not dropped from it, so sliding it along tells nothing (judgement).
const OFF_TRACK_M: f64 = 250.0;

/// One straight piece, from the end of the one before or after a break.
#[derive(Clone, Copy, Debug)]
struct Leg {
    from: PlanePoint,
    /// Unit vector of travel: east, north.
    along: [f64; 2],
    length_m: f64,
    /// Weighted way before it and with it.
    way: [f64; 2],
}

/// The legs of an outing one after another. Positions on it are weighted metres, in `[0, length)`.
#[derive(Debug)]
pub(super) struct OutingTrack {
    legs: Vec<Leg>,
    tree: RTree<GeomWithData<Line<[f64; 2]>, usize>>,
}

/// Where a mark stands by its outing's track.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct OnTrack {
    /// Weighted metres from the start.
    way: f64,
    /// Metres from the track: along and to the left of its direction there.
    offset_m: [f64; 2],
}

impl OutingTrack {
    fn new(mut runs: Vec<Vec<(PlanePoint, f64)>>) -> Option<Self> {
        // The order of the files must not matter.
        let key = |run: &[(PlanePoint, f64)]| run.first().map(|(p, t)| (*t, p.east_m, p.north_m, run.len()));
        runs.sort_by(|a, b| key(a).partial_cmp(&key(b)).unwrap_or(std::cmp::Ordering::Equal));
        let mut legs = Vec::new();
        let mut way = 0.0;
        for pair in runs.iter().flat_map(|run| run.windows(2)) {
            let ((from, start_s), (to, end_s)) = (pair[0], pair[1]);
            let length_m = from.metres_to(to);
            if length_m <= 0.0 {
                continue;
            }
            let running = length_m > LOOKING_M_S * (end_s - start_s);
            let weighted = length_m * if running { RUNNING_WEIGHT } else { 1.0 };
            let along = [(to.east_m - from.east_m) / length_m, (to.north_m - from.north_m) / length_m];
            legs.push(Leg { from, along, length_m, way: [way, way + weighted] });
            way += weighted;
        }
        if legs.is_empty() {
            return None;
        }
        let line = |leg: &Leg| {
            let start = [leg.from.east_m, leg.from.north_m];
            Line::new(start, [0, 1].map(|axis| start[axis] + leg.along[axis] * leg.length_m))
        };
        let lines = legs.iter().enumerate().map(|(n, leg)| GeomWithData::new(line(leg), n)).collect();
        Some(Self { tree: RTree::bulk_load(lines), legs })
    }

    /// Weighted metres in all.
    pub(super) fn length(&self) -> f64 {
        self.legs.last().map_or(0.0, |leg| leg.way[1])
    }

    /// The nearest place on the track; `None` when the mark was not dropped from it.
    pub(super) fn locate(&self, mark: PlanePoint) -> Option<OnTrack> {
        let point = [mark.east_m, mark.north_m];
        let nearest = self.tree.nearest_neighbor(&point)?;
        if nearest.distance_2(&point) > OFF_TRACK_M * OFF_TRACK_M {
            return None;
        }
        let leg = &self.legs[nearest.data];
        let (east, north) = (mark.east_m - leg.from.east_m, mark.north_m - leg.from.north_m);
        let along = east * leg.along[0] + north * leg.along[1];
        let on_leg = along.clamp(0.0, leg.length_m);
        Some(OnTrack {
            way: leg.way[0] + (leg.way[1] - leg.way[0]) * on_leg / leg.length_m,
            offset_m: [along - on_leg, north * leg.along[0] - east * leg.along[1]],
        })
    }

    /// The place of a mark moved on by `shift` weighted metres, round the end to the start, its offset kept.
    pub(super) fn slide(&self, mark: OnTrack, shift: f64) -> PlanePoint {
        let way = (mark.way + shift).rem_euclid(self.length());
        let leg = &self.legs[self.legs.partition_point(|leg| leg.way[1] <= way).min(self.legs.len() - 1)];
        let along = leg.length_m * (way - leg.way[0]) / (leg.way[1] - leg.way[0]) + mark.offset_m[0];
        let left = mark.offset_m[1];
        PlanePoint {
            east_m: leg.from.east_m + along * leg.along[0] - left * leg.along[1],
            north_m: leg.from.north_m + along * leg.along[1] + left * leg.along[0],
        }
    }
}

/// The tracks of the outings asked for. Points without a time tell no outing and are passed over.
pub(super) fn outing_tracks(
    track_logs: &[TrackLog],
    lake: &Lake,
    outings: &BTreeSet<Date>,
) -> BTreeMap<Date, OutingTrack> {
    let mut runs: BTreeMap<Date, Vec<Vec<(PlanePoint, f64)>>> = BTreeMap::new();
    let mut days = LocalDates::default();
    for segment in track_logs.iter().flat_map(|log| &log.segments) {
        let mut current: Option<Date> = None;
        let mut last: Option<Place> = None;
        for TrackPoint { place, time, .. } in segment {
            let Some(ms) = time.map(Instant::unix_ms) else { continue };
            let Some(date) = days.date_of(ms, lake).filter(|d| outings.contains(d)) else {
                (current, last) = (None, None);
                continue;
            };
            let list = runs.entry(date).or_default();
            if current != Some(date) {
                list.push(Vec::new());
                (current, last) = (Some(date), None);
            }
            if last.is_none_or(|l| l.roughly_metres_to(*place) >= STEP_M)
                && let Some(run) = list.last_mut()
            {
                run.push((lake.to_plane(*place), ms as f64 / 1000.0));
                last = Some(*place);
            }
        }
    }
    runs.into_iter().filter_map(|(date, runs)| Some((date, OutingTrack::new(runs)?))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A boat that looks for 400 m east and 300 m north at 2 m/s, then runs 400 m west at 10 m/s.
    fn track() -> OutingTrack {
        let at = |east_m, north_m, seconds| (PlanePoint { east_m, north_m }, seconds);
        OutingTrack::new(vec![
            vec![at(0.0, 0.0, 0.0), at(400.0, 0.0, 200.0), at(400.0, 300.0, 350.0)],
            vec![at(400.0, 300.0, 400.0), at(0.0, 300.0, 440.0)],
        ])
        .unwrap()
    }

    /// Mark → place after the slide, in whole metres.
    #[track_caller]
    fn check(mark: [f64; 2], shift: f64, expected: [f64; 2]) {
        let track = track();
        let at = track.locate(PlanePoint { east_m: mark[0], north_m: mark[1] }).unwrap();
        let moved = track.slide(at, shift);
        let apart = (moved.east_m - expected[0]).hypot(moved.north_m - expected[1]);
        assert!(apart < 1e-9, "{moved:?}, not {expected:?}");
    }

    #[test]
    fn a_mark_keeps_its_side_of_the_boat_as_it_slides() {
        assert!((track().length() - 800.0).abs() < 1e-9); // 700 m of looking, 400 m of running at a quarter
        check([100.0, 20.0], 0.0, [100.0, 20.0]);
        check([100.0, 20.0], 200.0, [300.0, 20.0]);
        check([100.0, 20.0], 400.0, [380.0, 100.0]); // 20 m to the left of a boat bound north
        check([100.0, 20.0], 650.0, [200.0, 280.0]); // … and of one bound west: south of it, halfway along
        check([100.0, 20.0], 750.0, [50.0, 20.0]); // round the end to the start
    }

    #[test]
    fn a_mark_far_from_the_track_was_not_dropped_from_it() {
        assert_eq!(track().locate(PlanePoint { east_m: 100.0, north_m: -251.0 }), None);
    }
}
