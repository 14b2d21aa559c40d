//! Days on the circle of the year: where they gather, and whether that is more than chance.

use crate::terms::season::{SeasonDay, YEAR_DAYS};
use std::f64::consts::TAU;

/// Fewer days say nothing of a season (judgement; the approximation below is good from about ten).
pub const FEWEST_DAYS: usize = 5;

/// The mean vector of days on the circle (Mardia & Jupp 2000).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanVector {
    /// Its direction; `None` when the days balance out.
    pub day: Option<SeasonDay>,
    /// Its length: 1 when all days are one, 0 when they balance out.
    pub length: f64,
}

impl MeanVector {
    /// Of some days, in any order; of none the length is 0.
    ///
    /// ```
    /// use shoalwright::terms::{circle::MeanVector, season::SeasonDay};
    ///
    /// let mean = MeanVector::of([350.0, 20.0].map(SeasonDay::from_days));
    /// assert!((mean.day.unwrap().days() - 2.375).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn of(days: impl IntoIterator<Item = SeasonDay>) -> Self {
        Self::of_turns(days.into_iter().map(|day| day.days() / YEAR_DAYS).collect())
    }

    fn of_turns(mut turns: Vec<f64>) -> Self {
        turns.sort_unstable_by(f64::total_cmp);
        let (sin, cos) = turns
            .iter()
            .map(|turn| (TAU * turn).sin_cos())
            .fold((0.0, 0.0), |sum, v| (sum.0 + v.0, sum.1 + v.1));
        let length = sin.hypot(cos);
        let day = (length > 1e-9).then(|| SeasonDay::from_days(sin.atan2(cos) / TAU * YEAR_DAYS));
        Self { day, length: length / turns.len().max(1) as f64 }
    }
}

/// Chance that so many days drawn evenly over the circle have a mean vector so long or longer (Rayleigh's test, by the
/// approximation in Zar, Biostatistical Analysis, quoted from memory).
#[must_use]
pub fn rayleigh_p(count: usize, length: f64) -> f64 {
    let n = count as f64;
    let resultant = n * length;
    ((1.0 + 4.0 * n + 4.0 * (n * n - resultant * resultant)).sqrt() - (1.0 + 2.0 * n)).exp().min(1.0)
}

/// Chance that some outings, drawn at random from all, gather so much in one part of the year; `None`: too few.
///
/// The year is measured in outings, so that a lake fished in summer alone does not make every place a summer place
/// (uniform scores, Mardia & Jupp 2000). A year of two seasons, spring and fall, balances out and is missed.
#[must_use]
pub fn season_p(days: &[SeasonDay], all: &[SeasonDay]) -> Option<f64> {
    if days.len() < FEWEST_DAYS || all.len() < days.len() {
        return None;
    }
    let mut sorted: Vec<f64> = all.iter().map(|day| day.days()).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let turn = |day: &SeasonDay| {
        let before = sorted.partition_point(|other| *other < day.days());
        let with = sorted.partition_point(|other| *other <= day.days());
        (before + with) as f64 / 2.0 / sorted.len() as f64
    };
    let mean = MeanVector::of_turns(days.iter().map(turn).collect());
    Some(rayleigh_p(days.len(), mean.length))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::random::Random;

    fn days(list: &[f64]) -> Vec<SeasonDay> {
        list.iter().map(|day| SeasonDay::from_days(*day)).collect()
    }

    #[test]
    fn mean_vector_and_rayleigh_agree_with_the_worked_values() {
        // Handbook table of the trade (computed there from the definitions): mean 2.375, length .9544; p .005467.
        let mean = MeanVector::of(days(&[350.0, 20.0]));
        assert!((mean.day.unwrap().days() - 2.375).abs() < 1e-9);
        assert!((mean.length - 0.9544).abs() < 1e-4, "{}", mean.length);
        assert!((rayleigh_p(20, 0.5) - 0.005_467).abs() < 1e-5, "{}", rayleigh_p(20, 0.5));
        assert_eq!(MeanVector::of(days(&[10.0, 10.0 + YEAR_DAYS / 2.0])).day, None);
        assert_eq!(MeanVector::of([]), MeanVector { day: None, length: 0.0 });
    }

    #[test]
    fn outings_of_a_short_season_drawn_at_random_have_no_season_of_their_own() {
        // 200 outings from April to September; 20 of them drawn 2,000 times. At .05 some hundred are called by chance:
        // fewer, as drawing without replacement spreads them.
        let mut random = Random::new(3, 0);
        let all: Vec<SeasonDay> =
            (0..200).map(|_| SeasonDay::from_days(90.0 + 180.0 * random.unit())).collect();
        let called = (0..2000)
            .filter(|_| {
                let mut rest = all.clone();
                let drawn: Vec<SeasonDay> =
                    (0..20).map(|_| rest.swap_remove(random.below(rest.len()))).collect();
                season_p(&drawn, &all).unwrap() < 0.05
            })
            .count();
        assert!((40..=115).contains(&called), "{called}");
    }

    #[test]
    fn outings_of_two_weeks_in_a_short_season_do() {
        let all = days(&(0..200).map(|k| 90.0 + 0.9 * f64::from(k)).collect::<Vec<_>>());
        assert!(season_p(&all[60..75], &all).unwrap() < 1e-4);
        assert_eq!(season_p(&all[..4], &all), None);
    }
}
