//! Where bait truly is: routes that dwell and travel, early or late by season, with schools about them.

use super::random::Random;
use super::water_tree::{Spot, WaterTree};
use shoalwright::terms::place::PlanePoint;
use shoalwright::terms::season::YEAR_DAYS;
use std::f64::consts::TAU;

/// What a route keeps time by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Timing {
    /// The calendar, give or take a few days a season.
    Date,
    /// The water: spring and autumn come early or late.
    Temperature,
}

/// A body of bait through the mean year.
#[derive(Clone, Debug)]
pub(crate) struct TrueRoute {
    /// Place and depth in feet on each day, 0 to 365.
    days: Vec<(PlanePoint, f64)>,
    /// Number of the site that it holds to on each day: the one it dwells at, or on the way the nearer one.
    holds: Vec<usize>,
    plan: Plan,
    /// First and last day; all year when the two are a year apart.
    pub(crate) active: [f64; 2],
    pub(crate) scatter_m: f64,
    pub(crate) schools: usize,
    /// Where it dwells.
    pub(crate) sites: Vec<Spot>,
}

/// When a route goes where.
#[derive(Clone, Debug)]
struct Plan {
    depths_ft: Vec<f64>,
    /// Lengths in days, dwell and travel by turns.
    parts: Vec<f64>,
}

impl TrueRoute {
    /// Three to five sites with dwells and ways between; four in ten routes exist for part of the year only.
    pub(crate) fn drawn(random: &mut Random, water: &WaterTree) -> Self {
        let sites: Vec<Spot> = (0..3 + random.below(3)).map(|_| water.spot(random)).collect();
        let depths: Vec<f64> = sites.iter().map(|_| random.even(8.0, 60.0)).collect();
        let start = random.even(0.0, YEAR_DAYS);
        let length = if random.chance(0.4) { random.even(110.0, 220.0) } else { YEAR_DAYS };
        let all_year = length >= YEAR_DAYS;
        // Dwell and travel alternate; a route that lasts all year travels home again.
        let legs = if all_year { sites.len() } else { sites.len() - 1 };
        let mut parts: Vec<f64> = (0..sites.len() + legs)
            .map(|k| if k % 2 == 0 { random.even(30.0, 70.0) } else { random.even(15.0, 45.0) })
            .collect();
        let scale = length / parts.iter().sum::<f64>();
        for part in &mut parts {
            *part *= scale;
        }
        Self::along(random, water, sites, Plan { depths_ft: depths, parts }, [start, start + length])
    }

    /// A body of bait that keeps the time and about the depth of another, most often in the creeks beside it.
    pub(crate) fn beside(random: &mut Random, water: &WaterTree, other: &Self) -> Self {
        let sites = other
            .sites
            .iter()
            .map(|site| {
                let near = if random.chance(0.75) { water.beside(random, *site) } else { None };
                near.unwrap_or_else(|| water.spot(random))
            })
            .collect();
        let depths_ft = other.plan.depths_ft.iter().map(|d| (d + random.normal(5.0)).max(5.0)).collect();
        let plan = Plan { depths_ft, parts: other.plan.parts.clone() };
        Self::along(random, water, sites, plan, other.active)
    }

    fn along(random: &mut Random, water: &WaterTree, sites: Vec<Spot>, plan: Plan, active: [f64; 2]) -> Self {
        let [start, length] = [active[0], active[1] - active[0]];
        let (depths, parts) = (&plan.depths_ft, &plan.parts);
        let mut days = vec![(water.place(sites[0]), depths[0]); 366];
        let mut holds = vec![0; 366];
        for (offset, day) in (0..366).map(|o| (f64::from(o), (start + f64::from(o)).rem_euclid(YEAR_DAYS))) {
            let mut left = offset.min(length - 1e-6);
            let mut part = 0;
            while left > parts[part] {
                left -= parts[part];
                part += 1;
            }
            let (site, next) = (part / 2, (part / 2 + 1) % sites.len());
            let share = if part % 2 == 0 { 0.0 } else { left / parts[part] };
            holds[(day as usize).min(365)] = if share < 0.5 { site } else { next };
            days[(day as usize).min(365)] = if part % 2 == 0 {
                (water.place(sites[site]), depths[site])
            } else {
                let way = water.way(sites[site], sites[next]);
                (at_share(&way, share), depths[site] + (depths[next] - depths[site]) * share)
            };
        }
        Self {
            days,
            holds,
            active,
            plan,
            scatter_m: random.even(130.0, 230.0),
            schools: 8 + random.below(8),
            sites,
        }
    }

