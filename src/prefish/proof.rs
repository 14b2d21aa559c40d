//! Proof: all plans that could be worth more, one partial day after another.
//!
//! A label is a partial plan: the stops visited, the last of them, time, fuel, worth. Of two labels with the same
//! stops and the same last one, the one that is no better in time, fuel and worth goes (dynamic programming over
//! labels, Feillet et al. 2004, doi 10.1002/net.20033). What the bound says cannot beat the best known plan goes too.
//! When nothing is left, the best known plan is proven best.

use crate::prefish::bound::Bound;
use crate::prefish::instance::{HAIR, Instance};
use crate::prefish::model::Want;
use crate::prefish::solution::Solution;

/// What is gained must be more than rounding.
const GAIN: f64 = 1e-7;

/// Labels grown and not yet judged, in multiples of the most that are kept: with many stops a label grows hundreds, and what
/// comes of so many is given up by the next count in any case.
const GROWN_A_LABEL: usize = 6;

/// A partial plan.
#[derive(Clone, Copy)]
struct Label {
    visited: u128,
    /// The stop it stands at; `n`: at the start of the day.
    last: u16,
    /// Step of minutes of that stop.
    step: u16,
    /// Stops on this day.
    count: u16,
    /// The label it grew from, `NONE` for the first.
    parent: u32,
    now_s: f64,
    run_m: f64,
    value: f64,
    /// Most that the groups add beyond `value`.
    groups: f64,
}

const NONE: u32 = u32::MAX;

/// How a proof ended.
pub(super) enum Verdict {
    /// All was searched: this is the best plan, `None`: the known one is.
    Searched(Option<Solution>),
    /// Too many labels.
    GaveUp,
}

struct Proof<'a> {
    instance: &'a Instance<'a>,
    bound: &'a Bound,
    labels: Vec<Label>,
    /// Worth of the best plan known.
    target: f64,
    best: Option<u32>,
    musts: u128,
    /// By group and mask of what is taken: most that it still adds; empty for groups too large for a table.
    adds: Vec<Vec<f64>>,
    /// Most that the days after each pay.
    later: Vec<f64>,
}

/// Looks through all plans worth more than `target` that hold all must-stops.
pub(super) fn prove(instance: &Instance, bound: &Bound, target: f64, most_labels: usize) -> Verdict {
    if instance.stops > 127 || most_labels == 0 {
        return Verdict::GaveUp;
    }
    let days = instance.days.len();
    let later = (0..days).map(|day| (day + 1..days).map(|d| bound.whole_day(instance, d)).sum()).collect();
    let groups = (0..instance.groups.len()).map(|g| bound.group_worth(instance, g, 0)).sum();
    let musts =
        (0..instance.stops).filter(|s| instance.want[*s] == Want::Must).fold(0, |set, s| set | 1_u128 << s);
    let adds = (0..instance.groups.len()).map(|group| bound.group_table(instance, group)).collect();
    let mut proof = Proof { instance, bound, labels: Vec::new(), target, best: None, musts, adds, later };
    let start = instance.stops as u16;
    let first = Label {
        visited: 0,
        last: start,
        step: 0,
        count: 0,
        parent: NONE,
        now_s: 0.0,
        run_m: 0.0,
        value: 0.0,
        groups,
    };
    let mut starts = vec![first];
    for day in 0..days {
        let mut front = std::mem::take(&mut starts);
        // All labels of a level hold one stop more than those before, so what is like is in one level.
        while !front.is_empty() {
            let from = proof.labels.len();
            proof.keep_the_best(&mut front);
            if proof.labels.len() > most_labels {
                return Verdict::GaveUp;
            }
            front.clear();
            for number in from..proof.labels.len() {
                proof.end_day(day, number, &mut starts);
                proof.grow(day, number, &mut front);
                if front.len() > GROWN_A_LABEL * most_labels {
                    return Verdict::GaveUp;
                }
            }
        }
    }
    Verdict::Searched(proof.best.and_then(|label| proof.solution(label)))
}

