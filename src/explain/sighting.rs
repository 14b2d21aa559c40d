//! A sighting: its marks, the gates that joined them, and why it belongs to an area or to none.

use super::told::Told;
use super::{Known, counted, depth_json, depth_text, metres_text, with_unit};
use crate::schools::Sighting;
use crate::terms::mark::Mark;
use crate::travel::WaterDistance;
use serde_json::{Value, json};

pub(super) fn sighting(known: &Known<'_>, number: usize) -> Told {
    let sighting = &known.schools.sightings[number];
    let (lake, gates) = (known.lake, known.sighting_gates);
    let id = sighting.id.to_string();
    let mut told = Told::new(
        "sighting",
        &id,
        format!(
            "Sighting `{id}`: {}, {} on the outing of `{}` (season `{}`).",
            sighting.kind.word(),
            counted(sighting.marks.len(), "mark"),
            sighting.day.date,
            sighting.day.season
        ),
    );
    told.fact("kind", sighting.kind.word().into());
    told.fact("outing", sighting.day.date.to_string().into());
    told.fact("season", sighting.day.season.into());
    told.fact(&with_unit("fish_depth", lake), depth_json(sighting.fish_depth, lake));
    let place = sighting.place;
    told.say(
        "place",
        json!([super::rounded(place.lon, 7), super::rounded(place.lat, 7)]),
        format!(
            "Its middle lies at `{}`{}.",
            super::place_text(place),
            sighting
                .fish_depth
                .map_or(String::new(), |d| format!(", fish at `{}` in the mean", depth_text(d, lake)))
        ),
    );
    let mut marks: Vec<&Mark> = sighting.marks.iter().map(|i| &known.log[*i]).collect();
    marks.sort_by_key(|m| (m.time, m.id));
    let mut before: Option<&Mark> = None;
    let items: Vec<(Value, String)> = marks
        .iter()
        .map(|mark| {
            let metres = lake.to_plane(mark.place).metres_to(sighting.plane);
            let after_s = before.and_then(|b| Some(mark.time?.seconds_since(b.time?)));
            before = Some(mark);
            let value = json!({
                "id": mark.id.to_string(),
                "name": mark.words.name(),
                "time": mark.time.map(crate::terms::instant::Instant::rfc3339),
                with_unit("fish_depth", lake): depth_json(mark.fish_depth, lake),
                with_unit("from_middle", lake): super::rounded(lake.units.short_from_metres(metres), 0),
                "after_s": after_s.map(|s| super::rounded(s, 0)),
            });
            let depth = mark.fish_depth.map_or(String::new(), |d| format!(", `{}`", depth_text(d, lake)));
            let after =
                after_s.map_or(String::new(), |s| format!(", `{:.1} min` after the one before", s / 60.0));
            let line = format!(
                "`{}` `{}`{depth}, `{}` from the middle{after}",
                mark.id,
                mark.words.name(),
                metres_text(metres, lake)
            );
            (value, line)
        })
        .collect();
    let heading = format!(
        "Its marks. On one outing a mark joins the nearest open sighting of its kind in reach, else it opens one. In reach: \
         distance, depth (where both tell one) and time since the mark before, as shares of `{}`, `{}` and `{:.0} min`, \
         squared and added, come to 1 at most:",
        metres_text(gates.distance.metres(), lake),
        metres_text(gates.depth.metres(), lake),
        gates.time.seconds() / 60.0
    );
    told.list("marks", heading, items);
    in_area(known, sighting, &mut told);
    told
}

fn in_area(known: &Known<'_>, sighting: &Sighting, told: &mut Told) {
    let (lake, gates) = (known.lake, known.area_gates);
    let water = lake.water.as_ref().map(|water| WaterDistance::new(water, &lake.plane));
    let is_near = |other: &&Sighting| is_near(known, water.as_ref(), sighting, other);
    let near = known.schools.sightings.iter().filter(is_near).count();
    let area = sighting.area.map(|area| &known.schools.areas[area]);
    told.fact("sightings_within_gates", near.into());
    told.fact("area", json!(area.map(|a| a.id.to_string())));
    let reach = format!(
        "within `{}`{}, `{}` days of the season and `{}` of depth lie {} of all years, itself counted",
        metres_text(gates.distance.metres(), lake),
        if lake.water.is_some() { " by boat" } else { "" },
        gates.days,
        metres_text(gates.depth.metres(), lake),
        counted(near, "sighting")
    );
    told.line(match area {
        Some(area) => format!(
            "It belongs to holding area `{}` ({}): {reach}.",
            area.id,
            counted(area.sightings.len(), "sighting")
        ),
        None => format!("It belongs to no holding area: {reach}, and `{}` make one.", gates.min_sightings),
    });
}

/// Whether two sightings pass the three gates of a holding area: by boat where a shoreline is given, as the stage does.
fn is_near(known: &Known<'_>, water: Option<&WaterDistance>, a: &Sighting, b: &Sighting) -> bool {
    let gates = known.area_gates;
    let depth_m = a.fish_depth.zip(b.fish_depth).map(|(a, b)| (a.metres() - b.metres()).abs());
    let reach_m = gates.distance.metres() * (1.0 + 1e-9);
    // Depths are kept in 32 bits: a hair more than the gate passes, as it does in the stage.
    a.kind == b.kind
        && a.plane.metres_to(b.plane) <= reach_m
        && a.day.season_day.days_apart(b.day.season_day) <= gates.days * (1.0 + 1e-9)
        && depth_m.is_none_or(|metres| metres <= gates.depth.metres() + 1e-4)
        && water.is_none_or(|water| water.metres(a.plane, b.plane, reach_m) <= reach_m)
}
