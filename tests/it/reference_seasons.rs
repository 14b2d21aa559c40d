//! The season spline on a real seasonal shift of place: where tropical storms of the North Atlantic are first seen
//! (`fixtures/reference/movement/storm_genesis_open*.csv`: NOAA best tracks of even years since 1990).

use shoalwright::movement::spline::{Roughness, SeasonBasis, Sums};
use std::path::Path;

fn rows(name: &str) -> Vec<Vec<f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/movement").join(name);
    let mut reader = csv::Reader::from_path(path).unwrap();
    reader.records().map(|row| row.unwrap().iter().map(|cell| cell.parse().unwrap()).collect()).collect()
}

#[test]
fn storms_begin_in_the_west_in_june_far_east_in_late_summer_and_west_again_in_october() {
    let basis = SeasonBasis::new(26, Roughness::SecondDifferences);
    let storms = rows("storm_genesis_open.csv");
    let mut sums = Sums::new(&basis);
    for storm in &storms {
        sums.add(basis.at(storm[2]), [storm[4]], 1.0);
    }
    let all = sums.fit_smoothest(&basis, 1.0, [0.02, 3000.0]).unwrap();
    let half_months: Vec<_> =
        rows("storm_genesis_open_halfmonth.csv").into_iter().filter(|h| h[1] >= 8.0).collect();
    assert!(half_months.len() >= 9);
    let weight: f64 = half_months.iter().map(|h| h[1]).sum();
    let mean = half_months.iter().map(|h| h[1] * h[3]).sum::<f64>() / weight;
    let off = |of: &dyn Fn(f64) -> f64| {
        let squares = half_months.iter().map(|h| h[1] * (of((h[0] + 0.5) * 365.25 / 24.0) - h[3]).powi(2));
        (squares.sum::<f64>() / weight).sqrt()
    };
    let spline = off(&|day| all.value(basis.at(day))[0]);
    let flat = off(&|_| mean);
    eprintln!("half-month means: {spline:.1} degrees off the spline, {flat:.1} off the yearly mean");
    assert!(spline < 0.6 * flat, "{spline} {flat}");
    let lon = |day: f64| all.value(basis.at(day))[0];
    assert!(lon(165.0) < lon(245.0) - 15.0 && lon(290.0) < lon(245.0) - 8.0);
}
