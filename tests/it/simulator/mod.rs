//! Simulated lakes with known truth: arms, seasons of unevenly spread outings, search effort as track logs, bait that
//! dwells and travels, clutter, missing values, doubled marks. All invented; any seed gives the same lake everywhere.
//!
//! What it makes easy, to be read before quoting a figure:
//! - routes are as regular as clockwork but for a shift a season; real bait splits, joins and fails to come;
//! - schools scatter about the route the same way all year (two widths mixed, so heavier than a normal tail);
//! - clocks are right, unless a habit asks for one that is not, and the angler never stops marking;
//! - temperature follows one cosine with an early or late spring and autumn, and no weather;
//! - on broad lakes nothing hinders a straight line across land, schools may lie there (unless a habit keeps them afloat), and no two arms lie wall to wall
//!   for long; on dendritic lakes schools and boat keep to the water, and bodies of bait often keep time in creeks beside
//!   each other, which is what straight distance cannot tell apart;
//! - who looks where depends on the truth only through an angler who is right within a kilometre three times in ten.

mod outing;
mod random;
mod routes;
mod water_tree;

use crate::movement_score::{Known, Route, RouteDay};
use crate::sightings_of_marks::bait_sightings;
use geo::MapCoords;
use jiff::civil::{Date, date};
use outing::{Angler, MarkOrigin, Scene, go, schools};
pub(crate) use random::Random;
pub(crate) use routes::Timing;
use routes::{SeasonRun, TrueRoute};
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::Mark;
use shoalwright::terms::place::{Place, PlanePoint};
use shoalwright::terms::track_log::TrackLog;
use shoalwright::terms::water::Water;
use water_tree::WaterTree;

/// What to simulate.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wish {
    pub(crate) seed: u64,
    pub(crate) routes: usize,
    pub(crate) seasons: usize,
    pub(crate) timing: Timing,
}

/// How the water lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    /// A wide main lake with a few arms, some 20 square kilometres.
    Broad,
    /// The same, 1.8 times as long and as wide: as large as the lakes of `fixtures/reference/lake-seasons`, and as
    /// little looked over as they are.
    Wide,
    /// A drowned river with a creek every few hundred metres on each side.
    Dendritic,
}

/// What bait does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Bait {
    /// Moves along its routes.
    Routes,
    /// Lies anywhere, each day elsewhere: there is no season and no place to be learnt.
    Anywhere,
    /// Moves along its routes in all seasons but the last, in which it lies anywhere.
    AnywhereAtLast,
}

/// How the angler goes about it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Habit {
    /// Share of the stops at favourite places.
    pub(crate) favourites: f64,
    /// Share of the stops at which the angler guesses right, within a kilometre, where bait of a route is.
    pub(crate) hunches: f64,
    /// Every stop is at a school of the day: the looks follow the fish.
    pub(crate) follows: bool,
    pub(crate) bait: Bait,
    /// Whether schools keep off the land on a broad lake as well.
    pub(crate) afloat: bool,
    /// Seconds that the clock behind the marks is ahead in the second season.
    pub(crate) clock_off_s: i64,
}

impl Default for Habit {
    fn default() -> Self {
        Self {
            favourites: 0.35,
            hunches: 0.3,
            follows: false,
            bait: Bait::Routes,
            afloat: false,
            clock_off_s: 0,
        }
    }
}

/// What is truly there.
#[derive(Clone)]
pub(crate) struct Truth {
    water: WaterTree,
    routes: Vec<TrueRoute>,
    clutter_schools: usize,
    timing: Timing,
    /// How each season ran.
    seasons: Vec<SeasonRun>,
}

impl Truth {
    /// Schools of a day in a season of the log, drawn anew: as many mornings as one likes of one and the same day; each
    /// with whether it keeps to a route.
    pub(crate) fn schools(&self, random: &mut Random, season: usize, day: f64) -> Vec<(PlanePoint, bool)> {
        self.drawn(random, &self.seasons[season], day)
    }

    /// Schools of a day in a season that nobody has seen yet.
    pub(crate) fn schools_of_a_new_season(&self, random: &mut Random, day: f64) -> Vec<PlanePoint> {
        let season = SeasonRun::drawn(random, self.routes.len(), self.timing);
        self.drawn(random, &season, day).into_iter().map(|(at, _)| at).collect()
    }

    fn drawn(&self, random: &mut Random, season: &SeasonRun, day: f64) -> Vec<(PlanePoint, bool)> {
        let bait = Bait::Routes;
        schools(random, &self.water, &self.routes, season, self.clutter_schools, bait, day)
            .iter()
            .map(|s| (s.at, s.route.is_some()))
            .collect()
    }
}

/// A lake, what an angler has of it, and the truth.
pub(crate) struct SimulatedLake {
    pub(crate) lake: Lake,
    pub(crate) marks: Vec<Mark>,
    pub(crate) track_logs: Vec<TrackLog>,
    /// True routes of the mean year, each fifth day.
    pub(crate) routes: Vec<Route>,
    /// What each mark truly stems from.
    pub(crate) origin_of_mark: Vec<MarkOrigin>,
    /// What is truly there.
    pub(crate) truth: Truth,
}

