//! Mixture of tracks and clutter, fitted by expectation and maximisation.
//!
//! A track is a place on each season day (penalised cyclic spline) with a scatter, a depth likewise, and how active
//! it is through the season. Given the day, a sighting belongs to a track or to clutter, which lies anywhere.

use super::observation::Observation;
use super::spline::{Roughness, SeasonBasis, Spline, Sums};
use crate::terms::season::YEAR_DAYS;
use crate::travel::WaterDistance;
use std::f64::consts::TAU;
use std::sync::Arc;

/// Knots round the year: one a fortnight.
const KNOTS: usize = 26;
/// Bounds of the smoothing parameters, and where they start.
const SMOOTHING: [f64; 2] = [0.02, 3000.0];
const SMOOTHING_START: f64 = 1.0;
/// Least scatter of place and depth: what GPS and sounder alone give (judgement).
const LEAST_PLACE_SD_M: f64 = 30.0;
const LEAST_DEPTH_SD_FT: f64 = 2.0;
/// A track needs as many sightings (expected number) and outings.
const LEAST_SIGHTINGS: f64 = 10.0;
const LEAST_OUTINGS: usize = 5;
/// Width of the season kernel of activity, and its bins: five days.
const ACTIVITY_SD_DAYS: f64 = 15.0;
pub(super) const BINS: usize = 73;
/// Kernel within which sightings count as near a day.
pub(super) const SUPPORT_SD_DAYS: f64 = 10.0;
/// Least share of clutter on any day.
const LEAST_CLUTTER: f64 = 0.02;
/// Free numbers in an activity that runs all year: length of the circle over the integral of its kernel.
const ACTIVITY_PARAMETERS: f64 = YEAR_DAYS / (ACTIVITY_SD_DAYS * 2.506_628);
/// Change of the log-likelihood a sighting at which the rounds stop.
const SETTLED: f64 = 1e-4;

/// What does not change while a mixture is fitted.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    basis: SeasonBasis,
    /// Log density of clutter in place (a square metre) and in depth (a foot).
    clutter_place: f64,
    clutter_depth: f64,
    /// The lake's water, where a shoreline was given.
    pub(super) water: Option<Arc<WaterDistance>>,
}

impl Frame {
    /// Clutter lies anywhere on `area_m2` and down to `deepest_ft`.
    pub(super) fn new(area_m2: f64, deepest_ft: f64, water: Option<Arc<WaterDistance>>) -> Self {
        Self {
            basis: SeasonBasis::new(KNOTS, Roughness::SecondDifferences),
            clutter_place: -area_m2.max(1.0).ln(),
            clutter_depth: -deepest_ft.max(1.0).ln(),
            water,
        }
    }

    /// The area that clutter lies on.
    pub(super) fn area_m2(&self) -> f64 {
        (-self.clutter_place).exp()
    }

    fn moment(&self, day: f64) -> Moment {
        Moment { functions: self.basis.at(day), bin: bin(day) }
    }

    fn clutter(&self, o: &Observation) -> f64 {
        self.clutter_place + if o.depth_ft.is_some() { self.clutter_depth } else { 0.0 }
    }
}

/// Activity through the season, by bins round the year.
pub(super) type Activity = [f64; BINS];

/// Sum of a season kernel of `sd_days` over weighted days (as `bin` tells them), at the middle of each bin.
pub(super) fn activity(days: impl Iterator<Item = ((usize, f64), f64)>, sd_days: f64) -> Activity {
    const STEP: f64 = YEAR_DAYS / BINS as f64;
    // Each weight is split between the two bins beside it, so that no edge between bins shows.
    let mut weights = [0.0; BINS];
    for ((bin, share), weight) in days {
        weights[bin] += weight * (1.0 - share);
        weights[(bin + 1) % BINS] += weight * share;
    }
    let kernel: Activity = std::array::from_fn(|lag| {
        let days = lag.min(BINS - lag) as f64 * STEP;
        (-0.5 * (days / sd_days).powi(2)).exp()
    });
    std::array::from_fn(|to| (0..BINS).map(|from| weights[from] * kernel[(to + BINS - from) % BINS]).sum())
}

/// The bin whose middle comes before a day, and how far the day is on the way to the next.
fn bin(day: f64) -> (usize, f64) {
    let place = day.rem_euclid(YEAR_DAYS) / YEAR_DAYS * BINS as f64;
    let bin = (place as usize).min(BINS - 1);
    (bin, (place - bin as f64).clamp(0.0, 1.0))
}

