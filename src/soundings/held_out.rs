//! How far off the bottom is where a track was left out: each track in turn, foretold by the others.
//!
//! The bottom that is held against a track is that before the wider planes (`wide`): those would have to be laid anew
//! around every track, and differ by less than a sounding's own noise.

use super::cells::Cells;
use super::clean::median;
use super::surface::{MOST_NEAREST, Net, Vertex, in_reach};
use crate::terms::lake::Lake;
use rayon::prelude::*;

/// The error at tracks left out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeldOut {
    /// Tracks left out in turn.
    pub tracks: usize,
    /// Tracks there are.
    pub of: usize,
    /// Squares of those tracks that others reach, whose depth was foretold.
    pub places: usize,
    /// Half of them were off by no more, in metres.
    pub median_m: f64,
    /// Root of the mean square error, in metres.
    pub rmse_m: f64,
}

/// Places in the copies of the mesh in all: beyond it fewer tracks are left out, spread evenly.
const MOST_WORK: usize = 6_000_000;
/// As many are left out in any case.
const FEWEST_TRACKS: usize = 12;

/// `None`: there is one track only, or none lies within reach of another.
pub(super) fn held_out(cells: &Cells, shore: &[Vertex], reach_m: f64, lake: &Lake) -> Option<HeldOut> {
    let tracks = cells.tracks();
    if tracks.len() < 2 {
        return None;
    }
    let most = FEWEST_TRACKS.max(MOST_WORK / (cells.len() + shore.len()).max(1));
    let step = tracks.len().div_ceil(most);
    let left_out: Vec<_> = tracks.iter().step_by(step).collect();
    let all = cells.vertices();
    let net = Net::new(&all, shore)?;
    let errors: Vec<Vec<f64>> = left_out
        .par_iter()
        .map(|(track, squares)| {
            let others = net.with(&cells.without(&all, *track, squares));
            let error = |square: &usize| {
                let sounded = cells.part(*square, *track)?;
                let at = sounded.at();
                let near = cells.nearest(*square, at, *track, reach_m, MOST_NEAREST);
                let foretold = in_reach(at, near.into_iter(), reach_m, lake.water.as_ref())
                    .then(|| others.interpolated_m(at))
                    .flatten()?;
                Some(foretold - sounded.depth_m())
            };
            squares.iter().filter_map(error).collect()
        })
        .collect();
    let mut errors: Vec<f64> = errors.concat();
    if errors.is_empty() {
        return None;
    }
    let rmse_m = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
    for error in &mut errors {
        *error = error.abs();
    }
    Some(HeldOut {
        tracks: left_out.len(),
        of: tracks.len(),
        places: errors.len(),
        median_m: median(&mut errors),
        rmse_m,
    })
}