impl SimulatedLake {
    /// The sightings of bait with their true routes: the route of most of their marks.
    pub(crate) fn known(&self) -> Known {
        let sightings = bait_sightings(&self.marks, &self.lake);
        let route_of = sightings
            .iter()
            .map(|s| {
                let votes = |route: usize| {
                    s.marks.iter().filter(|m| self.origin_of_mark[**m].route == Some(route)).count()
                };
                (0..self.routes.len()).filter(|r| 2 * votes(*r) > s.marks.len()).max_by_key(|r| votes(*r))
            })
            .collect();
        Known { sightings, route_of, routes: self.routes.clone() }
    }
}

/// Simulates a lake and an angler of common habits.
pub(crate) fn simulate(wish: Wish) -> SimulatedLake {
    simulate_with(wish, Habit::default())
}

/// Simulates a broad lake.
pub(crate) fn simulate_with(wish: Wish, habit: Habit) -> SimulatedLake {
    simulate_shaped(wish, habit, Shape::Broad)
}

/// Simulates a lake.
pub(crate) fn simulate_shaped(wish: Wish, habit: Habit, shape: Shape) -> SimulatedLake {
    let mut random = Random::seeded(wish.seed);
    let mut water = WaterTree::grown(&mut random, shape);
    water.afloat |= habit.afloat;
    let mut routes: Vec<TrueRoute> = Vec::new();
    for number in 0..wish.routes {
        let route = match routes.last() {
            Some(before) if number % 2 == 1 && shape == Shape::Dendritic => {
                TrueRoute::beside(&mut random, &water, before)
            }
            _ => TrueRoute::drawn(&mut random, &water),
        };
        routes.push(route);
    }
    let mut lake = Lake::unknown_at(Place { lon: -56.0, lat: 36.0 });
    let plane = lake.plane;
    let outline = water.outline().map_coords(|c| {
        let place = plane.to_place(PlanePoint { east_m: c.x, north_m: c.y });
        geo::Coord { x: place.lon, y: place.lat }
    });
    lake.water = Some(Water::new(outline, plane));
    // About as thick on the water of either shape: a broad lake has some 20 square kilometres, a dendritic one 5.
    let clutter_schools = match shape {
        Shape::Broad | Shape::Wide => 3 + random.below(10),
        Shape::Dendritic => 1 + random.below(3),
    };
    let angler = Angler::drawn(&mut random, &water, &routes);
    let (mut marks, mut track_logs, mut origin_of_mark) = (Vec::new(), Vec::new(), Vec::new());
    let mut seasons = Vec::new();
    for year in (2019_i16..).take(wish.seasons) {
        let season = SeasonRun::drawn(&mut random, wish.routes, wish.timing);
        let last = usize::try_from(year - 2018) == Ok(wish.seasons);
        let bait = if habit.bait == Bait::AnywhereAtLast && !last { Bait::Routes } else { habit.bait };
        for day in outing_days(&mut random, year) {
            let outing = go(
                &mut random,
                &Scene {
                    water: &water,
                    routes: &routes,
                    season: &season,
                    angler: &angler,
                    clutter_schools,
                    lake: &lake,
                    date: day,
                    habit,
                    bait,
                },
            );
            let off_s = if year == 2020 { habit.clock_off_s } else { 0 };
            marks.extend(outing.marks.into_iter().map(|mark| {
                let time = mark.time.map(|time| time.plus_s(off_s));
                Mark { time, day: time.and_then(|time| lake.day_of(time)), ..mark }
            }));
            origin_of_mark.extend(outing.origin_of_mark);
            track_logs.push(outing.track_log);
        }
        seasons.push(season);
    }
    let truth = Truth { water, routes: routes.clone(), clutter_schools, timing: wish.timing, seasons };
    let routes = routes
        .iter()
        .map(|route| {
            (0..74)
                .map(|k| f64::from(k) * 5.0)
                .map(|day| RouteDay { day, place: route.place(day), active: route.on(day).is_some() })
                .collect()
        })
        .collect();
    SimulatedLake { lake, marks, track_logs, routes, origin_of_mark, truth }
}

/// Twenty-six to forty days of a year: some months often, some hardly, winter least.
fn outing_days(random: &mut Random, year: i16) -> Vec<Date> {
    let keen: Vec<f64> =
        (0..12).map(|m| random.even(0.2, 1.5) * if (2..11).contains(&m) { 1.0 } else { 0.4 }).collect();
    let mut days: Vec<Date> = Vec::new();
    let wanted = 26 + random.below(15);
    while days.len() < wanted {
        let month = random.below(12);
        if random.even(0.0, 1.5) < keen[month] {
            let day = date(year, month as i8 + 1, 1 + random.below(28) as i8);
            if !days.contains(&day) {
                days.push(day);
            }
        }
    }
    days.sort();
    days
}