/// An activity on a day, on the line between the middles of the bins beside it.
pub(super) fn at(activity: &Activity, day: f64) -> f64 {
    between(activity, bin(day))
}

fn between(activity: &Activity, (bin, share): (usize, f64)) -> f64 {
    activity[bin] * (1.0 - share) + activity[(bin + 1) % BINS] * share
}

/// What the fit needs of a day, worked out once for all tracks and rounds.
#[derive(Clone, Copy, Debug)]
struct Moment {
    functions: [(usize, f64); 4],
    bin: (usize, f64),
}

/// One track of the mixture.
#[derive(Clone, Debug)]
pub(super) struct Component {
    place: Spline<2>,
    place_variance: f64,
    /// Log of the normal density's denominator in place.
    place_norm: f64,
    /// Depth, its variance, and the log of its denominator; `None`: too few of its sightings tell a depth.
    depth: Option<(Spline<1>, f64, f64)>,
    pub(super) activity: Activity,
    /// Expected number of its sightings among those it is fitted to.
    pub(super) weight: f64,
}

/// Where a track is on a day and how wide it scatters, as variances of one coordinate that hold the uncertainty of
/// the mean.
#[derive(Clone, Copy, Debug)]
pub(super) struct Position {
    pub(super) east_m: f64,
    pub(super) north_m: f64,
    pub(super) place_variance: f64,
    /// Depth in feet and its variance.
    pub(super) depth: Option<[f64; 2]>,
}

impl Component {
    /// Where it is on a day.
    pub(super) fn position(&self, frame: &Frame, day: f64) -> Position {
        let functions = frame.basis.at(day);
        let [east_m, north_m] = self.place.value(functions);
        Position {
            east_m,
            north_m,
            place_variance: self.place_variance * (1.0 + self.place.relative_variance(functions)),
            depth: self.depth.as_ref().map(|(spline, variance, _)| {
                [spline.value(functions)[0], variance * (1.0 + spline.relative_variance(functions))]
            }),
        }
    }

    fn log_density(&self, functions: [(usize, f64); 4], o: &Observation) -> f64 {
        let [east_m, north_m] = self.place.value(functions);
        let squares = (o.east_m - east_m).powi(2) + (o.north_m - north_m).powi(2);
        let place = -0.5 * squares / self.place_variance - self.place_norm;
        let depth =
            self.depth.as_ref().zip(o.depth_ft).map_or(0.0, |((spline, variance, norm), depth_ft)| {
                let off = depth_ft - spline.value(functions)[0];
                -0.5 * off * off / variance - norm
            });
        place + depth
    }

    fn parameters(&self) -> f64 {
        let peak = self.activity.iter().copied().fold(0.0, f64::max);
        let active = self.activity.iter().filter(|a| **a > 0.05 * peak).count() as f64 / BINS as f64;
        2.0 * self.place.edf
            + 1.0
            + self.depth.as_ref().map_or(0.0, |(spline, ..)| spline.edf + 1.0)
            + ACTIVITY_PARAMETERS * active
    }
}

/// Shares of tracks in sightings: row-major, a row a sighting; what is missing to 1 is clutter.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Shares {
    observations: usize,
    pub(super) tracks: usize,
    values: Vec<f64>,
}

impl Shares {
    /// All clutter.
    pub(super) fn none(observations: usize, tracks: usize) -> Self {
        Self { observations, tracks, values: vec![0.0; observations * tracks] }
    }

    pub(super) fn of(&self, observation: usize) -> &[f64] {
        &self.values[observation * self.tracks..(observation + 1) * self.tracks]
    }

    pub(super) fn of_mut(&mut self, observation: usize) -> &mut [f64] {
        &mut self.values[observation * self.tracks..(observation + 1) * self.tracks]
    }

    /// The share of one track in each sighting.
    pub(super) fn track(&self, track: usize) -> impl Iterator<Item = f64> + '_ {
        self.values.iter().skip(track).step_by(self.tracks.max(1)).copied()
    }

    /// The same with a further track that has no share in anything yet.
    pub(super) fn with_one_more(&self) -> Self {
        let mut new = Self::none(self.observations, self.tracks + 1);
        for i in 0..self.observations {
            new.of_mut(i)[..self.tracks].copy_from_slice(self.of(i));
        }
        new
    }

    /// New tracks, each the sum of old ones.
    pub(super) fn regrouped(&self, groups: &[Vec<usize>]) -> Self {
        let mut new = Self::none(self.observations, groups.len());
        for i in 0..self.observations {
            for (g, group) in groups.iter().enumerate() {
                new.of_mut(i)[g] = group.iter().map(|k| self.of(i)[*k]).sum();
            }
        }
        new
    }
}

