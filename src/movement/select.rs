//! How many tracks: start from stitched chains, then merge or drop while Schwarz's criterion falls.

use super::chain::chains;
use super::mixture::{BINS, Frame, Mixture, Shares};
use super::observation::Observation;
use super::stitch::stitch;
use rayon::prelude::*;

/// Rounds of a full fit, and of a trial that only ranks.
const ROUNDS: usize = 40;
const TRIAL_ROUNDS: usize = 8;
/// A merge counts as if it spared as many free numbers more than it does: the criterion alone is indifferent between
/// one track and its two pieces on either side of a month without outings. Of 6, 12, 14 and 16 the one that came nearest to
/// the true number on 48 simulated lakes (seeds 101 to 124 and 201 to 224: right in .54, .60, .58 and .67 of them).
const BREAK_PARAMETERS: f64 = 16.0;
/// Pairs tried at each step: those that share least of the season.
const PAIRS: usize = 5;
/// Most tracks that are started at once: the work grows with the square of it, and what is left out here is found
/// again among clutter.
const MOST_STARTS: usize = 12;
/// Most times that tracks are looked for among clutter.
const BIRTH_ROUNDS: usize = 6;
/// Drops tried at each step: the track on fewest sightings, and the next two where they stand on fewer than
/// `MAY_DROP`.
const DROPS: usize = 3;
const MAY_DROP: f64 = 30.0;

/// The mixture with the number of tracks that the data support, at most `max_tracks`.
pub(super) fn fit_tracks(frame: &Frame, observations: &[Observation], max_tracks: usize) -> Mixture {
    let all: Vec<usize> = (0..observations.len()).collect();
    let groups = starts(frame, observations, &all);
    let mut shares = Shares::none(observations.len(), groups.len());
    for (track, group) in groups.iter().enumerate() {
        for i in group {
            shares.of_mut(*i)[track] = 1.0;
        }
    }
    let mut best = Mixture::fit(frame, observations, shares, ROUNDS);
    for _ in 0..BIRTH_ROUNDS {
        best = fewer(frame, observations, best, max_tracks);
        match more(frame, observations, &best) {
            Some(next) => best = next,
            None => return best,
        }
    }
    fewer(frame, observations, best, max_tracks)
}

/// Sightings that may start a track: stitched chains among some of the observations, the largest first.
fn starts(frame: &Frame, observations: &[Observation], of: &[usize]) -> Vec<Vec<usize>> {
    let water = frame.water.as_deref();
    let chains = chains(observations, of, water);
    let mut starts: Vec<Vec<usize>> = stitch(&chains, water)
        .into_iter()
        .map(|group| group.into_iter().flat_map(|chain| chains[chain].members.clone()).collect())
        .collect();
    starts.sort_by_key(|start| (usize::MAX - start.len(), start[0]));
    starts.truncate(MOST_STARTS);
    starts
}

/// Merges and drops tracks while the criterion falls, and down to `max_tracks` in any case.
fn fewer(frame: &Frame, observations: &[Observation], mut best: Mixture, max_tracks: usize) -> Mixture {
    let log_n = (observations.len() as f64).ln();
    loop {
        let count = best.components.len();
        // In parallel, and kept in order: of two that are as good, the first is taken with any number of threads.
        let trials: Vec<(f64, f64, Mixture)> = regroupings(&best)
            .into_par_iter()
            .map(|groups| {
                let bonus =
                    if groups.iter().any(|group| group.len() > 1) { BREAK_PARAMETERS * log_n } else { 0.0 };
                let trial = Mixture::fit(frame, observations, best.shares.regrouped(&groups), TRIAL_ROUNDS);
                (trial.bic() - bonus, bonus, trial)
            })
            .collect();
        let next = trials.into_iter().min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((_, bonus, trial)) = next else { return best };
        let next = Mixture::fit(frame, observations, trial.shares, ROUNDS);
        let better = next.bic() - bonus < best.bic() || count > max_tracks;
        if next.components.len() >= count || !better {
            return best;
        }
        best = next;
    }
}

/// Adds the track that lowers the criterion most, from chains among what is now clutter; `None`: none does.
fn more(frame: &Frame, observations: &[Observation], best: &Mixture) -> Option<Mixture> {
    let clutter: Vec<usize> =
        (0..observations.len()).filter(|i| best.shares.of(*i).iter().sum::<f64>() < 0.5).collect();
    let trials: Vec<Mixture> = starts(frame, observations, &clutter)
        .into_par_iter()
        .map(|start| {
            let mut shares = best.shares.with_one_more();
            for i in start {
                let row = shares.of_mut(i);
                let new = row.len() - 1;
                row.fill(0.0);
                row[new] = 1.0;
            }
            Mixture::fit(frame, observations, shares, TRIAL_ROUNDS)
        })
        .collect();
    let trial = trials.into_iter().min_by(|a, b| a.bic().total_cmp(&b.bic()))?;
    let next = Mixture::fit(frame, observations, trial.shares, ROUNDS);
    (next.bic() < best.bic()).then_some(next)
}

/// The merges and drops worth trying: for each new track the old ones it is made of.
fn regroupings(mixture: &Mixture) -> Vec<Vec<Vec<usize>>> {
    let tracks = &mixture.components;
    let mut pairs: Vec<(f64, usize, usize)> = (0..tracks.len())
        .flat_map(|a| (a + 1..tracks.len()).map(move |b| (a, b)))
        .map(|(a, b)| (overlap(&tracks[a].activity, &tracks[b].activity), a, b))
        .collect();
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let merges = pairs.into_iter().take(PAIRS).map(|(_, a, b)| {
        let others = (0..tracks.len()).filter(|k| *k != a && *k != b).map(|k| vec![k]);
        std::iter::once(vec![a, b]).chain(others).collect()
    });
    let mut by_weight: Vec<usize> = (0..tracks.len()).collect();
    by_weight.sort_by(|a, b| tracks[*a].weight.total_cmp(&tracks[*b].weight));
    let drops = by_weight
        .into_iter()
        .take(DROPS)
        .enumerate()
        .filter(|(rank, k)| *rank == 0 || tracks[*k].weight < MAY_DROP)
        .map(|(_, gone)| (0..tracks.len()).filter(|k| *k != gone).map(|k| vec![k]).collect());
    merges.chain(drops).collect()
}

/// Share of the season that two activities have in common, of the smaller of the two.
fn overlap(a: &[f64; BINS], b: &[f64; BINS]) -> f64 {
    let common: f64 = a.iter().zip(b).map(|(a, b)| a.min(*b)).sum();
    common / a.iter().sum::<f64>().min(b.iter().sum()).max(1e-12)
}
