//! How far off the bottom is where a track was left out: each track in turn, foretold by the others.
//!
//! The bottom that is held against a track is that before the wider planes (`wide`): those would have to be laid anew
//! around every track, and differ by less than a sounding's own noise.

use super::blocks::cell_of;
use super::cells::Cells;
use super::clean::median;
use super::surface::{Bed, Vertex};
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

/// Places set into meshes in all: beyond it fewer tracks are left out, spread evenly.
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
    // Soundings and shore farther off than thrice the reach bear on nothing that is foretold (so `surface::shore`).
    let parcel = |v: &Vertex| cell_of(v.at, 3.0 * reach_m);
    let by_parcel = |vertices: &[Vertex]| {
        let mut list: Vec<_> = vertices.iter().zip(0..).map(|(v, number)| (parcel(v), number)).collect();
        list.sort_unstable();
        list
    };
    let (soundings_in, shore_in) = (by_parcel(&all), by_parcel(shore));
    let errors: Vec<Vec<f64>> = left_out
        .par_iter()
        .map(|(track, squares)| {
            let mut near: Vec<(i32, i32)> = squares
                .iter()
                .map(|square| parcel(&all[*square]))
                .flat_map(|(e, n)| (-1..=1).flat_map(move |de| (-1..=1).map(move |dn| (e + de, n + dn))))
                .collect();
            near.sort_unstable();
            near.dedup();
            let others = cells.vertices_but(&all, *track, squares, &within(&soundings_in, &near));
            let shore: Vec<Vertex> = within(&shore_in, &near).into_iter().map(|v| shore[v]).collect();
            let Some(bed) = Bed::new(&others, &shore, reach_m) else { return Vec::new() };
            let error = |square: &usize| {
                let sounded = cells.part(*square, *track)?;
                let at = sounded.at();
                let foretold =
                    bed.reaches(at, lake.water.as_ref()).then(|| bed.interpolated_m(at)).flatten()?;
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

/// What lies in the parcels, in order.
fn within(list: &[((i32, i32), usize)], parcels: &[(i32, i32)]) -> Vec<usize> {
    let mut found = Vec::new();
    for parcel in parcels {
        let from = list.partition_point(|(at, _)| at < parcel);
        found.extend(list[from..].iter().take_while(|(at, _)| at == parcel).map(|(_, number)| *number));
    }
    found.sort_unstable();
    found
}
