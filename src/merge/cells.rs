//! Dated marks by cell and part of the hour: who may be a copy of whom.

use super::same_mark::HOUR_MS;
use rayon::prelude::*;

/// As many neighbours of a mark are looked at on either side, nearest in time first: a hundred thousand marks at one
/// spot and second must not take a hundred thousand squared.
pub(super) const MOST_NEIGHBOURS: usize = 64;

/// A column and row of square cells.
pub(super) type Cell = (i32, i32);

/// A cell, the part of the hour in milliseconds, and the mark.
pub(super) type Timed = (Cell, i32, u32);

/// Cells that are searched in one go by one thread.
const CELLS_AT_ONCE: usize = 1 << 12;

/// For each dated mark its neighbours: those in its cell and the eight around it whose part of the hour lies within
/// its slack, at most twice `MOST_NEIGHBOURS` a cell and side. `timed` is sorted; `judge` takes a mark and a neighbour.
pub(super) fn neighbours<T: Send>(
    timed: &[Timed],
    slack_of: impl Fn(u32) -> i32 + Sync,
    judge: impl Fn(u32, u32) -> Option<T> + Sync,
) -> Vec<T> {
    let cells: Vec<&[Timed]> = timed.chunk_by(|a, b| a.0 == b.0).collect();
    cells
        .par_iter()
        .with_min_len(CELLS_AT_ONCE)
        .fold(
            || (None, Vec::new()),
            |(walk, mut found), cell| {
                let mut walk = walk.unwrap_or_else(|| Walk::start(&cells, cell[0].0));
                let around = walk.around(cell[0].0);
                for (_, part, i) in *cell {
                    let near = around.iter().flat_map(|near| near_on_circle(near, *part, slack_of(*i)));
                    found.extend(near.filter(|j| j != i).filter_map(|j| judge(*i, j)));
                }
                (Some(walk), found)
            },
        )
        .map(|(_, found)| found)
        .flatten()
        .collect()
}

/// The three columns around a cell. As cells come in ascending order, so do the first of their neighbours in each
/// column: each stands where the last search ended.
struct Walk<'a> {
    cells: &'a [&'a [Timed]],
    first: [usize; 3],
}

impl<'a> Walk<'a> {
    fn start(cells: &'a [&'a [Timed]], (x, y): Cell) -> Self {
        let first = [-1, 0, 1].map(|dx| cells.partition_point(|cell| cell[0].0 < (x + dx, y - 1)));
        Self { cells, first }
    }

    /// The marks of a cell and of those around it, a cell at a time.
    fn around(&mut self, (x, y): Cell) -> Vec<&'a [Timed]> {
        let mut near = Vec::with_capacity(9);
        for (first, dx) in self.first.iter_mut().zip(-1..=1) {
            while self.cells.get(*first).is_some_and(|cell| cell[0].0 < (x + dx, y - 1)) {
                *first += 1;
            }
            near.extend(self.cells[*first..].iter().take_while(|cell| cell[0].0 <= (x + dx, y + 1)));
        }
        near
    }
}

/// Marks of a cell whose part of the hour is within `slack` of `part`, around the circle. At most twice
/// `MOST_NEIGHBOURS` a window.
fn near_on_circle(cell: &[Timed], part: i32, slack: i32) -> impl Iterator<Item = u32> + use<'_> {
    const HOUR: i32 = HOUR_MS as i32;
    let window = move |(from, to): (i32, i32)| {
        let start = cell.partition_point(|entry| entry.1 < from);
        let inside = move |entry: &&Timed| entry.1 <= to;
        cell[start..].iter().take(2 * MOST_NEIGHBOURS).take_while(inside).map(|(_, _, i)| *i)
    };
    let (from, to) = (part - slack, part + slack);
    let before = (from < 0).then_some((from + HOUR, HOUR));
    let after = (to >= HOUR).then_some((0, to - HOUR));
    std::iter::once((from, to)).chain(before).chain(after).flat_map(window)
}
