//! From legs to the water looked over: a cell is cut into a hundred parts, and a part whose middle came within half
//! the swath counts once an outing, however often the boat passed.

use super::grid::Cell;
use super::legs::{Leg, Pace};
use crate::terms::place::PlanePoint;
use std::collections::HashMap;

/// Parts along the side of a cell; a hundred parts fit into the bits of one number.
const PARTS: i64 = 10;
/// Longer legs are taken piece by piece, so that a slanting one does not try a whole square of parts.
const PIECE_M: f64 = 60.0;

/// Parts of a cell that were looked over, as bits: while searching, and while running.
type Parts = [u128; 2];

/// The water looked over on one outing.
#[derive(Debug, Default)]
pub(super) struct Sweep {
    cells: HashMap<Cell, Parts>,
}

/// What was looked over in one cell, in square metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Swept {
    pub(super) cell: Cell,
    pub(super) searched_m2: f64,
    /// Seen at running speed only.
    pub(super) run_m2: f64,
}

impl Sweep {
    /// Adds what a leg looked over.
    pub(super) fn add(&mut self, leg: &Leg, swath_m: f64, cell_m: f64) {
        let metres = leg.from.metres_to(leg.to);
        let pieces = (metres / PIECE_M).ceil().max(1.0);
        let at = |share: f64| PlanePoint {
            east_m: leg.from.east_m + (leg.to.east_m - leg.from.east_m) * share,
            north_m: leg.from.north_m + (leg.to.north_m - leg.from.north_m) * share,
        };
        for piece in 0..pieces as u32 {
            let share = |k: u32| f64::from(k) / pieces;
            self.stamp([at(share(piece)), at(share(piece + 1))], leg.pace, swath_m / 2.0, cell_m);
        }
    }

    fn stamp(&mut self, [a, b]: [PlanePoint; 2], pace: Pace, half_m: f64, cell_m: f64) {
        let part_m = cell_m / PARTS as f64;
        let span = |a: f64, b: f64| {
            let first = ((a.min(b) - half_m) / part_m - 0.5).ceil() as i64;
            let last = ((a.max(b) + half_m) / part_m - 0.5).floor() as i64;
            first..=last
        };
        let (east_m, north_m) = (b.east_m - a.east_m, b.north_m - a.north_m);
        let squares = (east_m * east_m + north_m * north_m).max(1e-12);
        let pace = usize::from(pace == Pace::Running);
        // Parts of a cell that lie beside each other are gathered before the cell is looked up.
        let mut open: Option<(Cell, u128)> = None;
        for row in span(a.north_m, b.north_m) {
            let north = (row as f64 + 0.5) * part_m - a.north_m;
            for column in span(a.east_m, b.east_m) {
                let east = (column as f64 + 0.5) * part_m - a.east_m;
                let along = ((east * east_m + north * north_m) / squares).clamp(0.0, 1.0);
                let off = [east - along * east_m, north - along * north_m];
                if off[0] * off[0] + off[1] * off[1] > half_m * half_m {
                    continue;
                }
                let cell =
                    Cell { row: row.div_euclid(PARTS) as i32, column: column.div_euclid(PARTS) as i32 };
                let bit = 1_u128 << (row.rem_euclid(PARTS) * PARTS + column.rem_euclid(PARTS));
                match &mut open {
                    Some((known, parts)) if *known == cell => *parts |= bit,
                    _ => {
                        if let Some((known, parts)) = open.replace((cell, bit)) {
                            self.cells.entry(known).or_default()[pace] |= parts;
                        }
                    }
                }
            }
        }
        if let Some((known, parts)) = open {
            self.cells.entry(known).or_default()[pace] |= parts;
        }
    }

    /// What was looked over, by cell in order.
    pub(super) fn swept(self, cell_m: f64) -> Vec<Swept> {
        let part_m2 = (cell_m / PARTS as f64).powi(2);
        let area = |parts: u128| f64::from(parts.count_ones()) * part_m2;
        let mut swept: Vec<Swept> = self
            .cells
            .into_iter()
            .map(|(cell, [searched, run])| Swept {
                cell,
                searched_m2: area(searched),
                run_m2: area(run & !searched),
            })
            .collect();
        swept.sort_by_key(|s| s.cell);
        swept
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// Legs as `[east, north] to [east, north]`, searching or running → searched and run-over hectares.
    #[track_caller]
    fn check(legs: &[([f64; 2], [f64; 2], Pace)], searched_ha: f64, run_ha: f64) {
        let mut sweep = Sweep::default();
        let point = |[east_m, north_m]: [f64; 2]| PlanePoint { east_m, north_m };
        for (from, to, pace) in legs {
            let leg = Leg { date: date(2024, 5, 1), from: point(*from), to: point(*to), pace: *pace };
            sweep.add(&leg, 60.0, 100.0);
        }
        let swept = sweep.swept(100.0);
        let sum = |of: fn(&Swept) -> f64| swept.iter().map(of).sum::<f64>() / 10_000.0;
        // The round ends and the parts that the edge cuts: a few parts in a hundred.
        let close = |found: f64, expected: f64| (found - expected).abs() <= 0.02 + 0.02 * expected;
        assert!(close(sum(|s| s.searched_m2), searched_ha), "{}", sum(|s| s.searched_m2));
        assert!(close(sum(|s| s.run_m2), run_ha), "{}", sum(|s| s.run_m2));
    }

    /// Hectares of a straight swath 60 m wide with round ends.
    fn swath(metres: f64) -> f64 {
        (60.0 * metres + std::f64::consts::PI * 900.0) / 10_000.0
    }

    #[test]
    fn a_straight_leg_looks_over_its_length_times_the_swath() {
        check(&[([-200.0, 3.0], [1520.0, 1023.0], Pace::Searching)], swath(1999.7), 0.0);
        check(&[([-700.0, -400.0], [900.0, 800.0], Pace::Searching)], swath(2000.0), 0.0);
    }

    #[test]
    fn water_passed_twice_on_an_outing_counts_once_and_searching_outweighs_running() {
        let there = ([0.0, 5.0], [1600.0, 1205.0], Pace::Searching);
        let back = ([1600.0, 1205.0], [0.0, 5.0], Pace::Searching);
        check(&[there, back], swath(2000.0), 0.0);
        let on = ([0.0, 5.0], [2400.0, 1805.0], Pace::Running);
        check(&[there, on], swath(2000.0), 6.0);
    }
}
