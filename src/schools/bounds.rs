//! Points in gate units, boxes round them, and how near two boxes can lie at least and at most.
//!
//! All comparisons use the same monotone arithmetic as the comparison of two points, so that what a box says
//! ("all of these are neighbours", "none of them is") never contradicts its points by rounding.

/// A point with each coordinate divided by its gate: 1 is the reach of the neighbourhood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Place on a plane.
    pub place: [f64; 2],
    /// Season day, in `[0, year)` of the neighbourhood.
    pub day: f64,
    /// Depth; `None` passes the depth gate against any depth.
    pub depth: Option<f64>,
}

/// When two points are neighbours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Metric {
    /// Place, day and depth each within 1.
    Gates,
    /// The root of the sum of their squares within 1.
    Euclid,
}

/// When two points are neighbours, and how many make a core.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Neighbourhood {
    /// How the differences combine.
    pub metric: Metric,
    /// Length of the circle on which the days lie, in units of the day gate; infinite: they lie on a line.
    pub year: f64,
    /// Least number of neighbours of a core point, itself counted.
    pub min_points: usize,
}

/// Differences of two points, or bounds on them: place squared, day, depth.
#[derive(Clone, Copy, Debug)]
pub(super) struct Apart {
    place_2: f64,
    day: f64,
    depth: f64,
}

impl Apart {
    /// Sum of the squares, the order of nearness under either metric.
    pub(super) fn squared(self) -> f64 {
        self.place_2 + self.day * self.day + self.depth * self.depth
    }

    pub(super) fn within(self, metric: Metric) -> bool {
        match metric {
            Metric::Gates => self.place_2 <= 1.0 && self.day <= 1.0 && self.depth <= 1.0,
            Metric::Euclid => self.squared() <= 1.0,
        }
    }
}

/// Differences of two points on a circle of `year`.
pub(super) fn apart(a: &Point, b: &Point, year: f64) -> Apart {
    let (dx, dy) = (a.place[0] - b.place[0], a.place[1] - b.place[1]);
    let day = (a.day - b.day).abs();
    let depth = match (a.depth, b.depth) {
        (Some(a), Some(b)) => (a - b).abs(),
        _ => 0.0,
    };
    Apart { place_2: dx * dx + dy * dy, day: day.min(year - day), depth }
}

/// The smallest box round points that all tell a depth or all tell none: east, north, day, depth.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    pub(super) low: [f64; 4],
    pub(super) high: [f64; 4],
    has_depth: bool,
}

impl Bounds {
    /// Round one point.
    pub(super) fn of(point: &Point) -> Self {
        let corner = [point.place[0], point.place[1], point.day, point.depth.unwrap_or(0.0)];
        Self { low: corner, high: corner, has_depth: point.depth.is_some() }
    }

    /// Round points; `None` without any.
    pub(super) fn round<'a>(points: impl IntoIterator<Item = &'a Point>) -> Option<Self> {
        points.into_iter().map(Self::of).reduce(Self::joined)
    }

    pub(super) fn joined(mut self, other: Self) -> Self {
        for axis in 0..4 {
            self.low[axis] = self.low[axis].min(other.low[axis]);
            self.high[axis] = self.high[axis].max(other.high[axis]);
        }
        self
    }

    /// The axis along which it is longest, and that length.
    pub(super) fn longest(&self) -> (usize, f64) {
        let lengths = [0, 1, 2, 3].map(|axis| (axis, self.high[axis] - self.low[axis]));
        lengths.into_iter().fold((0, 0.0), |best, next| if next.1 > best.1 { next } else { best })
    }

    fn gap(&self, other: &Self, axis: usize) -> f64 {
        (self.low[axis] - other.high[axis]).max(other.low[axis] - self.high[axis]).max(0.0)
    }

    fn reach(&self, other: &Self, axis: usize) -> f64 {
        (self.high[axis] - other.low[axis]).max(other.high[axis] - self.low[axis])
    }

    /// No pair of their points is nearer than this.
    pub(super) fn at_least(&self, other: &Self, year: f64) -> Apart {
        let (dx, dy) = (self.gap(other, 0), self.gap(other, 1));
        Apart {
            place_2: dx * dx + dy * dy,
            day: self.gap(other, 2).min((year - self.reach(other, 2)).max(0.0)),
            depth: if self.has_depth && other.has_depth { self.gap(other, 3) } else { 0.0 },
        }
    }

    /// No pair of their points is farther than this.
    pub(super) fn at_most(&self, other: &Self, year: f64) -> Apart {
        let (dx, dy) = (self.reach(other, 0), self.reach(other, 1));
        Apart {
            place_2: dx * dx + dy * dy,
            day: self.reach(other, 2).min(year - self.gap(other, 2)),
            depth: if self.has_depth && other.has_depth { self.reach(other, 3) } else { 0.0 },
        }
    }
}
