//! What each layer says about its things: one line a property, in the order of the columns.
//!
//! Property names carry the unit of `[lake] units`. A depth has one decimal in feet and two in metres, a
//! temperature one; a radius is whole feet or metres, which is finer than consumer GPS can tell.

use crate::layers::cell::Cell;
use crate::layers::prefish;
use crate::layers::results::Results;
use crate::movement::{Clock, MovementDay, MovementTrack};
use crate::schools::{GamefishNear, HoldingArea, Without};
use crate::terms::id::Id;
use crate::terms::mark::{Kind, LocalDay, Mark};
use crate::terms::place::Place;
use crate::terms::pool::{elevation_m, water_over_m};
use crate::terms::season::SeasonDay;
use crate::terms::units::{Depth, Units, WaterTemp};
use std::borrow::Cow;

/// A property: its name and how it is read off the thing numbered `I`.
pub(super) struct Column<I> {
    pub(super) name: String,
    pub(super) read: for<'a> fn(&'a Results<'a>, I) -> Cell<'a>,
}

pub(super) fn column<I>(
    name: impl Into<String>,
    read: for<'a> fn(&'a Results<'a>, I) -> Cell<'a>,
) -> Column<I> {
    Column { name: name.into(), read }
}

/// Properties of `marks`; numbers are places in the log.
pub(super) fn marks(units: Units) -> Vec<Column<usize>> {
    let (u, t) = (units.short_length(), units.temperature());
    vec![
        column("kind", |r, i| Cell::words(r.log[i].kind.word())),
        column("name", |r, i| Cell::words(r.log[i].words.name())),
        column("note", |r, i| note(&r.log[i])),
        column("time", |r, i| r.log[i].time.map_or(Cell::Null, |time| Cell::Text(time.rfc3339().into()))),
        column("local_date", |r, i| date(r.log[i].day)),
        column("season", |r, i| r.log[i].day.map_or(Cell::Null, |day| Cell::Integer(day.season.into()))),
        column("season_day", |r, i| r.log[i].day.map_or(Cell::Null, |day| whole_day(day.season_day))),
        column(format!("fish_depth_{u}"), |r, i| depth(r, r.log[i].fish_depth)),
        column(format!("water_depth_{u}"), |r, i| depth(r, r.log[i].water_depth)),
        column(format!("water_temp_{t}"), |r, i| water_temp(r, r.log[i].water_temp)),
        column(format!("level_{u}"), |r, i| level(r, r.log[i].day)),
        column("unit", |r, i| unit(r, &r.log[i])),
        column("sources", |r, i| Cell::Texts(r.sources(&r.log[i]))),
        column("repairs", |r, i| {
            Cell::Texts(r.log[i].repairs.iter().map(|code| Cow::Borrowed(code.word())).collect())
        }),
        column("sighting", |r, i| {
            r.sighting_of(i).map_or(Cell::Null, |s| Cell::Text(s.id.to_string().into()))
        }),
        column("area", |r, i| r.area_of(i).map_or(Cell::Null, |a| Cell::Text(a.id.to_string().into()))),
    ]
}

/// Properties of `hazards-and-cover`; numbers are places in the log. `shallow` holds the clearance against the water on the
/// date, else at the lowest level given.
pub(super) fn standing(units: Units) -> Vec<Column<usize>> {
    let u = units.short_length();
    vec![
        column("kind", |r, i| Cell::words(r.log[i].kind.word())),
        column("name", |r, i| Cell::words(r.log[i].words.name())),
        column(format!("elevation_{u}"), |r, i| {
            Cell::decimal(elevation_m(&r.log[i], r.lake).map(|m| r.lake.units.short_from_metres(m)), 1)
        }),
        column("datum", |r, _| Cell::words(&r.lake.level_datum)),
        column(format!("over_full_pool_{u}"), |r, i| over(r, i, r.lake.full_pool_m)),
        column(format!("over_lowest_{u}"), |r, i| over(r, i, r.lake.lowest_level_m())),
        column("date", |r, _| r.ahead().map_or(Cell::Null, |date| Cell::Text(date.to_string().into()))),
        column(format!("over_on_date_{u}"), |r, i| over(r, i, r.level_ahead_m())),
        column("shallow", |r, i| {
            let level_m = r.level_ahead_m().or(r.lake.lowest_level_m());
            let over_m = level_m.and_then(|level_m| water_over_m(&r.log[i], r.lake, level_m));
            Cell::words(match over_m {
                None => "not known",
                Some(over_m) if over_m <= r.clearance_m() => "yes",
                Some(_) => "no",
            })
        }),
        column("near_leg", |r, i| prefish::near_leg(r, &r.log[i])),
    ]
}

