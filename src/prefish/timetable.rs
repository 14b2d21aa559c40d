//! From routes to what the angler reads: times, when to leave, when to turn back, what is near, fuel, late cards.

use crate::prefish::instance::{HAIR, Instance};
use crate::prefish::model::{Problem, Search, Want};
use crate::prefish::result::{Alternate, DayPlan, Fuel, LATE_MINUTES, LateCard, Leg, Visit};
use crate::prefish::solution::Solution;
use crate::terms::instant::Instant;
use std::f64::consts::LN_2;

/// Alternates lie within this many seconds of running. Common practice, no source.
const NEAR_S: f64 = 600.0;
/// Most alternates told.
const ALTERNATES: usize = 3;
/// Shortest search before a stop is called empty, in minutes. Common practice, no source.
const LEAST_LOOK_MIN: f64 = 10.0;

/// One day of a solution.
pub(super) fn day_plan(
    problem: &Problem,
    instance: &Instance,
    solution: &Solution,
    number: usize,
) -> DayPlan {
    let day = Day { problem, instance, solution, number };
    let times = day.times(&solution.routes[number].stops, 0.0);
    let visits = day.visits(&times);
    let legs = day.legs(&times);
    let run_m = legs.iter().map(|leg| leg.metres).sum();
    let numbers = &instance.days[number];
    let farthest_m = legs.iter().map(|leg| numbers.travel.metres(leg.to, numbers.finish)).fold(0.0, f64::max);
    let facts = &problem.days[number];
    DayPlan {
        back: day.at(times.back_s),
        slack_s: numbers.length_s - times.back_s,
        run_m,
        fuel: Fuel {
            range_m: numbers.range_m,
            left_m: numbers.range_m - run_m,
            farthest_m,
            far: farthest_m > facts.aboard_m / 3.0 + HAIR,
        },
        late: LATE_MINUTES.iter().map(|minutes| day.late_card(*minutes)).collect(),
        visits,
        legs,
    }
}

#[derive(Clone, Copy)]
struct Day<'a> {
    problem: &'a Problem,
    instance: &'a Instance<'a>,
    solution: &'a Solution,
    number: usize,
}

/// The times of stops in order, in seconds from launch.
struct Times {
    stops: Vec<usize>,
    arrive_s: Vec<f64>,
    begin_s: Vec<f64>,
    depart_s: Vec<f64>,
    /// Latest time to leave the start, then each stop, that keeps the rest.
    latest_s: Vec<f64>,
    back_s: f64,
    run_m: f64,
    holds: bool,
}

