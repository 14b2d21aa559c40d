//! pairing: bait sightings and gamefish marks in, what the log shows of the two together out.
//!
//! The test slides the gamefish marks of an outing along the boat's way, all by the same amount, so that they stay
//! as bunched as they were and stay where the boat looked: what is left to chance is whether bait is there too.
//! Shuffling the labels has no power here, and swapping outings or scattering over the lake finds association where
//! there is none (28 % and 83 % false alarms on simulated lakes).
//!
//! Does not: claim that gamefish follow bait. It says what this log shows.

use crate::schools::outing_track::{OnTrack, OutingTrack, outing_tracks};
use crate::schools::without::{self, Without};
use crate::schools::{GamefishNear, HoldingArea, Sighting};
use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, LocalDay, Mark};
use crate::terms::place::PlanePoint;
use crate::terms::random::Random;
use crate::terms::track_log::TrackLog;
use crate::terms::units::{Depth, METRES_PER_FOOT};
use jiff::civil::Date;
use rayon::prelude::*;
use rstar::RTree;
use rstar::primitives::GeomWithData;
use std::collections::{BTreeMap, BTreeSet};

/// Bait and gamefish are near each other within this distance.
const NEAR_M: f64 = 120.0;
/// … and this difference of depth; an unknown depth passes. 15 ft.
const NEAR_DEPTH_M: f64 = 15.0 * METRES_PER_FOOT;
/// Fewer gamefish marks than this are not tested (judgement).
const LEAST_GAMEFISH: usize = 20;
/// Most and fewest slides drawn. With the most the least p-value is 1 / 2000, so that it can survive a correction for
/// 40 areas; with the fewest it is 1 / 200.
const DRAWS: [usize; 2] = [1999, 199];
/// Marks slid in all, about: a log of 100,000 gamefish marks gets the fewest draws instead of minutes of them.
const SLID_MARKS: usize = 4_000_000;

/// What the log shows of bait and gamefish together on the lake.
#[derive(Clone, Debug, PartialEq)]
pub struct Pairing {
    /// Dated gamefish marks.
    pub gamefish_marks: usize,
    /// Those of them that lie by the track log of their outing, so that the test could use them.
    pub tested: usize,
    /// Dated gamefish marks with a bait sighting near on the same outing.
    pub near: usize,
    /// Median distance in metres from a gamefish mark to the nearest bait sighting of its outing, whatever the
    /// depth; `None`: no outing has both.
    pub median_distance_m: Option<f64>,
    /// Mean of the same distances.
    pub mean_distance_m: Option<f64>,
    /// The test over the whole lake, by the marks `tested`; `None`: refused, a finding says why.
    pub test: Option<GamefishNear>,
    /// Bait sightings without a gamefish mark near on the same outing, in the order of `Schools::sightings`. Only of
    /// seasons in which both kinds were marked: elsewhere the missing kind was not logged.
    pub bait_without_gamefish: Vec<Without>,
    /// Gamefish marks without a bait sighting near on the same outing, in the order of the log, likewise.
    pub gamefish_without_bait: Vec<Without>,
}

/// A bait sighting in the tree of its outing: its place in `Schools::sightings`.
pub(super) type BaitTree = RTree<GeomWithData<[f64; 2], usize>>;

/// A dated gamefish mark.
pub(super) struct Gamefish {
    pub(super) number: usize,
    pub(super) day: LocalDay,
    pub(super) plane: PlanePoint,
    pub(super) depth_m: Option<f64>,
}