/// Water over what lies still, at a level; below zero it stands out.
fn over<'a>(results: &Results<'_>, mark: usize, level_m: Option<f64>) -> Cell<'a> {
    let over_m = level_m.and_then(|level_m| water_over_m(&results.log[mark], results.lake, level_m));
    Cell::decimal(over_m.map(|m| results.lake.units.short_from_metres(m)), 1)
}

/// Properties of `sightings`.
pub(super) fn sightings(units: Units) -> Vec<Column<usize>> {
    let (u, t) = (units.short_length(), units.temperature());
    vec![
        column("kind", |r, i| Cell::words(r.sightings[i].kind.word())),
        column("marks", |r, i| Cell::count(r.sightings[i].marks.len())),
        column("outing", |r, i| date(Some(r.sightings[i].day))),
        column("season", |r, i| Cell::Integer(r.sightings[i].day.season.into())),
        column("season_day", |r, i| whole_day(r.sightings[i].day.season_day)),
        column(format!("fish_depth_{u}"), |r, i| depth(r, r.sightings[i].fish_depth)),
        column(format!("water_depth_{u}"), |r, i| depth(r, r.sightings[i].water_depth)),
        column(format!("water_temp_{t}"), |r, i| water_temp(r, r.sightings[i].water_temp)),
        column("area", |r, i| {
            r.sightings[i].area.map_or(Cell::Null, |area| Cell::Text(r.areas[area].id.to_string().into()))
        }),
        column("light", |r, i| r.sightings[i].light().map_or(Cell::Null, |light| Cell::words(light.word()))),
    ]
}

/// Properties of `areas` and `area-centres`.
pub(super) fn areas(units: Units) -> Vec<Column<usize>> {
    let (u, t) = (units.short_length(), units.temperature());
    vec![
        column("kind", |r, i| Cell::words(r.areas[i].kind.word())),
        column("sightings", |r, i| Cell::count(r.areas[i].sightings.len())),
        column("marks", |r, i| Cell::count(r.areas[i].marks)),
        column("outings", |r, i| Cell::count(r.areas[i].outings)),
        column("seasons", |r, i| Cell::Integers(&r.areas[i].seasons)),
        column("first_day", |r, i| month_day(r.areas[i].first_day)),
        column("last_day", |r, i| month_day(r.areas[i].last_day)),
        column("peak_day", |r, i| month_day(r.areas[i].peak_day)),
        column(format!("fish_depth_min_{u}"), |r, i| area_depth(r, &r.areas[i], 0)),
        column(format!("fish_depth_median_{u}"), |r, i| area_depth(r, &r.areas[i], 1)),
        column(format!("fish_depth_max_{u}"), |r, i| area_depth(r, &r.areas[i], 2)),
        column(format!("water_depth_median_{u}"), |r, i| depth(r, r.areas[i].water_depth_median)),
        column(format!("water_temp_min_{t}"), |r, i| {
            water_temp(r, r.areas[i].water_temp.map(|range| range[0]))
        }),
        column(format!("water_temp_max_{t}"), |r, i| {
            water_temp(r, r.areas[i].water_temp.map(|range| range[1]))
        }),
        column(format!("radius_{u}"), |r, i| radius(r, r.areas[i].radius_m)),
        column("gamefish_near", |r, i| gamefish(r, i, |near| Cell::count(near.near))),
        column("gamefish_lift", |r, i| gamefish(r, i, |near| Cell::Decimal(near.lift, 2))),
        column("gamefish_p", |r, i| gamefish(r, i, |near| Cell::Decimal(near.p, 4))),
    ]
}

