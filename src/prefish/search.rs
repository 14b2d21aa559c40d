//! The search: stops are taken out and put back in (adaptive large-neighbourhood search, Ropke & Pisinger 2006, doi
//! 10.1287/trsc.1050.0135), ways are shortened, worse plans are taken now and then (simulated annealing).
//!
//! Seeded, and stopped by the number of rounds: the same plan on every machine, whatever the number of threads.

use crate::prefish::instance::Instance;
use crate::prefish::model::Want;
use crate::prefish::pool::Pool;
use crate::prefish::route::{Gap, Ground, Route};
use crate::prefish::solution::{Solution, Standing};
use crate::terms::random::Random;
use rayon::prelude::*;
use std::cmp::Ordering;

/// Searches from different seeds; the best of them counts. Four lose less to a bad start than one four times as long.
const STARTS: u64 = 4;
/// Temperature at the start and at the end, as a share of the worth of the best plan.
const TEMPERATURES: [f64; 2] = [0.03, 0.0006];
/// Worth of having all days free, as a share of the worth of the best plan: of two plans of equal worth the shorter
/// has more room for what may yet come.
const WORTH_OF_TIME: f64 = 0.02;
/// Rounds after which the weights of the ways to take out are set anew.
const SEGMENT: usize = 100;

/// The best plan found.
pub(super) fn search(instance: &Instance, seed: u64, rounds: usize) -> Solution {
    let ends: Vec<(Solution, Pool)> =
        (0..STARTS).into_par_iter().map(|start| Search::new(instance, seed, start).run(rounds)).collect();
    let mut pool = Pool::default();
    let mut best: Option<(Solution, Standing)> = None;
    let mut offer = |solution: Solution| {
        let standing = solution.standing(instance);
        if best.as_ref().is_none_or(|(_, b)| standing.compare(*b) == Ordering::Greater) {
            best = Some((solution, standing));
        }
    };
    for (solution, routes) in ends {
        offer(solution);
        pool.join(routes);
    }
    if let Some(mut combined) = pool.best_combination(instance) {
        let mut random = Random::new(seed, STARTS);
        Repair::new(instance).run(&mut combined, &mut random, None);
        offer(combined);
    }
    best.map_or_else(|| Solution::empty(instance), |(solution, _)| solution)
}

/// How many ways to take stops out there are, see `Search::take_out`.
const REMOVALS: usize = 5;

struct Search<'a> {
    instance: &'a Instance<'a>,
    random: Random,
    current: Solution,
    trial: Solution,
    repair: Repair<'a>,
    pool: Pool,
    /// Stops that may be planned.
    open: Vec<usize>,
    /// Weight of each way to take out.
    weights: [f64; REMOVALS],
}

impl<'a> Search<'a> {
    fn new(instance: &'a Instance, seed: u64, start: u64) -> Self {
        let open = (0..instance.stops).filter(|stop| instance.want[*stop] != Want::Never).collect();
        Self {
            instance,
            random: Random::new(seed, start),
            current: Solution::empty(instance),
            trial: Solution::empty(instance),
            repair: Repair::new(instance),
            pool: Pool::default(),
            open,
            weights: [1.0; REMOVALS],
        }
    }

    fn run(mut self, rounds: usize) -> (Solution, Pool) {
        let instance = self.instance;
        self.repair.run(&mut self.current, &mut self.random, Some(0.0));
        let mut standing = self.current.standing(instance);
        let (mut best, mut best_standing) = (self.current.clone(), standing);
        let mut scores = [[0.0_f64; 2]; REMOVALS];
        let length_s: f64 = instance.days.iter().map(|day| day.length_s).sum();
        if self.open.is_empty() {
            return (best, self.pool);
        }
        for round in 0..rounds {
            let way = self.pick_removal();
            self.trial.clone_from(&self.current);
            if instance.chosen {
                let cut = self.minutes_cut();
                self.trial.cut_minutes(instance, &cut);
            }
            let planned = self.trial.routes.iter().map(|r| r.stops.len()).sum::<usize>();
            let most = (planned * 2 / 5).clamp(1, 12);
            let count = 1 + self.random.below(most);
            self.take_out(way, count);
            if !self.trial.settle(instance) {
                continue;
            }
            self.repair.run(&mut self.trial, &mut self.random, Some(1.0));
            let next = self.trial.standing(instance);

            let worth = best_standing.value.abs().max(1e-9);
            let share = round as f64 / rounds as f64;
            let temperature = worth * TEMPERATURES[0] * (TEMPERATURES[1] / TEMPERATURES[0]).powf(share);
            let time = |s: Standing| worth * WORTH_OF_TIME * s.travel_s / length_s.max(1.0);
            let musts = (next.musts as f64 - standing.musts as f64) * instance.worth_of_all.max(1.0);
            let gain = musts + next.value - time(next) - (standing.value - time(standing));
            let mut score = 0.0;
            if next.compare(best_standing) == Ordering::Greater {
                best.clone_from(&self.trial);
                best_standing = next;
                score = 9.0;
            } else if gain > 1e-9 {
                score = 3.0;
            }
            if gain >= 0.0 || self.random.unit() < (gain / temperature).exp() {
                score += 1.0;
                if instance.days.len() > 1 {
                    self.pool.keep(instance, &self.trial);
                }
                std::mem::swap(&mut self.current, &mut self.trial);
                standing = next;
            }
            scores[way][0] += score;
            scores[way][1] += 1.0;
            if (round + 1) % SEGMENT == 0 {
                for (weight, [sum, times]) in self.weights.iter_mut().zip(&mut scores) {
                    if *times > 0.0 {
                        *weight = f64::max(0.05, 0.8 * *weight + 0.2 * *sum / *times);
                    }
                    (*sum, *times) = (0.0, 0.0);
                }
            }
        }
        (best, self.pool)
    }