    /// Place and depth in feet on a day of the mean year; `None` when it does not exist then.
    pub(crate) fn on(&self, day: f64) -> Option<(PlanePoint, f64)> {
        let since = (day - self.active[0]).rem_euclid(YEAR_DAYS);
        (since <= self.active[1] - self.active[0])
            .then(|| self.days[(day.rem_euclid(YEAR_DAYS) as usize).min(365)])
    }

    /// Number of the site that it holds to on a day of the mean year, as the other simulator's truth has it (`hollow`).
    pub(crate) fn holds(&self, day: f64) -> usize {
        self.holds[(day.rem_euclid(YEAR_DAYS) as usize).min(365)]
    }

    /// Where it would be, whether or not it exists.
    pub(crate) fn place(&self, day: f64) -> PlanePoint {
        self.days[(day.rem_euclid(YEAR_DAYS) as usize).min(365)].0
    }
}

/// The point at a share of a way's length.
fn at_share(way: &[PlanePoint], share: f64) -> PlanePoint {
    let total: f64 = way.windows(2).map(|w| w[0].metres_to(w[1])).sum();
    let mut left = total * share;
    for w in way.windows(2) {
        let metres = w[0].metres_to(w[1]);
        if left <= metres && metres > 0.0 {
            return PlanePoint {
                east_m: w[0].east_m + (w[1].east_m - w[0].east_m) * left / metres,
                north_m: w[0].north_m + (w[1].north_m - w[0].north_m) * left / metres,
            };
        }
        left -= metres;
    }
    way[way.len() - 1]
}

/// How one season ran.
#[derive(Clone, Debug)]
pub(crate) struct SeasonRun {
    /// Days by which spring (about day 100) and autumn (about day 290) came late.
    spring_late: f64,
    autumn_late: f64,
    /// Days by which each route was late for no reason that anybody sees.
    route_late: Vec<f64>,
    timing: Timing,
}

impl SeasonRun {
    pub(crate) fn drawn(random: &mut Random, routes: usize, timing: Timing) -> Self {
        let own_sd = if timing == Timing::Date { 3.5 } else { 1.5 };
        Self {
            spring_late: random.normal(10.0),
            autumn_late: random.normal(10.0),
            route_late: (0..routes).map(|_| random.normal(own_sd)).collect(),
            timing,
        }
    }

    /// Days by which the water is late; straight lines between spring and autumn, unlike the clock that is fitted.
    fn water_late(&self, day: f64) -> f64 {
        let share = if (100.0..290.0).contains(&day) {
            (day - 100.0) / 190.0
        } else {
            1.0 - (day - 290.0).rem_euclid(YEAR_DAYS) / 175.25
        };
        self.spring_late + (self.autumn_late - self.spring_late) * share
    }

    /// Surface temperature in Celsius.
    pub(crate) fn water_c(&self, day: f64) -> f64 {
        15.0 - 11.0 * ((day - self.water_late(day) - 25.0) * TAU / YEAR_DAYS).cos()
    }

    /// The day of the mean year on which a route is where it is on this day.
    pub(crate) fn mean_day(&self, route: usize, day: f64) -> f64 {
        let water = if self.timing == Timing::Temperature { self.water_late(day) } else { 0.0 };
        day - water - self.route_late[route]
    }
}