/// Properties of `contours`; numbers are places in the contours. The elevation is that of the bottom along the line.
pub(super) fn contours(units: Units) -> Vec<Column<usize>> {
    let u = units.short_length();
    vec![
        column(format!("depth_{u}"), |r, i| depth(r, Depth::from_metres(r.contours[i].depth_m))),
        column(format!("elevation_{u}"), |r, i| {
            let elevation_m = r.contour_surface_m.map(|level_m| level_m - r.contours[i].depth_m);
            Cell::decimal(elevation_m.map(|m| r.lake.units.short_from_metres(m)), 1)
        }),
        column("closed", |r, i| Cell::words(if r.contours[i].closed { "yes" } else { "no" })),
        column(format!("length_{}", units.long_length()), |r, i| {
            Cell::Decimal(r.lake.units.long_from_metres(r.contours[i].length_m), 2)
        }),
    ]
}

/// Properties of `effort`; numbers are places in the cells with effort.
pub(super) fn effort(units: Units) -> Vec<Column<usize>> {
    vec![
        column(format!("effort_{}", units.area()), |r, i| {
            Cell::Decimal(r.lake.units.area_from_square_metres(r.effort[i].0.area_m2), 2)
        }),
        column("outings", |r, i| Cell::count(r.effort[i].0.outings)),
        column("sightings", |r, i| Cell::count(r.effort[i].1)),
    ]
}

/// Properties of `outlook`; numbers are ranks, from 0.
pub(super) fn outlook(units: Units) -> Vec<Column<usize>> {
    vec![
        column("chance", |r, i| Cell::decimal(r.outlook_cells()[i].chance.map(|c| c.mean), 3)),
        column("chance_low", |r, i| Cell::decimal(r.outlook_cells()[i].chance.map(|c| c.low), 3)),
        column("chance_high", |r, i| Cell::decimal(r.outlook_cells()[i].chance.map(|c| c.high), 3)),
        column("rate", |r, i| Cell::decimal(r.outlook_cells()[i].rate_km2.map(|rate| per_area(r, rate)), 4)),
        column(format!("effort_{}", units.area()), |r, i| {
            Cell::Decimal(r.lake.units.area_from_square_metres(r.outlook_cells()[i].effort_m2), 2)
        }),
        column("sightings", |r, i| Cell::count(r.outlook_cells()[i].sightings)),
        column("basis", |r, i| Cell::words(r.outlook_cells()[i].basis.word())),
    ]
}

/// From sightings a square kilometre to sightings an acre or a hectare.
fn per_area(results: &Results<'_>, rate_km2: f64) -> f64 {
    rate_km2 / results.lake.units.area_from_square_metres(1e6)
}

/// Columns of the table of the best places; numbers are ranks, from 0.
pub(super) fn outlook_places(units: Units) -> Vec<Column<usize>> {
    let u = units.short_length();
    vec![
        column("rank", |r, i| Cell::count(r.outlook_places()[i].rank)),
        column("chance", |r, i| Cell::decimal(r.outlook_places()[i].chance.map(|c| c.mean), 3)),
        column("chance_low", |r, i| Cell::decimal(r.outlook_places()[i].chance.map(|c| c.low), 3)),
        column("chance_high", |r, i| Cell::decimal(r.outlook_places()[i].chance.map(|c| c.high), 3)),
        column(format!("fish_depth_low_{u}"), |r, i| {
            depth(r, r.outlook_places()[i].fish_depth.map(|d| d[0]))
        }),
        column(format!("fish_depth_high_{u}"), |r, i| {
            depth(r, r.outlook_places()[i].fish_depth.map(|d| d[1]))
        }),
        column("behind", |r, i| Cell::Text(r.outlook_places()[i].behind().into())),
        column("sightings", |r, i| {
            Cell::Texts(r.outlook_places()[i].sightings.iter().map(|id| id.to_string().into()).collect())
        }),
    ]
}

