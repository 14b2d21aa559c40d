//! The law of search: how likely a search of some water meets a school that is in it.
//!
//! Coverage is what was swept over the area that it was swept in: width × speed × time / area. Laws: Koopman 1946
//! (Search and Screening, OEG Report 56) and Washburn, as told in "The Theory of Search: a simplified explanation"
//! (U.S. Coast Guard, 1996).

use crate::terms::units::Speed;
use std::f64::consts::{FRAC_2_SQRT_PI, PI};

/// Area swept a second, in square metres: the width that is looked over times the way made.
#[must_use]
pub fn swept_m2_s(width_m: f64, speed: Speed) -> f64 {
    width_m * speed.metres_per_second()
}

/// Chance to meet a school by looks that fall anywhere, independent of one another: 1 − exp(−coverage).
///
/// The floor that a sensible searcher beats. With `rate` r and time τ: `random_search(r * τ)`. Several schools in the
/// same water raise the coverage: n of them count as n times it.
#[must_use]
pub fn random_search(coverage: f64) -> f64 {
    -(-coverage).exp_m1()
}

/// Chance to meet a school by parallel sweeps with a view that fades with the cube of distance: erf(√π/2 coverage).
#[must_use]
pub fn inverse_cube_sweeps(coverage: f64) -> f64 {
    erf(PI.sqrt() / 2.0 * coverage)
}

/// Chance to meet a school by parallel lanes that neither overlap nor leave a gap: the coverage, at most 1.
#[must_use]
pub fn perfect_lanes(coverage: f64) -> f64 {
    coverage.clamp(0.0, 1.0)
}

/// Chance to meet bait that is there at all with chance `present`, in `schools` schools, by a random search. More time
/// never lifts it above `present`.
#[must_use]
pub fn meeting(present: f64, schools: f64, coverage: f64) -> f64 {
    present * random_search(schools * coverage)
}

/// Chance that bait is there after all when a random search met none (Bayes).
#[must_use]
pub fn present_after_a_miss(present: f64, schools: f64, coverage: f64) -> f64 {
    let missed = (-schools * coverage).exp();
    present * missed / (1.0 - present + present * missed)
}

/// The error function for arguments from zero, to about 1e-15: the series e^(−x²) Σ 2ⁿ x^(2n+1) / (2n+1)!! (Abramowitz
/// & Stegun 7.1.6), whose terms are all positive.
fn erf(x: f64) -> f64 {
    if x > 6.0 {
        return 1.0; // less than 1e-16 short of it
    }
    let (mut term, mut sum, mut n) = (x, x, 0.0);
    while term > sum * 1e-17 && term > 0.0 {
        n += 1.0;
        term *= 2.0 * x * x / (2.0 * n + 1.0);
        sum += term;
    }
    FRAC_2_SQRT_PI * (-x * x).exp() * sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::units::{METRES_PER_FOOT, SQUARE_METRES_PER_ACRE};

    /// A number against a published one.
    #[track_caller]
    fn check(found: f64, expected: f64, tolerance: f64) {
        assert!((found - expected).abs() <= tolerance, "{found}, not {expected}");
    }

    /// Coverage of 50 acres after some minutes with a view 200 ft wide at 5 mph.
    fn fifty_acres(minutes: f64) -> f64 {
        let five_mph: Speed = "5 mph".parse().unwrap();
        swept_m2_s(200.0 * METRES_PER_FOOT, five_mph) * minutes * 60.0 / (50.0 * SQUARE_METRES_PER_ACRE)
    }

    #[test]
    fn coverage_of_a_half_one_and_two_gives_the_published_chances() {
        // Koopman and Washburn, recomputed independently.
        for (coverage, random, cube) in [(0.5, 0.3935, 0.4691), (1.0, 0.6321, 0.7899), (2.0, 0.8647, 0.9878)]
        {
            check(random_search(coverage), random, 1e-4);
            check(inverse_cube_sweeps(coverage), cube, 1e-4);
            check(perfect_lanes(coverage), coverage.min(1.0), 0.0);
        }
    }

    #[test]
    fn a_view_of_200_feet_at_5_mph_sweeps_121_acres_an_hour() {
        check(fifty_acres(60.0) * 50.0, 121.21, 0.01);
    }

    #[test]
    fn minutes_over_fifty_acres_give_the_worked_table() {
        // minutes, coverage, random, inverse cube: two decimals as printed.
        for (minutes, coverage, random, cube) in [
            (10.0, 0.40, 0.33, 0.39),
            (15.0, 0.61, 0.45, 0.55),
            (20.0, 0.81, 0.55, 0.69),
            (25.0, 1.01, 0.64, 0.79),
            (30.0, 1.21, 0.70, 0.87),
            (45.0, 1.82, 0.84, 0.98),
            (60.0, 2.42, 0.91, 1.00),
        ] {
            let z = fifty_acres(minutes);
            check(z, coverage, 0.005);
            check(random_search(z), random, 0.005);
            check(inverse_cube_sweeps(z), cube, 0.005);
        }
        // One school takes 24.8 min in the mean, three take 8.3 (the rate is one over the mean).
        check(25.0 / fifty_acres(25.0), 24.75, 0.05);
        check(25.0 / (3.0 * fifty_acres(25.0)), 8.25, 0.05);
        check(meeting(0.7, 1.0, fifty_acres(25.0)), 0.45, 0.005);
    }

    #[test]
    fn a_miss_lowers_the_chance_that_bait_is_there() {
        check(meeting(0.7, 1.0, 1.0101), 0.4451, 1e-4);
        check(present_after_a_miss(0.7, 1.0, 1.0101), 0.4594, 1e-4);
        check(meeting(0.7, 3.0, 1e6), 0.7, 0.0);
        check(present_after_a_miss(0.7, 1.0, 0.0), 0.7, 1e-15);
    }

    #[test]
    fn the_error_function_has_its_tabulated_values() {
        // Abramowitz & Stegun, table 7.1 (from memory).
        for (x, value) in [(0.0, 0.0), (0.5, 0.520_499_877_8), (1.0, 0.842_700_792_9), (2.0, 0.995_322_265_0)]
        {
            check(erf(x), value, 1e-9);
        }
        check(erf(5.999), 1.0, 1e-15);
    }
}
