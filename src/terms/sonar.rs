//! How much a sounder sees: the circle under its beam, and the ground beside the boat.

/// Width on the bottom of a cone of an angle, in the unit of the depth: `2 d tan(angle / 2)`.
///
/// The angle is that at which a beam has lost half its power; strong echoes show from outside it.
///
/// # Example
/// ```
/// use shoalwright::terms::sonar::beam_width;
/// assert!((beam_width(30.0, 20.0) - 10.58).abs() < 0.01); // feet
/// ```
#[must_use]
pub fn beam_width(depth: f64, angle_deg: f64) -> f64 {
    2.0 * depth * (angle_deg / 2.0).to_radians().tan()
}

/// How far to the side the bottom lies that a side-looking sounder shows at a slant range, over water of a depth, in their
/// unit; `None`: the range ends in the water under the boat. Twice that is what to write as `effort.swath` for a picture to
/// both sides.
#[must_use]
pub fn ground_range(slant: f64, depth: f64) -> Option<f64> {
    (slant >= depth && depth >= 0.0).then(|| (slant * slant - depth * depth).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beams_see_what_the_geometry_says() {
        // Plane geometry, worked by hand: 60 tan 10° = 10.580, 60 tan 30° = 34.641, √(100² − 20²) = 97.980.
        assert!((beam_width(30.0, 20.0) - 10.580).abs() < 0.01);
        assert!((beam_width(30.0, 60.0) - 34.641).abs() < 0.01);
        assert!((ground_range(100.0, 20.0).unwrap() - 97.980).abs() < 0.01);
        assert_eq!(ground_range(15.0, 20.0), None);
    }
}
