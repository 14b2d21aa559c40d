//! Track logs to blocks: the soundings of one log in one square, one after another along its way.

use super::clean::{Sounded, Verdict, judge};
use super::{Settings, Surface, Tally};
use crate::terms::export::Export;
use crate::terms::instant::Instant;
use crate::terms::lake::{Lake, LocalDates};
use crate::terms::place::{LocalPlane, Place, PlanePoint};
use crate::terms::track_log::{TrackLog, TrackPoint};
use crate::terms::units::{Depth, Distance};
use jiff::civil::Date;
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Soundings of one log in one square, until it leaves the square.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Block {
    /// Their middle.
    pub(super) at: PlanePoint,
    /// Their mean depth below the lake's surface of reference, in metres.
    pub(super) depth_m: f64,
    /// How many.
    pub(super) count: f64,
    /// Whether the block before it leads to it without a break.
    pub(super) linked: bool,
}

/// The blocks of one track log.
#[derive(Clone, Debug)]
pub(super) struct LogBlocks {
    pub(super) blocks: Vec<Block>,
    /// The unit, as a place in the sorted labels.
    pub(super) unit: usize,
    /// What is left out together when a track is held out: logs of one boat at one time.
    pub(super) track: u32,
    /// First and last moment in milliseconds, where told.
    span_ms: Option<(i64, i64)>,
    tally: Tally,
}

/// All blocks of all logs, in the order of the logs.
#[derive(Clone, Debug)]
pub(super) struct Soundings {
    pub(super) logs: Vec<LogBlocks>,
    pub(super) units: Vec<String>,
    pub(super) tally: Tally,
}

/// A silence this long, or a step this wide, breaks the way between two blocks (judgement).
const GAP_MS: i64 = 60_000;
const GAP_CELLS: f64 = 5.0;

pub(super) fn blocks(
    track_logs: &[TrackLog],
    exports: &[Export],
    lake: &Lake,
    settings: &Settings,
    surface: Surface,
) -> Soundings {
    let unit_of = |log: &TrackLog| exports.get(log.origin.file.0 as usize).map_or("", |e| e.unit.as_str());
    let mut units: Vec<String> = track_logs.iter().map(|log| unit_of(log).to_owned()).collect();
    units.sort();
    units.dedup();
    let mut logs: Vec<LogBlocks> = track_logs
        .par_iter()
        .map(|log| {
            let unit = unit_of(log);
            let number = units.binary_search_by(|u| u.as_str().cmp(unit)).unwrap_or(0);
            let below_m = settings.transducer.get(unit).copied().map_or(0.0, Distance::metres);
            let mut read = of_log(log, lake, settings, surface, below_m);
            read.unit = number;
            read
        })
        .collect();
    leave_out_copies(&mut logs);
    let mut tally = Tally::default();
    for log in &logs {
        tally.add(&log.tally);
    }
    logs.retain(|log| !log.blocks.is_empty());
    number_tracks(&mut logs);
    Soundings { logs, units, tally }
}

/// Judges the soundings of a log and gathers them.
fn of_log(log: &TrackLog, lake: &Lake, settings: &Settings, surface: Surface, below_m: f64) -> LogBlocks {
    let mut tally = Tally::default();
    let mut kept: Vec<Vec<TrackPoint>> = Vec::with_capacity(log.segments.len());
    let mut judged: Vec<Vec<Sounded>> = Vec::with_capacity(log.segments.len());
    for segment in &log.segments {
        let (mut points, mut sounded) = (Vec::new(), Vec::new());
        let (mut along_m, mut last): (f64, Option<Place>) = (0.0, None);
        for point in segment {
            along_m += last.map_or(0.0, |place| place.roughly_metres_to(point.place));
            last = Some(point.place);
            let Some(depth_m) = point.depth_m.map(f64::from) else { continue };
            tally.points += 1;
            if depth_m > 0.0 && depth_m <= Depth::MAX_M {
                points.push(*point);
                sounded.push(Sounded { along_m, depth_m });
            } else {
                tally.zeros += 1;
            }
        }
        kept.push(points);
        judged.push(sounded);
    }
    let verdicts = judge(&judged, settings.spike.metres());
    let mut gathering = Gathering {
        cell_m: settings.cell.metres(),
        near: Near::new(&lake.plane),
        days: Levels { lake, surface, dates: LocalDates::default(), last: None },
        below_m,
        blocks: Vec::new(),
        open: None,
    };
    for (points, verdicts) in kept.iter().zip(&verdicts) {
        gathering.close();
        let mut before: Option<&TrackPoint> = None;
        for (point, verdict) in points.iter().zip(verdicts) {
            match verdict {
                Verdict::Bottom => {
                    let linked = before.is_some_and(|b| !gap(b, point, gathering.cell_m));
                    if gathering.take(point, linked) {
                        tally.kept += 1;
                        before = Some(point);
                    } else {
                        tally.no_level += 1;
                    }
                }
                Verdict::Repeat => tally.repeats += 1,
                Verdict::Spike => tally.spikes += 1,
                Verdict::Jump => tally.jumps += 1,
            }
        }
    }
    gathering.close();
    let times = || log.segments.iter().flatten().filter_map(|p| p.time).map(Instant::unix_ms);
    let span_ms = times().min().zip(times().max());
    LogBlocks { blocks: gathering.blocks, unit: 0, track: 0, span_ms, tally }
}

