//! The water as a grid of cells, and numbers spread over it as far as water reaches.
//!
//! Spreading is a random walk from cell to neighbouring cell that is turned back by land (lattice density, Barry and
//! `McIntyre`, arXiv 1010.3317), so what is known of one arm does not leak through a
//! ridge into the next. In open water it is the Gaussian kernel.

use crate::effort::Cell;
use crate::terms::lake::Lake;
use crate::terms::place::PlanePoint;
use std::f64::consts::TAU;

/// Cells of water in a rectangle; land is masked out.
#[derive(Clone, Debug)]
pub(super) struct WaterCells {
    pub(super) side_m: f64,
    first: Cell,
    columns: usize,
    rows: usize,
    water: Vec<bool>,
    /// 1 where a cell and the next one in its row, or in its column, are both water; else 0.
    open_east: Vec<f64>,
    open_north: Vec<f64>,
    /// Numbers of the cells of water, ascending.
    pub(super) list: Vec<u32>,
}

/// How far beyond the places that were looked at cells are told.
const MARGIN_M: f64 = 1000.0;
/// Cells farther than this from the middle one, by rows or columns, are left out: 75 km with cells of 100 m.
const MOST_CELLS: i64 = 750;

impl WaterCells {
    /// The cells about places that something is known of: those in water, and the places themselves. Without a
    /// shoreline all cells within half the margin of a known place.
    pub(super) fn about(known: &[Cell], side_m: f64, lake: &Lake) -> Option<Self> {
        let margin = (MARGIN_M / side_m).ceil() as i32;
        let known = &at_hand(known)[..];
        let first = Cell {
            row: known.iter().map(|c| c.row).min()? - margin,
            column: known.iter().map(|c| c.column).min()? - margin,
        };
        let rows = (known.iter().map(|c| c.row).max()? + margin - first.row + 1) as usize;
        let columns = (known.iter().map(|c| c.column).max()? + margin - first.column + 1) as usize;
        let mut cells = Self {
            side_m,
            first,
            columns,
            rows,
            water: vec![false; rows * columns],
            open_east: Vec::new(),
            open_north: Vec::new(),
            list: Vec::new(),
        };
        for cell in known {
            if let Some(i) = cells.number(*cell) {
                cells.water[i] = true;
            }
        }
        if let Some(water) = &lake.water {
            for i in 0..cells.water.len() {
                let place = lake.plane.to_place(cells.cell(i).middle(side_m));
                cells.water[i] |= water.contains(place);
            }
        } else {
            let reach = (margin / 2).max(1) as usize;
            cells.water = dilated(&cells.water, columns, reach);
        }
        let water = |i: usize| cells.water.get(i).copied().unwrap_or(false);
        let open = |i: usize, next: usize| if water(i) && water(next) { 1.0 } else { 0.0 };
        let count = cells.water.len();
        let open_east =
            (0..count).map(|i| if (i + 1) % columns == 0 { 0.0 } else { open(i, i + 1) }).collect();
        let open_north = (0..count).map(|i| open(i, i + columns)).collect();
        (cells.open_east, cells.open_north) = (open_east, open_north);
        cells.list = (0..).zip(&cells.water).filter(|(_, water)| **water).map(|(i, _)| i).collect();
        Some(cells)
    }

    /// Number of all cells of the rectangle.
    pub(super) fn len(&self) -> usize {
        self.water.len()
    }

    pub(super) fn cell(&self, number: usize) -> Cell {
        Cell {
            row: self.first.row + small(number / self.columns),
            column: self.first.column + small(number % self.columns),
        }
    }

    pub(super) fn middle(&self, number: usize) -> PlanePoint {
        self.cell(number).middle(self.side_m)
    }

