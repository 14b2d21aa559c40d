//! One day on the water: where the boat goes, which schools it passes over, what the angler marks.

use super::random::Random;
use super::routes::{SeasonRun, TrueRoute};
use super::water_tree::{Spot, WaterTree};
use super::{Bait, Habit};
use jiff::civil::Date;
use shoalwright::terms::codes::Codes;
use shoalwright::terms::export::FileId;
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, LocalDay, Mark, Origin, Words};
use shoalwright::terms::place::PlanePoint;
use shoalwright::terms::track_log::{TrackLog, TrackPoint};
use shoalwright::terms::units::{Depth, WaterTemp};

const RUN_M_S: f64 = 13.0;
const SEARCH_M_S: f64 = 2.0;
/// Half the swath, and the chance to see a school in it when slow and when running.
const HALF_SWATH_M: f64 = 30.0;
const SEEN_SLOW: f64 = 0.9;
const SEEN_RUNNING: f64 = 0.27;
/// Side of the box that is searched at a stop.
const BOX_M: f64 = 300.0;

/// Habits.
pub(crate) struct Angler {
    ramp: Spot,
    favourites: Vec<Spot>,
}

impl Angler {
    /// Favourite places are some true sites and some that only feel good.
    pub(crate) fn drawn(random: &mut Random, water: &WaterTree, routes: &[TrueRoute]) -> Self {
        let mut favourites: Vec<Spot> = (0..6).map(|_| water.spot(random)).collect();
        favourites.extend(routes.iter().map(|route| route.sites[random.below(route.sites.len())]));
        Self { ramp: water.spot(random), favourites }
    }
}

/// What an outing leaves.
pub(crate) struct Outing {
    pub(crate) marks: Vec<Mark>,
    pub(crate) origin_of_mark: Vec<MarkOrigin>,
    pub(crate) track_log: TrackLog,
}

/// What a mark truly stems from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct MarkOrigin {
    /// The route; `None`: clutter, or no bait.
    pub(crate) route: Option<usize>,
    /// The site that the route holds to; `None`: it has no route.
    pub(crate) site: Option<usize>,
    /// Number of the school among those of the outing.
    pub(crate) school: usize,
}

/// A school on the day.
pub(super) struct School {
    pub(super) at: PlanePoint,
    depth_ft: f64,
    pub(super) route: Option<usize>,
    site: Option<usize>,
}

/// Where the boat was, when, and whether it was searching.
struct Fix {
    at: PlanePoint,
    seconds: f64,
    searching: bool,
}

/// All that a day on the water depends on.
pub(crate) struct Scene<'a> {
    pub(crate) water: &'a WaterTree,
    pub(crate) routes: &'a [TrueRoute],
    pub(crate) season: &'a SeasonRun,
    pub(crate) angler: &'a Angler,
    /// Schools of no route about the lake.
    pub(crate) clutter_schools: usize,
    pub(crate) lake: &'a Lake,
    pub(crate) date: Date,
    pub(crate) habit: Habit,
    pub(crate) bait: Bait,
}

