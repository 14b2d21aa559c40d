//! From a rate to the chance to meet bait in a standard search, with its interval.
//!
//! A standard search: 25 minutes at 4 mph with the swath of the settings, in a square about the cell as large as what
//! is swept in that time (coverage 1). By the law of random search (`terms::search_law`) it finds each school there
//! with chance 1 − 1/e. How many there are varies more than a Poisson number does: bait comes in bunches, and seasons
//! differ. So the number met is taken as negative binomial about its mean.

use crate::terms::search_law::{random_search, swept_m2_s};
use crate::terms::units::{METRES_PER_MILE, Speed};

/// Minutes of a standard search: the knee of the law for a wide picture and fifty acres.
pub const SEARCH_S: f64 = 25.0 * 60.0;
/// Speed of a standard search (common practice, no source).
const SEARCH_MPH: f64 = 4.0;
/// How much sightings bunch: the number met has variance m + m²/`BUNCHING`. A judgement, not fitted.
const BUNCHING: f64 = 1.0;
/// The same where the upper end of the interval is reckoned: how much bait bunches is itself not known.
const LEAST_BUNCHING: f64 = 8.0;
/// Doubt of a rate as the square of its standard error over it: that of its Gamma law over `WORTH`, and `SEASONS` on top,
/// since seasons differ however much was seen in others. Fitted on 24 simulated lakes (seeds 301 to 308, 401 to 408, 501 to
/// 508), so that the interval holds the true chance of nine of ten cells, of the best fifth of the water and of the whole.
const WORTH: f64 = 24.0;
const SEASONS: f64 = 0.7;
/// Ends of the interval: nine of ten lie between.
const ENDS: [f64; 2] = [0.05, 0.95];

/// A standard search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Search {
    /// Square metres swept, and of the square searched.
    pub swept_m2: f64,
}

impl Search {
    /// With a swath of so many metres.
    #[must_use]
    pub fn with_swath(swath_m: f64) -> Self {
        let speed = Speed::from_metres_per_second(SEARCH_MPH * METRES_PER_MILE / 3600.0);
        Self { swept_m2: swept_m2_s(swath_m, speed) * SEARCH_S }
    }

    /// Mean number of sightings that it gives at a rate a square kilometre.
    fn mean(self, rate: f64) -> f64 {
        rate * self.swept_m2 / 1e6 * random_search(1.0)
    }

    /// Chance to meet bait at a rate a square kilometre.
    #[must_use]
    pub fn chance(self, rate: f64) -> f64 {
        self.chance_in_bunches(rate, BUNCHING)
    }

    fn chance_in_bunches(self, rate: f64, bunching: f64) -> f64 {
        any_in_bunches(self.mean(rate), bunching)
    }

    /// The interval of the chance for a Gamma law of the rate.
    #[must_use]
    pub fn interval(self, shape: f64, km2: f64) -> [f64; 2] {
        let worth = 1.0 / (1.0 / (WORTH * shape) + SEASONS);
        let [low, high] = ENDS.map(|share| gamma_quantile(worth, share) / worth * shape / km2);
        [self.chance(low), self.chance_in_bunches(high, LEAST_BUNCHING)]
    }
}

/// Chance that at least one school is where so many are in the mean.
pub(super) fn chance_of_any(mean: f64) -> f64 {
    any_in_bunches(mean, BUNCHING)
}

fn any_in_bunches(mean: f64, bunching: f64) -> f64 {
    // 1 − (1 + m/k)^(−k)
    -(-bunching * (mean / bunching).ln_1p()).exp_m1()
}

/// The value below which a Gamma variate of this shape and scale 1 lies with a chance.
fn gamma_quantile(shape: f64, chance: f64) -> f64 {
    // Bisection in the log, from where P(a, x) is about x^a / Γ(a + 1).
    let small = ((chance.ln() + ln_gamma(shape + 1.0)) / shape).max(-700.0);
    let (mut low, mut high) = (small - 1.0, (shape + 10.0 * shape.sqrt() + 20.0).ln());
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if gamma_share(shape, middle.exp()) < chance { low = middle } else { high = middle }
    }
    f64::midpoint(low, high).exp()
}

/// Regularised lower incomplete gamma function P(a, x) (Abramowitz & Stegun 6.5.29 and 6.5.31).
fn gamma_share(a: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let front = (a * x.ln() - x - ln_gamma(a)).exp();
    if x < a + 1.0 {
        let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
        while term > sum * 1e-14 {
            n += 1.0;
            term *= x / n;
            sum += term;
        }
        return front * sum;
    }
    // Lentz's continued fraction of the upper part.
    let (mut b, mut c) = (x + 1.0 - a, 1e300);
    let mut d = 1.0 / b;
    let mut h = d;
    for i in 1..500 {
        let an = -f64::from(i) * (f64::from(i) - a);
        b += 2.0;
        d = 1.0 / (an * d + b);
        c = b + an / c;
        let delta = d * c;
        h *= delta;
        if (delta - 1.0).abs() < 1e-14 {
            break;
        }
    }
    1.0 - front * h
}

/// Logarithm of the gamma function for positive arguments: Stirling's series after moving up (Abramowitz & Stegun
/// 6.1.41), to about 1e-12.
fn ln_gamma(x: f64) -> f64 {
    let (mut x, mut below) = (x, 0.0);
    while x < 10.0 {
        below += x.ln();
        x += 1.0;
    }
    let inverse = 1.0 / x;
    let square = inverse * inverse;
    let series = inverse * (1.0 / 12.0 - square * (1.0 / 360.0 - square * (1.0 / 1260.0 - square / 1680.0)));
    (x - 0.5) * x.ln() - x + 0.5 * std::f64::consts::TAU.ln() + series - below
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(found: f64, expected: f64, relative: f64) {
        assert!((found / expected - 1.0).abs() <= relative, "{found}, not {expected}");
    }

    #[test]
    fn gamma_quantiles_are_those_of_chi_squared_tables() {
        // Half of chi squared with 2a degrees of freedom (tables, from memory): 0.05 and 0.95.
        for (degrees, low, high) in
            [(1.0, 0.003_932, 3.841_459), (2.0, 0.102_587, 5.991_465), (10.0, 3.940_299, 18.307_038)]
        {
            check(2.0 * gamma_quantile(degrees / 2.0, 0.05), low, 2e-4);
            check(2.0 * gamma_quantile(degrees / 2.0, 0.95), high, 1e-6);
        }
        check(ln_gamma(0.5).exp(), std::f64::consts::PI.sqrt(), 1e-11);
        check(gamma_share(0.01, gamma_quantile(0.01, 0.95)), 0.95, 1e-9);
    }

    #[test]
    fn a_standard_search_sweeps_24_acres_with_a_swath_of_120_feet() {
        // 36.576 m x 1.78816 m/s x 1500 s.
        check(Search::with_swath(36.576).swept_m2, 98_104.0, 1e-3);
    }

    #[test]
    fn a_chance_grows_with_the_rate_within_its_interval() {
        let search = Search::with_swath(36.576);
        let chances: Vec<f64> = [0.0, 0.5, 5.0, 50.0, 5000.0].map(|rate| search.chance(rate)).to_vec();
        assert!(chances.is_sorted() && chances[0].abs() < 1e-12 && chances[4] < 1.0, "{chances:?}");
        for (shape, km2) in [(0.3, 0.3), (0.5, 0.3), (20.0, 2.0)] {
            let [low, high] = search.interval(shape, km2);
            assert!(low < high && high > search.chance(shape / km2), "{low} {high}");
        }
    }
}