fn gap(a: &TrackPoint, b: &TrackPoint, cell_m: f64) -> bool {
    let silent = a.time.zip(b.time).is_some_and(|(a, b)| (b.unix_ms() - a.unix_ms()).abs() > GAP_MS);
    silent || a.place.roughly_metres_to(b.place) > GAP_CELLS * cell_m
}

/// The square of a point of the plane.
pub(super) fn cell_of(at: PlanePoint, cell_m: f64) -> (i32, i32) {
    ((at.east_m / cell_m).floor() as i32, (at.north_m / cell_m).floor() as i32)
}

struct Gathering<'a> {
    cell_m: f64,
    near: Near<'a>,
    days: Levels<'a>,
    below_m: f64,
    blocks: Vec<Block>,
    /// The square being gathered, sums of east, north and depth, count, and whether it is linked.
    open: Option<((i32, i32), [f64; 4], bool)>,
}

impl Gathering<'_> {
    /// Takes a sounding; false: its day has no level.
    fn take(&mut self, point: &TrackPoint, linked: bool) -> bool {
        let Some(above_m) = self.days.above_m(point.time) else { return false };
        let at = self.near.point(point.place);
        // Counted from full pool a sounding of a flood may lie above the surface: the bank, at depth 0.
        let depth_m = (point.depth_m.map_or(0.0, f64::from) + self.below_m + above_m).max(0.0);
        let cell = cell_of(at, self.cell_m);
        if !linked || self.open.is_some_and(|(open, ..)| open != cell) {
            self.close();
        }
        let (_, sums, _) = self.open.get_or_insert((cell, [0.0; 4], linked));
        for (sum, value) in sums.iter_mut().zip([at.east_m, at.north_m, depth_m, 1.0]) {
            *sum += value;
        }
        true
    }

    fn close(&mut self) {
        if let Some((_, [east, north, depth, count], linked)) = self.open.take() {
            let at = PlanePoint { east_m: east / count, north_m: north / count };
            self.blocks.push(Block { at, depth_m: depth / count, count, linked });
        }
    }
}

/// By how much the surface of reference lies above the surface of a day.
struct Levels<'a> {
    lake: &'a Lake,
    surface: Surface,
    dates: LocalDates,
    last: Option<(Date, Option<f64>)>,
}

impl Levels<'_> {
    fn above_m(&mut self, time: Option<Instant>) -> Option<f64> {
        let Some(reference_m) = self.surface.level_m() else { return Some(0.0) };
        let date = self.dates.date_of(time?.unix_ms(), self.lake)?;
        if self.last.is_none_or(|(known, _)| known != date) {
            self.last = Some((date, self.lake.level_m(date)));
        }
        self.last.and_then(|(_, level_m)| level_m).map(|level_m| reference_m - level_m)
    }
}

/// The lake's plane near an anchor, by its slopes there: a geodesic for each of millions of points would cost seconds.
/// Off by at most 5 mm at the distance from which a new anchor is set (the plane bends by its square over the earth's
/// radius; a test holds it).
struct Near<'a> {
    plane: &'a LocalPlane,
    anchor: Option<(Place, PlanePoint, [f64; 4])>,
}

