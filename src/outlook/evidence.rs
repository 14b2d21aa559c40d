//! What a forecast may stand on: the looks and the bait sightings of some outings, on the cells of the water.

use super::water_cells::WaterCells;
use crate::effort::OutingEffort;
use crate::schools::Sighting;
use crate::terms::mark::LocalDay;
use crate::terms::season::SeasonDay;
use jiff::civil::Date;

/// A bait sighting farther than this from all water that was looked over that day was not found by that look: the track
/// log is of another boat, or has a gap there (judgement: a swath and the error of two fixes).
const OFF_LOOK_M: f64 = 150.0;
/// Kernel of place within which looks and sightings speak of a cell: of 200 m, 250 and 300 (with 16 days, 20 and 25) the
/// first foretold best on the same simulated lakes.
pub(super) const NEAR_M: f64 = 200.0;
/// Square kilometres of one outing about a place at which a further one tells half as much as the first: schools of a day
/// keep together, so a day spent over one place is not as many looks as many days. With `rates::PRIOR_KM2` of .3 and
/// without this, of .15 and .1, and of .05 and .02, gain over effort on the lakes with seeds 301 to 320 was .751, .751 and
/// .740; of all schools of 24 lakes whose angler stays with favourite places the best tenth of the water held 2.2, 2.7
/// and 2.7 points more than a seasonal density.
const ONE_OUTING_KM2: f64 = 0.1;

/// One outing: what was looked over and what was seen, by numbers of cells.
#[derive(Clone, Debug)]
pub(super) struct Look {
    pub(super) day: LocalDay,
    /// Cell and square kilometres looked over, ascending by cell.
    pub(super) cells: Vec<(u32, f64)>,
    /// What the looks and sightings in each of `cells` count for: 1 or less, by how much of the outing lay about it.
    pub(super) counts: Vec<f64>,
    /// Cells of its bait sightings that have effort, one entry a sighting, ascending.
    pub(super) seen: Vec<u32>,
    /// Cells of all its bait sightings, where they lie.
    pub(super) at: Vec<u32>,
}

impl Look {
    pub(super) fn effort_km2(&self) -> f64 {
        self.cells.iter().map(|(_, km2)| km2).sum()
    }

    /// What a sighting in one of its cells counts for.
    pub(super) fn count_in(&self, cell: u32) -> f64 {
        self.cells.binary_search_by_key(&cell, |(c, _)| *c).map_or(1.0, |i| self.counts[i])
    }

    /// Square kilometres looked over in a cell.
    pub(super) fn effort_in(&self, cell: u32) -> f64 {
        self.cells.binary_search_by_key(&cell, |(c, _)| *c).map_or(0.0, |i| self.cells[i].1)
    }
}

/// The looks of a log in order of date: each outing with effort or a bait sighting.
pub(super) fn looks(cells: &WaterCells, effort: &[OutingEffort], bait: &[&Sighting]) -> Vec<Look> {
    let mut dates: Vec<LocalDay> = effort.iter().map(|o| o.day).chain(bait.iter().map(|s| s.day)).collect();
    dates.sort_by_key(|d| d.date);
    dates.dedup_by_key(|d| d.date);
    let mut of_date: Vec<(Date, &Sighting)> = bait.iter().map(|s| (s.day.date, *s)).collect();
    of_date.sort_by_key(|(date, s)| (*date, s.id));
    dates
        .into_iter()
        .map(|day| {
            let outing = effort.binary_search_by_key(&day.date, |o| o.day.date).ok().map(|i| &effort[i]);
            let mut looked: Vec<(u32, f64)> = outing
                .into_iter()
                .flat_map(|o| &o.cells)
                .filter_map(|(cell, m2)| Some((cells.number(*cell)? as u32, m2 / 1e6)))
                .collect();
            looked.sort_by_key(|(cell, _)| *cell);
            let first = of_date.partition_point(|(date, _)| *date < day.date);
            let own = of_date[first..].iter().take_while(|(date, _)| *date == day.date).map(|(_, s)| *s);
            let (mut seen, mut at) = (Vec::new(), Vec::new());
            for sighting in own {
                at.extend(cells.at(sighting.plane).map(|i| i as u32));
                seen.extend(looked_at(cells, &looked, sighting));
            }
            seen.sort_unstable();
            at.sort_unstable();
            Look { day, counts: counts(cells, &looked), cells: looked, seen, at }
        })
        .collect()
}

/// What each cell of an outing counts for. By straight distance: it is a weight, and the kernel is short.
fn counts(cells: &WaterCells, looked: &[(u32, f64)]) -> Vec<f64> {
    let sides = NEAR_M / cells.side_m;
    let reach = (4.0 * sides).ceil() as usize;
    let kernel: Vec<f64> = (0..=reach).map(|k| (-0.5 * (k as f64 / sides).powi(2)).exp()).collect();
    let row_and_column = |cell: u32| cells.row_and_column(cell as usize);
    let (mut counts, mut from) = (Vec::with_capacity(looked.len()), 0);
    for (cell, _) in looked {
        let [row, column] = row_and_column(*cell);
        while row_and_column(looked[from].0)[0] + reach < row {
            from += 1;
        }
        let about: f64 = looked[from..]
            .iter()
            .map(|(other, km2)| (row_and_column(*other), km2))
            .take_while(|([other_row, _], _)| *other_row <= row + reach)
            .filter(|([_, other_column], _)| other_column.abs_diff(column) <= reach)
            .map(|([other_row, other_column], km2)| {
                km2 * kernel[other_row.abs_diff(row)] * kernel[other_column.abs_diff(column)]
            })
            .sum();
        counts.push(1.0 / (1.0 + about / ONE_OUTING_KM2));
    }
    counts
}

/// The cell with effort in which a sighting counts: its own, else the nearest.
fn looked_at(cells: &WaterCells, looked: &[(u32, f64)], sighting: &Sighting) -> Option<u32> {
    if let Some(own) = cells.at(sighting.plane)
        && looked.binary_search_by_key(&(own as u32), |(c, _)| *c).is_ok()
    {
        return Some(own as u32);
    }
    looked
        .iter()
        .map(|(cell, _)| (cells.middle(*cell as usize).metres_to(sighting.plane), *cell))
        .filter(|(metres, _)| *metres <= OFF_LOOK_M)
        .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))
        .map(|(_, cell)| cell)
}

/// Gaussian weight of two days of the year by the shorter way round.
pub(super) fn day_weight(a: f64, b: f64, sd_days: f64) -> f64 {
    let apart = SeasonDay::from_days(a).days_apart(SeasonDay::from_days(b));
    (-0.5 * (apart / sd_days).powi(2)).exp()
}
