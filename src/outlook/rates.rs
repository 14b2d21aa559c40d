//! How many sightings a square kilometre of search gives, cell by cell, for a day of the year.
//!
//! rate = (κ · prior + N) / (κ + E): sightings N and water looked over E about the cell and the day, and a prior that
//! counts as κ square kilometres of search (Gamma-Poisson, Clayton & Kaldor 1987). The prior is the movement tracks:
//! each a Gaussian about its place on the day, with as many sightings as the effort on it gave about that day; and an
//! even rate for bait of no track. Without tracks it is the rate of the whole water about that day. Water that was never
//! looked over is given less: people look where they expect bait (preferential sampling: Diggle, Menezes & Su 2010, J. R.
//! Stat. Soc. C 59: 191-232, from memory). A share of the prior lies where sightings were, whatever the effort (a linear
//! pool, Stone 1961, Ann. Math. Stat. 32: 1339-1342, from memory).

use super::evidence::{Look, NEAR_M, day_weight};
use super::water_cells::WaterCells;
use crate::movement::FittedTracks;
use crate::terms::mark::LocalDay;
use crate::terms::season::YEAR_DAYS;
use rayon::prelude::*;
use std::f64::consts::TAU;
use std::sync::OnceLock;

/// Kernel of season (see `NEAR_M`).
pub(super) const NEAR_DAYS: f64 = 16.0;
/// What the prior weighs, in square kilometres of search on the spot and the day, of looks that count in full.
pub(super) const PRIOR_KM2: f64 = 0.15;
/// What the prior is worth in water that was never looked over, and the square kilometres of search, on all days together,
/// at which half of the rest is given back. On 12 wide simulated lakes whose angler stays with favourite places the prior was
/// four times too high where nobody came within 300 m; .12 makes it right. The best tenth of 24 such lakes held 1.1 of the
/// hundred schools fewer than a seasonal density without, about as many with it (.1, .25 and .5 alike). On lakes that were
/// looked over everywhere it changes nothing. Seasons held out cannot tell: nobody looked.
const NEVER_LOOKED: f64 = 0.12;
const LOOKED_KM2: f64 = 0.02;
/// Share of the prior that lies where sightings were about that day. Where tracks are wrong it saves the outlook: on one of
/// the lakes with seeds 301 to 320 it was worse than the usual places without. Of 0, .08, .15 and .3, on those and on 501 to
/// 520, gain over effort .734, .740, .743, .741 and .709, .713, .714, .709; observed / expected in the best fifth 1.05, 1.03,
/// 1.01, .96 and 1.07, 1.05, 1.03, .98. From .15 on a lake of three seasons and few sightings (hollow-a in the tests) was told
/// too high, .81.
const USUAL_SHARE: f64 = 0.08;
/// Kernel of place of that share: twice as wide as that of the looks, since where nobody looked nearness to a sighting is
/// all that tells one cell from another. On 24 wide lakes .5 of the hundred schools more than with 200 m.
const USUAL_M: f64 = 400.0;
/// Season kernel of how much bait a track holds.
const TRACK_DAYS: f64 = 15.0;
/// Season kernel of the even rate, and of the rate of the whole water where there are no tracks.
const CLUTTER_DAYS: f64 = 30.0;
/// A track is known to hold what it holds on all days together to this weight, in shares of the track swept.
const TRACK_PRIOR: f64 = 0.1;
/// The even rate of a part of the year leans on that of the whole year with this weight, in square kilometres.
const CLUTTER_PRIOR_KM2: f64 = 1.0;
/// A track's place is never held to be surer than a cell, nor its doubt wider than a kilometre.
const MOST_DOUBT_M: f64 = 1000.0;
/// Days by which a season yet unseen may run early or late (standard deviation, at least): with few seasons their own
/// spread says little. On simulated lakes and in the fit's own prior it is some six days.
const LEAST_SHIFT_DAYS: f64 = 3.0;
const MOST_SHIFT_DAYS: f64 = 8.0;
/// Shifts tried in standard deviations and their weights: five points of Gauss-Hermite (Abramowitz & Stegun 25.4.46).
const SHIFTS: [(f64, f64); 5] = [
    (-2.856_970, 0.011_257_4),
    (-1.355_626, 0.222_076),
    (0.0, 0.533_333),
    (1.355_626, 0.222_076),
    (2.856_970, 0.011_257_4),
];

/// Days of a year, by which slow sums are kept: half a day is nothing to their kernels of a fortnight and a month.
const WHOLE_DAYS: usize = 365;

fn whole(day: f64) -> usize {
    (day.rem_euclid(YEAR_DAYS).round() as usize) % WHOLE_DAYS
}

