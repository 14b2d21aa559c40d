//! What the layers of the pre-fish plan say.

use crate::layers::Results;
use crate::layers::cell::Cell;
use crate::layers::properties::{Column, column, depth};
use crate::layers::shape::Shape;
use crate::prefish::{
    DayPlan, Leg, NearHazard, Prefish, Search, Stop, Visit, Want, Way, leave_rule, look_for, node_name,
};
use crate::terms::id::Id;
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::mark::Mark;
use crate::terms::place::Place;
use crate::terms::units::{Units, WaterTemp};
use crate::travel::{Declination, course_deg};

/// The pre-fish plan, and what the writers need beside it.
#[derive(Clone, Copy, Debug)]
pub struct Planned<'a> {
    /// The plan with its ways.
    pub prefish: &'a Prefish,
    /// Distance that the settings ask to keep off the shore, in metres.
    pub keep_off_m: f64,
    /// Surface temperature to expect, where the user gave one.
    pub surface: Option<WaterTemp>,
}

/// A day of the plan, and a stop or leg of that day.
pub(super) type OfDay = (usize, usize);

impl<'a> Planned<'a> {
    pub(super) fn day(&self, at: OfDay) -> &'a DayPlan {
        &self.prefish.plan.days[at.0]
    }

    pub(super) fn visit(&self, at: OfDay) -> (&'a Visit, &'a Stop) {
        let visit = &self.day(at).visits[at.1];
        (visit, &self.prefish.problem.stops[visit.stop])
    }

    pub(super) fn leg(&self, at: OfDay) -> (&'a Leg, &'a Way) {
        (&self.day(at).legs[at.1], &self.prefish.ways[at.0][at.1])
    }

    /// Hazards near the legs of a day.
    pub(super) fn hazards(&self, day: usize) -> impl Iterator<Item = &'a NearHazard> {
        self.prefish.hazards[day].iter()
    }

    /// Whether a leg keeps off the shore less than the settings ask for.
    pub(super) fn is_close(&self, at: OfDay) -> bool {
        let way = self.leg(at).1;
        way.path.len() > 1 && way.straight_m > 0.0 && way.kept_off_m < self.keep_off_m
    }

    /// All stops of all days, in order.
    pub(super) fn visits(self) -> impl Iterator<Item = OfDay> + Clone + 'a {
        let days = self.prefish.plan.days.iter().enumerate();
        days.flat_map(|(day, d)| (0..d.visits.len()).map(move |n| (day, n)))
    }

    /// All legs of all days, in order, but for those that lead nowhere.
    pub(super) fn legs(self) -> impl Iterator<Item = OfDay> + Clone + 'a {
        let days = self.prefish.plan.days.iter().enumerate();
        let all = days.flat_map(|(day, d)| (0..d.legs.len()).map(move |n| (day, n)));
        all.filter(move |at| self.leg(*at).0.metres > 0.0)
    }

    /// What a node of the problem is called.
    pub(super) fn node_name(&self, node: usize) -> &'a str {
        node_name(&self.prefish.problem, node)
    }

    /// Declination of a day, where it starts.
    pub(super) fn declination(&self, day: usize) -> Option<Declination> {
        let problem = &self.prefish.problem;
        Declination::at(problem.ramps[problem.days[day].start].place, problem.days[day].date)
    }

    /// First course of a leg in degrees by true north, and by magnetic north where that is known.
    pub(super) fn courses(&self, at: OfDay) -> Option<(f64, Option<f64>)> {
        let [first, second, ..] = self.leg(at).1.path[..] else { return None };
        let course = course_deg(first, second);
        Some((course, self.declination(at.0).map(|d| d.magnetic_deg(course))))
    }
}

/// Properties of `prefish-stops`.
pub(super) fn stop_columns(units: Units) -> Vec<Column<OfDay>> {
    let u = units.short_length();
    vec![
        column("day", |_, (day, _)| Cell::count(day + 1)),
        column("order", |_, (_, order)| Cell::count(order + 1)),
        column("name", |r, at| with(r, |p| Cell::Text(p.visit(at).1.name.as_str().into()))),
        column("area", |r, at| {
            with(r, |p| {
                p.visit(at).1.facts.area.map_or(Cell::Null, |area| Cell::Text(area.to_string().into()))
            })
        }),
        column("value", |r, at| with(r, |p| Cell::Decimal(p.visit(at).0.chance, 3))),
        column("arrive", |r, at| with(r, |p| time(r.lake, p.visit(at).0.arrive))),
        column("depart", |r, at| with(r, |p| time(r.lake, p.visit(at).0.depart))),
        column("search_min", |r, at| with(r, |p| Cell::Decimal(p.visit(at).0.search_min, 1))),
        column("chance", |r, at| {
            with(r, |p| {
                let (visit, stop) = p.visit(at);
                // A fixed worth above 1 is no chance.
                let is_chance = !matches!(stop.search, Search::Fixed { chance, .. } if chance > 1.0);
                Cell::decimal(is_chance.then_some(visit.chance), 3)
            })
        }),
        column(format!("fish_depth_low_{u}"), |r, at| {
            with(r, |p| depth(r, p.visit(at).1.facts.fish_depth.map(|b| b[0])))
        }),
        column(format!("fish_depth_high_{u}"), |r, at| {
            with(r, |p| depth(r, p.visit(at).1.facts.fish_depth.map(|b| b[1])))
        }),
        column(format!("water_depth_{u}"), |r, at| with(r, |p| depth(r, p.visit(at).1.facts.water_depth))),
        column("look_for", |r, at| with(r, |p| Cell::Text(look_for(p.visit(at).1, r.lake.units).into()))),
        column("leave_rule", |r, at| with(r, |p| Cell::Text(leave_rule(p.visit(at).0, r.lake).into()))),
        column("must", |r, at| {
            with(r, |p| Cell::words(if p.visit(at).1.want == Want::Must { "yes" } else { "no" }))
        }),
    ]
}

