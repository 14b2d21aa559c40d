//! The season spline against mgcv's cyclic cubic spline at fixed smoothing (`fixtures/reference/stats/cyclic_open_*`:
//! mgcv 1.8-41, 9 knots over 365.25 days).

use shoalwright::movement::spline::{Roughness, SeasonBasis, Sums};
use std::path::Path;

fn columns(name: &str) -> Vec<Vec<f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/stats").join(name);
    let mut reader = csv::Reader::from_path(path).unwrap();
    reader
        .records()
        .map(|row| row.unwrap().iter().map(|cell| cell.parse().unwrap_or(f64::NAN)).collect())
        .collect()
}

#[test]
fn a_cyclic_spline_at_fixed_smoothing_equals_mgcv() {
    let basis = SeasonBasis::new(8, Roughness::Curvature);
    let mut sums = Sums::new(&basis);
    for row in columns("cyclic_open_in.csv") {
        sums.add(basis.at(row[0]), [row[1]], 1.0);
    }
    let grid = columns("cyclic_open_fit.csv");
    assert!(grid.len() > 70);
    let summary = columns("cyclic_open_summary.csv");
    for (column, smoothing) in [(1, 0.0), (2, 1e3), (3, 1e5), (4, 1e7)] {
        let spline = sums.fit(&basis, smoothing).unwrap();
        for row in &grid {
            // The grid stands with six decimals; its last row is 365.25, the first knot again.
            let found = spline.value(basis.at(row[0]))[0];
            assert!((found - row[column]).abs() < 1e-5, "smoothing {smoothing} day {}: {found}", row[0]);
        }
        let [edf, rss] = [summary[column - 1][1], summary[column - 1][2]];
        assert!((spline.edf - edf).abs() < 1e-5, "smoothing {smoothing}: edf {}", spline.edf);
        assert!((spline.residual_squares / rss - 1.0).abs() < 1e-6, "smoothing {smoothing}: rss");
    }
}

#[test]
fn the_smoothing_it_chooses_is_that_of_mgcv_by_restricted_likelihood() {
    let basis = SeasonBasis::new(8, Roughness::Curvature);
    let mut sums = Sums::new(&basis);
    for row in columns("cyclic_open_in.csv") {
        sums.add(basis.at(row[0]), [row[1]], 1.0);
    }
    let spline = sums.fit_smoothest(&basis, 1.0, [1e-3, 1e12]).unwrap();
    let edf = columns("cyclic_open_summary.csv")[4][1];
    // One of its degrees is the intercept of both.
    assert!((spline.edf / edf - 1.0).abs() < 0.01, "edf {} against {edf}", spline.edf);
    for row in columns("cyclic_open_fit.csv") {
        let off = (spline.value(basis.at(row[0]))[0] - row[5]).abs();
        assert!(off < 0.05 * row[6], "day {}: {off} of a standard error of {}", row[0], row[6]);
    }
}