/// A fitted mixture.
#[derive(Clone, Debug)]
pub(super) struct Mixture {
    pub(super) components: Vec<Component>,
    clutter: Activity,
    pub(super) shares: Shares,
    log_likelihood: f64,
}

impl Mixture {
    /// Fits from given shares; tracks that come to stand on too little are dropped on the way.
    pub(super) fn fit(frame: &Frame, observations: &[Observation], shares: Shares, rounds: usize) -> Self {
        let moments: Vec<Moment> = observations.iter().map(|o| frame.moment(o.day)).collect();
        let mut shares = shares;
        let mut smoothing = vec![[SMOOTHING_START; 2]; shares.tracks];
        let mut last = f64::NEG_INFINITY;
        let mut round = 0;
        loop {
            let kept = standing(observations, &shares);
            if kept.len() < shares.tracks {
                let groups: Vec<Vec<usize>> = kept.iter().map(|k| vec![*k]).collect();
                shares = shares.regrouped(&groups);
                smoothing = kept.iter().map(|k| smoothing[*k]).collect();
                last = f64::NEG_INFINITY;
            }
            let mut mixture = Self::maximise(frame, observations, &moments, shares, &mut smoothing);
            let log_likelihood = mixture.expect(frame, observations, &moments);
            round += 1;
            let settled = (log_likelihood - last).abs() < SETTLED * observations.len() as f64;
            if settled || round >= rounds || mixture.components.is_empty() {
                return mixture;
            }
            last = log_likelihood;
            shares = mixture.shares;
        }
    }

    fn maximise(
        frame: &Frame,
        observations: &[Observation],
        moments: &[Moment],
        shares: Shares,
        smoothing: &mut [[f64; 2]],
    ) -> Self {
        let mut components = Vec::with_capacity(shares.tracks);
        let mut gone = Vec::new();
        for (k, smoothing) in smoothing.iter_mut().enumerate() {
            let mut place = Sums::new(&frame.basis);
            let mut depth = Sums::new(&frame.basis);
            let mut depths = 0;
            for ((o, moment), share) in observations.iter().zip(moments).zip(shares.track(k)) {
                if share < 1e-9 {
                    continue;
                }
                place.add(moment.functions, [o.east_m, o.north_m], share);
                if let Some(depth_ft) = o.depth_ft {
                    depth.add(moment.functions, [depth_ft], share);
                    depths += 1;
                }
            }
            // A positive smoothing parameter makes the system definite; without it the track cannot be used.
            let Some(place_fit) = place.fit(&frame.basis, smoothing[0]) else {
                gone.push(k);
                continue;
            };
            let place_variance = place_fit.variance.max(LEAST_PLACE_SD_M.powi(2));
            smoothing[0] = place_fit.next_smoothing(place_variance, SMOOTHING);
            let depth_fit = if depths >= 5 && depth.weight() >= 5.0 {
                depth.fit(&frame.basis, smoothing[1])
            } else {
                None
            };
            let depth_fit = depth_fit.map(|fit| {
                let variance = fit.variance.max(LEAST_DEPTH_SD_FT.powi(2));
                smoothing[1] = fit.next_smoothing(variance, SMOOTHING);
                (fit, variance, 0.5 * (TAU * variance).ln())
            });
            let days = moments.iter().map(|m| m.bin).zip(shares.track(k));
            components.push(Component {
                place: place_fit,
                place_variance,
                place_norm: (TAU * place_variance).ln(),
                depth: depth_fit,
                activity: activity(days, ACTIVITY_SD_DAYS),
                weight: place.weight(),
            });
        }
        let kept: Vec<Vec<usize>> =
            (0..shares.tracks).filter(|k| !gone.contains(k)).map(|k| vec![k]).collect();
        let shares = if gone.is_empty() { shares } else { shares.regrouped(&kept) };
        let clutter = activity(
            moments.iter().enumerate().map(|(i, m)| (m.bin, 1.0 - shares.of(i).iter().sum::<f64>())),
            ACTIVITY_SD_DAYS,
        );
        Self { components, clutter, shares, log_likelihood: f64::NEG_INFINITY }
    }