    fn take_out(&mut self, way: usize, count: usize) {
        match way {
            0 => self.random(count),
            1 => self.segment(count),
            2 => self.related(count),
            3 => self.worst(count),
            _ => self.force_in(count),
        }
    }

    fn pick_removal(&mut self) -> usize {
        let mut at = self.random.unit() * self.weights.iter().sum::<f64>();
        for (way, weight) in self.weights.iter().enumerate() {
            at -= weight;
            if at < 0.0 {
                return way;
            }
        }
        self.weights.len() - 1
    }

    /// Steps of minutes that pay when a minute is worth a chance drawn anew each round: at the best plan the last
    /// minute is worth the same at every stop, but what it is worth is not known.
    fn minutes_cut(&mut self) -> Vec<usize> {
        let worth = 10_f64.powf(-1.0 - 3.0 * self.random.unit());
        self.instance
            .searches
            .iter()
            .map(|search| search.chance.windows(2).take_while(|pair| pair[1] - pair[0] >= worth).count())
            .collect()
    }

    fn planned(&self) -> Vec<usize> {
        self.trial.routes.iter().flat_map(|route| route.stops.iter().copied()).collect()
    }

    fn random(&mut self, count: usize) {
        let mut planned = self.planned();
        for _ in 0..count.min(planned.len()) {
            let stop = planned.swap_remove(self.random.below(planned.len()));
            self.trial.remove(self.instance, stop);
        }
    }

    fn segment(&mut self, count: usize) {
        let day = self.random.below(self.trial.routes.len());
        let stops = &self.trial.routes[day].stops;
        if stops.is_empty() {
            return self.random(count);
        }
        let first = self.random.below(stops.len());
        let piece: Vec<usize> = stops.iter().skip(first).take(count).copied().collect();
        for stop in piece {
            self.trial.remove(self.instance, stop);
        }
    }

    fn related(&mut self, count: usize) {
        let mut planned = self.planned();
        if planned.is_empty() {
            return;
        }
        let seed = planned[self.random.below(planned.len())];
        let travel = self.instance.days[0].travel;
        planned.sort_by(|a, b| {
            travel.seconds(seed, *a).total_cmp(&travel.seconds(seed, *b)).then_with(|| a.cmp(b))
        });
        for stop in planned.into_iter().take(count) {
            self.trial.remove(self.instance, stop);
        }
    }

    fn worst(&mut self, count: usize) {
        let mut rates = Vec::new();
        for day in 0..self.trial.routes.len() {
            let ground = Ground { instance: self.instance, day };
            let route = &self.trial.routes[day];
            for (place, stop) in route.stops.iter().enumerate() {
                let saved_s = route.saved_s(ground, place, &self.trial.steps).max(1.0);
                let rate = self.trial.share(self.instance, *stop) / saved_s;
                rates.push((rate * (0.5 + self.random.unit()), *stop));
            }
        }
        rates.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
        for (_, stop) in rates.into_iter().take(count) {
            self.trial.remove(self.instance, stop);
        }
    }

