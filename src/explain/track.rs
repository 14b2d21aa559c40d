//! A movement track: what it was fitted to, its clock, shifts and bands, its days.

use super::told::Told;
use super::{Known, counted, depth_json, depth_text, metres_text, rounded, with_unit};
use crate::movement::{Clock, MovementDay};
use crate::terms::finding::Code;
use serde_json::{Value, json};

pub(super) fn track(known: &Known<'_>, number: usize, day: Option<usize>) -> Told {
    let (lake, track) = (known.lake, &known.movement.tracks[number]);
    let id = track.id.to_string();
    let ends = |day: Option<&MovementDay>| day.map_or(String::new(), |d| d.season_day.month_day());
    let (first, last) = (ends(track.days.first()), ends(track.days.last()));
    let mut told = Told::new(
        "track",
        &id,
        format!(
            "Movement track `{id}` (number `{}`): {} from `{first}` to `{last}` of the year, over `{:.1} {}`.",
            track.number,
            track.kind.word(),
            lake.units.long_from_metres(track.length_m),
            lake.units.long_length()
        ),
    );
    told.fact("kind", track.kind.word().into());
    told.fact("track", track.number.into());
    told.fact("first_day", first.into());
    told.fact("last_day", last.into());
    told.fact("seasons", json!(track.seasons));
    let seasons: Vec<String> = track.seasons.iter().map(|season| format!("`{season}`")).collect();
    told.say(
        "sightings",
        track.sightings.into(),
        format!(
            "It stands on about {} of the seasons {}.",
            counted(track.sightings, "sighting"),
            seasons.join(", ")
        ),
    );
    let clock = if track.clock == Clock::Date { "date" } else { "temperature" };
    told.fact("clock", clock.into());
    let of_fit: Vec<_> = known
        .findings
        .iter()
        .filter(|f| matches!(f.code, Code::MovementClock | Code::MovementTracks | Code::MovementRefused))
        .collect();
    for finding in &of_fit {
        let done = if finding.done.is_empty() { String::new() } else { format!("; {}", finding.done) };
        told.line(format!("The fit: {}{done}.", finding.seen));
    }
    let fit = of_fit.iter().map(|f| json!({"code": f.code.word(), "seen": &*f.seen, "done": &*f.done}));
    told.fact("fit", fit.collect());
    let shifts = &known.movement.season_shifts;
    let value =
        shifts.iter().map(|(season, days)| json!({"season": season, "days": rounded(*days, 1)})).collect();
    let list: Vec<String> = shifts.iter().map(|(season, days)| format!("`{season}` {days:+.0}")).collect();
    told.say(
        "season_shifts",
        value,
        format!("Days that a season ran late (+) or early (-): {}.", list.join(", ")),
    );
    let shown: Vec<&MovementDay> = match day {
        Some(day) => vec![&track.days[day]],
        None => track.days.iter().collect(),
    };
    let items: Vec<(Value, String)> = shown
        .iter()
        .map(|d| {
            let value = json!({
                "day": d.season_day.month_day(),
                "place": [rounded(d.place.lon, 7), rounded(d.place.lat, 7)],
                with_unit("fish_depth", lake): depth_json(d.fish_depth, lake),
                with_unit("fish_depth_low", lake): depth_json(d.fish_depth_band.map(|b| b[0]), lake),
                with_unit("fish_depth_high", lake): depth_json(d.fish_depth_band.map(|b| b[1]), lake),
                with_unit("band", lake): rounded(lake.units.short_from_metres(d.band_m), 0),
                "sightings_near": rounded(d.sightings_near, 1),
            });
            let depth = d.fish_depth_band.zip(d.fish_depth).map_or(String::new(), |([low, high], middle)| {
                format!(
                    ", `{}` deep (`{}` to `{}`)",
                    depth_text(middle, lake),
                    depth_text(low, lake),
                    depth_text(high, lake)
                )
            });
            let line = format!(
                "`{}`: `{}`, nine of ten within `{}`{depth}; `{:.1}` sightings near",
                d.season_day.month_day(),
                super::place_text(d.place),
                metres_text(d.band_m, lake),
                d.sightings_near
            );
            (value, line)
        })
        .collect();
    let heading =
        if day.is_some() { "That day:" } else { "Every fifth day of the year that it is supported on:" };
    told.list("days", heading.to_owned(), items);
    told
}
