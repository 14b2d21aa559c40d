//! Depths on a lattice of squares, with where its edges meet the shore.

use super::Settings;
use super::blocks::Soundings;
use super::surface::Bed;
use crate::terms::lake::Lake;
use crate::terms::place::PlanePoint;
use rayon::prelude::*;

/// More nodes than this take more memory than they are worth; the squares are then widened.
const MOST_NODES: f64 = 1.2e7;

/// The side of the squares: that of the settings, doubled until the lattice over all soundings is small enough.
pub(super) fn cell_m(soundings: &Soundings, settings: &Settings) -> f64 {
    let mut bounds: Option<[f64; 4]> = None;
    for at in soundings.logs.iter().flat_map(|log| &log.blocks).map(|b| b.at) {
        let [w, s, e, n] = bounds.unwrap_or([at.east_m, at.north_m, at.east_m, at.north_m]);
        bounds = Some([w.min(at.east_m), s.min(at.north_m), e.max(at.east_m), n.max(at.north_m)]);
    }
    let [w, s, e, n] = bounds.unwrap_or_default();
    let reach_m = settings.reach.metres();
    let mut cell_m = settings.cell.metres();
    while ((e - w + 2.0 * reach_m) / cell_m + 3.0) * ((n - s + 2.0 * reach_m) / cell_m + 3.0) > MOST_NODES {
        cell_m *= 2.0;
    }
    cell_m
}

/// What a node of the lattice is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Node {
    Land,
    /// Water whose depth is not known.
    Blank,
    /// Water so many metres deep.
    Deep(f32),
}

/// A lattice of nodes, `columns` by `rows`, from the south-west.
pub(super) struct Grid {
    pub(super) cell_m: f64,
    pub(super) columns: usize,
    pub(super) rows: usize,
    west_m: f64,
    south_m: f64,
    nodes: Vec<Node>,
    /// By row: metres east at which it meets the shore, in order.
    shore_east: Vec<Vec<f64>>,
    /// By column: metres north at which it meets the shore, in order.
    shore_north: Vec<Vec<f64>>,
}

/// Which way an edge of the lattice runs from its node.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Way {
    East,
    North,
}

/// Nodes are moved off whole metres by this share of a square, so that none lies on a shore drawn in round numbers.
const OFF: f64 = 0.371;

impl Grid {
    pub(super) fn new(bed: &Bed, lake: &Lake, cell_m: f64) -> Self {
        let [west, south, east, north] = bed.bounds();
        let start = |low: f64| (((low - bed.reach_m()) / cell_m).floor() + OFF) * cell_m;
        let (west_m, south_m) = (start(west), start(south));
        let count = |from: f64, to: f64| ((to + bed.reach_m() - from) / cell_m).ceil().max(1.0) as usize + 1;
        let (columns, rows) = (count(west_m, east), count(south_m, north));
        let mut grid = Self {
            cell_m,
            columns,
            rows,
            west_m,
            south_m,
            nodes: Vec::new(),
            shore_east: vec![Vec::new(); rows],
            shore_north: vec![Vec::new(); columns],
        };
        grid.meet_the_shore(lake);
        let rows: Vec<Vec<Node>> = (0..rows).into_par_iter().map(|row| grid.row(row, bed, lake)).collect();
        grid.nodes = rows.concat();
        grid
    }

    /// Where the lattice's lines meet the shore.
    fn meet_the_shore(&mut self, lake: &Lake) {
        let Some(water) = &lake.water else { return };
        for ring in water.rings_m() {
            for pair in ring.windows(2) {
                let (a, b) = (pair[0], pair[1]);
                let (cell_m, south_m, west_m) = (self.cell_m, self.south_m, self.west_m);
                lines_between(a.north_m, b.north_m, south_m, cell_m, self.rows, |row, share| {
                    self.shore_east[row].push(a.east_m + share * (b.east_m - a.east_m));
                });
                lines_between(a.east_m, b.east_m, west_m, cell_m, self.columns, |column, share| {
                    self.shore_north[column].push(a.north_m + share * (b.north_m - a.north_m));
                });
            }
        }
        for list in self.shore_east.iter_mut().chain(&mut self.shore_north) {
            list.sort_unstable_by(f64::total_cmp);
        }
    }

    fn row(&self, row: usize, bed: &Bed, lake: &Lake) -> Vec<Node> {
        (0..self.columns)
            .map(|column| {
                let at = self.at(column, row);
                let met = self.shore_east[row].partition_point(|east_m| *east_m < at.east_m);
                if lake.water.is_some() && met.is_multiple_of(2) {
                    return Node::Land;
                }
                let reached = bed.reaches(at, lake.water.as_ref());
                reached
                    .then(|| bed.interpolated_m(at))
                    .flatten()
                    .map_or(Node::Blank, |d| Node::Deep(d as f32))
            })
            .collect()
    }

    pub(super) fn at(&self, column: usize, row: usize) -> PlanePoint {
        PlanePoint {
            east_m: self.west_m + column as f64 * self.cell_m,
            north_m: self.south_m + row as f64 * self.cell_m,
        }
    }

    pub(super) fn node(&self, column: usize, row: usize) -> Node {
        self.nodes[row * self.columns + column]
    }

    /// Where the edge from a node meets the shore, as shares of its length in order.
    pub(super) fn shore_on(
        &self,
        column: usize,
        row: usize,
        way: Way,
    ) -> impl DoubleEndedIterator<Item = f64> {
        let at = self.at(column, row);
        let (list, from) = match way {
            Way::East => (&self.shore_east[row], at.east_m),
            Way::North => (&self.shore_north[column], at.north_m),
        };
        let first = list.partition_point(|met| *met < from);
        let last = list.partition_point(|met| *met < from + self.cell_m);
        list[first..last.max(first)].iter().map(move |met| (met - from) / self.cell_m)
    }

    /// Deepest known depth in metres.
    pub(super) fn deepest_m(&self) -> f64 {
        self.nodes
            .iter()
            .map(|node| if let Node::Deep(depth_m) = node { f64::from(*depth_m) } else { 0.0 })
            .fold(0.0, f64::max)
    }

    /// Area of the water whose depth is known, a square a node.
    pub(super) fn drawn_m2(&self) -> f64 {
        let deep = self.nodes.iter().filter(|node| matches!(node, Node::Deep(_))).count();
        deep as f64 * self.cell_m.powi(2)
    }
}

/// Calls with each line of the lattice between two numbers, and the share of the way at which it lies. Half-open, so that
/// the end of one piece of shore on a line counts for one of its two pieces.
fn lines_between(a: f64, b: f64, first: f64, step: f64, lines: usize, mut met: impl FnMut(usize, f64)) {
    let line = |value: f64| ((value - first) / step).ceil().clamp(0.0, lines as f64) as usize;
    for number in line(a.min(b))..line(a.max(b)) {
        met(number, (first + number as f64 * step - a) / (b - a));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_through_the_corner_of_two_pieces_of_shore_is_met_once() {
        let met = |pieces: &[(f64, f64)]| {
            let mut count = 0;
            for (a, b) in pieces {
                lines_between(*a, *b, 0.0, 10.0, 5, |_, share| {
                    assert!((0.0..=1.0).contains(&share));
                    count += 1;
                });
            }
            count
        };
        assert_eq!(met(&[(5.0, 20.0), (20.0, 35.0)]), 3); // 10, 20, 30
        assert_eq!(met(&[(5.0, 20.0), (20.0, 5.0)]) % 2, 0); // turns back on the line
        assert_eq!(met(&[(-50.0, 500.0)]), 5);
    }
}