/// Tests whether gamefish lie near bait more often than chance has it, for the lake and for each bait area (whose
/// `gamefish` it sets), and lists the one without the other. `None`: the log holds no dated gamefish or no bait.
///
/// The p-values of areas are corrected for their number by Holm's method, which holds whatever the dependence
/// between them; the family is the bait areas seen on an outing with a tested gamefish mark.
pub(super) fn pairing(
    log: &[Mark],
    track_logs: &[TrackLog],
    lake: &Lake,
    sightings: &[Sighting],
    areas: &mut [HoldingArea],
    seed: u64,
) -> (Option<Pairing>, Vec<Finding>) {
    let mut gamefish: Vec<Gamefish> = log
        .iter()
        .enumerate()
        .filter(|(_, mark)| mark.kind == Kind::Gamefish)
        .filter_map(|(number, mark)| {
            let depth_m = mark.fish_depth.map(Depth::metres);
            Some(Gamefish { number, day: mark.day?, plane: lake.to_plane(mark.place), depth_m })
        })
        .collect();
    gamefish.sort_by_key(|g| (g.day.date, log[g.number].id));
    let bait = bait_by_outing(sightings);
    if gamefish.is_empty() || bait.is_empty() {
        return (None, Vec::new());
    }
    let lists = without::lists(&gamefish, &bait, sightings);
    let to_bait_m = distances_m(&gamefish, &bait);

    let outings: BTreeSet<Date> = gamefish.iter().map(|g| g.day.date).collect();
    let tracks = outing_tracks(track_logs, lake, &outings);
    let mut located: BTreeMap<Date, Vec<(&Gamefish, OnTrack)>> = BTreeMap::new();
    for g in &gamefish {
        if let Some(on_track) = tracks.get(&g.day.date).and_then(|track| track.locate(g.plane)) {
            located.entry(g.day.date).or_default().push((g, on_track));
        }
    }
    let mut pairing = Pairing {
        gamefish_marks: gamefish.len(),
        tested: located.values().map(Vec::len).sum(),
        near: lists.near,
        median_distance_m: to_bait_m.get(to_bait_m.len() / 2).copied(),
        mean_distance_m: (!to_bait_m.is_empty())
            .then(|| to_bait_m.iter().sum::<f64>() / to_bait_m.len() as f64),
        test: None,
        bait_without_gamefish: lists.bait,
        gamefish_without_bait: lists.gamefish,
    };
    if pairing.tested < LEAST_GAMEFISH {
        let finding = refused(&pairing, track_logs.is_empty());
        return (Some(pairing), vec![finding]);
    }
    let outings: Vec<Outing> = located
        .into_iter()
        .filter_map(|(date, marks)| Some(Outing { track: tracks.get(&date)?, bait: bait.get(&date)?, marks }))
        .collect();
    let shown = Slide { outings, sightings, areas: areas.len() }.run(seed);
    pairing.test = shown.lake;
    for (area, near) in areas.iter_mut().zip(holm(&shown.areas)) {
        area.gamefish = near;
    }
    (Some(pairing), Vec::new())
}

fn bait_by_outing(sightings: &[Sighting]) -> BTreeMap<Date, BaitTree> {
    let mut by_outing: BTreeMap<Date, Vec<_>> = BTreeMap::new();
    for (number, s) in sightings.iter().enumerate().filter(|(_, s)| s.kind == Kind::Bait) {
        let point = GeomWithData::new([s.plane.east_m, s.plane.north_m], number);
        by_outing.entry(s.day.date).or_default().push(point);
    }
    by_outing.into_iter().map(|(date, points)| (date, RTree::bulk_load(points))).collect()
}

/// The bait sightings near a gamefish mark if it stood at `at`, as places in `Schools::sightings`.
pub(super) fn near_bait<'a>(
    g: &'a Gamefish,
    at: PlanePoint,
    bait: &'a BaitTree,
    sightings: &'a [Sighting],
) -> impl Iterator<Item = usize> + 'a {
    // A hair of tolerance for depths kept in 32 bits.
    let depth_passes = |bait: Option<Depth>| {
        g.depth_m.zip(bait).is_none_or(|(g, b)| (g - b.metres()).abs() <= NEAR_DEPTH_M + 1e-4)
    };
    bait.locate_within_distance([at.east_m, at.north_m], NEAR_M * NEAR_M)
        .map(|found| found.data)
        .filter(move |s| depth_passes(sightings[*s].fish_depth))
}

