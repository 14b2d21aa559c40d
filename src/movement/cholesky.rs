//! Small symmetric positive definite systems, dense: a season spline has 26 coefficients.

/// Lower triangle of the Cholesky factor of a symmetric positive definite matrix (Golub and Van Loan, Matrix
/// Computations, 4.2).
#[derive(Clone, Debug)]
pub(super) struct Cholesky {
    size: usize,
    /// Row-major; above the diagonal nothing is read.
    lower: Vec<f64>,
}

impl Cholesky {
    /// Factors a row-major matrix of `size * size` numbers; `None` when it is not positive definite.
    pub(super) fn of(matrix: &[f64], size: usize) -> Option<Self> {
        let mut lower = vec![0.0; size * size];
        for row in 0..size {
            for column in 0..=row {
                let known: f64 = (0..column).map(|k| lower[row * size + k] * lower[column * size + k]).sum();
                let rest = matrix[row * size + column] - known;
                lower[row * size + column] = if row == column {
                    // A pivot that has lost twelve digits to its row is zero for our purpose.
                    if rest.is_nan() || rest <= 1e-13 * matrix[row * size + row].abs() {
                        return None;
                    }
                    rest.sqrt()
                } else {
                    rest / lower[column * size + column]
                };
            }
        }
        Some(Self { size, lower })
    }

    /// Solves for one right-hand side.
    pub(super) fn solve(&self, right: &[f64]) -> Vec<f64> {
        let (n, l) = (self.size, &self.lower);
        let mut x = right.to_vec();
        for row in 0..n {
            let known: f64 = (0..row).map(|k| l[row * n + k] * x[k]).sum();
            x[row] = (x[row] - known) / l[row * n + row];
        }
        for row in (0..n).rev() {
            let known: f64 = (row + 1..n).map(|k| l[k * n + row] * x[k]).sum();
            x[row] = (x[row] - known) / l[row * n + row];
        }
        x
    }

    /// The inverse, row-major.
    pub(super) fn inverse(&self) -> Vec<f64> {
        let (n, l) = (self.size, &self.lower);
        let mut inverse = vec![0.0; n * n];
        // Solved for one column of the unit matrix after another. What lies above its one stays zero on the way
        // down, and is known on the way up, as the inverse is symmetric. `upper` is the factor by columns, so that
        // both ways read along rows.
        let mut upper = vec![0.0; n * n];
        for row in 0..n {
            for column in 0..=row {
                upper[column * n + row] = l[row * n + column];
            }
        }
        let mut x = vec![0.0; n];
        for column in 0..n {
            x[column] = 1.0 / l[column * n + column];
            for row in column + 1..n {
                let line = &l[row * n..=row * n + row];
                x[row] = -dot(&line[column..row], &x[column..row]) / line[row];
            }
            for row in (column..n).rev() {
                let line = &upper[row * n..(row + 1) * n];
                x[row] = (x[row] - dot(&line[row + 1..], &x[row + 1..])) / line[row];
                inverse[row * n + column] = x[row];
                inverse[column * n + row] = x[row];
            }
        }
        inverse
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solves_a_system_with_a_known_answer() {
        // 3x3 second differences: the inverse is known in closed form, (1/4) [3 2 1; 2 4 2; 1 2 3].
        let factor = Cholesky::of(&[2.0, -1.0, 0.0, -1.0, 2.0, -1.0, 0.0, -1.0, 2.0], 3).unwrap();
        let expected = [3.0, 2.0, 1.0, 2.0, 4.0, 2.0, 1.0, 2.0, 3.0].map(|v| v / 4.0);
        for (found, expected) in factor.inverse().iter().zip(expected) {
            assert!((found - expected).abs() < 1e-14);
        }
        for (found, expected) in factor.solve(&[1.0, 0.0, 1.0]).iter().zip([1.0, 1.0, 1.0]) {
            assert!((found - expected).abs() < 1e-14);
        }
    }

    #[test]
    fn a_singular_matrix_has_no_factor() {
        assert!(Cholesky::of(&[1.0, 1.0, 1.0, 1.0], 2).is_none());
        assert!(Cholesky::of(&[f64::NAN], 1).is_none());
    }
}
