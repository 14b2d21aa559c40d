//! Points sorted into cells so small that any two points of a cell are neighbours, with an R-tree over the cells.
//!
//! A thousand marks on one spot are one cell: what would be a million pairs is one comparison of boxes (the cells
//! follow Gunawan 2013 and Gan & Tao 2015, doi 10.1145/2723372.2737792). A point without a depth is a neighbour of
//! any depth, so it stands in a cell of its own below the same patch of lake and season: cells of one column.
//! Points on different stands share no cell.

use crate::schools::bounds::{Apart, Bounds, Metric, Neighbourhood, Point};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::ops::Range;

/// Points of one cell, as a range of `Cells::order`.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    pub(super) span: Range<usize>,
    pub(super) bounds: Bounds,
    /// The stand of its points.
    stand: u32,
}

type ColumnBox = GeomWithData<Rectangle<[f64; 3]>, usize>;

/// All cells.
pub(super) struct Cells<'a> {
    /// The cells, in the order of their keys.
    pub(super) list: Vec<Cell>,
    /// Numbers of the points, cell by cell, ascending within a cell.
    pub(super) order: Vec<u32>,
    /// Cells that share place and day and differ in depth, as ranges of `list`.
    pub(super) columns: Vec<Range<usize>>,
    tree: RTree<ColumnBox>,
    metric: Metric,
    year: f64,
    stands: Stands<'a>,
}

/// What parts points that the coordinates do not part: a stand each, and whether points on two stands may be neighbours
/// at all.
#[derive(Clone, Copy)]
pub(super) struct Stands<'a> {
    /// Empty: all points stand together.
    pub(super) of_point: &'a [u32],
    pub(super) meet: &'a dyn Fn(u32, u32) -> bool,
}

/// East, north, stand, day, depth.
type Key = (i64, i64, u32, i64, Option<i64>);

/// Sides of a cell: place, day, depth. Under the gates the diagonal of the place and each other side must not pass
/// 1; under the sum the diagonal of all four. A little less than 1/√2, 1 and 1/2, so that rounding cannot either.
const fn sides(metric: Metric) -> [f64; 3] {
    match metric {
        Metric::Gates => [0.707, 0.999, 0.999],
        Metric::Euclid => [0.499; 3],
    }
}

impl<'a> Cells<'a> {
    /// Sorts points into cells.
    pub(super) fn new(points: &[Point], neighbourhood: &Neighbourhood, stands: Stands<'a>) -> Self {
        let Neighbourhood { metric, year, .. } = *neighbourhood;
        let [place, day, depth] = sides(metric);
        let key = |number: u32, p: &Point| -> Key {
            let step = |value: f64, side: f64| (value / side).floor() as i64;
            (
                step(p.place[0], place),
                step(p.place[1], place),
                stands.of_point.get(number as usize).copied().unwrap_or(0),
                step(p.day, day),
                p.depth.map(|d| step(d, depth)),
            )
        };
        let mut keyed: Vec<(Key, u32)> =
            (0..).zip(points).map(|(number, p)| (key(number, p), number)).collect();
        keyed.sort_unstable();
        let order: Vec<u32> = keyed.iter().map(|(_, number)| *number).collect();

        let mut list: Vec<Cell> = Vec::new();
        let mut columns: Vec<Range<usize>> = Vec::new();
        let mut start = 0;
        for group in keyed.chunk_by(|a, b| a.0 == b.0) {
            let span = start..start + group.len();
            let same_column = start > 0 && {
                let (before, here) = (keyed[start - 1].0, group[0].0);
                (before.0, before.1, before.2, before.3) == (here.0, here.1, here.2, here.3)
            };
            start = span.end;
            let Some(bounds) = Bounds::round(order[span.clone()].iter().map(|i| &points[*i as usize])) else {
                continue; // a group holds at least one point
            };
            match columns.last_mut() {
                Some(column) if same_column => column.end += 1,
                _ => columns.push(list.len()..list.len() + 1),
            }
            list.push(Cell { span, bounds, stand: group[0].0.2 });
        }
        let boxes = columns.iter().enumerate().map(|(number, column)| {
            let bounds = list[column.clone()]
                .iter()
                .skip(1)
                .fold(list[column.start].bounds, |b, c| b.joined(c.bounds));
            let corner = |c: [f64; 4]| [c[0], c[1], c[2]];
            GeomWithData::new(Rectangle::from_corners(corner(bounds.low), corner(bounds.high)), number)
        });
        let tree = RTree::bulk_load(boxes.collect());
        Self { list, order, columns, tree, metric, year, stands }
    }

    /// Numbers of the points of a cell.
    pub(super) fn points_of(&self, cell: usize) -> &[u32] {
        &self.order[self.list[cell].span.clone()]
    }

    /// Writes into `out` the columns that can hold neighbours of this column, itself among them, ascending.
    pub(super) fn columns_near(&self, column: usize, out: &mut Vec<usize>) {
        out.clear();
        let of = &self.columns[column];
        let bounds =
            self.list[of.clone()].iter().skip(1).fold(self.list[of.start].bounds, |b, c| b.joined(c.bounds));
        // A hair beyond 1: the boxes only preselect, the exact comparison follows.
        let reach = 1.000_001;
        let (low, high) = (bounds.low.map(|v| v - reach), bounds.high.map(|v| v + reach));
        let mut query = |from: f64, to: f64| {
            let window = AABB::from_corners([low[0], low[1], from], [high[0], high[1], to]);
            out.extend(self.tree.locate_in_envelope_intersecting(&window).map(|found| found.data));
        };
        query(low[2], high[2]);
        if low[2] < 0.0 && self.year.is_finite() {
            query(low[2] + self.year, self.year);
        }
        if high[2] > self.year {
            query(0.0, high[2] - self.year);
        }
        // A cell can reach into two of the windows.
        out.sort_unstable();
        out.dedup();
    }

    /// Whether points of two cells may be neighbours as far as their stands go.
    pub(super) fn meet(&self, a: usize, b: usize) -> bool {
        let [a, b] = [a, b].map(|cell| self.list[cell].stand);
        a == b || (self.stands.meet)(a, b)
    }

    /// Least differences between the points of two boxes.
    pub(super) fn at_least(&self, a: &Bounds, b: &Bounds) -> Apart {
        a.at_least(b, self.year)
    }

    /// Whether some pair of points in two boxes may be neighbours.
    pub(super) fn may_touch(&self, a: &Bounds, b: &Bounds) -> bool {
        a.at_least(b, self.year).within(self.metric)
    }

    /// Whether all pairs of points in two boxes are neighbours.
    pub(super) fn must_touch(&self, a: &Bounds, b: &Bounds) -> bool {
        a.at_most(b, self.year).within(self.metric)
    }
}
