//! How finely a position was written, and whether two may be one that was rounded.

use crate::terms::place::Place;

/// A place to six decimals.
pub(super) fn micro_degrees(place: Place) -> (i32, i32) {
    ((place.lon * 1e6).round() as i32, (place.lat * 1e6).round() as i32)
}

/// Decimals with which a position was written, from 3 to 7: the fewest that give both coordinates again.
pub(super) fn decimals(place: Place) -> i32 {
    let given_by = |deg: f64, decimals: i32| {
        let scaled = deg * 10_f64.powi(decimals);
        (scaled - scaled.round()).abs() < 1e-4
    };
    (3..7).find(|d| given_by(place.lon, *d) && given_by(place.lat, *d)).unwrap_or(7)
}

/// Whether two positions are the same when both are rounded to the fewer decimals of the two.
pub(super) fn same_but_for_rounding(a: Place, b: Place) -> bool {
    let half_step = 0.5 * 10_f64.powi(-decimals(a).min(decimals(b)));
    // Rounding 1.23456 to 4 decimals gives 1.2346 or, cut off, 1.2345: a whole step is let for cutting off.
    let near = |p: f64, q: f64| (p - q).abs() <= 2.0 * half_step + 1e-9;
    near(a.lon, b.lon) && near(a.lat, b.lat)
}

/// Whether two positions give the same numbers when both are rounded to the fewer decimals of the two.
pub(super) fn rounds_to_the_same(a: Place, b: Place) -> bool {
    let steps = 10_f64.powi(decimals(a).min(decimals(b)));
    // Half a step exactly may have been rounded either way.
    let near = |p: f64, q: f64| ((p - q) * steps).abs() <= 0.5 + 1e-6;
    near(a.lon, b.lon) && near(a.lat, b.lat)
}