impl Proof<'_> {
    /// Sorts labels that are alike together and keeps those that no other outdoes.
    fn keep_the_best(&mut self, front: &mut [Label]) {
        let key = |l: &Label| (l.last, l.visited);
        front.sort_by(|a, b| {
            key(a)
                .cmp(&key(b))
                .then(a.now_s.total_cmp(&b.now_s))
                .then(a.run_m.total_cmp(&b.run_m))
                .then(b.value.total_cmp(&a.value))
                .then(a.parent.cmp(&b.parent))
        });
        let mut first = self.labels.len();
        for label in front.iter() {
            if self.labels.get(first).is_some_and(|l| key(l) != key(label)) {
                first = self.labels.len();
            }
            let outdone = self.labels[first..]
                .iter()
                .any(|l| l.now_s <= label.now_s && l.run_m <= label.run_m && l.value >= label.value - 1e-12);
            if !outdone {
                self.labels.push(*label);
            }
        }
    }

    /// The label as the end of its day: a whole plan on the last day, else the start of the next.
    fn end_day(&mut self, day: usize, number: usize, starts: &mut Vec<Label>) {
        let instance = self.instance;
        let (numbers, label) = (&instance.days[day], self.labels[number]);
        let node = if label.last as usize == instance.stops { numbers.start } else { label.last as usize };
        let back_s = label.now_s + numbers.travel.seconds(node, numbers.finish);
        let run_m = label.run_m + numbers.travel.metres(node, numbers.finish);
        // A day that cannot even be run empty is left empty.
        if (back_s > numbers.length_s + HAIR || run_m > numbers.range_m + HAIR) && label.count > 0 {
            return;
        }
        if day + 1 == instance.days.len() {
            if label.visited & self.musts == self.musts && label.value > self.target + GAIN {
                self.target = label.value;
                self.best = Some(number as u32);
            }
        } else if label.value + label.groups + self.later[day] > self.target + GAIN {
            starts.push(Label {
                last: instance.stops as u16,
                count: 0,
                parent: number as u32,
                now_s: 0.0,
                run_m: 0.0,
                ..label
            });
        }
    }

    fn grow(&self, day: usize, number: usize, front: &mut Vec<Label>) {
        let instance = self.instance;
        let (numbers, label) = (&instance.days[day], self.labels[number]);
        if usize::from(label.count) >= instance.max_stops {
            return;
        }
        let node = if label.last as usize == instance.stops { numbers.start } else { label.last as usize };
        for stop in 0..instance.stops {
            if label.visited >> stop & 1 == 1 || instance.want[stop] == Want::Never {
                continue;
            }
            let begin_s = (label.now_s + numbers.travel.seconds(node, stop)).max(numbers.open_s[stop]);
            let run_m = label.run_m + numbers.travel.metres(node, stop);
            if begin_s > numbers.close_s[stop] + HAIR || run_m > numbers.range_m + HAIR {
                continue;
            }
            let group = instance.group_of[stop];
            let missed = self.missed(number as u32, group);
            // A group too large for a table counts with what it adds at most, whatever is taken.
            let groups = self.adds[group].get(self.mask(label.visited, group)).map_or(label.groups, |now| {
                label.groups - now + self.adds[group][self.mask(label.visited | 1 << stop, group)]
            });
            for (step, chance) in instance.searches[stop].chance.iter().enumerate() {
                let now_s = begin_s + instance.search_s(stop, step);
                let Some(rest) = self.bound.rest_of_day(instance, day, stop, now_s, run_m) else { break };
                let value = label.value + missed * chance;
                if value + groups + rest + self.later[day] > self.target + GAIN {
                    front.push(Label {
                        visited: label.visited | 1 << stop,
                        last: stop as u16,
                        step: step as u16,
                        count: label.count + 1,
                        parent: number as u32,
                        now_s,
                        run_m,
                        value,
                        groups,
                    });
                }
            }
        }
    }

    /// The members of a group that are visited, a bit a member.
    fn mask(&self, visited: u128, group: usize) -> usize {
        let members = self.instance.groups[group].iter().take(usize::BITS as usize);
        members.enumerate().fold(0, |mask, (bit, stop)| mask | ((visited >> stop & 1) as usize) << bit)
    }

    /// Chance that a group's school was met at no stop of a label.
    fn missed(&self, mut number: u32, group: usize) -> f64 {
        let mut missed = 1.0;
        if self.instance.groups[group].len() > 1 {
            while number != NONE {
                let label = self.labels[number as usize];
                let stop = label.last as usize;
                if stop < self.instance.stops && self.instance.group_of[stop] == group {
                    missed *= 1.0 - self.instance.chance(stop, label.step as usize);
                }
                number = label.parent;
            }
        }
        missed
    }

    fn solution(&self, mut number: u32) -> Option<Solution> {
        let mut orders = vec![Vec::new()];
        let mut steps = vec![0; self.instance.stops];
        loop {
            let label = self.labels[number as usize];
            let stop = label.last as usize;
            if stop < self.instance.stops {
                steps[stop] = usize::from(label.step);
                if let Some(order) = orders.last_mut() {
                    order.push(stop);
                }
            } else if label.parent != NONE {
                orders.push(Vec::new());
            }
            if label.parent == NONE {
                break;
            }
            number = label.parent;
        }
        for order in &mut orders {
            order.reverse();
        }
        orders.reverse();
        Solution::of(self.instance, &orders, &steps)
    }
}
