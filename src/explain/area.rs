//! A holding area: its sightings, the looks that found nothing, and what a plan makes of it.

use super::told::Told;
use super::{Known, counted, depth_json, depth_text, metres_text, rounded, with_unit};
use crate::effort::{Cell, OutingEffort};
use crate::schools::{HoldingArea, Sighting};
use crate::terms::circle::{MeanVector, season_p};
use crate::terms::mark::LocalDay;
use crate::terms::place::PlanePoint;
use crate::terms::season::{SeasonDay, YEAR_DAYS};
use geo::{Contains, Point};
use jiff::civil::Date;
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// An outing looked at an area when its track logs looked over at least this share of it (judgement).
const LOOKED: f64 = 0.1;
/// A season is told below this p.
const SURE: f64 = 0.01;

pub(super) fn area(known: &Known<'_>, number: usize) -> Told {
    let (lake, area) = (known.lake, &known.schools.areas[number]);
    let id = area.id.to_string();
    let mut told = Told::new(
        "area",
        &id,
        format!(
            "Holding area `{id}`: {} seen on {} in {}, from `{}` to `{}` of the year, most often about `{}`.",
            area.kind.word(),
            counted(area.outings, "outing"),
            counted(area.seasons.len(), "season"),
            area.first_day.month_day(),
            area.last_day.month_day(),
            area.peak_day.month_day()
        ),
    );
    told.fact("kind", area.kind.word().into());
    told.fact("outings", area.outings.into());
    told.fact("seasons", json!(area.seasons));
    told.fact("first_day", area.first_day.month_day().into());
    told.fact("last_day", area.last_day.month_day().into());
    told.say(
        "centre",
        json!([rounded(area.centre.lon, 7), rounded(area.centre.lat, 7)]),
        format!(
            "Its middle lies at `{}`; nine of ten sightings lie within `{}` of it{}.",
            super::place_text(area.centre),
            metres_text(area.radius_m, lake),
            area.fish_depth.map_or(String::new(), |[low, middle, high]| format!(
                ", `{}` to `{}` deep, the middle one `{}`",
                depth_text(low, lake),
                depth_text(high, lake),
                depth_text(middle, lake)
            ))
        ),
    );
    season(known, area, &mut told);
    sightings(known, area, &mut told);
    looks(known, area, &mut told);
    if let Some(near) = area.gamefish {
        told.say(
            "gamefish",
            json!({"near": near.near, "lift": rounded(near.lift, 2), "p": rounded(near.p, 4)}),
            format!(
                "Gamefish: {} of its outings lay near its bait, `{:.1}` times what chance gives (p `{:.4}`): what this log \
                 shows, no rule.",
                counted(near.near, "mark"),
                near.lift,
                near.p
            ),
        );
    }
    let stops = known.prefish.map_or(&[][..], |p| &p.problem.stops);
    match stops.iter().position(|stop| stop.facts.area == Some(area.id)) {
        Some(stop) => told.below("stop", super::stop::stop(known, stop)),
        None => told.say(
            "stop",
            Value::Null,
            String::from(match known.prefish {
                Some(_) => "It is no stop of the plan: bait was not seen here within 21 days of that day.",
                None => "For the arithmetic of a stop here, add --date with a practice day (and set prefish.start).",
            }),
        ),
    }
    told
}

/// Whether its place has a season: days of all that was seen there, in the area or not, since an area is made of days
/// that lie together and would always seem to have one.
fn season(known: &Known<'_>, area: &HoldingArea, told: &mut Told) {
    let on = |days: BTreeSet<Date>| days.into_iter().map(SeasonDay::from_date).collect::<Vec<_>>();
    let centre = known.lake.to_plane(area.centre);
    let there = |s: &&Sighting| s.kind == area.kind && s.plane.metres_to(centre) <= area.radius_m;
    let own = on(known.schools.sightings.iter().filter(there).map(|s| s.day.date).collect());
    let all = on(known.log.iter().filter_map(|mark| Some(mark.day?.date)).collect());
    let length = MeanVector::of(own.iter().copied()).length;
    let Some(p) = season_p(&own, &all) else { return };
    let likely = if p < 1e-4 { String::from("below `0.0001`") } else { format!("`{p:.4}`") };
    let verdict = if p < SURE { "the place has a season" } else { "no season of the place stands out" };
    told.say(
        "season",
        json!({"mean_vector": rounded(length, 3), "outings": own.len(), "of": all.len(), "p": rounded(p, 4)}),
        format!(
            "Season: {} was seen this near to its middle on `{}` of your `{}` outings, with a mean vector of `{length:.2}` (1: all \
             on one day of the year). Drawn at random, so many would gather so much with p {likely}: {verdict}.",
            area.kind.word(),
            own.len(),
            all.len()
        ),
    );
}

