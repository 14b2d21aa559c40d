//! Penalised cyclic cubic splines over the season.
//!
//! Equally spaced cubic B-splines on the circle of the year (de Boor 1978) with one of two penalties: the integral of
//! the squared second derivative, computed exactly, or squared second differences of the coefficients (Eilers and
//! Marx 1996). The smoothing parameter follows Fellner and Schall (Wood and Fasiolo 2017, doi 10.1111/biom.12666).

use super::cholesky::Cholesky;
use crate::terms::season::YEAR_DAYS;

/// Functions that are not zero at one day.
const ORDER: usize = 4;

/// What roughness means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Roughness {
    /// Integral of the squared second derivative over the year, days as the unit.
    Curvature,
    /// Sum of squared second differences of neighbouring coefficients round the circle.
    SecondDifferences,
}

/// Cubic B-splines on equally spaced knots round the year, with their roughness matrix.
#[derive(Clone, Debug)]
pub struct SeasonBasis {
    size: usize,
    roughness: Vec<f64>,
}

impl SeasonBasis {
    /// As many functions as knots on the circle (first and last knot being one).
    ///
    /// # Panics
    /// With fewer than four knots, on which the functions would overlap themselves.
    #[must_use]
    pub fn new(knots: usize, roughness: Roughness) -> Self {
        assert!(knots >= ORDER, "a cyclic cubic spline needs at least four knots");
        let step = YEAR_DAYS / knots as f64;
        let mut matrix = vec![0.0; knots * knots];
        // The second derivative is linear between knots, with value (c[j-1] - 2 c[j] + c[j+1]) / step^2 at knot j, so
        // its squared integral is the sum over pieces of step / 3 (u^2 + u v + v^2) for end values u, v.
        let row = |j: usize| [((j + knots - 1) % knots, 1.0), (j, -2.0), ((j + 1) % knots, 1.0)];
        let mut add = |a: usize, b: usize, factor: f64| {
            for (i, left) in row(a) {
                for (j, right) in row(b) {
                    matrix[i * knots + j] += factor * left * right;
                }
            }
        };
        for j in 0..knots {
            match roughness {
                Roughness::SecondDifferences => add(j, j, 1.0),
                Roughness::Curvature => {
                    let (next, scale) = ((j + 1) % knots, step.powi(-3));
                    add(j, j, 2.0 / 3.0 * scale);
                    add(j, next, scale / 6.0);
                    add(next, j, scale / 6.0);
                }
            }
        }
        Self { size: knots, roughness: matrix }
    }

    /// Number of functions.
    #[must_use]
    pub const fn size(&self) -> usize {
        self.size
    }

    /// The four functions that are not zero on a day: their numbers and values, which sum to 1.
    #[must_use]
    pub fn at(&self, day: f64) -> [(usize, f64); ORDER] {
        let place = day.rem_euclid(YEAR_DAYS) / YEAR_DAYS * self.size as f64;
        let piece = (place as usize).min(self.size - 1);
        let u = place - piece as f64;
        let v = 1.0 - u;
        let values = [
            v * v * v / 6.0,
            (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0,
            (3.0 * v * v * v - 6.0 * v * v + 4.0) / 6.0,
            u * u * u / 6.0,
        ];
        std::array::from_fn(|k| ((piece + self.size - 1 + k) % self.size, values[k]))
    }
}

/// Weighted sums over data from which a spline of `C` values a day is fitted.
#[derive(Clone, Debug)]
pub struct Sums<const C: usize> {
    gram: Vec<f64>,
    right: [Vec<f64>; C],
    squares: f64,
    weight: f64,
}

impl<const C: usize> Sums<C> {
    /// No data yet.
    #[must_use]
    pub fn new(basis: &SeasonBasis) -> Self {
        let n = basis.size;
        Self {
            gram: vec![0.0; n * n],
            right: std::array::from_fn(|_| vec![0.0; n]),
            squares: 0.0,
            weight: 0.0,
        }
    }

    /// Adds one datum, given the functions at its day.
    pub fn add(&mut self, functions: [(usize, f64); ORDER], values: [f64; C], weight: f64) {
        let n = self.right[0].len();
        for (i, a) in functions {
            for (j, b) in functions {
                self.gram[i * n + j] += weight * a * b;
            }
            for (right, value) in self.right.iter_mut().zip(values) {
                right[i] += weight * a * value;
            }
        }
        self.squares += weight * values.iter().map(|v| v * v).sum::<f64>();
        self.weight += weight;
    }

    /// Sum of the weights.
    #[must_use]
    pub const fn weight(&self) -> f64 {
        self.weight
    }

    /// Minimises sum w (y - f)^2 + `smoothing` * roughness; `None` when the data do not determine the spline.
    #[must_use]
    pub fn fit(&self, basis: &SeasonBasis, smoothing: f64) -> Option<Spline<C>> {
        let n = basis.size;
        let system: Vec<f64> =
            self.gram.iter().zip(&basis.roughness).map(|(g, p)| g + smoothing * p).collect();
        let factor = Cholesky::of(&system, n)?;
        let coefficients: [Vec<f64>; C] = std::array::from_fn(|c| factor.solve(&self.right[c]));
        let inverse = factor.inverse();
        let trace = |m: &[f64]| inverse.iter().zip(m).map(|(a, b)| a * b).sum::<f64>();
        let edf = trace(&self.gram);
        // The cross terms cancel to a few digits at worst: |y| is within 1e5 m and residuals are above 1 m.
        let residual_squares = self.squares
            + coefficients
                .iter()
                .zip(&self.right)
                .map(|(b, r)| quadratic(&self.gram, b) - 2.0 * dot(b, r))
                .sum::<f64>();
        let residual_squares = residual_squares.max(0.0);
        let freedom = (self.weight - edf).max(self.weight / 2.0);
        Some(Spline {
            variance: residual_squares / (C as f64 * freedom),
            roughness: coefficients.iter().map(|b| quadratic(&basis.roughness, b)).sum(),
            roughness_trace: trace(&basis.roughness),
            residual_squares,
            smoothing,
            edf,
            coefficients,
            inverse,
        })
    }

