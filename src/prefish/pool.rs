//! Good days met on the way, and the best way to set several of them together.
//!
//! With two or three days the search seldom holds the best routes of all days at one moment. The best disjoint
//! choice of one kept route a day (set packing) is found by branch and bound.

use crate::prefish::instance::Instance;
use crate::prefish::model::Want;
use crate::prefish::solution::Solution;
use std::cmp::Ordering;
use std::collections::BTreeMap;

/// Routes kept of each search; of more the least worth go.
const KEPT: usize = 250;
/// Most choices looked at.
const CHOICES: usize = 3_000_000;

/// Routes by day and set of stops.
#[derive(Default)]
pub(super) struct Pool {
    routes: BTreeMap<(usize, Vec<usize>), Kept>,
}

struct Kept {
    order: Vec<usize>,
    /// Steps of minutes in the order of `order`.
    steps: Vec<usize>,
    /// Worth of the route alone, must-stops counted above all else.
    worth: f64,
    /// Seconds of it that are used.
    back_s: f64,
}

impl Kept {
    fn better(&self, other: &Self) -> bool {
        (self.worth, -self.back_s) > (other.worth, -other.back_s)
    }
}

impl Pool {
    /// Keeps the days of a solution.
    pub(super) fn keep(&mut self, instance: &Instance, solution: &Solution) {
        for (day, route) in solution.routes.iter().enumerate() {
            let mut set = route.stops.clone();
            set.sort_unstable();
            let kept = Kept {
                order: route.stops.clone(),
                steps: route.stops.iter().map(|stop| solution.steps[*stop]).collect(),
                worth: worth_alone(instance, &route.stops, &solution.steps),
                back_s: route.back_s,
            };
            self.offer((day, set), kept);
        }
        if self.routes.len() > 2 * KEPT * instance.days.len() {
            self.prune(instance.days.len());
        }
    }

    fn offer(&mut self, key: (usize, Vec<usize>), kept: Kept) {
        match self.routes.get(&key) {
            Some(old) if !kept.better(old) => {}
            _ => {
                self.routes.insert(key, kept);
            }
        }
    }

    fn prune(&mut self, days: usize) {
        for day in 0..days {
            let of_day = || self.routes.iter().filter(|((d, _), _)| *d == day);
            let mut worths: Vec<f64> = of_day().map(|(_, kept)| kept.worth).collect();
            worths.sort_by(|a, b| b.total_cmp(a));
            if let Some(least) = worths.get(KEPT).copied() {
                self.routes.retain(|(d, _), kept| *d != day || kept.worth > least);
            }
        }
    }

    /// Takes another search's routes over.
    pub(super) fn join(&mut self, other: Self) {
        for (key, kept) in other.routes {
            self.offer(key, kept);
        }
    }

    /// The best choice of a route a day without a stop twice; `None` with one day, or when nothing was kept.
    pub(super) fn best_combination(&self, instance: &Instance) -> Option<Solution> {
        let days = instance.days.len();
        if days < 2 || self.routes.is_empty() {
            return None;
        }
        let mut by_day: Vec<Vec<Choice>> = vec![Vec::new(); days];
        for ((day, set), kept) in &self.routes {
            // A route of one day serves on any other that it holds on.
            for (other, choices) in by_day.iter_mut().enumerate() {
                if other == *day || holds_on(instance, kept, other) {
                    let mut bits = vec![0_u64; instance.stops.div_ceil(64)];
                    for stop in set {
                        bits[stop / 64] |= 1 << (stop % 64);
                    }
                    choices.push(Choice { kept, bits });
                }
            }
        }
        for choices in &mut by_day {
            choices.push(Choice { kept: &NO_STOPS, bits: vec![0; instance.stops.div_ceil(64)] });
            choices
                .sort_by(|a, b| b.kept.worth.total_cmp(&a.kept.worth).then(a.kept.order.cmp(&b.kept.order)));
            choices.dedup_by(|a, b| a.bits == b.bits);
            choices.truncate(2 * KEPT);
        }
        let rest: Vec<f64> =
            (0..=days).map(|day| by_day[day..].iter().map(|c| c[0].kept.worth).sum()).collect();
        let mut packing =
            Packing { instance, by_day: &by_day, rest, chosen: Vec::new(), best: None, looked: 0 };
        packing.go(0.0);
        packing.best.map(|(_, solution)| solution)
    }
}

