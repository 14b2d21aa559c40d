//! Wider smoothing where the ground allows it: on a flat the noise of the soundings moves a contour by tens of metres,
//! and only more soundings help.
//!
//! Around each square curved planes (local quadratic regression: Cleveland 1979, doi 10.1080/01621459.1979.10481038; of the
//! second degree, so that holes and humps keep their height) are laid over wider and wider ground. The widest one whose
//! interval still meets those of all narrower ones is taken (intersection of confidence intervals: Goldenshluger and
//! Nemirovski 1997, "On spatially adaptive estimation of nonparametric regression"): a ledge or a bank stops the widening.

use super::cells::Cells;
use super::clean::median;
use super::smooth::{HELD_BACK as SLOPES_HELD_BACK, HUBER, MOST_COUNT, Sample};
use super::surface::Vertex;
use rayon::prelude::*;

/// Bandwidths tried after that of one square, in squares.
const WIDER: [f64; 3] = [2.0, 3.0, 4.5];
/// Farther than so many bandwidths a sounding weighs nothing (a fifteenth at most is left out).
const REACH: f64 = 2.3;
/// Slopes and bends are held back as by this share of the weight, a bandwidth away, where they serve the depth in the
/// middle; more would flatten holes.
const HELD_BACK: f64 = 1e-4;
/// Half the width of an interval, in standard errors (judgement: at 1 bias and noise are about equal where it stops).
const INTERVAL: f64 = 1.5;

/// The bottom in each square, from `narrow` ones.
pub(super) fn widened(cells: &Cells, narrow: &[Vertex]) -> Vec<Vertex> {
    let (weights, sigma_m) = trust(cells, narrow);
    let wide = |(cell, vertex): (usize, &Vertex)| {
        let planes = [1.0].into_iter().chain(WIDER).map_while(|squares| {
            let away = (REACH * squares).ceil() as i32;
            let samples =
                cells.around(cell, away).map(|other| (cells.sample(other, vertex.at), weights[other]));
            curved_at(samples, squares * cells.cell_m)
        });
        match widest(planes, INTERVAL * sigma_m) {
            // The narrowest is the one that was laid with weights of its own.
            Some((1.., Curved { depth_m, slope, .. })) => {
                Vertex { depth_m: depth_m.max(0.0), slope, ..*vertex }
            }
            _ => *vertex,
        }
    };
    narrow.par_iter().enumerate().map(wide).collect()
}

/// The last of the planes, from narrow to wide, up to which the intervals of all meet, and which it is. An interval reaches
/// so many metres a standard error either way.
fn widest(planes: impl Iterator<Item = Curved>, metres_an_error: f64) -> Option<(usize, Curved)> {
    let (mut low_m, mut high_m) = (f64::NEG_INFINITY, f64::INFINITY);
    planes
        .enumerate()
        .take_while(|(_, plane)| {
            let half_m = plane.error * metres_an_error;
            low_m = low_m.max(plane.depth_m - half_m);
            high_m = high_m.min(plane.depth_m + half_m);
            low_m <= high_m
        })
        .last()
}

/// How far each square is to be trusted (Huber's weights), and the standard deviation of a sounding in metres.
fn trust(cells: &Cells, narrow: &[Vertex]) -> (Vec<f64>, f64) {
    let off: Vec<f64> = narrow
        .iter()
        .enumerate()
        .map(|(cell, vertex)| {
            let own = cells.sample(cell, vertex.at);
            (own.depth_m - vertex.depth_m).abs() * own.count.min(MOST_COUNT).sqrt()
        })
        .collect();
    let sigma_m = (1.4826 * median(&mut off.clone())).max(1e-3);
    (off.iter().map(|off| (HUBER * sigma_m / off.max(1e-9)).min(1.0)).collect(), sigma_m)
}

/// A curved plane at its middle.
struct Curved {
    depth_m: f64,
    /// By how much it grows deeper a metre eastward, and northward.
    slope: [f64; 2],
    /// Standard error of the depth, in those of a sounding.
    error: f64,
}

/// The curved plane through soundings with how far each is to be trusted; `None`: nothing weighs.
fn curved_at(samples: impl Iterator<Item = (Sample, f64)>, bandwidth_m: f64) -> Option<Curved> {
    let mut normal = [[0.0; 6]; 6];
    let mut noise = [[0.0; 6]; 6];
    let mut right = [0.0; 6];
    let mut from_m = None;
    for (sample, trust) in samples {
        let (x, y) = (sample.east_m / bandwidth_m, sample.north_m / bandwidth_m);
        let far = x * x + y * y;
        if far > REACH * REACH {
            continue;
        }
        let count = sample.count.min(MOST_COUNT);
        let weight = trust * count * (-0.5 * far).exp();
        // Relative to the first, so that sums of squares stay small.
        let depth_m = sample.depth_m - *from_m.get_or_insert(sample.depth_m);
        let row = [1.0, x, y, x * x, x * y, y * y];
        for i in 0..6 {
            let weighed = weight * row[i];
            right[i] += weighed * depth_m;
            for j in 0..=i {
                normal[i][j] += weighed * row[j];
                noise[i][j] += weighed * row[j] * weight / count;
            }
        }
    }
    let root = cholesky(held_back(normal, HELD_BACK))?;
    // The weight of each sounding in the middle's depth is this row of the inverse times the sounding's own row.
    let middle = solved(&root, [1.0, 0.0, 0.0, 0.0, 0.0, 0.0]);
    let depth_m = solved(&root, right)[0];
    let plane = solved(&cholesky(held_back(normal, SLOPES_HELD_BACK))?, right);
    let of = |i: usize, j: usize| if j <= i { noise[i][j] } else { noise[j][i] };
    let variance: f64 = (0..6).map(|i| middle[i] * (0..6).map(|j| of(i, j) * middle[j]).sum::<f64>()).sum();
    Some(Curved {
        depth_m: from_m? + depth_m,
        slope: [plane[1] / bandwidth_m, plane[2] / bandwidth_m],
        error: variance.max(0.0).sqrt(),
    })
}