    /// Sets the shares by the fitted tracks; returns the log-likelihood.
    fn expect(&mut self, frame: &Frame, observations: &[Observation], moments: &[Moment]) -> f64 {
        let mut total = 0.0;
        let mut logs = vec![0.0; self.components.len()];
        let mut shares = std::mem::replace(&mut self.shares, Shares::none(0, 0));
        for (i, (o, moment)) in observations.iter().zip(moments).enumerate() {
            let log = self.logs(frame, o, moment, &mut logs);
            total += log;
            for (share, component) in shares.of_mut(i).iter_mut().zip(&logs) {
                *share = small_exp(component - log);
            }
        }
        self.shares = shares;
        self.log_likelihood = total;
        total
    }

    /// Log of prior times density for each track, and of their sum with clutter.
    fn logs(&self, frame: &Frame, o: &Observation, moment: &Moment, logs: &mut [f64]) -> f64 {
        let clutter = between(&self.clutter, moment.bin).max(0.0);
        let mut sum = clutter;
        for (log, component) in logs.iter_mut().zip(&self.components) {
            *log = between(&component.activity, moment.bin);
            sum += *log;
        }
        let clutter_share = if sum > 1e-12 { (clutter / sum).max(LEAST_CLUTTER) } else { 1.0 };
        let rest = (sum - clutter).max(1e-12);
        let clutter_log = clutter_share.ln() + frame.clutter(o);
        let mut largest = clutter_log;
        for (log, component) in logs.iter_mut().zip(&self.components) {
            *log = ((1.0 - clutter_share) * *log / rest).max(1e-300).ln()
                + component.log_density(moment.functions, o);
            largest = largest.max(*log);
        }
        let scaled =
            small_exp(clutter_log - largest) + logs.iter().map(|l| small_exp(l - largest)).sum::<f64>();
        largest + scaled.ln()
    }

    /// Log density of an observation's place and depth, given its day.
    pub(super) fn log_density(&self, frame: &Frame, o: &Observation) -> f64 {
        self.logs(frame, o, &frame.moment(o.day), &mut vec![0.0; self.components.len()])
    }

    /// Expected number of each track's sightings within a 10-day kernel, by bins, among the observations it was
    /// fitted to.
    pub(super) fn support(&self, observations: &[Observation]) -> Vec<Activity> {
        support(observations, &self.shares)
    }

    /// Expected number of sightings of no track within a 10-day kernel, by bins.
    pub(super) fn clutter_near(&self, observations: &[Observation]) -> Activity {
        let rest = |i: usize| 1.0 - self.shares.of(i).iter().sum::<f64>();
        activity(observations.iter().enumerate().map(|(i, o)| (bin(o.day), rest(i))), SUPPORT_SD_DAYS)
    }

    /// The shares of the tracks in observations that it need not have been fitted to.
    pub(super) fn shares_in(&self, frame: &Frame, observations: &[Observation]) -> Shares {
        let mut shares = Shares::none(observations.len(), self.components.len());
        for (i, o) in observations.iter().enumerate() {
            let row = shares.of_mut(i);
            let log = self.logs(frame, o, &frame.moment(o.day), row);
            for share in row {
                *share = small_exp(*share - log);
            }
        }
        shares
    }

    /// Schwarz's criterion: smaller is better.
    pub(super) fn bic(&self) -> f64 {
        let n = self.shares.observations as f64;
        let parameters: f64 = self.components.iter().map(Component::parameters).sum();
        parameters * n.max(1.0).ln() - 2.0 * self.log_likelihood
    }
}

/// The exponential; zero for what no sum that holds a 1 would notice. Most tracks are that far from most sightings.
fn small_exp(log: f64) -> f64 {
    if log < -40.0 { 0.0 } else { log.exp() }
}

/// Expected number of each track's sightings within a 10-day kernel, by bins.
pub(super) fn support(observations: &[Observation], shares: &Shares) -> Vec<Activity> {
    (0..shares.tracks)
        .map(|k| activity(observations.iter().map(|o| bin(o.day)).zip(shares.track(k)), SUPPORT_SD_DAYS))
        .collect()
}

/// Tracks that stand on enough sightings and outings.
fn standing(observations: &[Observation], shares: &Shares) -> Vec<usize> {
    let outings = observations.last().map_or(0, |o| o.outing + 1);
    (0..shares.tracks)
        .filter(|k| {
            let mut by_outing = vec![0.0; outings];
            for (o, share) in observations.iter().zip(shares.track(*k)).filter(|(_, share)| *share > 0.0) {
                by_outing[o.outing] += share;
            }
            by_outing.iter().sum::<f64>() >= LEAST_SIGHTINGS
                && by_outing.iter().filter(|share| **share >= 0.5).count() >= LEAST_OUTINGS
        })
        .collect()
}