    /// Takes out what stands in the way of a stop that is not in the plan, and puts that one in.
    fn force_in(&mut self, count: usize) {
        let out: Vec<usize> =
            self.open.iter().copied().filter(|stop| self.trial.day_of[*stop].is_none()).collect();
        if out.is_empty() {
            return self.random(count);
        }
        let wanted = out[self.random.below(out.len())];
        let day = self.random.below(self.trial.routes.len());
        let ground = Ground { instance: self.instance, day };
        let pick = self.random.unit();
        self.trial.steps[wanted] = if self.instance.chosen {
            self.random.below(self.instance.searches[wanted].last() + 1)
        } else {
            0
        };
        loop {
            if !self.trial.settle(self.instance) {
                return;
            }
            let route = &self.trial.routes[day];
            if let Some(gap) = route.best_gap(ground, wanted, self.trial.steps[wanted]) {
                self.trial.insert(self.instance, wanted, day, gap.position);
                return;
            }
            // Out goes the one of least worth for its time, or of least worth and nearness, by a draw.
            let mut least: Option<(f64, usize)> = None;
            for (place, stop) in route.stops.iter().enumerate() {
                let saved_s = route.saved_s(ground, place, &self.trial.steps).max(1.0);
                let near = if pick < 0.5 { 1.0 } else { ground.seconds(wanted, *stop).max(60.0) };
                let must = if self.instance.want[*stop] == Want::Must { 1e6 } else { 1.0 };
                let noise = 0.7 + 0.6 * self.random.unit();
                let rate = must * near * noise * self.trial.share(self.instance, *stop) / saved_s;
                if least.is_none_or(|(l, _)| rate < l) {
                    least = Some((rate, *stop));
                }
            }
            let Some((_, stop)) = least else { return };
            self.trial.remove(self.instance, stop);
        }
    }
}

/// Puts stops in until none fits, shortens the ways, and starts again where that made room.
pub(super) struct Repair<'a> {
    instance: &'a Instance<'a>,
    /// Best gap by day and stop; taken anew only for the day that changed.
    gaps: Vec<Vec<Option<Gap>>>,
    spare: Route,
}

impl<'a> Repair<'a> {
    pub(super) fn new(instance: &'a Instance) -> Self {
        let gaps = vec![vec![None; instance.stops]; instance.days.len()];
        Self { instance, gaps, spare: Route::default() }
    }

    /// `noise`: how much chance has a say, `None` or 0: none.
    pub(super) fn run(&mut self, solution: &mut Solution, random: &mut Random, noise: Option<f64>) {
        let instance = self.instance;
        let noise = noise.unwrap_or(0.0);
        let power = if noise > 0.0 { 0.7 + 1.3 * random.unit() } else { 1.0 };
        let width = if noise > 0.0 { 0.3 * noise * random.unit() } else { 0.0 };
        if instance.chosen {
            // Minutes to put stops in with: as those that pay at a worth drawn for this round.
            let worth = 10_f64.powf(-1.3 - 2.2 * random.unit());
            for (stop, search) in instance.searches.iter().enumerate() {
                if solution.day_of[stop].is_none() {
                    solution.steps[stop] =
                        search.chance.windows(2).take_while(|pair| pair[1] - pair[0] >= worth).count();
                }
            }
        }
        let mut changed: Vec<bool> = vec![true; instance.days.len()];
        loop {
            self.fill(solution, random, power, width, &changed);
            let mut again = false;
            for (day, changed) in changed.iter_mut().enumerate() {
                let ground = Ground { instance, day };
                *changed = solution.routes[day].shorten(ground, &solution.steps, &mut self.spare);
                again |= *changed;
            }
            if !again {
                break;
            }
        }
        solution.fill_minutes(instance);
    }

    fn fill(
        &mut self,
        solution: &mut Solution,
        random: &mut Random,
        power: f64,
        width: f64,
        changed: &[bool],
    ) {
        let instance = self.instance;
        let out: Vec<usize> = (0..instance.stops)
            .filter(|stop| solution.day_of[*stop].is_none() && instance.want[*stop] != Want::Never)
            .collect();
        let factor: Vec<f64> = out.iter().map(|_| 1.0 + width * (2.0 * random.unit() - 1.0)).collect();
        for (day, changed) in changed.iter().enumerate() {
            if *changed {
                self.look(solution, &out, day);
            }
        }
        loop {
            let mut best: Option<(bool, f64, usize, usize)> = None;
            for (stop, factor) in out.iter().zip(&factor) {
                if solution.day_of[*stop].is_some() {
                    continue;
                }
                let gain = solution.gain(instance, *stop, solution.steps[*stop]);
                let must = instance.want[*stop] == Want::Must;
                for (day, gaps) in self.gaps.iter().enumerate() {
                    let Some(gap) = gaps[*stop] else { continue };
                    let rate = factor * gain.max(0.0).powf(power) / gap.added_s.max(1.0);
                    let better = best.is_none_or(|(m, r, ..)| (must, rate) > (m, r));
                    if (must || rate > 0.0) && better {
                        best = Some((must, rate, *stop, day));
                    }
                }
            }
            let Some((_, _, stop, day)) = best else { break };
            let Some(gap) = self.gaps[day][stop] else { break };
            solution.insert(instance, stop, day, gap.position);
            self.look(solution, &out, day);
        }
    }

    fn look(&mut self, solution: &Solution, out: &[usize], day: usize) {
        let ground = Ground { instance: self.instance, day };
        for stop in out {
            self.gaps[day][*stop] = if solution.day_of[*stop].is_none() {
                solution.routes[day].best_gap(ground, *stop, solution.steps[*stop])
            } else {
                None
            };
        }
    }
}
