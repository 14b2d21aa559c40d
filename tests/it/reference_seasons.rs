//! The season spline on a real seasonal shift of place: where tropical storms of the North Atlantic are first seen
//! (`fixtures/reference/movement/storm_genesis_*.csv`: NOAA best tracks since 1990).

use shoalwright::movement::spline::{Roughness, SeasonBasis, Sums};
use std::collections::BTreeMap;
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

#[test]
fn the_season_of_even_years_foretells_odd_years_better_than_their_half_months_or_their_mean_do() {
    let basis = SeasonBasis::new(26, Roughness::SecondDifferences);
    let half = |storm: &[f64]| (storm[2] / 365.25 * 24.0) as i64;
    let by_half = |storms: &[Vec<f64>]| {
        let mut halves: BTreeMap<i64, Vec<[f64; 2]>> = BTreeMap::new();
        for storm in storms {
            halves.entry(half(storm)).or_default().push([storm[3], storm[4]]);
        }
        halves
    };
    let middle =
        |places: &[[f64; 2]]| [0, 1].map(|k| places.iter().map(|p| p[k]).sum::<f64>() / places.len() as f64);
    let (even, odd) = (rows("storm_genesis_open.csv"), rows("storm_genesis_odd.csv"));
    let mut sums = Sums::new(&basis);
    for storm in &even {
        sums.add(basis.at(storm[2]), [storm[3], storm[4]], 1.0);
    }
    let season = sums.fit_smoothest(&basis, 1.0, [0.02, 3000.0]).unwrap();
    let (even, mut odd) = (by_half(&even), by_half(&odd));
    let yearly = middle(&even.values().flatten().copied().collect::<Vec<_>>());
    odd.retain(|half, storms| storms.len() >= 8 && even.contains_key(half));
    assert!(odd.len() >= 9, "{}", odd.len());
    // Root mean square distance in degrees to the middles of the odd years' half-months, weighed by their storms.
    let off = |of: &dyn Fn(i64) -> [f64; 2]| {
        let squares = odd.iter().map(|(half, places)| {
            let (told, truth) = (of(*half), middle(places));
            places.len() as f64 * ((told[0] - truth[0]).powi(2) + (told[1] - truth[1]).powi(2))
        });
        (squares.sum::<f64>() / odd.values().map(Vec::len).sum::<usize>() as f64).sqrt()
    };
    let by_season = off(&|half| season.value(basis.at((half as f64 + 0.5) * 365.25 / 24.0)));
    let by_half_month = off(&|half| middle(&even[&half]));
    let by_year = off(&|_| yearly);
    eprintln!(
        "odd years: {by_season:.1} degrees off the season of even years, {by_half_month:.1} off their half-months, {by_year:.1} off their mean"
    );
    assert!(by_season < by_half_month && by_season < by_year, "{by_season} {by_half_month} {by_year}");
}
