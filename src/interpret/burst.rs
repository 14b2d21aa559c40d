//! Bursts: marks miles apart within minutes were not dropped then, they were edited or copied then.

use super::Draft;
use crate::terms::finding::{Code, Finding};
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::place::PlanePoint;
use crate::terms::units::{METRES_PER_FOOT, METRES_PER_MILE};
use rayon::prelude::*;

/// Faster than this no boat runs from mark to mark (common practice, no source; race boats apart).
const FASTEST_M_S: f64 = 80.0 * METRES_PER_MILE / 3600.0;
/// Marks of one burst follow each other within this.
const GAP_MS: i64 = 120_000;
/// Fewer marks make no burst.
const FEWEST: usize = 5;
/// A burst reaches over at least this; below it the scatter of positions could look like speed.
const LEAST_EXTENT_M: f64 = 5280.0 * METRES_PER_FOOT;

/// Takes time and date from the marks of each burst.
pub(super) fn undate(drafts: &mut [Draft], lake: &Lake, findings: &mut Vec<Finding>) {
    let files: Vec<&mut [Draft]> = drafts.chunk_by_mut(|a, b| a.file() == b.file()).collect();
    findings
        .extend(files.into_par_iter().flat_map_iter(|marks| undate_file(marks, lake)).collect::<Vec<_>>());
}

fn undate_file(marks: &mut [Draft], lake: &Lake) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut dated: Vec<u32> =
        (0..marks.len()).filter(|i| marks[*i].time().is_some()).map(|i| i as u32).collect();
    dated.par_sort_unstable_by(|a, b| {
        let key = |i: u32| (marks[i as usize].time(), marks[i as usize].place());
        key(*a).partial_cmp(&key(*b)).unwrap_or(std::cmp::Ordering::Equal).then_with(|| a.cmp(b))
    });
    let step_ms = resolution_ms(&dated.iter().filter_map(|i| marks[*i as usize].time()));
    let ms = |i: u32| marks[i as usize].time().map_or(0, Instant::unix_ms);
    let bursts: Vec<Vec<u32>> = dated
        .chunk_by(|a, b| ms(*b) - ms(*a) <= GAP_MS.max(step_ms))
        .filter(|run| is_burst(run, marks, step_ms, lake))
        .map(<[u32]>::to_vec)
        .collect();
    for burst in bursts {
        let times = burst.iter().filter_map(|i| marks[*i as usize].time());
        let (first, last) = (times.clone().min(), times.max());
        let told = |time: Option<Instant>| time.map_or_else(String::new, Instant::rfc3339);
        let example = burst.iter().min().map_or(&marks[0], |i| &marks[*i as usize]);
        findings.push(
            example
                .finding(
                    Code::ClockBurst,
                    format!("{} marks miles apart share `{}` to `{}`", burst.len(), told(first), told(last)),
                )
                .done("these marks are undated: the times are those of an edit or a copy")
                .fix("use an export from before the edit"),
        );
        for i in burst {
            marks[i as usize].undate();
        }
    }
    findings
}

/// The step in which a file writes its times: an hour, a minute or a second.
fn resolution_ms(times: &(impl Iterator<Item = Instant> + Clone)) -> i64 {
    [3_600_000, 60_000]
        .into_iter()
        .find(|step| times.clone().all(|t| t.unix_ms() % step == 0))
        .unwrap_or(1000)
}

fn is_burst(run: &[u32], marks: &[Draft], step_ms: i64, lake: &Lake) -> bool {
    if run.len() < FEWEST {
        return false;
    }
    let mut corners = [(f64::INFINITY, f64::NEG_INFINITY); 2];
    let mut way_m = 0.0;
    let mut before: Option<PlanePoint> = None;
    for i in run {
        let point = lake.to_plane(marks[*i as usize].place());
        for ((low, high), metres) in corners.iter_mut().zip([point.east_m, point.north_m]) {
            (*low, *high) = (low.min(metres), high.max(metres));
        }
        way_m += before.replace(point).map_or(0.0, |before| before.metres_to(point));
    }
    let [east_m, north_m] = corners.map(|(low, high)| high - low);
    if east_m.hypot(north_m) < LEAST_EXTENT_M {
        return false;
    }
    let time = |i: usize| marks[run[i] as usize].time().map_or(0, Instant::unix_ms);
    let seconds = (time(run.len() - 1) - time(0) + step_ms) as f64 / 1000.0;
    way_m / seconds > FASTEST_M_S
}
