//! Height of the sun: who writes local time as UTC seems to fish in the dead of night.

use crate::terms::instant::Instant;
use crate::terms::place::Place;

/// Height of the sun's centre above a flat horizon in degrees, without refraction.
///
/// Low-precision solar coordinates (Meeus, *Astronomical Algorithms*, ch. 25, and mean sidereal time, ch. 12; terms
/// from memory), without parallax. Against 60 cases of a reference library (`fixtures/reference/sky`) the error
/// stays below 0.02 degrees.
pub(super) fn elevation_deg(place: Place, time: Instant) -> f64 {
    const UNIX_MS_OF_J2000: f64 = 946_728_000_000.0; // 2000-01-01T12:00Z
    let days = (time.unix_ms() as f64 - UNIX_MS_OF_J2000) / 86_400_000.0;
    let century = days / 36_525.0;
    let mean_longitude = 280.466_46 + 36_000.769_83 * century;
    let anomaly = (357.529_11 + 35_999.050_29 * century).to_radians();
    let centre = (1.914_602 - 0.004_817 * century) * anomaly.sin()
        + 0.019_993 * (2.0 * anomaly).sin()
        + 0.000_289 * (3.0 * anomaly).sin();
    let node = (125.04 - 1934.136 * century).to_radians();
    let longitude = (mean_longitude + centre - 0.005_69 - 0.004_78 * node.sin()).to_radians();
    let obliquity = (23.439_291 - 0.013_004_2 * century + 0.002_56 * node.cos()).to_radians();
    let right_ascension = (obliquity.cos() * longitude.sin()).atan2(longitude.cos());
    let declination = (obliquity.sin() * longitude.sin()).asin();
    let sidereal = (280.460_618_37 + 360.985_647_366_29 * days).to_radians();
    let hour_angle = sidereal + place.lon.to_radians() - right_ascension;
    let lat = place.lat.to_radians();
    (lat.sin() * declination.sin() + lat.cos() * declination.cos() * hour_angle.cos()).asin().to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Origin and licence of the table: `fixtures/README.md`, row `reference/sky`.
    #[test]
    fn the_sun_stands_where_a_reference_library_puts_it() {
        let text = include_str!("../../fixtures/reference/sky/sun_elevation.csv");
        let mut rows = 0;
        for line in text.lines().skip(1) {
            let cells: Vec<&str> = line.split(',').collect();
            let time: jiff::Timestamp = cells[0].parse().unwrap();
            let place = Place { lat: cells[1].parse().unwrap(), lon: cells[2].parse().unwrap() };
            let expected: f64 = cells[3].parse().unwrap();
            let got = elevation_deg(place, time.into());
            assert!((got - expected).abs() < 0.02, "{line}: {got}");
            rows += 1;
        }
        assert_eq!(rows, 60);
    }
}
