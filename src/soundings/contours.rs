//! Contours through the lattice: marching squares (the planar case of Lorensen and Cline 1987, doi
//! 10.1145/37402.37422), ambiguous squares settled by their middle.
//!
//! Along each edge deeper contours lie nearer to its deep end, so lines of two depths never cross. An edge that runs
//! onto land comes up to nothing at the shore, so a line there stays afloat; a piece that would cross land is left out
//! and its line is open there, as it is where the depth is not known.

use super::grid::{Grid, Node, Way};
use crate::terms::id::Id;
use crate::terms::lake::Lake;
use crate::terms::place::{Place, PlanePoint};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// A line of equal depth.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// Its name.
    pub id: Id,
    /// Depth below the surface of reference, in metres.
    pub depth_m: f64,
    /// Its places; a closed one ends where it begins.
    pub line: Vec<Place>,
    /// Whether it is a ring.
    pub closed: bool,
    /// Its length in metres.
    pub length_m: f64,
}

/// An edge of the lattice: its node and which way it runs.
type Edge = (u32, Way);

/// Shorter than so many squares it is told by one or two soundings.
const SHORTEST_CELLS: f64 = 4.0;
/// Nearer to a node or the shore than this it would touch what it is written beside: positions have 7 decimals, 0.011 m.
const CLEAR_M: f64 = 0.03;

/// The contours of the given depths, in order.
pub(super) fn contours(grid: &Grid, lake: &Lake, depths_m: &[f64]) -> Vec<Contour> {
    let by_depth: Vec<Vec<Contour>> =
        depths_m.par_iter().map(|depth_m| at_depth(grid, lake, *depth_m)).collect();
    by_depth.concat()
}

fn at_depth(grid: &Grid, lake: &Lake, depth_m: f64) -> Vec<Contour> {
    let level = Level { grid, lake, depth_m };
    let mut pieces: Vec<[Edge; 2]> = Vec::new();
    for row in 0..grid.rows - 1 {
        for column in 0..grid.columns - 1 {
            level.square(column, row, &mut pieces);
        }
    }
    let shortest_m = SHORTEST_CELLS * grid.cell_m;
    joined(&pieces)
        .into_iter()
        .filter_map(|edges| {
            let points: Vec<PlanePoint> = edges.iter().filter_map(|edge| level.point(*edge)).collect();
            let length_m = points.windows(2).map(|pair| pair[0].metres_to(pair[1])).sum::<f64>();
            let closed = edges.len() > 3 && edges.first() == edges.last();
            let line: Vec<Place> = points.iter().map(|point| lake.plane.to_place(*point)).collect();
            let [lon, lat] = line.first()?.six_decimals();
            let id = Id::of('c', &[&format!("{depth_m:.3}"), &lon, &lat]);
            (length_m >= shortest_m).then_some(Contour { id, depth_m, line, closed, length_m })
        })
        .collect()
}

/// The lattice cut at one depth.
struct Level<'a> {
    grid: &'a Grid,
    lake: &'a Lake,
    depth_m: f64,
}