fn sightings(known: &Known<'_>, area: &HoldingArea, told: &mut Told) {
    let lake = known.lake;
    let centre = lake.to_plane(area.centre);
    let items: Vec<(Value, String)> = area
        .sightings
        .iter()
        .map(|i| &known.schools.sightings[*i])
        .map(|s| {
            let metres = s.plane.metres_to(centre);
            let value = json!({
                "id": s.id.to_string(),
                "outing": s.day.date.to_string(),
                "marks": s.marks.len(),
                with_unit("fish_depth", lake): depth_json(s.fish_depth, lake),
                with_unit("from_centre", lake): rounded(lake.units.short_from_metres(metres), 0),
            });
            let depth = s.fish_depth.map_or(String::new(), |d| format!(", `{}` deep", depth_text(d, lake)));
            let line = format!(
                "`{}` on `{}`: {}{depth}, `{}` from the middle",
                s.id,
                s.day.date,
                counted(s.marks.len(), "mark"),
                metres_text(metres, lake)
            );
            (value, line)
        })
        .collect();
    let gates = known.area_gates;
    let heading = format!(
        "Its {} (each has `{}` or more, itself counted, within `{}`, `{}` days and `{}` of depth, or lies beside one that \
         has):",
        counted(items.len(), "sighting"),
        gates.min_sightings,
        metres_text(gates.distance.metres(), lake),
        gates.days,
        metres_text(gates.depth.metres(), lake)
    );
    told.list("sightings", heading, items);
}

/// Looks in that part of the season, and those of them that found nothing.
fn looks(known: &Known<'_>, area: &HoldingArea, told: &mut Told) {
    let effort = known.effort;
    if effort.outings.is_empty() {
        told.say(
            "looks",
            Value::Null,
            String::from("Looks that found nothing are not known: no track log tells where was looked."),
        );
        return;
    }
    // An area may be smaller than a cell: the one about its middle counts in any case.
    let middle = Cell::at(known.lake.to_plane(area.centre), effort.cell_m);
    let inside = |cell: Cell| cell == middle || is_inside(known, area, cell.middle(effort.cell_m));
    let cells = cells_of(known, area).into_iter().filter(|cell| inside(*cell)).count().max(1);
    let whole_m2 = cells as f64 * effort.cell_m * effort.cell_m;
    let share = |outing: &OutingEffort| {
        let looked_m2: f64 = outing.cells.iter().filter(|(cell, _)| inside(*cell)).map(|(_, m2)| m2).sum();
        looked_m2 / whole_m2
    };
    let found: BTreeSet<_> =
        known.schools.sightings.iter().filter(|s| found_here(known, area, s)).map(|s| s.day.date).collect();
    let looks: Vec<(&OutingEffort, f64)> = effort
        .outings
        .iter()
        .filter(|outing| in_season(area, outing.day))
        .map(|outing| (outing, share(outing)))
        .filter(|(_, share)| *share >= LOOKED)
        .collect();
    let empty: Vec<(Value, String)> = looks
        .iter()
        .filter(|(outing, _)| !found.contains(&outing.day.date))
        .map(|(outing, share)| {
            let value = json!({"outing": outing.day.date.to_string(), "looked_over": rounded(*share, 2)});
            (value, format!("`{}`: `{:.0} %` of it looked over", outing.day.date, (share * 100.0).min(100.0)))
        })
        .collect();
    told.fact("looks", looks.len().into());
    let heading = format!(
        "In that part of the year the boat looked over a tenth of it or more on {}; {} found no {} there{}",
        counted(looks.len(), "outing"),
        if empty.is_empty() { String::from("none") } else { format!("`{}` of them", empty.len()) },
        area.kind.word(),
        if empty.is_empty() { "." } else { ":" }
    );
    told.list("looks_that_found_nothing", heading, empty);
}

/// Whether a point lies in an area: in its hull, or within its radius.
fn is_inside(known: &Known<'_>, area: &HoldingArea, point: PlanePoint) -> bool {
    let place = known.lake.plane.to_place(point);
    known.lake.to_plane(area.centre).metres_to(point) <= area.radius_m
        || area.hull.contains(&Point::new(place.lon, place.lat))
}

/// All cells that an area may reach into.
fn cells_of(known: &Known<'_>, area: &HoldingArea) -> Vec<Cell> {
    let (side_m, centre) = (known.effort.cell_m, known.lake.to_plane(area.centre));
    let sightings = area.sightings.iter().map(|i| known.schools.sightings[*i].plane.metres_to(centre));
    let reach_m = sightings.fold(area.radius_m, f64::max) + 2.0 * side_m;
    let corner = |sign: f64| {
        let point =
            PlanePoint { east_m: centre.east_m + sign * reach_m, north_m: centre.north_m + sign * reach_m };
        Cell::at(point, side_m)
    };
    let (first, last) = (corner(-1.0), corner(1.0));
    (first.row..=last.row)
        .flat_map(|row| (first.column..=last.column).map(move |column| Cell { row, column }))
        .collect()
}

/// Whether a sighting of the area's kind was seen there, whichever area it belongs to.
fn found_here(known: &Known<'_>, area: &HoldingArea, sighting: &Sighting) -> bool {
    sighting.kind == area.kind && is_inside(known, area, sighting.plane)
}

/// Whether a day lies in the part of the year that the area is seen in.
fn in_season(area: &HoldingArea, day: LocalDay) -> bool {
    let after_first = |days: f64| (days - area.first_day.days()).rem_euclid(YEAR_DAYS);
    after_first(day.season_day.days()) <= after_first(area.last_day.days())
}
