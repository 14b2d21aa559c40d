//! Chains: stretches of the season along which sightings follow one another without a break.

use super::observation::Observation;
use crate::schools::cluster::{Label, Metric, Neighbourhood, Point, cluster, cluster_on_stands};
use crate::terms::place::PlanePoint;
use crate::terms::season::{SeasonDay, YEAR_DAYS};
use crate::travel::WaterDistance;

/// Gates of the neighbourhood: place (by boat where a shoreline is given), season day, depth (a missing depth passes). Chosen by experiment on simulated
/// lakes, wider in place than for holding areas, so that travel hangs together.
const PLACE_M: f64 = 400.0;
const DAYS: f64 = 21.0;
const DEPTH_FT: f64 = 12.0;
/// Sightings in the neighbourhood, itself included, that make a sighting a core.
const MIN_SIGHTINGS: usize = 4;
/// A smaller component starts no track (judgement).
const MIN_COMPONENT: usize = 8;
/// A component whose largest gap in the season is shorter runs all year.
const YEAR_ROUND_GAP_DAYS: f64 = 40.0;
/// Sightings this near the end of a chain tell its place there.
const END_DAYS: f64 = 15.0;

/// One end of a chain.
#[derive(Clone, Copy, Debug)]
pub(super) struct End {
    pub(super) day: f64,
    pub(super) east_m: f64,
    pub(super) north_m: f64,
    pub(super) depth_ft: Option<f64>,
}

/// A component of the neighbourhood graph.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    /// Its observations, ascending.
    pub(super) members: Vec<usize>,
    /// Start and end in the season; `None`: it runs all year.
    pub(super) ends: Option<[End; 2]>,
}

/// Chains with at least eight sightings among `of` (numbers of observations, ascending), the largest first.
pub(super) fn chains(
    observations: &[Observation],
    of: &[usize],
    water: Option<&WaterDistance>,
) -> Vec<Chain> {
    let chosen: Vec<Observation> = of.iter().map(|i| observations[*i]).collect();
    let labels = components(&chosen, water);
    let count = labels.iter().flatten().max().map_or(0, |last| last + 1);
    let mut members = vec![Vec::new(); count];
    for (i, label) in of.iter().zip(&labels) {
        if let Some(label) = label {
            members[*label].push(*i);
        }
    }
    members.retain(|m| m.len() >= MIN_COMPONENT);
    members.sort_by_key(|m| (usize::MAX - m.len(), m[0]));
    members.into_iter().map(|members| Chain { ends: ends(observations, &members), members }).collect()
}

/// Component of each observation; `None`: noise.
fn components(observations: &[Observation], water: Option<&WaterDistance>) -> Vec<Option<usize>> {
    let points: Vec<Point> = observations
        .iter()
        .map(|o| Point {
            place: [o.east_m / PLACE_M, o.north_m / PLACE_M],
            day: SeasonDay::from_days(o.day).days() / DAYS,
            depth: o.depth_ft.map(|depth_ft| depth_ft / DEPTH_FT),
        })
        .collect();
    let neighbourhood =
        Neighbourhood { metric: Metric::Gates, year: YEAR_DAYS / DAYS, min_points: MIN_SIGHTINGS };
    let labels = if let Some(water) = water {
        let places: Vec<PlanePoint> = observations.iter().map(Observation::place).collect();
        let nearby = water.nearby(&places, PLACE_M);
        cluster_on_stands(&points, nearby.stands(), &|a, b| nearby.meet(a, b), &neighbourhood)
    } else {
        cluster(&points, &neighbourhood)
    };
    labels.into_iter().map(Label::cluster).collect()
}

/// Start and end of the part of the season that the members cover: beside its largest gap.
fn ends(observations: &[Observation], members: &[usize]) -> Option<[End; 2]> {
    let mut days: Vec<f64> = members.iter().map(|i| observations[*i].day).collect();
    days.sort_by(f64::total_cmp);
    let mut widest = (days[0] + YEAR_DAYS - days[days.len() - 1], days[0], days[days.len() - 1]);
    for pair in days.windows(2) {
        if pair[1] - pair[0] > widest.0 {
            widest = (pair[1] - pair[0], pair[1], pair[0]);
        }
    }
    let (gap, first, last) = widest;
    (gap >= YEAR_ROUND_GAP_DAYS).then(|| [first, last].map(|day| end(observations, members, day)))
}

fn end(observations: &[Observation], members: &[usize], day: f64) -> End {
    let near = members
        .iter()
        .map(|i| &observations[*i])
        .filter(|o| SeasonDay::from_days(o.day).days_apart(SeasonDay::from_days(day)) <= END_DAYS);
    let (mut n, mut east_m, mut north_m, mut deep, mut depth_ft) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for o in near {
        n += 1.0;
        east_m += o.east_m;
        north_m += o.north_m;
        if let Some(depth) = o.depth_ft {
            deep += 1.0;
            depth_ft += depth;
        }
    }
    End { day, east_m: east_m / n, north_m: north_m / n, depth_ft: (deep > 0.0).then(|| depth_ft / deep) }
}
