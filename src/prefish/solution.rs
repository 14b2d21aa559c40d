//! A plan while it is searched: the routes of all days, minutes of each stop, and what it is worth.

use crate::prefish::instance::{HAIR, Instance};
use crate::prefish::model::Want;
use crate::prefish::route::{Ground, Route};
use std::cmp::Ordering;

/// Routes of all days, each feasible.
#[derive(Debug)]
pub(super) struct Solution {
    pub(super) routes: Vec<Route>,
    /// By stop: the day it is on.
    pub(super) day_of: Vec<Option<usize>>,
    /// By stop: its step of minutes.
    pub(super) steps: Vec<usize>,
    /// By group: chance that its school is met at no stop.
    missed: Vec<f64>,
}

impl Clone for Solution {
    fn clone(&self) -> Self {
        Self {
            routes: self.routes.clone(),
            day_of: self.day_of.clone(),
            steps: self.steps.clone(),
            missed: self.missed.clone(),
        }
    }

    fn clone_from(&mut self, from: &Self) {
        self.routes.clone_from(&from.routes);
        self.day_of.clone_from(&from.day_of);
        self.steps.clone_from(&from.steps);
        self.missed.clone_from(&from.missed);
    }
}

/// What one plan is against another: must-stops first, then worth, then time under way.
#[derive(Clone, Copy, Debug)]
pub(super) struct Standing {
    pub(super) musts: usize,
    pub(super) value: f64,
    pub(super) travel_s: f64,
}

impl Standing {
    /// Greater is better. Values that differ in the last bits only are equal.
    pub(super) fn compare(self, other: Self) -> Ordering {
        let close = |a: f64, b: f64, hair: f64| {
            if (a - b).abs() <= hair { Ordering::Equal } else { a.total_cmp(&b) }
        };
        self.musts
            .cmp(&other.musts)
            .then_with(|| close(self.value, other.value, 1e-9 * (1.0 + self.value.abs())))
            .then_with(|| close(other.travel_s, self.travel_s, HAIR))
    }
}

impl Solution {
    pub(super) fn empty(instance: &Instance) -> Self {
        Self {
            routes: (0..instance.days.len()).map(|day| Route::empty(Ground { instance, day })).collect(),
            day_of: vec![None; instance.stops],
            steps: vec![0; instance.stops],
            missed: vec![1.0; instance.groups.len()],
        }
    }

    /// Rebuilds a solution from orders; `None` when a day does not hold.
    pub(super) fn of(instance: &Instance, orders: &[Vec<usize>], steps: &[usize]) -> Option<Self> {
        let mut solution = Self::empty(instance);
        solution.steps.copy_from_slice(steps);
        for (day, order) in orders.iter().enumerate() {
            for stop in order {
                solution.day_of[*stop] = Some(day);
            }
            solution.routes[day].stops.clone_from(order);
            if !solution.routes[day].refresh(Ground { instance, day }, steps) && !order.is_empty() {
                return None;
            }
        }
        (0..instance.groups.len()).for_each(|group| solution.recount(instance, group));
        Some(solution)
    }

    fn recount(&mut self, instance: &Instance, group: usize) {
        self.missed[group] = instance.groups[group]
            .iter()
            .filter(|stop| self.day_of[**stop].is_some())
            .map(|stop| 1.0 - instance.chance(*stop, self.steps[*stop]))
            .product();
    }

    /// Expected number of different schools met.
    pub(super) fn value(&self) -> f64 {
        self.missed.iter().map(|missed| 1.0 - missed).sum()
    }

    pub(super) fn standing(&self, instance: &Instance) -> Standing {
        let musts = |route: &Route| route.stops.iter().filter(|s| instance.want[**s] == Want::Must).count();
        Standing {
            musts: self.routes.iter().map(musts).sum(),
            value: self.value(),
            travel_s: self
                .routes
                .iter()
                .enumerate()
                .map(|(day, route)| route.travel_s(Ground { instance, day }))
                .sum(),
        }
    }

    /// What a stop not in the plan would add at a step.
    pub(super) fn gain(&self, instance: &Instance, stop: usize, step: usize) -> f64 {
        self.missed[instance.group_of[stop]] * instance.chance(stop, step)
    }

    /// What a stop in the plan adds.
    pub(super) fn share(&self, instance: &Instance, stop: usize) -> f64 {
        let group = instance.group_of[stop];
        if instance.groups[group].len() == 1 {
            return 1.0 - self.missed[group];
        }
        let others: f64 = instance.groups[group]
            .iter()
            .filter(|other| **other != stop && self.day_of[**other].is_some())
            .map(|other| 1.0 - instance.chance(*other, self.steps[*other]))
            .product();
        others * instance.chance(stop, self.steps[stop])
    }

    pub(super) fn insert(&mut self, instance: &Instance, stop: usize, day: usize, position: usize) {
        self.routes[day].stops.insert(position, stop);
        self.day_of[stop] = Some(day);
        self.routes[day].refresh(Ground { instance, day }, &self.steps);
        self.recount(instance, instance.group_of[stop]);
    }

    /// Takes a stop out without taking the day's times anew: call `settle` when all are out.
    pub(super) fn remove(&mut self, instance: &Instance, stop: usize) {
        if let Some(day) = self.day_of[stop].take() {
            self.routes[day].stops.retain(|s| *s != stop);
            self.recount(instance, instance.group_of[stop]);
        }
    }

    /// Takes the times of all days anew. Whether every day that has stops holds: leaving a stop out can break a day
    /// only where going straight is longer than going round.
    pub(super) fn settle(&mut self, instance: &Instance) -> bool {
        let mut holds = true;
        for (day, route) in self.routes.iter_mut().enumerate() {
            let sound = route.refresh(Ground { instance, day }, &self.steps);
            holds &= sound || route.stops.is_empty();
        }
        holds
    }

    /// Spends spare time on the stops where the next minute is worth most, whole minutes (for a search law without
    /// memory the worth of further minutes only falls, so taking the best minute each time is best for one day).
    pub(super) fn fill_minutes(&mut self, instance: &Instance) {
        if !instance.chosen {
            return;
        }
        for day in 0..self.routes.len() {
            let ground = Ground { instance, day };
            loop {
                let route = &self.routes[day];
                let mut best: Option<(f64, usize)> = None;
                for (place, stop) in route.stops.iter().enumerate() {
                    let step = self.steps[*stop];
                    let search = &instance.searches[*stop];
                    if step == search.last() || route.spare_minutes(ground, place) == 0 {
                        continue;
                    }
                    let (now, next) = (search.chance[step], search.chance[step + 1]);
                    let others = self.share(instance, *stop) / now.max(f64::MIN_POSITIVE);
                    let worth = (next - now) * if now > 0.0 { others } else { 1.0 };
                    if worth > 1e-12 && best.is_none_or(|(most, _)| worth > most) {
                        best = Some((worth, *stop));
                    }
                }
                let Some((_, stop)) = best else { break };
                self.steps[stop] += 1;
                self.routes[day].refresh(ground, &self.steps);
                self.recount(instance, instance.group_of[stop]);
            }
        }
    }

    /// Cuts every stop's minutes to those that `worth_of_a_minute` pays for.
    pub(super) fn cut_minutes(&mut self, instance: &Instance, cut: &[usize]) {
        if !instance.chosen {
            return;
        }
        for (stop, most) in cut.iter().enumerate() {
            self.steps[stop] = self.steps[stop].min(*most);
        }
        (0..instance.groups.len()).for_each(|group| self.recount(instance, group));
    }
}