    /// Middles of the rectangle's columns, east, and rows, north, in metres.
    pub(super) fn axes_m(&self) -> [Vec<f64>; 2] {
        let middle = |row: usize, column: usize| self.middle(row * self.columns + column);
        [
            (0..self.columns).map(|column| middle(0, column).east_m).collect(),
            (0..self.rows).map(|row| middle(row, 0).north_m).collect(),
        ]
    }

    /// Row and column of a cell of the rectangle.
    pub(super) const fn row_and_column(&self, number: usize) -> [usize; 2] {
        [number / self.columns, number % self.columns]
    }

    /// The number of a cell of the rectangle, water or land.
    pub(super) fn number(&self, cell: Cell) -> Option<usize> {
        let (row, column) = (cell.row - self.first.row, cell.column - self.first.column);
        let inside = (0..small(self.rows)).contains(&row) && (0..small(self.columns)).contains(&column);
        inside.then(|| row as usize * self.columns + column as usize)
    }

    /// The number of the cell of water at a point.
    pub(super) fn at(&self, point: PlanePoint) -> Option<usize> {
        self.number(Cell::at(point, self.side_m)).filter(|i| self.water[*i])
    }

    pub(super) fn cell_km2(&self) -> f64 {
        self.side_m * self.side_m / 1e6
    }

    /// Spreads numbers with a standard deviation along each axis. What stands in a cell counts in full there and less
    /// the farther away: a kernel of height 1, as if all that lies at hand were one place.
    pub(super) fn spread(&self, values: &mut [f64], sd_m: f64) {
        let wanted = (sd_m / self.side_m).powi(2);
        let steps = (2.0 * wanted).ceil().max(1.0);
        // Moving to either side with chance `share` adds 2 · share to the variance.
        let share = wanted / (2.0 * steps);
        let mut next = vec![0.0; values.len()];
        for _ in 0..steps as u32 {
            Self::step(values, &mut next, &self.open_east, share, 1);
            Self::step(&next, values, &self.open_north, share, self.columns);
        }
        let height = TAU * wanted;
        for value in values.iter_mut() {
            *value *= height;
        }
    }

    /// One step along an axis: `stride` cells apart. `open`: 1 where a cell and the next along the axis are both water.
    fn step(from: &[f64], to: &mut [f64], open: &[f64], share: f64, stride: usize) {
        // Land holds nothing and is open to nothing, so it needs no question asked, and the loop runs over whole rows at once.
        let cells = from.len();
        for i in 0..stride.min(cells) {
            let after = if i + stride < cells { open[i] * (from[i + stride] - from[i]) } else { 0.0 };
            to[i] = from[i] + share * after;
        }
        for i in cells.saturating_sub(stride).max(stride)..cells {
            to[i] = from[i] + share * (open[i - stride] * (from[i - stride] - from[i]));
        }
        if cells > 2 * stride {
            let inner = cells - 2 * stride;
            let (before, here, after) = (&from[..inner], &from[stride..][..inner], &from[2 * stride..]);
            let (open_before, open_after) = (&open[..inner], &open[stride..][..inner]);
            for (i, to) in to[stride..][..inner].iter_mut().enumerate() {
                let back = share * (open_before[i] * (before[i] - here[i]));
                *to = here[i] + back + share * (open_after[i] * (after[i] - here[i]));
            }
        }
    }
}

/// Rows and columns are at most a few thousand (`MOST_CELLS`).
fn small(number: usize) -> i32 {
    i32::try_from(number).unwrap_or(i32::MAX)
}

/// The cells within reach of the middle one: a mark on another continent must not make a grid of half the globe.
fn at_hand(known: &[Cell]) -> Vec<Cell> {
    let middle = |of: fn(&Cell) -> i32| {
        let mut numbers: Vec<i32> = known.iter().map(of).collect();
        numbers.sort_unstable();
        numbers.get(numbers.len() / 2).copied().unwrap_or(0)
    };
    let (row, column) = (middle(|c| c.row), middle(|c| c.column));
    let near = |a: i32, b: i32| (i64::from(a) - i64::from(b)).abs() <= MOST_CELLS;
    known.iter().copied().filter(|c| near(c.row, row) && near(c.column, column)).collect()
}