/// What the rates of any day are worked out from.
pub(super) struct Rates<'a> {
    cells: &'a WaterCells,
    tracks: Option<&'a FittedTracks>,
    looks: Vec<&'a Look>,
    /// Day of the mean year of each look.
    days: Vec<f64>,
    /// By track, by look: the share of the track that the look swept.
    swept: Vec<Vec<f64>>,
    mean_km2: f64,
    /// By cell, what of the prior holds there: less where nobody ever looked.
    looked: Vec<f64>,
    /// By whole day of the year, worked out when first asked for: what each track holds, and the rate of bait of no track.
    held: Vec<OnceLock<Vec<f64>>>,
    clutter: Vec<OnceLock<f64>>,
}

/// The rates of one day, by number of cell; nothing on land.
pub(super) struct DayRates {
    /// Sightings a square kilometre of search.
    pub(super) rate: Vec<f64>,
    /// What the rate stands on, as a Gamma law: its shape, and square kilometres.
    pub(super) shape: Vec<f64>,
    pub(super) km2: Vec<f64>,
    /// Square kilometres looked over about the cell and the day, as outings count.
    pub(super) near_km2: Vec<f64>,
}

impl<'a> Rates<'a> {
    pub(super) fn new(cells: &'a WaterCells, looks: Vec<&'a Look>, tracks: Option<&'a FittedTracks>) -> Self {
        let days: Vec<f64> =
            looks.iter().map(|l| tracks.map_or(l.day.season_day.days(), |t| t.on_time(l.day))).collect();
        let swept = tracks.map_or_else(Vec::new, |tracks| {
            (0..tracks.len())
                .into_par_iter()
                .map(|k| {
                    looks
                        .iter()
                        .zip(&days)
                        .map(|(look, day)| {
                            let spot = Spot::of(tracks, k, *day, cells);
                            look.cells.iter().map(|(c, km2)| km2 * spot.density(cells, *c as usize)).sum()
                        })
                        .collect()
                })
                .collect()
        });
        let effort: f64 = looks.iter().map(|l| l.effort_km2()).sum();
        let seen: usize = looks.iter().map(|l| l.seen.len()).sum();
        let mean_km2 = seen as f64 / effort.max(1e-9);
        let mut looked = vec![0.0; cells.len()];
        for (cell, km2) in looks.iter().flat_map(|l| &l.cells) {
            looked[*cell as usize] += km2;
        }
        cells.spread(&mut looked, NEAR_M);
        for km2 in &mut looked {
            *km2 = NEVER_LOOKED + (1.0 - NEVER_LOOKED) * *km2 / (*km2 + LOOKED_KM2);
        }
        let (held, clutter) = (vec![OnceLock::new(); WHOLE_DAYS], vec![OnceLock::new(); WHOLE_DAYS]);
        Self { cells, tracks, looks, days, swept, mean_km2, looked, held, clutter }
    }

    /// The day of the mean year of a date.
    pub(super) fn day(&self, day: LocalDay) -> f64 {
        self.tracks.map_or(day.season_day.days(), |t| t.on_time(day))
    }

    /// About each cell and a day, smoothed over water: sightings and square kilometres looked over, as outings count, and
    /// sightings farther about, whatever the outing.
    fn about(&self, day: f64) -> [Vec<f64>; 3] {
        let [mut seen, mut km2, mut usual] = [(); 3].map(|()| vec![0.0; self.cells.len()]);
        for (look, own) in self.looks.iter().zip(&self.days) {
            let weight = day_weight(*own, day, NEAR_DAYS);
            if weight < 1e-4 {
                continue;
            }
            for cell in &look.seen {
                seen[*cell as usize] += weight * look.count_in(*cell);
                usual[*cell as usize] += weight;
            }
            for ((cell, area), count) in look.cells.iter().zip(&look.counts) {
                km2[*cell as usize] += weight * count * area;
            }
        }
        self.cells.spread(&mut seen, NEAR_M);
        self.cells.spread(&mut km2, NEAR_M);
        self.cells.spread(&mut usual, USUAL_M);
        [seen, km2, usual]
    }

    /// The rates of a day of the mean year. `known`: the season of the day is one that the tracks know the shift of.
    pub(super) fn on(&self, day: f64, known: bool) -> DayRates {
        let [seen, near_km2, usual] = self.about(day);
        let mut prior = self.prior(day, known);
        for (prior, share) in prior.iter_mut().zip(&self.looked) {
            *prior *= share;
        }
        self.lean_on(&usual, &mut prior);
        let mut rates = DayRates {
            rate: vec![0.0; self.cells.len()],
            shape: vec![0.0; self.cells.len()],
            km2: vec![0.0; self.cells.len()],
            near_km2,
        };
        for i in &self.cells.list {
            let i = *i as usize;
            rates.shape[i] = PRIOR_KM2 * prior[i] + seen[i];
            rates.km2[i] = PRIOR_KM2 + rates.near_km2[i];
            rates.rate[i] = rates.shape[i] / rates.km2[i];
        }
        rates
    }

    /// Lays a share of a prior where sightings were; its sum stays.
    fn lean_on(&self, seen: &[f64], prior: &mut [f64]) {
        let list = &self.cells.list;
        let sum = |of: &[f64]| list.iter().map(|i| of[*i as usize]).sum::<f64>();
        let (sightings, whole) = (sum(seen), sum(prior));
        if sightings > 0.0 {
            for i in list {
                let i = *i as usize;
                prior[i] += USUAL_SHARE * (whole * seen[i] / sightings - prior[i]);
            }
        }
    }