/// Properties of `prefish-legs`.
pub(super) fn leg_columns(units: Units) -> Vec<Column<OfDay>> {
    let u = units.long_length();
    vec![
        column("day", |_, (day, _)| Cell::count(day + 1)),
        column("order", |_, (_, order)| Cell::count(order + 1)),
        column("from", |r, at| with(r, |p| Cell::Text(p.node_name(p.leg(at).0.from).into()))),
        column("to", |r, at| with(r, |p| Cell::Text(p.node_name(p.leg(at).0.to).into()))),
        column(format!("distance_{u}"), |r, at| with(r, |p| way(r, p.leg(at).0.metres))),
        column("course_true", |r, at| {
            with(r, |p| Cell::decimal(p.courses(at).map(|c| whole_course(c.0)), 0))
        }),
        column("course_magnetic", |r, at| {
            with(r, |p| Cell::decimal(p.courses(at).and_then(|c| c.1).map(whole_course), 0))
        }),
        column("minutes", |r, at| {
            with(r, |p| {
                let leg = p.leg(at).0;
                Cell::Decimal(leg.arrive.seconds_since(leg.leave) / 60.0, 1)
            })
        }),
        column("slow_minutes", |r, at| with(r, |p| Cell::Decimal(p.leg(at).1.slow_s / 60.0, 1))),
        column(format!("straight_{u}"), |r, at| with(r, |p| way(r, p.leg(at).1.straight_m))),
    ]
}

/// The leg beside which a hazard mark is told: its number, behind that of the day where there are several.
pub(super) fn near_leg<'a>(results: &Results<'_>, mark: &Mark) -> Cell<'a> {
    let Some(planned) = results.planned else { return Cell::Null };
    let days = planned.prefish.hazards.iter().enumerate();
    let mut near = days.filter_map(|(day, of)| {
        let leg = of.iter().find(|h| h.place == mark.place && h.name == mark.words.name().trim())?.leg + 1;
        let several = planned.prefish.hazards.len() > 1;
        Some(if several { format!("{}-{leg}", day + 1) } else { leg.to_string() })
    });
    near.next().map_or(Cell::Null, |leg| Cell::Text(leg.into()))
}

/// Reads off the plan; absent when there is none.
fn with<'a>(results: &Results<'a>, read: impl FnOnce(Planned<'a>) -> Cell<'a>) -> Cell<'a> {
    results.planned.map_or(Cell::Null, read)
}

fn way<'a>(results: &Results<'_>, metres: f64) -> Cell<'a> {
    Cell::Decimal(results.lake.units.long_from_metres(metres), 2)
}

/// Whole degrees from 0 to 359.
pub(super) fn whole_course(degrees: f64) -> f64 {
    degrees.round().rem_euclid(360.0)
}

/// A moment with the lake's offset: `2027-01-09T07:12:00-06:00`.
fn time<'a>(lake: &Lake, time: Instant) -> Cell<'a> {
    let whole = Instant::from_unix_s(time.unix_ms().div_euclid(1000));
    whole.timestamp().map_or(Cell::Null, |stamp| {
        let offset = lake.time_zone.to_offset(stamp);
        Cell::Text(stamp.display_with_offset(offset).to_string().into())
    })
}

/// A stop is visited once in a plan, so its id names the visit.
pub(super) fn visit_id(results: &Results<'_>, at: OfDay) -> String {
    results.planned.map_or_else(String::new, |p| p.visit(at).1.id.to_string())
}

pub(super) fn leg_id(results: &Results<'_>, at: OfDay) -> String {
    results.planned.map_or_else(String::new, |p| {
        let date = p.prefish.problem.days[at.0].date.to_string();
        let leg = p.leg(at).0;
        Id::of('l', &[&date, &(at.1 + 1).to_string(), p.node_name(leg.from), p.node_name(leg.to)]).to_string()
    })
}

/// Where the boat stops.
pub(super) fn visit_place(results: &Results<'_>, at: OfDay) -> Place {
    results.planned.map_or(Place { lon: 0.0, lat: 0.0 }, |p| p.visit(at).1.place)
}

/// The way of a leg.
pub(super) fn leg_shape(results: &Results<'_>, at: OfDay) -> Shape {
    Shape::line(results.planned.map_or(&[], |p| &p.leg(at).1.path))
}
