//! A plane through the soundings around a square (local regression: Cleveland 1979, doi 10.1080/01621459.1979.10481038),
//! with Huber's weights against what the cleaning left over.
//!
//! A mean would be pulled down a slope wherever soundings lie to one side; a plane follows it.

/// What stands in a square nearby, from the middle of the square that is asked about.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    pub(super) east_m: f64,
    pub(super) north_m: f64,
    pub(super) depth_m: f64,
    pub(super) count: f64,
}

/// More soundings in a square than this weigh no more: a boat at rest would outweigh all that passed.
pub(super) const MOST_COUNT: f64 = 20.0;
/// Slopes are held back as by this share of the weight, one bandwidth away: across a single straight track nothing tells
/// the slope.
pub(super) const HELD_BACK: f64 = 0.02;
/// Rounds of weighing: a square 50 ft off among 24 that agree then moves the middle by less than half a foot.
const ROUNDS: usize = 5;
/// Huber's constant: 95 % as good as least squares on a normal sample.
pub(super) const HUBER: f64 = 1.345;
/// No deviation below this is an outlier, in metres (a foot: the noise of a sounder).
const LEAST_SPREAD_M: f64 = 0.3;

/// Depth at the middle and its slopes eastward and northward, weighed by distance with a bandwidth of one square.
pub(super) fn plane_at(samples: &[Sample], bandwidth_m: f64) -> [f64; 3] {
    let base: Vec<f64> = samples
        .iter()
        .map(|s| {
            let far = (s.east_m.powi(2) + s.north_m.powi(2)) / bandwidth_m.powi(2);
            s.count.min(MOST_COUNT) * (-0.5 * far).exp()
        })
        .collect();
    let mut weights = base.clone();
    let mut plane = fit(samples, &weights, bandwidth_m);
    for _ in 0..ROUNDS {
        if samples.len() < 4 {
            break;
        }
        let off = |s: &Sample| (s.depth_m - plane[0] - plane[1] * s.east_m - plane[2] * s.north_m).abs();
        let mut away: Vec<f64> = samples.iter().map(off).collect();
        let spread = (1.4826 * super::clean::median(&mut away)).max(LEAST_SPREAD_M);
        for ((weight, base), sample) in weights.iter_mut().zip(&base).zip(samples) {
            *weight = base * (HUBER * spread / off(sample).max(1e-9)).min(1.0);
        }
        plane = fit(samples, &weights, bandwidth_m);
    }
    plane
}

/// Weighted least squares of depth and its two slopes.
fn fit(samples: &[Sample], weights: &[f64], bandwidth_m: f64) -> [f64; 3] {
    // Relative to the first, so that sums of squares stay small.
    let from = samples.first().map_or(0.0, |s| s.depth_m);
    let mut m = [[0.0; 3]; 3];
    let mut v = [0.0; 3];
    for (s, w) in samples.iter().zip(weights) {
        let row = [1.0, s.east_m, s.north_m];
        for i in 0..3 {
            for j in 0..3 {
                m[i][j] += w * row[i] * row[j];
            }
            v[i] += w * row[i] * (s.depth_m - from);
        }
    }
    let held = HELD_BACK * m[0][0] * bandwidth_m.powi(2);
    m[1][1] += held;
    m[2][2] += held;
    let minor = |a: usize, b: usize, c: usize, d: usize| m[a][b] * m[c][d] - m[a][d] * m[c][b];
    let (c0, c1, c2) = (minor(1, 1, 2, 2), minor(1, 0, 2, 2), minor(1, 0, 2, 1));
    let whole = m[0][0] * c0 - m[0][1] * c1 + m[0][2] * c2;
    // The matrix is positive definite: it holds a weight, and slopes are held back.
    let solve = |column: usize| {
        let mut with = m;
        (0..3).for_each(|row| with[row][column] = v[row]);
        let minor =
            |a: usize, b: usize, c: usize, d: usize| with[a][b] * with[c][d] - with[a][d] * with[c][b];
        (with[0][0] * minor(1, 1, 2, 2) - with[0][1] * minor(1, 0, 2, 2) + with[0][2] * minor(1, 0, 2, 1))
            / whole
    };
    [from + solve(0), solve(1), solve(2)]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(east_m: f64, north_m: f64, depth_m: f64) -> Sample {
        Sample { east_m, north_m, depth_m, count: 5.0 }
    }

    #[test]
    fn a_slope_seen_from_one_side_is_followed_nearly_whole_and_a_mean_would_not() {
        // A bank of one in five, sounded only uphill.
        let bank: Vec<Sample> = (0..9)
            .map(|n| (f64::from(n % 3) * 10.0, f64::from(n / 3 - 1) * 10.0))
            .map(|(e, n)| sample(e, n, 10.0 - 0.2 * e))
            .collect();
        let [got, ..] = plane_at(&bank, 10.0);
        assert!((got - 10.0).abs() < 0.12, "{got}");
    }

    #[test]
    fn one_wild_square_among_many_hardly_moves_it() {
        let mut flat: Vec<Sample> =
            (0..25).map(|n| sample(f64::from(n % 5 - 2) * 10.0, f64::from(n / 5 - 2) * 10.0, 8.0)).collect();
        flat[13].depth_m = 24.0;
        assert!((plane_at(&flat, 10.0)[0] - 8.0).abs() < 0.15);
    }
}
