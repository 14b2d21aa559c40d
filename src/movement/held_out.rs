//! Seasons held out one by one: how well the others foretell each, and how wide a band must be to hold nine of ten.

use super::mixture::{Frame, LEAST_SUPPORT, at};
use super::observation::{Observation, seasons};
use super::shift::fit;
use rayon::prelude::*;

/// A scaled squared distance above this is clutter or a missed route, and outside what a band says.
const FAR: f64 = 25.0;
/// What a band holds.
const HELD: f64 = 0.9;
/// Fewer seasons cannot check a band: then the factor found on simulated lakes widens it.
const SEASONS_TO_CHECK: usize = 3;
const RADIUS_FACTOR: f64 = 1.45;
/// 90 % points of chi squared with two degrees of freedom (-2 ln 0.1) and with one (tables, from memory).
const CHI2_TWO: f64 = 4.605_170;
const CHI2_ONE: f64 = 2.705_543;

/// What the other seasons say about one season.
#[derive(Clone, Debug)]
pub(super) struct Fold {
    /// Sum over its sightings of the log density of place and depth.
    pub(super) log: f64,
    /// Squared distances to the nearest track that is supported on the day, over variance.
    place_scores: Vec<f64>,
    depth_scores: Vec<f64>,
}

/// One fold a season, in order of season.
pub(super) fn folds(frame: &Frame, observations: &[Observation], max_tracks: usize) -> Vec<Fold> {
    seasons(observations)
        .into_par_iter()
        .map(|season| fold(frame, observations, season, max_tracks))
        .collect()
}

/// Folds that each foretell their season better than `than` does, season by season; `None` as soon as one does not.
pub(super) fn better_folds(
    frame: &Frame,
    observations: &[Observation],
    max_tracks: usize,
    than: &[Fold],
) -> Option<Vec<Fold>> {
    seasons(observations)
        .into_par_iter()
        .zip(than)
        .map(|(season, than)| {
            let fold = fold(frame, observations, season, max_tracks);
            (fold.log > than.log).then_some(fold)
        })
        .collect()
}

/// Outings numbered without a gap again.
fn renumbered(mut observations: Vec<Observation>) -> Vec<Observation> {
    let (mut number, mut last) = (0, None);
    for o in &mut observations {
        if last.is_some_and(|last| last != o.outing) {
            number += 1;
        }
        last = Some(o.outing);
        o.outing = number;
    }
    observations
}

fn fold(frame: &Frame, observations: &[Observation], season: i16, max_tracks: usize) -> Fold {
    let (own, others): (Vec<Observation>, Vec<Observation>) =
        observations.iter().copied().partition(|o| o.season == season);
    let fitted = fit(frame, &renumbered(others), max_tracks);
    let support = fitted.mixture.support(&fitted.observations);
    let mut fold = Fold {
        log: own.iter().map(|o| fitted.mixture.log_density(frame, o)).sum(),
        place_scores: Vec::new(),
        depth_scores: Vec::new(),
    };
    for o in &own {
        let nearest = fitted
            .mixture
            .components
            .iter()
            .zip(&support)
            .filter(|(_, support)| at(support, o.day) >= LEAST_SUPPORT)
            .map(|(component, _)| {
                let p = component.position(frame, o.day);
                let squares = (o.east_m - p.east_m).powi(2) + (o.north_m - p.north_m).powi(2);
                (squares / p.place_variance, p.depth)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((score, depth)) = nearest
            && score < FAR
        {
            fold.place_scores.push(score);
            if let Some(([mean, variance], depth_ft)) = depth.zip(o.depth_ft) {
                fold.depth_scores.push((depth_ft - mean).powi(2) / variance);
            }
        }
    }
    fold
}

/// How many variances the squared half-width of a band is, and how that is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bands {
    pub(super) place: f64,
    pub(super) depth: f64,
    /// Whether held-out seasons told the widths.
    pub(super) checked: bool,
}

/// Widths that held nine of ten held-out sightings (split conformal, Vovk and others 2005, by season).
pub(super) fn bands(folds: &[Fold]) -> Bands {
    let unchecked = RADIUS_FACTOR * RADIUS_FACTOR;
    let pooled =
        |scores: fn(&Fold) -> &Vec<f64>| -> Vec<f64> { folds.iter().flat_map(scores).copied().collect() };
    let place = quantile(pooled(|fold| &fold.place_scores));
    let depth = quantile(pooled(|fold| &fold.depth_scores));
    let checked = folds.len() >= SEASONS_TO_CHECK && place.is_some();
    Bands {
        place: place.filter(|_| checked).unwrap_or(CHI2_TWO * unchecked),
        depth: depth.filter(|_| checked).unwrap_or(CHI2_ONE * unchecked),
        checked,
    }
}

/// The 90 % quantile, counted as if one more score had come out largest; `None` below twenty scores.
fn quantile(mut scores: Vec<f64>) -> Option<f64> {
    scores.sort_by(f64::total_cmp);
    let place = (HELD * (scores.len() + 1) as f64).ceil() as usize;
    (scores.len() >= 20).then(|| scores[place.min(scores.len()) - 1])
}