/// The same with all but the middle's depth held back by a share of the weight.
fn held_back(mut normal: [[f64; 6]; 6], share: f64) -> [[f64; 6]; 6] {
    let held = share * normal[0][0];
    for (i, row) in normal.iter_mut().enumerate().skip(1) {
        row[i] += held;
    }
    normal
}

/// The lower root of a symmetric matrix given by its lower half; `None`: it is not positive definite.
fn cholesky(mut m: [[f64; 6]; 6]) -> Option<[[f64; 6]; 6]> {
    for i in 0..6 {
        for j in 0..=i {
            let sum = m[i][j] - (0..j).map(|k| m[i][k] * m[j][k]).sum::<f64>();
            m[i][j] = if i == j { Some(sum).filter(|s| *s > 0.0)?.sqrt() } else { sum / m[j][j] };
        }
    }
    Some(m)
}

fn solved(root: &[[f64; 6]; 6], mut v: [f64; 6]) -> [f64; 6] {
    for i in 0..6 {
        v[i] = (v[i] - (0..i).map(|k| root[i][k] * v[k]).sum::<f64>()) / root[i][i];
    }
    for i in (0..6).rev() {
        v[i] = (v[i] - (i + 1..6).map(|k| root[k][i] * v[k]).sum::<f64>()) / root[i][i];
    }
    v
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bottom sounded once in each square of 10 m.
    fn around(bottom: impl Fn(f64, f64) -> f64) -> Vec<(Sample, f64)> {
        (-12..=12)
            .flat_map(|e| (-12..=12).map(move |n| (f64::from(e) * 10.0, f64::from(n) * 10.0)))
            .map(|(east_m, north_m)| {
                (Sample { east_m, north_m, depth_m: bottom(east_m, north_m), count: 1.0 }, 1.0)
            })
            .collect()
    }

    #[test]
    fn a_hole_keeps_its_depth_and_a_slope_its_steepness_however_wide_the_plane() {
        let hole = |e: f64, n: f64| 12.0 - 0.05 * e - 2e-4 * e * e - 1e-4 * n * n;
        for bandwidth_m in WIDER.map(|squares| squares * 10.0) {
            let got = curved_at(around(hole).into_iter(), bandwidth_m).unwrap();
            assert!((got.depth_m - 12.0).abs() < 0.01, "{}", got.depth_m);
            assert!((got.slope[0] + 0.05).abs() < 0.003 && got.slope[1].abs() < 1e-6, "{:?}", got.slope);
        }
    }

    #[test]
    fn the_error_is_that_of_the_factorial_of_three_by_three() {
        // Six numbers through the 3 x 3 places (-1, 0, 1)², alike in weight: the middle has 5/9 of a sounding's variance
        // (Box and Draper 2007, Response Surfaces, Mixtures, and Ridge Analyses; worked again by hand).
        let nine = (-1..=1).flat_map(|e| (-1..=1).map(move |n| (f64::from(e), f64::from(n))));
        let nine = nine.map(|(east_m, north_m)| {
            let alike = (0.5 * (east_m * east_m + north_m * north_m)).exp();
            (Sample { east_m, north_m, depth_m: 5.0, count: 1.0 }, alike)
        });
        let got = curved_at(nine, 1.0).unwrap();
        assert!((got.error.powi(2) - 5.0 / 9.0).abs() < 1e-3, "{}", got.error);
        assert!((got.depth_m - 5.0).abs() < 1e-9);
    }

    #[test]
    fn a_ledge_stops_the_widening_and_a_flat_does_not() {
        let taken = |bottom: &dyn Fn(f64, f64) -> f64| {
            let planes = [1.0, 2.0, 3.0, 4.5]
                .map(|squares| curved_at(around(bottom).into_iter(), squares * 10.0).unwrap());
            widest(planes.into_iter(), INTERVAL * 0.2).map(|(which, plane)| (which, plane.depth_m))
        };
        // A ledge of 4 m, 25 m to the east; the widest plane would be off by more than a tenth of it.
        let (which, depth_m) = taken(&|east_m, _| if east_m > 25.0 { 6.0 } else { 10.0 }).unwrap();
        assert!(which < 2 && (depth_m - 10.0).abs() < 0.4, "{which}: {depth_m}");
        assert_eq!(taken(&|_, _| 10.0).unwrap().0, 3);
    }
}
