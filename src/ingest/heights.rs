//! Heights that look like depths: some exports put the depth of the bottom into `ele`. Nobody but the user can tell.

use crate::terms::finding::{Code, Finding};

/// Fewer heights are not judged.
const FEWEST: u64 = 20;
/// Deeper or higher than this is no depth of a fished lake, and is not counted in.
const DEEPEST_MM: i64 = 200_000;

/// The heights of a file's marks, in whole millimetres so that the order of adding does not matter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Heights {
    count: u64,
    below_zero: u64,
    sum_mm: i64,
    /// Sum of squares, in square millimetres.
    squares: i128,
    /// Least and greatest.
    range_mm: Option<(i64, i64)>,
    /// Whether a mark has a depth of its own.
    depths: bool,
}

impl Heights {
    /// Counts the height of a mark, and whether the mark tells a depth elsewhere.
    pub(super) fn add(&mut self, height_m: f64, has_depth: bool) {
        self.depths |= has_depth;
        let mm = (height_m * 1000.0).round() as i64;
        // Zero stands for unknown.
        if mm == 0 || mm.abs() > DEEPEST_MM {
            return;
        }
        self.join(Self {
            count: 1,
            below_zero: u64::from(mm < 0),
            sum_mm: mm,
            squares: i128::from(mm) * i128::from(mm),
            range_mm: Some((mm, mm)),
            depths: has_depth,
        });
    }

    /// Takes in the heights of another part of the file.
    pub(super) fn join(&mut self, other: Self) {
        self.count += other.count;
        self.below_zero += other.below_zero;
        self.sum_mm += other.sum_mm;
        self.squares += other.squares;
        self.depths |= other.depths;
        self.range_mm = match (self.range_mm, other.range_mm) {
            (Some((a, b)), Some((c, d))) => Some((a.min(c), b.max(d))),
            (one, other) => one.or(other),
        };
    }

    /// What is told when they look like depths and the marks have none: they vary as no lake's surface does, and lie below
    /// zero or begin near it. A receiver's height on a lake scatters by some 10 m about the height of the lake, which seldom
    /// is sea level (common practice, no source).
    pub(super) fn finding(self) -> Option<Finding> {
        const SPREAD_OF_MEAN: f64 = 0.25;
        const LEAST_SPREAD_M: f64 = 1.0;
        let (least_mm, most_mm) = self.range_mm?;
        let count = self.count as f64;
        let mean_m = self.sum_mm as f64 / count / 1000.0;
        let spread_m = (self.squares as f64 / count / 1e6 - mean_m * mean_m).max(0.0).sqrt();
        let below = self.below_zero * 10 >= self.count * 9;
        let near_zero = self.below_zero * 20 <= self.count && least_mm <= 6000;
        let looks_like = self.count >= FEWEST
            && !self.depths
            && (below || near_zero)
            && spread_m >= LEAST_SPREAD_M.max(SPREAD_OF_MEAN * mean_m.abs());
        looks_like.then(|| {
            let [least, most] = [least_mm, most_mm].map(|mm| mm as f64 / 1000.0);
            let seen = format!(
                "heights (`ele`) of {} marks lie between `{least:.1}` and `{most:.1}` m, and none of the marks tells a depth",
                self.count
            );
            Finding::new(Code::DepthInEle, seen)
                .done("not used")
                .fix("when they are depths of the bottom, set `ele = \"depth\"` in the file's [[input]]")
        })
    }
}