/// Properties of `movement`; numbers are places in the tracks.
pub(super) fn movement(units: Units) -> Vec<Column<usize>> {
    vec![
        column("kind", |r, i| Cell::words(r.movement.tracks[i].kind.word())),
        column("track", |r, i| Cell::count(r.movement.tracks[i].number)),
        column("sightings", |r, i| Cell::count(r.movement.tracks[i].sightings)),
        column("seasons", |r, i| Cell::Integers(&r.movement.tracks[i].seasons)),
        column("first_day", |r, i| end_day(r.movement.tracks[i].days.first())),
        column("last_day", |r, i| end_day(r.movement.tracks[i].days.last())),
        column("clock", |r, i| Cell::words(clock(r.movement.tracks[i].clock))),
        column(format!("length_{}", units.long_length()), |r, i| {
            Cell::Decimal(r.lake.units.long_from_metres(r.movement.tracks[i].length_m), 2)
        }),
    ]
}

/// A row of the table of bait without gamefish (kind bait) and gamefish without bait.
pub(super) type WithoutRow = (Kind, Without);

/// Columns of the table of bait without gamefish and gamefish without bait.
pub(super) fn without(units: Units) -> Vec<Column<WithoutRow>> {
    let u = units.short_length();
    vec![
        column("list", |_, (kind, _)| {
            Cell::words(if kind == Kind::Bait { "bait-without-gamefish" } else { "gamefish-without-bait" })
        }),
        column("kind", |_, (kind, _)| Cell::words(kind.word())),
        column("outing", |r, row| date(without_day(r, row))),
        column("season", |r, row| {
            without_day(r, row).map_or(Cell::Null, |day| Cell::Integer(day.season.into()))
        }),
        column(format!("fish_depth_{u}"), |r, (kind, w)| {
            depth(
                r,
                match kind {
                    Kind::Bait => r.sightings[w.number].fish_depth,
                    _ => r.log[w.number].fish_depth,
                },
            )
        }),
        column(format!("nearest_{u}"), |r, (_, w)| {
            w.nearest_m.map_or(Cell::Null, |metres| radius(r, metres))
        }),
        column(format!("depth_gap_{u}"), |r, (_, w)| depth(r, w.depth_gap_m.and_then(Depth::from_metres))),
    ]
}

/// All rows: bait first, each list in its order.
pub(super) fn without_rows<'a>(results: &Results<'a>) -> impl Iterator<Item = WithoutRow> + use<'a> {
    results.pairing.into_iter().flat_map(|p| {
        let bait = p.bait_without_gamefish.iter().map(|w| (Kind::Bait, *w));
        bait.chain(p.gamefish_without_bait.iter().map(|w| (Kind::Gamefish, *w)))
    })
}

fn without_day(results: &Results<'_>, (kind, w): WithoutRow) -> Option<LocalDay> {
    match kind {
        Kind::Bait => Some(results.sightings[w.number].day),
        _ => results.log[w.number].day,
    }
}

/// Id and place of a row's sighting or mark.
pub(super) fn without_thing(results: &Results<'_>, (kind, w): WithoutRow) -> (Id, Place) {
    match kind {
        Kind::Bait => (results.sightings[w.number].id, results.sightings[w.number].place),
        _ => (results.log[w.number].id, results.log[w.number].place),
    }
}

/// A track's place among the tracks, and a day's among its days.
pub(super) type TrackDay = (usize, usize);

/// Properties of `movement-days`.
pub(super) fn movement_days(units: Units) -> Vec<Column<TrackDay>> {
    let u = units.short_length();
    vec![
        column("kind", |r, at| Cell::words(track_day(r, at).0.kind.word())),
        column("track", |r, at| Cell::count(track_day(r, at).0.number)),
        column("day", |r, at| month_day(track_day(r, at).1.season_day)),
        column("season_day", |r, at| whole_day(track_day(r, at).1.season_day)),
        column(format!("fish_depth_{u}"), |r, at| depth(r, track_day(r, at).1.fish_depth)),
        column(format!("fish_depth_low_{u}"), |r, at| {
            depth(r, track_day(r, at).1.fish_depth_band.map(|b| b[0]))
        }),
        column(format!("fish_depth_high_{u}"), |r, at| {
            depth(r, track_day(r, at).1.fish_depth_band.map(|b| b[1]))
        }),
        column(format!("band_{u}"), |r, at| radius(r, track_day(r, at).1.band_m)),
        column("sightings_near", |r, at| Cell::Decimal(track_day(r, at).1.sightings_near, 1)),
    ]
}