    fn prior(&self, day: f64, known: bool) -> Vec<f64> {
        let Some(tracks) = self.tracks else {
            let (mut seen, mut km2) = (self.mean_km2 * CLUTTER_PRIOR_KM2, CLUTTER_PRIOR_KM2);
            for (look, own) in self.looks.iter().zip(&self.days) {
                let weight = day_weight(*own, day, CLUTTER_DAYS);
                seen += weight * look.seen.len() as f64;
                km2 += weight * look.effort_km2();
            }
            return vec![seen / km2; self.cells.len()];
        };
        let of_no_track = *self.clutter[whole(day)].get_or_init(|| self.clutter(tracks, whole(day) as f64));
        let mut prior = vec![of_no_track; self.cells.len()];
        let sd = tracks.shift_sd_days().clamp(LEAST_SHIFT_DAYS, MOST_SHIFT_DAYS);
        let [east_m, north_m] = self.cells.axes_m();
        for (shift, weight) in SHIFTS {
            if known && shift != 0.0 {
                continue;
            }
            let weight = if known { 1.0 } else { weight };
            let at = day + shift * sd;
            let held = self.held[whole(at)]
                .get_or_init(|| (0..tracks.len()).map(|k| self.held(tracks, k, whole(at) as f64)).collect());
            for (k, held) in held.iter().enumerate() {
                let spot = Spot::of(tracks, k, at, self.cells);
                // A Gaussian of place is one of the column times one of the row.
                let part = |from_m: f64, to_m: f64| {
                    let exponent = 0.5 * (to_m - from_m).powi(2) / spot.variance_m2;
                    if exponent > 40.0 { 0.0 } else { (-exponent).exp() }
                };
                let columns: Vec<f64> = east_m.iter().map(|m| part(spot.east_m, *m)).collect();
                let height = weight * held * 1e6 / (TAU * spot.variance_m2);
                let rows: Vec<f64> = north_m.iter().map(|m| height * part(spot.north_m, *m)).collect();
                for i in &self.cells.list {
                    let [row, column] = self.cells.row_and_column(*i as usize);
                    prior[*i as usize] += rows[row] * columns[column];
                }
            }
        }
        prior
    }

    /// Sightings that a search of the whole of a track gives on a day.
    fn held(&self, tracks: &FittedTracks, track: usize, day: f64) -> f64 {
        let (mut seen, mut all_seen) = (0.0, 0.0);
        for (own, share) in tracks.sightings_of(track) {
            seen += share * day_weight(own, day, TRACK_DAYS);
            all_seen += share;
        }
        let (mut swept, mut all_swept) = (0.0, 0.0);
        for (own, share) in self.days.iter().zip(&self.swept[track]) {
            swept += share * day_weight(*own, day, TRACK_DAYS);
            all_swept += share;
        }
        let mean = all_seen / all_swept.max(1e-6);
        (seen + TRACK_PRIOR * mean) / (swept + TRACK_PRIOR)
    }

    /// Sightings a square kilometre of bait that belongs to no track.
    fn clutter(&self, tracks: &FittedTracks, day: f64) -> f64 {
        let (mut seen, mut all_seen) = (0.0, 0.0);
        for (own, share) in tracks.clutter() {
            seen += share * day_weight(own, day, CLUTTER_DAYS);
            all_seen += share;
        }
        let (mut km2, mut all_km2) = (0.0, 0.0);
        for (look, own) in self.looks.iter().zip(&self.days) {
            let area = look.effort_km2();
            km2 += area * day_weight(*own, day, CLUTTER_DAYS);
            all_km2 += area;
        }
        let mean = all_seen / all_km2.max(1e-6);
        (seen + CLUTTER_PRIOR_KM2 * mean) / (km2 + CLUTTER_PRIOR_KM2)
    }
}

/// A track on a day: a Gaussian of place.
struct Spot {
    east_m: f64,
    north_m: f64,
    variance_m2: f64,
}

impl Spot {
    fn of(tracks: &FittedTracks, track: usize, day: f64, cells: &WaterCells) -> Self {
        let at = tracks.position(track, day);
        Self {
            east_m: at.place.east_m,
            north_m: at.place.north_m,
            variance_m2: at.variance_m2.min(MOST_DOUBT_M.powi(2)) + cells.side_m.powi(2),
        }
    }

    /// Share of the track's sightings a square kilometre at a cell.
    fn density(&self, cells: &WaterCells, cell: usize) -> f64 {
        let at = cells.middle(cell);
        let squares = (at.east_m - self.east_m).powi(2) + (at.north_m - self.north_m).powi(2);
        let exponent = 0.5 * squares / self.variance_m2;
        if exponent > 40.0 { 0.0 } else { 1e6 * (-exponent).exp() / (TAU * self.variance_m2) }
    }
}