    /// Fits with the smoothing parameter that Fellner-Schall steps settle on within `bounds`; `None` as for `fit`.
    #[must_use]
    pub fn fit_smoothest(&self, basis: &SeasonBasis, start: f64, bounds: [f64; 2]) -> Option<Spline<C>> {
        let mut spline = self.fit(basis, start)?;
        for _ in 0..60 {
            let next = spline.next_smoothing(spline.variance, bounds);
            let settled = (next / spline.smoothing).ln().abs() < 1e-4;
            spline = self.fit(basis, next)?;
            if settled {
                break;
            }
        }
        Some(spline)
    }
}

/// A fitted spline of `C` values a day.
#[derive(Clone, Debug)]
pub struct Spline<const C: usize> {
    coefficients: [Vec<f64>; C],
    /// Inverse of the penalised system: times the residual variance it is the coefficients' covariance.
    inverse: Vec<f64>,
    roughness: f64,
    roughness_trace: f64,
    /// Weighted sum of squared residuals.
    pub residual_squares: f64,
    /// Residual variance of one value: squares over weight less degrees of freedom (at least half the weight).
    pub variance: f64,
    /// The smoothing parameter it was fitted with.
    pub smoothing: f64,
    /// Effective degrees of freedom of one value.
    pub edf: f64,
}

impl<const C: usize> Spline<C> {
    /// Values on a day, given the functions at it.
    #[must_use]
    pub fn value(&self, functions: [(usize, f64); ORDER]) -> [f64; C] {
        std::array::from_fn(|c| functions.iter().map(|(i, a)| a * self.coefficients[c][*i]).sum())
    }

    /// Variance of the fitted value on a day as a share of the residual variance.
    #[must_use]
    pub fn relative_variance(&self, functions: [(usize, f64); ORDER]) -> f64 {
        let n = self.coefficients[0].len();
        functions
            .iter()
            .map(|(i, a)| functions.iter().map(|(j, b)| a * b * self.inverse[i * n + j]).sum::<f64>())
            .sum()
    }

    /// One Fellner-Schall step for the smoothing parameter, at most a factor of five.
    #[must_use]
    pub fn next_smoothing(&self, variance: f64, bounds: [f64; 2]) -> f64 {
        // The roughness matrix of a cyclic spline has one flat direction: constants.
        let rank = self.coefficients[0].len() as f64 - 1.0;
        let wanted = variance * C as f64 * (rank / self.smoothing - self.roughness_trace).max(0.0)
            / self.roughness.max(1e-300);
        (self.smoothing * wanted.clamp(0.2, 5.0)).clamp(bounds[0], bounds[1])
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn quadratic(matrix: &[f64], b: &[f64]) -> f64 {
    matrix.chunks_exact(b.len()).zip(b).map(|(row, value)| value * dot(row, b)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn functions_sum_to_one_and_join_over_new_year() {
        let basis = SeasonBasis::new(26, Roughness::SecondDifferences);
        for day in [-0.1, 0.0, 7.3, 14.048, 200.0, 365.2499, 365.25, 1000.0] {
            assert!((basis.at(day).iter().map(|(_, v)| v).sum::<f64>() - 1.0).abs() < 1e-12, "{day}");
        }
        let mut sums = Sums::new(&basis);
        for k in 0..300 {
            let day = f64::from(k) * 7.7;
            sums.add(basis.at(day), [(day / 58.1).sin()], 1.0);
        }
        let spline = sums.fit(&basis, 1.0).unwrap();
        let [before, after] = [365.249_999_9, 0.0].map(|day| spline.value(basis.at(day))[0]);
        assert!((before - after).abs() < 1e-6);
    }

    #[test]
    fn curvature_of_a_cosine_is_its_integral() {
        // f = cos(2 pi d / Y): the integral of f''^2 over the year is (2 pi / Y)^4 Y / 2.
        let basis = SeasonBasis::new(60, Roughness::Curvature);
        let mut sums = Sums::new(&basis);
        for k in 0..600 {
            let day = f64::from(k) * YEAR_DAYS / 600.0;
            sums.add(basis.at(day), [(day * std::f64::consts::TAU / YEAR_DAYS).cos()], 1.0);
        }
        let found = sums.fit(&basis, 0.0).unwrap().roughness;
        let expected = (std::f64::consts::TAU / YEAR_DAYS).powi(4) * YEAR_DAYS / 2.0;
        assert!((found / expected - 1.0).abs() < 1e-3, "{found} {expected}");
    }

    #[test]
    fn heavy_smoothing_leaves_the_mean() {
        let basis = SeasonBasis::new(26, Roughness::SecondDifferences);
        let mut sums = Sums::new(&basis);
        for (day, value) in [(10.0, 1.0), (100.0, 2.0), (250.0, 6.0)] {
            sums.add(basis.at(day), [value], 1.0);
        }
        assert!((sums.fit(&basis, 1e9).unwrap().value(basis.at(300.0))[0] - 3.0).abs() < 1e-4);
    }
}