static NO_STOPS: Kept = Kept { order: Vec::new(), steps: Vec::new(), worth: 0.0, back_s: 0.0 };

#[derive(Clone)]
struct Choice<'a> {
    kept: &'a Kept,
    bits: Vec<u64>,
}

struct Packing<'a> {
    instance: &'a Instance<'a>,
    by_day: &'a [Vec<Choice<'a>>],
    /// Most that this day and those after it can be worth.
    rest: Vec<f64>,
    chosen: Vec<&'a Choice<'a>>,
    best: Option<(f64, Solution)>,
    looked: usize,
}

impl Packing<'_> {
    fn go(&mut self, worth: f64) {
        let day = self.chosen.len();
        if day == self.by_day.len() {
            if let Some(solution) = self.solution() {
                let worth = total_worth(self.instance, &solution);
                let better = |(best, old): &(f64, Solution)| {
                    let (new, old) = (solution.standing(self.instance), old.standing(self.instance));
                    worth > *best || new.compare(old) == Ordering::Greater
                };
                if self.best.as_ref().is_none_or(better) {
                    self.best = Some((worth, solution));
                }
            }
            return;
        }
        for choice in &self.by_day[day] {
            self.looked += 1;
            let most = worth + choice.kept.worth + self.rest[day + 1];
            if self.looked > CHOICES || self.best.as_ref().is_some_and(|(best, _)| most <= *best + 1e-9) {
                return;
            }
            let clash = |c: &&Choice| c.bits.iter().zip(&choice.bits).any(|(a, b)| a & b != 0);
            if !self.chosen.iter().any(clash) {
                self.chosen.push(choice);
                self.go(worth + choice.kept.worth);
                self.chosen.pop();
            }
        }
    }

    fn solution(&self) -> Option<Solution> {
        let mut steps = vec![0; self.instance.stops];
        for choice in &self.chosen {
            for (stop, step) in choice.kept.order.iter().zip(&choice.kept.steps) {
                steps[*stop] = *step;
            }
        }
        let orders: Vec<Vec<usize>> = self.chosen.iter().map(|c| c.kept.order.clone()).collect();
        Solution::of(self.instance, &orders, &steps)
    }
}

fn holds_on(instance: &Instance, kept: &Kept, day: usize) -> bool {
    let mut steps = vec![0; instance.stops];
    for (stop, step) in kept.order.iter().zip(&kept.steps) {
        steps[*stop] = *step;
    }
    let mut orders = vec![Vec::new(); instance.days.len()];
    orders[day].clone_from(&kept.order);
    Solution::of(instance, &orders, &steps).is_some()
}

fn musts_worth(instance: &Instance, stops: &[usize]) -> f64 {
    let musts = stops.iter().filter(|stop| instance.want[**stop] == Want::Must).count();
    musts as f64 * (instance.worth_of_all + 1.0)
}

fn worth_alone(instance: &Instance, stops: &[usize], steps: &[usize]) -> f64 {
    let mut missed: BTreeMap<usize, f64> = BTreeMap::new();
    for stop in stops {
        *missed.entry(instance.group_of[*stop]).or_insert(1.0) *= 1.0 - instance.chance(*stop, steps[*stop]);
    }
    musts_worth(instance, stops) + missed.values().map(|m| 1.0 - m).sum::<f64>()
}

fn total_worth(instance: &Instance, solution: &Solution) -> f64 {
    let musts: f64 = solution.routes.iter().map(|route| musts_worth(instance, &route.stops)).sum();
    musts + solution.value()
}