impl Day<'_> {
    fn at(&self, seconds: f64) -> Instant {
        let ms = (seconds * 1000.0).round() as i64;
        Instant::from_unix_ms(self.problem.days[self.number].launch.unix_ms() + ms)
    }

    fn search_s(&self, stop: usize) -> f64 {
        self.instance.search_s(stop, self.solution.steps[stop])
    }

    /// The times when the boat leaves the start `late_s` after launch.
    fn times(&self, stops: &[usize], late_s: f64) -> Times {
        let day = &self.instance.days[self.number];
        let mut times = Times {
            stops: stops.to_vec(),
            arrive_s: Vec::new(),
            begin_s: Vec::new(),
            depart_s: Vec::new(),
            latest_s: vec![0.0; stops.len() + 1],
            back_s: 0.0,
            run_m: 0.0,
            holds: true,
        };
        let (mut at, mut now) = (day.start, late_s);
        for stop in stops {
            let arrive = now + day.travel.seconds(at, *stop);
            let begin = arrive.max(day.open_s[*stop]);
            times.holds &= begin <= day.close_s[*stop] + HAIR;
            now = begin + self.search_s(*stop);
            times.run_m += day.travel.metres(at, *stop);
            times.arrive_s.push(arrive);
            times.begin_s.push(begin);
            times.depart_s.push(now);
            at = *stop;
        }
        times.back_s = now + day.travel.seconds(at, day.finish);
        times.run_m += day.travel.metres(at, day.finish);
        times.holds &= times.back_s <= day.length_s + HAIR && times.run_m <= day.range_m + HAIR;
        let (mut next, mut latest) = (day.finish, day.length_s);
        for (place, stop) in stops.iter().enumerate().rev() {
            times.latest_s[place + 1] = latest - day.travel.seconds(*stop, next);
            latest = (times.latest_s[place + 1] - self.search_s(*stop)).min(day.close_s[*stop]);
            next = *stop;
        }
        times.latest_s[0] = latest - day.travel.seconds(day.start, next);
        times
    }

    fn visits(&self, times: &Times) -> Vec<Visit> {
        let day = &self.instance.days[self.number];
        times
            .stops
            .iter()
            .enumerate()
            .map(|(place, stop)| {
                let turn_back_s = day.length_s - day.travel.seconds(*stop, day.finish);
                let search_min = self.search_s(*stop) / 60.0;
                Visit {
                    stop: *stop,
                    arrive: self.at(times.arrive_s[place]),
                    begin: self.at(times.begin_s[place]),
                    depart: self.at(times.depart_s[place]),
                    search_min,
                    chance: self.instance.chance(*stop, self.solution.steps[*stop]),
                    leave_by: self.at(times.latest_s[place + 1]),
                    turn_back: self.at(turn_back_s),
                    slack_to_ramp_s: turn_back_s - times.depart_s[place],
                    leave_after_min: leave_after_min(&self.problem.stops[*stop].search, search_min),
                    alternates: self.alternates(*stop, times.depart_s[place]),
                }
            })
            .collect()
    }

    fn legs(&self, times: &Times) -> Vec<Leg> {
        let day = &self.instance.days[self.number];
        let mut legs = Vec::new();
        let (mut from, mut leave_s) = (day.start, 0.0);
        for (place, to) in times.stops.iter().copied().chain([day.finish]).enumerate() {
            legs.push(Leg {
                from,
                to,
                leave: self.at(leave_s),
                arrive: self.at(times.arrive_s.get(place).copied().unwrap_or(times.back_s)),
                metres: day.travel.metres(from, to),
                leave_by: self.at(times.latest_s[place]),
            });
            from = to;
            leave_s = times.depart_s.get(place).copied().unwrap_or(times.back_s);
        }
        legs
    }

    /// Stops near at hand that leave time for their least search and the way home.
    fn alternates(&self, stop: usize, now_s: f64) -> Vec<Alternate> {
        let day = &self.instance.days[self.number];
        let mut near: Vec<Alternate> = (0..self.instance.stops)
            .filter(|other| self.instance.want[*other] != Want::Never)
            .filter(|other| self.solution.day_of[*other].is_none())
            .map(|other| Alternate { stop: other, seconds: day.travel.seconds(stop, other) })
            .filter(|near| {
                let begin_s = (now_s + near.seconds).max(day.open_s[near.stop]);
                let home_s = day.travel.seconds(near.stop, day.finish);
                near.seconds <= NEAR_S
                    && begin_s <= day.close_s[near.stop]
                    && begin_s + self.instance.search_s(near.stop, 0) + home_s <= day.length_s
            })
            .collect();
        near.sort_by(|a, b| a.seconds.total_cmp(&b.seconds).then(a.stop.cmp(&b.stop)));
        near.truncate(ALTERNATES);
        near
    }

    /// Drops the stops that are worth least for the time they free, must-stops last, until the rest is in time.
    fn late_card(&self, minutes: u32) -> LateCard {
        let late_s = 60.0 * f64::from(minutes);
        let mut stops = self.solution.routes[self.number].stops.clone();
        let mut dropped = Vec::new();
        loop {
            let times = self.times(&stops, late_s);
            if times.holds || stops.is_empty() {
                return LateCard {
                    minutes,
                    dropped,
                    kept: stops
                        .iter()
                        .zip(&times.begin_s)
                        .map(|(stop, begin)| (*stop, self.at(*begin), self.search_s(*stop) / 60.0))
                        .collect(),
                    back: times.holds.then(|| self.at(times.back_s)),
                };
            }
            let must = |stop: usize| self.instance.want[stop] == Want::Must;
            let least = (0..stops.len()).min_by(|a, b| {
                let rate =
                    |place: usize| self.share(&stops, stops[place]) / self.saved_s(&stops, place).max(1.0);
                must(stops[*a]).cmp(&must(stops[*b])).then(rate(*a).total_cmp(&rate(*b)))
            });
            if let Some(place) = least {
                dropped.push(stops.remove(place));
            }
        }
    }

    /// What a stop adds to the others of the list.
    fn share(&self, stops: &[usize], stop: usize) -> f64 {
        let chance = |s: usize| self.instance.chance(s, self.solution.steps[s]);
        let group = self.instance.group_of[stop];
        let others = stops.iter().filter(|s| **s != stop && self.instance.group_of[**s] == group);
        chance(stop) * others.map(|s| 1.0 - chance(*s)).product::<f64>()
    }

    fn saved_s(&self, stops: &[usize], place: usize) -> f64 {
        let day = &self.instance.days[self.number];
        let before = place.checked_sub(1).map_or(day.start, |p| stops[p]);
        let after = stops.get(place + 1).copied().unwrap_or(day.finish);
        let stop = stops[place];
        day.travel.seconds(before, stop) + day.travel.seconds(stop, after) - day.travel.seconds(before, after)
            + self.search_s(stop)
    }
}

/// Minutes of search after which half the chance is used up (ln 2 / r) and nothing seen means leave: at least ten,
/// at most the search itself. Where no rate is known: the whole search.
fn leave_after_min(search: &Search, search_min: f64) -> u32 {
    let half = match search {
        Search::Chosen { rate_per_min, .. } if *rate_per_min > 0.0 => LN_2 / rate_per_min,
        _ => search_min,
    };
    half.max(LEAST_LOOK_MIN).min(search_min).ceil() as u32
}
