//! Seasons held out one by one: how well the others foretell each, and how wide a band must be to hold nine of ten.

use super::mixture::Frame;
use super::observation::{Observation, renumbered, seasons_that_count};
use super::shift::fit;
use super::told::Told;
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
    /// Its sightings, and those of them that tell a depth.
    sightings: usize,
    depths: usize,
    /// Squared distances to the nearest track that is supported on the day, over variance.
    place_scores: Vec<f64>,
    depth_scores: Vec<f64>,
}

/// One fold for each season that counts, in order of season.
pub(super) fn folds(frame: &Frame, observations: &[Observation], max_tracks: usize) -> Vec<Fold> {
    seasons_that_count(observations)
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
    seasons_that_count(observations)
        .into_par_iter()
        .zip(than)
        .map(|(season, than)| {
            let fold = fold(frame, observations, season, max_tracks);
            (fold.log > than.log).then_some(fold)
        })
        .collect()
}

fn fold(frame: &Frame, observations: &[Observation], season: i16, max_tracks: usize) -> Fold {
    let (own, others): (Vec<Observation>, Vec<Observation>) =
        observations.iter().copied().partition(|o| o.season == season);
    let fitted = fit(frame, &renumbered(others), max_tracks);
    let told = Told::new(frame, &fitted.mixture, &fitted.observations);
    let mut fold = Fold {
        log: own.iter().map(|o| fitted.mixture.log_density(frame, o)).sum(),
        sightings: own.len(),
        depths: own.iter().filter(|o| o.depth_ft.is_some()).count(),
        place_scores: Vec::new(),
        depth_scores: Vec::new(),
    };
    for o in &own {
        let nearest = fitted
            .mixture
            .components
            .iter()
            .enumerate()
            .filter(|(track, _)| told.on(*track, o.day))
            .map(|(_, component)| {
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

/// The width of a band, and how it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Width {
    /// How many variances its squared half-width is.
    pub(super) variances: f64,
    /// Held-out sightings near a track, whose 90 % quantile it is, of all that were held out; `None`: too few of
    /// them, and the width is that of the fit times a factor.
    pub(super) near: Option<[usize; 2]>,
}

/// The widths of the bands of place and of depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bands {
    pub(super) place: Width,
    pub(super) depth: Width,
}

impl Bands {
    /// Whether held-out seasons told both widths.
    pub(super) fn checked(&self) -> bool {
        self.place.near.is_some() && self.depth.near.is_some()
    }
}

/// Widths that held nine of ten held-out sightings near a track (split conformal, Vovk and others 2005, by season).
///
/// The widths are chosen on the same sightings, and those far from all tracks, or on days when none is supported, are
/// left out: this is no check on sightings that had no part in it.
pub(super) fn bands(folds: &[Fold]) -> Bands {
    let width = |scores: fn(&Fold) -> &Vec<f64>, of: usize, otherwise: f64| {
        let scores: Vec<f64> = folds.iter().flat_map(scores).copied().collect();
        let near = scores.len();
        match quantile(scores).filter(|_| folds.len() >= SEASONS_TO_CHECK) {
            Some(variances) => Width { variances, near: Some([near, of]) },
            None => Width { variances: otherwise * RADIUS_FACTOR * RADIUS_FACTOR, near: None },
        }
    };
    Bands {
        place: width(|fold| &fold.place_scores, folds.iter().map(|fold| fold.sightings).sum(), CHI2_TWO),
        depth: width(|fold| &fold.depth_scores, folds.iter().map(|fold| fold.depths).sum(), CHI2_ONE),
    }
}

/// The 90 % quantile, counted as if one more score had come out largest; `None` below twenty scores.
fn quantile(mut scores: Vec<f64>) -> Option<f64> {
    scores.sort_by(f64::total_cmp);
    let place = (HELD * (scores.len() + 1) as f64).ceil() as usize;
    (scores.len() >= 20).then(|| scores[place.min(scores.len()) - 1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_width_without_twenty_scores_from_three_seasons_is_not_checked() {
        let fold = |places: usize, depths: usize| Fold {
            log: 0.0,
            sightings: 12,
            depths: 11,
            place_scores: (1..=places).map(|k| k as f64).collect(),
            depth_scores: (1..=depths).map(|k| k as f64).collect(),
        };
        let both = bands(&[fold(10, 9), fold(10, 9), fold(10, 9)]);
        assert!(both.checked());
        assert_eq!((both.place.near, both.depth.near), (Some([30, 36]), Some([27, 33])));
        // Each score thrice: the 28th of 1 1 1 2 2 2 ... 10 10 10 (0.9 x 31, rounded up) is the first 10.
        assert_eq!(both.place.variances.to_bits(), 10.0_f64.to_bits());
        let no_depth = bands(&[fold(10, 2), fold(10, 2), fold(10, 2)]);
        assert!(!no_depth.checked() && no_depth.place.near.is_some() && no_depth.depth.near.is_none());
        let two_seasons = bands(&[fold(30, 30), fold(30, 30)]);
        assert!(!two_seasons.checked() && two_seasons.place.near.is_none());
        // 1.45 times the 90 % radius of a normal scatter, which is 2.1460 standard deviations (Rayleigh quantile).
        assert!((two_seasons.place.variances.sqrt() - 1.45 * 2.1460).abs() < 1e-4);
    }
}
