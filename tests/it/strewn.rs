//! Gamefish that have nothing to do with bait: the marks of a log strewn along the tracks of their outings.

use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark};
use shoalwright::terms::place::Place;
use shoalwright::terms::track_log::TrackLog;
use std::collections::BTreeMap;

/// A plain linear congruential generator (Knuth's MMIX constants), so that the check shares nothing with the code.
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    pub(crate) fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// A place on a track: each metre equally likely at looking speed, .3 of that where the boat ran faster than 9 mph,
/// which is the share of schools that the simulator of these lakes let a running boat find.
fn somewhere_on(track: &TrackLog, dice: &mut Dice) -> Place {
    let points = track.segments.concat();
    let weights: Vec<f64> = points
        .windows(2)
        .map(|pair| {
            let metres = pair[0].place.metres_to(pair[1].place);
            let seconds = pair[1].time.unwrap().seconds_since(pair[0].time.unwrap());
            if metres > 4.02336 * seconds { 0.3 * metres } else { metres }
        })
        .collect();
    let mut rest = dice.unit() * weights.iter().sum::<f64>();
    for (pair, weight) in points.windows(2).zip(&weights) {
        if rest <= *weight && *weight > 0.0 {
            let (a, b, share) = (pair[0].place, pair[1].place, rest / weight);
            return Place { lon: a.lon + share * (b.lon - a.lon), lat: a.lat + share * (b.lat - a.lat) };
        }
        rest -= weight;
    }
    points[0].place
}

/// The log with its gamefish marks strewn along the tracks of their outings, `bunch` marks to a place.
pub(crate) fn strewn(
    log: &[Mark],
    track_logs: &[TrackLog],
    lake: &Lake,
    bunch: usize,
    dice: &mut Dice,
) -> Vec<Mark> {
    let tracks: BTreeMap<_, _> =
        track_logs.iter().map(|t| (lake.day_of(t.segments[0][0].time.unwrap()).unwrap().date, t)).collect();
    let mut log = log.to_vec();
    let mut last = None;
    let mut placed = 0;
    for mark in log.iter_mut().filter(|m| m.kind == Kind::Gamefish) {
        let date = mark.day.unwrap().date;
        if last.is_none_or(|(d, _)| d != date) || placed % bunch == 0 {
            last = Some((date, somewhere_on(tracks[&date], dice)));
            placed = 0;
        }
        placed += 1;
        // Within 40 m of the place, about the scatter of several presses over one school.
        let at = last.unwrap().1;
        let degrees = 80.0 / 111_000.0;
        let jitter = |dice: &mut Dice| (dice.unit() - 0.5) * degrees;
        mark.place = Place { lon: at.lon + jitter(dice), lat: at.lat + jitter(dice) };
    }
    log
}