/// Metres from each gamefish mark to the nearest bait of its outing, ascending; of outings that have both.
fn distances_m(gamefish: &[Gamefish], bait: &BTreeMap<Date, BaitTree>) -> Vec<f64> {
    let mut metres: Vec<f64> = gamefish
        .iter()
        .filter_map(|g| {
            let nearest = bait.get(&g.day.date)?.nearest_neighbor(&[g.plane.east_m, g.plane.north_m])?;
            let [east_m, north_m] = *nearest.geom();
            Some(g.plane.metres_to(PlanePoint { east_m, north_m }))
        })
        .collect();
    metres.sort_by(f64::total_cmp);
    metres
}

fn refused(pairing: &Pairing, no_track_logs: bool) -> Finding {
    let distances = pairing.median_distance_m.zip(pairing.mean_distance_m);
    let distance = distances.map_or_else(String::new, |(median_m, mean_m)| {
        format!(
            "; the median distance to bait of the same outing is `{median_m:.0} m`, the mean `{mean_m:.0} m`"
        )
    });
    let (marks, tested) = (pairing.gamefish_marks, pairing.tested);
    let (why, fix) = if marks < LEAST_GAMEFISH {
        (format!("`{marks}` dated gamefish marks"), format!("log at least {LEAST_GAMEFISH} gamefish marks"))
    } else if no_track_logs {
        (String::from("no track logs"), String::from("add the track logs of the outings"))
    } else {
        (
            format!("`{tested}` of `{marks}` dated gamefish marks lie by the track log of their outing"),
            format!("add the track logs of more outings: at least {LEAST_GAMEFISH} such marks are needed"),
        )
    };
    Finding::new(Code::PairingRefused, format!("{why}{distance}"))
        .done("no chance was computed; the lists of bait without gamefish and the reverse stand")
        .fix(fix)
}

/// Marks with some bait near, in all and for each area.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Counts {
    lake: usize,
    areas: Vec<usize>,
}

impl Counts {
    /// The lake, then each area.
    fn all(&self) -> impl Iterator<Item = usize> + '_ {
        std::iter::once(self.lake).chain(self.areas.iter().copied())
    }
}

/// What the draws of one count came to.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    sum: usize,
    as_great: usize,
}

/// What a test shows before any correction.
struct Shown {
    lake: Option<GamefishNear>,
    areas: Vec<Option<GamefishNear>>,
}

/// An outing with bait, and its gamefish marks where they stand by its track.
struct Outing<'a> {
    track: &'a OutingTrack,
    bait: &'a BaitTree,
    marks: Vec<(&'a Gamefish, OnTrack)>,
}

struct Slide<'a> {
    outings: Vec<Outing<'a>>,
    sightings: &'a [Sighting],
    areas: usize,
}