/// All days of all tracks, in order.
pub(super) fn track_days<'a>(results: &'a Results<'_>) -> impl Iterator<Item = TrackDay> + Clone + 'a {
    let tracks = results.movement.tracks.iter().enumerate();
    tracks.flat_map(|(track, t)| (0..t.days.len()).map(move |day| (track, day)))
}

pub(super) fn track_day<'a>(results: &'a Results<'_>, at: TrackDay) -> (&'a MovementTrack, &'a MovementDay) {
    let track = &results.movement.tracks[at.0];
    (track, &track.days[at.1])
}

/// The user's own note, then what the unit recorded as comment and description, each once.
fn note(mark: &Mark) -> Cell<'_> {
    let mut parts: Vec<&str> = Vec::new();
    for part in [&mark.note, mark.words.cmt(), mark.words.desc()] {
        if !part.is_empty() && !parts.contains(&part) {
            parts.push(part);
        }
    }
    match parts[..] {
        [] => Cell::Null,
        [only] => Cell::words(only),
        _ => Cell::Text(parts.join("; ").into()),
    }
}

fn unit<'a>(results: &'a Results<'a>, mark: &Mark) -> Cell<'a> {
    let file = mark.sources.first().map(|origin| origin.file);
    file.and_then(|file| results.exports.get(file.0 as usize))
        .map_or(Cell::Null, |export| Cell::words(&export.unit))
}

fn date<'a>(day: Option<LocalDay>) -> Cell<'a> {
    day.map_or(Cell::Null, |day| Cell::Text(day.date.to_string().into()))
}

fn whole_day<'a>(day: SeasonDay) -> Cell<'a> {
    Cell::Integer(day.days().floor() as i64)
}

fn month_day<'a>(day: SeasonDay) -> Cell<'a> {
    Cell::Text(day.month_day().into())
}

fn end_day<'a>(day: Option<&MovementDay>) -> Cell<'a> {
    day.map_or(Cell::Null, |day| month_day(day.season_day))
}

pub(super) fn depth<'a>(results: &Results<'_>, depth: Option<Depth>) -> Cell<'a> {
    let units = results.lake.units;
    let places = match units {
        Units::Us => 1,
        Units::Metric => 2,
    };
    Cell::decimal(depth.map(|depth| units.short_from_metres(depth.metres())), places)
}

fn area_depth<'a>(results: &Results<'_>, area: &HoldingArea, which: usize) -> Cell<'a> {
    depth(results, area.fish_depth.map(|depths| depths[which]))
}

fn water_temp<'a>(results: &Results<'_>, temp: Option<WaterTemp>) -> Cell<'a> {
    Cell::decimal(temp.map(|temp| results.lake.units.degrees(temp)), 1)
}

/// Lake levels are read to a hundredth of a foot by those who publish them, so both units keep two decimals.
fn level<'a>(results: &Results<'_>, day: Option<LocalDay>) -> Cell<'a> {
    let level_m = day.and_then(|day| results.lake.level_m(day.date));
    Cell::decimal(level_m.map(|metres| results.lake.units.short_from_metres(metres)), 2)
}

fn radius<'a>(results: &Results<'_>, metres: f64) -> Cell<'a> {
    Cell::Decimal(results.lake.units.short_from_metres(metres), 0)
}

fn gamefish<'a>(results: &Results<'_>, area: usize, read: fn(GamefishNear) -> Cell<'a>) -> Cell<'a> {
    results.areas[area].gamefish.map_or(Cell::Null, read)
}

const fn clock(clock: Clock) -> &'static str {
    match clock {
        Clock::Date => "date",
        Clock::Temperature => "temperature",
    }
}
