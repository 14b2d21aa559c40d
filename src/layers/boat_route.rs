//! The pre-fish route for the boat's unit, through crate `gpx`: a route a day, its stops as waypoints.

use crate::layers::boat::numbered;
use crate::layers::cell::rounded;
use crate::layers::gpx::longitude;
use crate::layers::prefish::{OfDay, Planned};
use crate::layers::xml::clean;
use crate::layers::{GENERATOR, Results, Settings, caution};
use crate::prefish::{leave_rule, look_for};
use crate::terms::mark::{Kind, SUGGESTION_TAG};
use crate::terms::place::Place;
use gpx::{Gpx, GpxVersion, Metadata, Route, Waypoint};
use std::fmt::Write as _;
use std::io::{self, Write};

/// Writes the plan as GPX 1.1: a waypoint a stop, and a route a day from ramp to ramp. Where a leg bends around the
/// shore the route has points without a name, so that a unit which runs straight from point to point stays in water.
///
/// Names are ASCII, at most `settings.name_length` characters, unique in the file: `03 FARM POINT` is the third stop,
/// `2-03 FARM` the third of the second day. `sym` is that of bait, where the settings give one.
///
/// # Errors
/// When `out` cannot be written.
pub fn boat_prefish(out: &mut impl Write, results: &Results<'_>, settings: &Settings) -> io::Result<()> {
    let (waypoints, routes) = results.planned.map_or_else(Default::default, |planned| {
        let stop = |at: OfDay| stop_point(results, planned, at, settings);
        let waypoints = planned.visits().map(stop).collect();
        let routes =
            (0..planned.prefish.plan.days.len()).map(|day| route(results, planned, day, settings)).collect();
        (waypoints, routes)
    });
    let file = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(GENERATOR.to_owned()),
        metadata: Some(Metadata {
            name: Some(clean(&results.lake.name).into_owned()).filter(|name| !name.is_empty()),
            description: Some(caution::FULL.to_owned()),
            ..Metadata::default()
        }),
        waypoints,
        routes,
        ..Gpx::default()
    };
    gpx::write(&file, &mut *out).map_err(io::Error::other)?;
    out.write_all(b"\n")
}

fn route(results: &Results<'_>, planned: Planned<'_>, day: usize, settings: &Settings) -> Route {
    let date = planned.prefish.problem.days[day].date.to_string();
    let mut points = Vec::new();
    let legs = planned.prefish.plan.days[day].legs.len();
    for leg in 0..legs {
        let way = &planned.leg((day, leg)).1.path;
        if leg == 0 {
            points.extend(
                way.first().map(|place| ramp_point(*place, end_name(planned, day, "START", settings))),
            );
        }
        points.extend(way.get(1..way.len().saturating_sub(1)).into_iter().flatten().map(|bend| point(*bend)));
        if leg + 1 < legs {
            points.push(stop_point(results, planned, (day, leg), settings));
        } else {
            points.extend(
                way.last().map(|place| ramp_point(*place, end_name(planned, day, "FINISH", settings))),
            );
        }
    }
    Route {
        name: Some(date),
        comment: Some(format!("{SUGGESTION_TAG}; {}", caution::SHORT)),
        description: Some(description(results, planned, day)),
        points,
        ..Route::default()
    }
}

/// The caution, and the hazards beside the legs.
fn description(results: &Results<'_>, planned: Planned<'_>, day: usize) -> String {
    let mut text = String::from("The lines are no chart course: watch the water, not the line.");
    for hazard in planned.hazards(day) {
        let _ = write!(text, " Hazard near leg {}: {}.", hazard.leg + 1, hazard.told(results.lake));
    }
    clean(&text).into_owned()
}

fn point(place: Place) -> Waypoint {
    Waypoint::new(geo::Point::new(longitude(place.lon), rounded(place.lat, 7)))
}

fn ramp_point(place: Place, name: String) -> Waypoint {
    let mut point = point(place);
    point.name = Some(name);
    point
}

fn stop_point(results: &Results<'_>, planned: Planned<'_>, at: OfDay, settings: &Settings) -> Waypoint {
    let (visit, stop) = planned.visit(at);
    let mut point = point(stop.place);
    point.name = Some(stop_name(planned, at, settings.name_length));
    point.comment = Some(format!("{SUGGESTION_TAG}; {}", caution::SHORT));
    // A unit that keeps neither comment nor description may keep the type.
    point.type_ = Some(SUGGESTION_TAG.to_owned());
    let told = format!(
        "{SUGGESTION_TAG}: {}; {}",
        look_for(stop, results.lake.units),
        leave_rule(visit, results.lake)
    );
    point.description = Some(clean(&told).into_owned());
    point.symbol = settings
        .symbols
        .get(&Kind::Bait)
        .map(|symbol| clean(symbol).into_owned())
        .filter(|symbol| !symbol.is_empty());
    point
}

/// A number no other stop has, then as much of the stop's own name as fits.
fn stop_name(planned: Planned<'_>, at: OfDay, length: usize) -> String {
    let of_day = planned.prefish.plan.days.iter().map(|day| day.visits.len()).max().unwrap_or(0);
    let day = if planned.prefish.plan.days.len() > 1 { format!("{}-", at.0 + 1) } else { String::new() };
    let number = numbered(at.1 + 1, of_day, length.saturating_sub(day.len()).max(1));
    let mut name = format!("{day}{number} ");
    let own = planned.visit(at).1.name.to_ascii_uppercase();
    name.extend(own.chars().filter(|c| c.is_ascii_graphic() || *c == ' '));
    name.truncate(length.max(day.len() + number.len()));
    name.trim_end().to_owned()
}

/// The name of a day's start or finish: a letter first, so no stop has it.
fn end_name(planned: Planned<'_>, day: usize, word: &str, settings: &Settings) -> String {
    let day = if planned.prefish.plan.days.len() > 1 { (day + 1).to_string() } else { String::new() };
    let mut name: String = word.chars().take(settings.name_length.saturating_sub(day.len())).collect();
    name.push_str(&day);
    name
}