impl Slide<'_> {
    fn run(&self, seed: u64) -> Shown {
        let seen = self.count(|_| None);
        let marks: usize = self.outings.iter().map(|outing| outing.marks.len()).sum();
        let draws = (SLID_MARKS / marks.max(1)).clamp(DRAWS[1], DRAWS[0]);
        // Whole numbers only, so that the sums do not depend on who adds what first.
        let tallies = (0..draws as u64)
            .into_par_iter()
            .fold(
                || vec![Tally::default(); 1 + self.areas],
                |mut tallies, draw| {
                    let drawn = self.draw(seed, draw);
                    for ((tally, drawn), seen) in tallies.iter_mut().zip(drawn.all()).zip(seen.all()) {
                        tally.sum += drawn;
                        tally.as_great += usize::from(drawn >= seen);
                    }
                    tallies
                },
            )
            .reduce(
                || vec![Tally::default(); 1 + self.areas],
                |mut one, other| {
                    for (tally, more) in one.iter_mut().zip(other) {
                        tally.sum += more.sum;
                        tally.as_great += more.as_great;
                    }
                    one
                },
            );
        // A family chosen by what could be seen, not by what was: it must not depend on where the gamefish were.
        let family: BTreeSet<usize> = self
            .outings
            .iter()
            .flat_map(|outing| outing.bait.iter())
            .filter_map(|bait| self.sightings[bait.data].area)
            .collect();
        let of_area = |a: usize| against_chance(seen.areas[a], tallies[1 + a], draws);
        Shown {
            lake: against_chance(seen.lake, tallies[0], draws),
            areas: (0..self.areas).map(|a| if family.contains(&a) { of_area(a) } else { None }).collect(),
        }
    }

    /// One slide: the marks of each outing by one amount of their own.
    fn draw(&self, seed: u64, draw: u64) -> Counts {
        let mut random = Random::new(seed, draw);
        self.count(|outing| Some(random.unit() * outing.track.length()))
    }

    /// Counts with each outing's marks where they stood, or slid by so many weighted metres.
    fn count(&self, mut shift: impl FnMut(&Outing) -> Option<f64>) -> Counts {
        let mut counts = Counts { lake: 0, areas: vec![0; self.areas] };
        let mut areas = Vec::new();
        for outing in &self.outings {
            let shift = shift(outing);
            for (g, on_track) in &outing.marks {
                let at = shift.map_or(g.plane, |shift| outing.track.slide(*on_track, shift));
                let mut near = 0;
                areas.clear();
                for bait in near_bait(g, at, outing.bait, self.sightings) {
                    near = 1;
                    areas.extend(self.sightings[bait].area);
                }
                counts.lake += near;
                areas.sort_unstable();
                areas.dedup();
                for area in &areas {
                    counts.areas[*area] += 1;
                }
            }
        }
        counts
    }
}

/// p = (1 + draws at least as great) / (draws + 1) (Davison & Hinkley 1997, 4.2). The count seen is one of the draws
/// in the expected count too, so that the lift stays finite. `None`: no draw and no mark came near.
fn against_chance(seen: usize, tally: Tally, draws: usize) -> Option<GamefishNear> {
    let expected = (tally.sum + seen) as f64 / (draws + 1) as f64;
    (expected > 0.0).then(|| GamefishNear {
        near: seen,
        lift: seen as f64 / expected,
        p: (1 + tally.as_great) as f64 / (draws + 1) as f64,
    })
}

/// Holm's step-down correction (Holm 1979, Scand. J. Statist. 6: 65-70).
fn holm(tests: &[Option<GamefishNear>]) -> Vec<Option<GamefishNear>> {
    let mut order: Vec<(f64, usize)> =
        tests.iter().enumerate().filter_map(|(i, t)| Some((t.as_ref()?.p, i))).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut corrected = tests.to_vec();
    let mut greatest = 0.0_f64;
    for (rank, (p, i)) in order.iter().enumerate() {
        greatest = greatest.max(p * (order.len() - rank) as f64).min(1.0);
        if let Some(test) = &mut corrected[*i] {
            test.p = greatest;
        }
    }
    corrected
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holm_gives_the_textbook_values() {
        // Definition worked by hand for p = .01 .04 .03 .005: 4·.005, 3·.01, 2·.03, then the running maximum.
        let test = |p| Some(GamefishNear { near: 1, lift: 1.0, p });
        let corrected = holm(&[test(0.01), test(0.04), None, test(0.03), test(0.005)]);
        let p: Vec<f64> = corrected.iter().flatten().map(|t| t.p).collect();
        for (got, want) in p.iter().zip([0.03, 0.06, 0.06, 0.02]) {
            assert!((got - want).abs() < 1e-12, "{p:?}");
        }
        assert!(corrected[2].is_none());
    }
}