/// Every cell within `reach` cells, by rows and columns, of one that is set.
fn dilated(set: &[bool], columns: usize, reach: usize) -> Vec<bool> {
    let along = |set: &[bool], length: usize, count: usize, at: &dyn Fn(usize, usize) -> usize| {
        let mut out = vec![false; set.len()];
        for line in 0..count {
            for k in 0..length {
                out[at(line, k)] =
                    (k.saturating_sub(reach)..=(k + reach).min(length - 1)).any(|near| set[at(line, near)]);
            }
        }
        out
    };
    let rows = set.len() / columns;
    let wide = along(set, columns, rows, &|row, column| row * columns + column);
    along(&wide, rows, columns, &|column, row| row * columns + column)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::place::Place;
    use crate::terms::water::Water;
    use geo::{MultiPolygon, Polygon, polygon};

    fn lake(ring: Option<Polygon<f64>>) -> Lake {
        let mut lake = Lake::unknown_at(Place { lon: -56.0, lat: 36.0 });
        lake.water = ring.map(|r| Water::new(MultiPolygon::new(vec![r]), lake.plane));
        lake
    }

    #[test]
    fn in_open_water_a_number_spreads_as_a_gaussian_of_height_one_and_is_not_lost() {
        let corners = [Cell { row: -30, column: -30 }, Cell { row: 30, column: 30 }];
        let mut bare = lake(None);
        bare.water = lake(Some(
            polygon![(x: -56.1, y: 35.9), (x: -55.9, y: 35.9), (x: -55.9, y: 36.1), (x: -56.1, y: 36.1)],
        ))
        .water;
        let cells = WaterCells::about(&corners, 100.0, &bare).unwrap();
        let mut values = vec![0.0; cells.len()];
        let middle = cells.number(Cell { row: 0, column: 0 }).unwrap();
        values[middle] = 2.0;
        cells.spread(&mut values, 250.0);
        for (row, column) in [(0, 0), (2, 0), (0, 3), (3, -4), (-5, 0)] {
            let metres = f64::from(row).hypot(f64::from(column)) * 100.0;
            let expected = 2.0 * (-0.5 * (metres / 250.0).powi(2)).exp();
            let found = values[cells.number(Cell { row, column }).unwrap()];
            assert!((found - expected).abs() < 0.04, "{row} {column}: {found}, not {expected}");
        }
        let sum: f64 = values.iter().sum();
        assert!((sum / (2.0 * TAU * 6.25) - 1.0).abs() < 1e-9, "{sum}");
    }

    #[test]
    fn land_between_two_arms_keeps_what_is_known_of_one_out_of_the_other() {
        // Two arms 400 m wide, 200 m of land between them, joined 3 km to the south.
        let outline = polygon!(
            exterior: [(x: -56.02, y: 35.95), (x: -55.98, y: 35.95), (x: -55.98, y: 36.0), (x: -56.02, y: 36.0)],
            interiors: [[(x: -56.0012, y: 35.965), (x: -55.9988, y: 35.965), (x: -55.9988, y: 35.9999), (x: -56.0012, y: 35.9999)]],
        );
        let lake = lake(Some(outline));
        let (west, east) = (Cell { row: -5, column: -3 }, Cell { row: -5, column: 2 });
        let cells = WaterCells::about(&[west, east, Cell { row: -50, column: 0 }], 100.0, &lake).unwrap();
        let mut values = vec![0.0; cells.len()];
        values[cells.number(west).unwrap()] = 1.0;
        cells.spread(&mut values, 250.0);
        let at = |cell: Cell| values[cells.number(cell).unwrap()];
        assert!(at(east) < 1e-4 && at(west) > 1.0, "{} {}", at(east), at(west));
    }
}