/// Goes out on a day.
pub(crate) fn go(random: &mut Random, scene: &Scene) -> Outing {
    let Scene { water, routes, season, clutter_schools, lake, date, bait, .. } = *scene;
    let day = lake.day(date);
    let schools = schools(random, water, routes, season, clutter_schools, bait, day.season_day.days());
    let fixes = boat(random, scene, &schools, day.season_day.days());
    let start = Instant::from(lake.time_zone.to_timestamp(date.at(6, 30, 0, 0)).unwrap());
    let mut outing = Outing {
        marks: Vec::new(),
        origin_of_mark: Vec::new(),
        track_log: TrackLog {
            origin: Origin::whole_file(FileId(0)),
            name: format!("outing {date}").into(),
            local_times: false,
            segments: vec![
                fixes
                    .iter()
                    .map(|fix| TrackPoint {
                        place: lake.plane.to_place(fix.at),
                        time: Some(start.plus_s(fix.seconds as i64)),
                        depth_m: None,
                        water_temp_c: None,
                    })
                    .collect(),
            ],
        },
    };
    for (number_of_school, school) in schools.iter().enumerate() {
        let origin = MarkOrigin { route: school.route, site: school.site, school: number_of_school };
        let over = fixes.iter().filter(|fix| fix.at.metres_to(school.at) <= HALF_SWATH_M);
        let Some(fix) = over.min_by(|a, b| b.searching.cmp(&a.searching)) else { continue };
        if !random.chance(if fix.searching { SEEN_SLOW } else { SEEN_RUNNING }) {
            continue;
        }
        let mut number = 1;
        while random.chance(0.45) && number < 5 {
            number += 1;
        }
        for k in 0..number {
            let seconds = fix.seconds + f64::from(k) * random.even(5.0, 15.0);
            let water_c = season.water_c(day.season_day.days()) + random.normal(0.7);
            let mark = mark(random, lake, day, Kind::Bait, school, start.plus_s(seconds as i64), water_c);
            if random.chance(0.04) {
                // The same press on a second unit: the same place and time under another name.
                let mut double = mark.clone();
                double.id = Id::of('m', &[&mark.id.to_string(), "again"]);
                outing.marks.push(double);
                outing.origin_of_mark.push(origin);
            }
            outing.marks.push(mark);
            outing.origin_of_mark.push(origin);
        }
        if random.chance(0.3) {
            let time = start.plus_s(fix.seconds as i64 + 40);
            outing.marks.push(mark(random, lake, day, Kind::Gamefish, school, time, 15.0));
            outing.origin_of_mark.push(MarkOrigin { route: None, site: None, ..origin });
        }
    }
    outing
}

/// The schools of the day: about their routes in two widths, eight in ten narrow; clutter anywhere.
pub(super) fn schools(
    random: &mut Random,
    water: &WaterTree,
    routes: &[TrueRoute],
    season: &SeasonRun,
    clutter_schools: usize,
    bait: Bait,
    day: f64,
) -> Vec<School> {
    let mut schools = Vec::new();
    let anywhere = |random: &mut Random| School {
        at: water.place(water.spot(random)),
        depth_ft: random.even(3.0, 70.0),
        route: None,
        site: None,
    };
    if bait != Bait::Routes {
        // As many schools as the routes would have.
        let number: usize = routes.iter().map(|route| route.schools).sum();
        schools.extend((0..number).map(|_| School {
            at: water.anywhere(random),
            depth_ft: random.even(3.0, 70.0),
            route: None,
            site: None,
        }));
    }
    for (number, route) in routes.iter().enumerate().filter(|_| bait == Bait::Routes) {
        let mean_day = season.mean_day(number, day);
        let Some((centre, depth_ft)) = route.on(mean_day) else { continue };
        let site = Some(route.holds(mean_day));
        for _ in 0..route.schools {
            let sd = route.scatter_m * if random.chance(0.8) { 0.85 } else { 1.45 };
            let at = water.scattered(random, centre, sd);
            let depth_ft = depth_ft + random.normal(4.0);
            schools.push(School { at, depth_ft, route: Some(number), site });
        }
    }
    // Drawn along the channels, narrow or wide; where there is nothing to be learnt they would tell of narrow water.
    let clutter_schools = if bait == Bait::Routes { clutter_schools } else { 0 };
    schools.extend((0..clutter_schools).map(|_| anywhere(random)));
    schools
}