impl Level<'_> {
    fn deep(&self, node: Node) -> bool {
        matches!(node, Node::Deep(depth_m) if f64::from(depth_m) > self.depth_m)
    }

    /// Adds the pieces in one square.
    fn square(&self, column: usize, row: usize, pieces: &mut Vec<[Edge; 2]>) {
        let corners = [(0, 0), (1, 0), (1, 1), (0, 1)].map(|(c, r)| self.grid.node(column + c, row + r));
        let deep = corners.map(|node| self.deep(node));
        if deep == [deep[0]; 4] || corners.contains(&Node::Blank) {
            return;
        }
        let number = |c: usize, r: usize| ((row + r) * self.grid.columns + column + c) as u32;
        // South, east, north, west.
        let edges = [
            (number(0, 0), Way::East),
            (number(1, 0), Way::North),
            (number(0, 1), Way::East),
            (number(0, 0), Way::North),
        ];
        let cut: Vec<usize> = (0..4).filter(|k| deep[*k] != deep[(k + 1) % 4]).collect();
        let pairs: &[[usize; 2]] = match cut[..] {
            [a, b] => &[[a, b]],
            // All four edges are cut: the middle tells which two corners hang together.
            _ if self.middle_is_deep(corners) == deep[0] => &[[0, 1], [2, 3]],
            _ => &[[3, 0], [1, 2]],
        };
        for [a, b] in pairs {
            let piece = [edges[*a], edges[*b]];
            if let [Some(from), Some(to)] = piece.map(|edge| self.point(edge))
                && self.lake.water.as_ref().is_none_or(|water| !water.shore_between(from, to))
            {
                pieces.push(piece);
            }
        }
    }

    fn middle_is_deep(&self, corners: [Node; 4]) -> bool {
        let depth = |node| if let Node::Deep(depth_m) = node { f64::from(depth_m) } else { 0.0 };
        corners.map(depth).iter().sum::<f64>() / 4.0 > self.depth_m
    }

    /// Where an edge is cut; `None` where that cannot be told, or is too near to the shore to be written.
    fn point(&self, (node, way): Edge) -> Option<PlanePoint> {
        let grid = self.grid;
        let (column, row) = (node as usize % grid.columns, node as usize / grid.columns);
        let (next_column, next_row) = match way {
            Way::East => (column + 1, row),
            Way::North => (column, row + 1),
        };
        let clear = CLEAR_M / grid.cell_m;
        let share = match (grid.node(column, row), grid.node(next_column, next_row)) {
            (Node::Deep(a), Node::Deep(b)) => {
                // A spit between the two: the bottom does not run straight from one to the other.
                if grid.shore_on(column, row, way).next().is_some() {
                    return None;
                }
                let (a, b) = (f64::from(a), f64::from(b));
                ((self.depth_m - a) / (b - a)).clamp(clear, 1.0 - clear)
            }
            (Node::Deep(a), Node::Land) => {
                let shore = grid.shore_on(column, row, way).next()?;
                self.up_to(shore, f64::from(a), clear)?
            }
            (Node::Land, Node::Deep(b)) => {
                let shore = grid.shore_on(column, row, way).next_back()?;
                1.0 - self.up_to(1.0 - shore, f64::from(b), clear)?
            }
            _ => return None,
        };
        let at = grid.at(column, row);
        Some(match way {
            Way::East => PlanePoint { east_m: at.east_m + share * grid.cell_m, ..at },
            Way::North => PlanePoint { north_m: at.north_m + share * grid.cell_m, ..at },
        })
    }

    /// The share at which the bottom has come up to the depth, from `from_m` at the node to nothing at the shore.
    fn up_to(&self, shore: f64, from_m: f64, clear: f64) -> Option<f64> {
        let share = shore * (1.0 - self.depth_m / from_m);
        (share > clear && shore - share > clear).then_some(share)
    }
}

/// Joins pieces end to end: open lines first, each from its lesser end, then rings, each from its least edge.
fn joined(pieces: &[[Edge; 2]]) -> Vec<Vec<Edge>> {
    let mut at: BTreeMap<Edge, Vec<usize>> = BTreeMap::new();
    for (number, piece) in pieces.iter().enumerate() {
        for edge in piece {
            at.entry(*edge).or_default().push(number);
        }
    }
    let mut used = vec![false; pieces.len()];
    let mut lines = Vec::new();
    let ends = at.iter().filter(|(_, of)| of.len() == 1).map(|(edge, _)| *edge);
    for start in ends.chain(at.keys().copied()) {
        let mut line = vec![start];
        let mut here = start;
        while let Some(piece) = at[&here].iter().copied().find(|piece| !used[*piece]) {
            used[piece] = true;
            let [a, b] = pieces[piece];
            here = if a == here { b } else { a };
            line.push(here);
        }
        if line.len() > 1 {
            lines.push(line);
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_join_to_lines_and_rings_whatever_their_order() {
        let edge = |n: u32| (n, Way::East);
        let mut pieces = vec![
            [edge(3), edge(2)],
            [edge(7), edge(8)],
            [edge(1), edge(2)],
            [edge(9), edge(7)],
            [edge(8), edge(9)],
        ];
        let expected = vec![vec![edge(1), edge(2), edge(3)], vec![edge(7), edge(8), edge(9), edge(7)]];
        assert_eq!(joined(&pieces), expected);
        pieces.swap(0, 2);
        assert_eq!(joined(&pieces), expected);
    }
}
