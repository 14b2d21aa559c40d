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

/// One outing: what was looked over and what was seen, by numbers of cells.
#[derive(Clone, Debug)]
pub(super) struct Look {
    pub(super) day: LocalDay,
    /// Cell and square kilometres looked over, ascending by cell.
    pub(super) cells: Vec<(u32, f64)>,
    /// Cells of its bait sightings that have effort, one entry a sighting, ascending.
    pub(super) seen: Vec<u32>,
    /// Cells of all its bait sightings, where they lie.
    pub(super) at: Vec<u32>,
}

impl Look {
    pub(super) fn effort_km2(&self) -> f64 {
        self.cells.iter().map(|(_, km2)| km2).sum()
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
            Look { day, cells: looked, seen, at }
        })
        .collect()
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