/// Six to nine stops: where bait is thought to be, a favourite place, or anywhere.
fn boat(random: &mut Random, scene: &Scene, schools: &[School], day: f64) -> Vec<Fix> {
    let Scene { water, routes, season, angler, habit, .. } = *scene;
    let mut fixes = vec![Fix { at: water.place(angler.ramp), seconds: 0.0, searching: false }];
    let mut last = angler.ramp;
    for _ in 0..6 + random.below(4) {
        let spot = if random.chance(habit.favourites) {
            angler.favourites[random.below(angler.favourites.len())]
        } else {
            water.spot(random)
        };
        let number = random.below(routes.len());
        let hunch = routes[number].on(season.mean_day(number, day)).filter(|_| random.chance(habit.hunches));
        let followed = habit.follows.then(|| schools[random.below(schools.len())].at);
        let centre =
            hunch.map_or_else(|| water.place(spot), |(place, _)| water.scattered(random, place, 500.0));
        let mut way = water.way(last, spot);
        way.push(followed.unwrap_or(centre));
        travel(&mut fixes, &way, RUN_M_S, false);
        let turn = random.even(0.0, std::f64::consts::TAU);
        let begun = fixes.len();
        travel(&mut fixes, &search_legs(centre, turn), SEARCH_M_S, true);
        if water.hems_in() {
            // The box ends at the shore.
            let over_water = fixes.split_off(begun).into_iter().filter(|fix| water.sees(centre, fix.at));
            fixes.extend(over_water);
        }
        last = spot;
    }
    fixes
}

/// Back and forth over a box, turned by an angle: five legs a swath and a bit apart.
fn search_legs(centre: PlanePoint, turn: f64) -> Vec<PlanePoint> {
    let (sin, cos) = turn.sin_cos();
    let corner = |u: f64, v: f64| PlanePoint {
        east_m: centre.east_m + u * cos - v * sin,
        north_m: centre.north_m + u * sin + v * cos,
    };
    (0..5)
        .flat_map(|leg| {
            let v = (f64::from(leg) - 2.0) * BOX_M / 4.0;
            let u = if leg % 2 == 0 { BOX_M / 2.0 } else { -BOX_M / 2.0 };
            [corner(-u, v), corner(u, v)]
        })
        .collect()
}

fn travel(fixes: &mut Vec<Fix>, way: &[PlanePoint], speed_m_s: f64, searching: bool) {
    let spacing_m = 20.0;
    for to in way {
        let (from, seconds) = fixes.last().map(|fix| (fix.at, fix.seconds)).unwrap();
        let metres = from.metres_to(*to);
        let pieces = (metres / spacing_m).ceil().max(1.0) as u32;
        for k in 1..=pieces {
            let share = f64::from(k) / f64::from(pieces);
            fixes.push(Fix {
                at: PlanePoint {
                    east_m: from.east_m + (to.east_m - from.east_m) * share,
                    north_m: from.north_m + (to.north_m - from.north_m) * share,
                },
                seconds: seconds + metres * share / speed_m_s,
                searching,
            });
        }
    }
}

/// A mark on a school: off by GPS, its depth told three times in four, the temperature every other time.
fn mark(
    random: &mut Random,
    lake: &Lake,
    day: LocalDay,
    kind: Kind,
    school: &School,
    time: Instant,
    water_c: f64,
) -> Mark {
    let place = lake.plane.to_place(PlanePoint {
        east_m: school.at.east_m + random.normal(8.0),
        north_m: school.at.north_m + random.normal(8.0),
    });
    let [lon, lat] = place.six_decimals();
    let depth_ft = (school.depth_ft + random.normal(1.5)).max(1.0);
    Mark {
        id: Id::of('m', &[&lon, &lat, &time.rfc3339(), kind.word()]),
        place,
        time: Some(time),
        day: Some(day),
        kind,
        fish_depth: Depth::from_feet(depth_ft).filter(|_| random.chance(0.75)),
        water_depth: None,
        water_temp: WaterTemp::from_celsius(water_c).filter(|_| random.chance(0.5)),
        words: Words::new(kind.word(), "", "", "", ""),
        note: "".into(),
        sources: vec![Origin::whole_file(FileId(0))].into(),
        repairs: Codes::default(),
    }
}