/// Degrees from the anchor to which its slopes are used, and over which they are taken.
const ANCHOR_DEG: f64 = 0.001;

impl<'a> Near<'a> {
    const fn new(plane: &'a LocalPlane) -> Self {
        Self { plane, anchor: None }
    }

    fn point(&mut self, place: Place) -> PlanePoint {
        let far = |anchor: &(Place, PlanePoint, _)| {
            (anchor.0.lon - place.lon).abs().max((anchor.0.lat - place.lat).abs()) > ANCHOR_DEG
        };
        if self.anchor.as_ref().is_none_or(far) {
            // Anchors stand on a fixed lattice, so that a place has one point whatever the boat's way to it.
            let on_lattice = |deg: f64| (deg / ANCHOR_DEG).round() * ANCHOR_DEG;
            let at = Place { lon: on_lattice(place.lon), lat: on_lattice(place.lat) };
            let here = self.plane.to_plane(at);
            let east = self.plane.to_plane(Place { lon: at.lon + ANCHOR_DEG, ..at });
            let north = self.plane.to_plane(Place { lat: at.lat + ANCHOR_DEG, ..at });
            let slope = |there: f64, here: f64| (there - here) / ANCHOR_DEG;
            let slopes = [
                slope(east.east_m, here.east_m),
                slope(north.east_m, here.east_m),
                slope(east.north_m, here.north_m),
                slope(north.north_m, here.north_m),
            ];
            self.anchor = Some((at, here, slopes));
        }
        let Some((at, here, [ee, en, ne, nn])) = self.anchor else { return self.plane.to_plane(place) };
        let (lon, lat) = (place.lon - at.lon, place.lat - at.lat);
        PlanePoint { east_m: here.east_m + ee * lon + en * lat, north_m: here.north_m + ne * lon + nn * lat }
    }
}

/// A log that stands in two exports is taken once: by its moments, length and blocks.
fn leave_out_copies(logs: &mut [LogBlocks]) {
    let mut known: BTreeSet<Vec<u64>> = BTreeSet::new();
    for log in logs {
        let (Some(first), Some(last)) = (log.blocks.first(), log.blocks.last()) else { continue };
        let mut key = vec![log.tally.points, log.blocks.len() as u64];
        key.extend(log.span_ms.map(|(from, to)| [from as u64, to as u64]).into_iter().flatten());
        for block in [first, last] {
            key.extend([block.at.east_m, block.at.north_m, block.depth_m].map(f64::to_bits));
        }
        if !known.insert(key) {
            log.tally.copies = log.tally.kept;
            log.tally.kept = 0;
            log.blocks.clear();
        }
    }
}

/// Numbers the tracks: logs that overlap in time are of one boat, two units on it or one unit's export twice, and would
/// vouch for each other. Where that leaves a single track, each log is one.
fn number_tracks(logs: &mut [LogBlocks]) {
    let mut order: Vec<usize> = (0..logs.len()).collect();
    order.sort_by_key(|log| (logs[*log].span_ms, *log));
    let (mut tracks, mut until): (u32, Option<i64>) = (0, None);
    for log in order {
        match (logs[log].span_ms, until) {
            (Some((from, to)), Some(end)) if from <= end => until = Some(end.max(to)),
            (span, _) => {
                tracks += 1;
                until = span.map(|(_, to)| to);
            }
        }
        logs[log].track = tracks - 1;
    }
    if tracks <= 1 {
        logs.iter_mut().zip(0..).for_each(|(log, number)| log.track = number);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_plane_near_an_anchor_is_the_plane_to_five_millimetres() {
        for lat in [0.5, 36.0, 61.0] {
            let plane = LocalPlane::new(Place { lon: -56.0, lat });
            let mut near = Near::new(&plane);
            for step in 0..400 {
                let turn = f64::from(step) * 0.1;
                let far = f64::from(step) * 5e-4;
                let place = Place { lon: -56.0 + far * turn.cos(), lat: lat + far * turn.sin() };
                let off_m = near.point(place).metres_to(plane.to_plane(place));
                assert!(off_m < 0.005, "{place:?}: {off_m}");
            }
        }
    }
}
