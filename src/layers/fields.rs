//! What the properties of the layers are called and hold, for formats that tell it beside the data.

use crate::layers::cell::Cell;
use crate::layers::layer::Layer;
use std::io;

/// What a property holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Holds {
    Integer,
    Real,
    Text,
    /// Day of the calendar: `2024-10-06`.
    Date,
    /// Moment: RFC 3339.
    Moment,
    /// A list, written as JSON.
    List,
    /// One of the kinds of `terms::mark::Kind`.
    Kind,
    /// A probability, 0 to 1.
    Chance,
}

/// A property of a layer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Field {
    /// As in GeoJSON: `fish_depth_ft`.
    pub(super) name: String,
    pub(super) holds: Holds,
    /// For the head of a table: `Fish depth (ft)`.
    pub(super) title: String,
    /// One sentence; empty where nothing is known beyond the title.
    pub(super) about: &'static str,
}

/// Name without unit → what it holds, title, meaning. A name that differs by layer stands with its layer, before the
/// plain ones.
const KNOWN: &[(&str, Holds, &str, &str)] = &[
    ("movement-days.day", Holds::Text, "Day", "Month and day, MM-DD."),
    ("id", Holds::Text, "Id", "The same in every run over the same inputs."),
    ("kind", Holds::Kind, "Kind", "What it is on."),
    ("name", Holds::Text, "Name", "As the user wrote it."),
    ("note", Holds::Text, "Note", "The user's note, comment and description."),
    ("time", Holds::Moment, "Time", "When it was marked, UTC."),
    ("local_date", Holds::Date, "Date", "By the lake's time zone."),
    ("season", Holds::Integer, "Season", "Year label of the season."),
    ("season_day", Holds::Integer, "Season day", "Day of the year; 0 is 1 January."),
    ("fish_depth", Holds::Real, "Fish depth", "Of the fish, below the surface of that day."),
    ("fish_depth_min", Holds::Real, "Least fish depth", "Below the surface."),
    ("fish_depth_median", Holds::Real, "Median fish depth", "Below the surface."),
    ("fish_depth_max", Holds::Real, "Greatest fish depth", "Below the surface."),
    ("fish_depth_low", Holds::Real, "Fish depth, low", "Shallow end of the band, below the surface."),
    ("fish_depth_high", Holds::Real, "Fish depth, high", "Deep end of the band, below the surface."),
    ("water_depth", Holds::Real, "Water depth", "Of the bottom, below the surface of that day."),
    ("water_depth_median", Holds::Real, "Median water depth", "Of the bottom, below the surface."),
    ("water_temp", Holds::Real, "Water temperature", "At the surface."),
    ("water_temp_min", Holds::Real, "Least water temperature", "At the surface."),
    ("water_temp_max", Holds::Real, "Greatest water temperature", "At the surface."),
    ("level", Holds::Real, "Pool level", "Height of the lake's surface that day."),
    ("unit", Holds::Text, "Unit", "The device that it was marked with."),
    ("sources", Holds::List, "Sources", "Records it came from, file#record."),
    ("repairs", Holds::List, "Repairs", "Codes of what was repaired in it."),
    ("sighting", Holds::Text, "Sighting", "Id of the sighting it belongs to."),
    ("area", Holds::Text, "Area", "Id of the holding area it belongs to."),
    ("marks", Holds::Integer, "Marks", "How many."),
    ("outing", Holds::Date, "Outing", "Local date of the boat day."),
    ("light", Holds::Text, "Light", "By the height of the sun."),
    ("sightings", Holds::Integer, "Sightings", "How many."),
    ("outings", Holds::Integer, "Outings", "How many boat days."),
    ("seasons", Holds::List, "Seasons", "Year labels."),
    ("first_day", Holds::Text, "First day", "Month and day, MM-DD."),
    ("last_day", Holds::Text, "Last day", "Month and day, MM-DD."),
    ("peak_day", Holds::Text, "Peak day", "Month and day, MM-DD."),
    ("radius", Holds::Real, "Radius", "Of the area."),
    (
        "gamefish_near",
        Holds::Integer,
        "Gamefish near",
        "Gamefish marks near its sightings on the same outing.",
    ),
    ("gamefish_lift", Holds::Real, "Gamefish lift", "Gamefish near, over what chance alone would give."),
    ("gamefish_p", Holds::Chance, "Gamefish p", "Share of random draws with as many gamefish near."),
    ("track", Holds::Integer, "Track", "Number of the movement track."),
    ("clock", Holds::Text, "Clock", "What the season was measured by."),
    ("length", Holds::Real, "Length", "Along the line."),
    ("band", Holds::Real, "Band", "Radius that holds the place with 90 %."),
    ("sightings_near", Holds::Real, "Sightings near", "Sightings that the day stands on, by weight."),
    ("effort", Holds::Real, "Effort", "Area looked over, each outing once."),
    ("chance", Holds::Chance, "Chance", "To meet bait in a standard search."),
    ("chance_low", Holds::Chance, "Chance, low", "Low end of the 90 % interval."),
    ("chance_high", Holds::Chance, "Chance, high", "High end of the 90 % interval."),
    ("rate", Holds::Real, "Rate", "Sightings by area searched."),
    ("basis", Holds::Text, "Basis", "What it stands on: log, near or prior."),
    ("day", Holds::Integer, "Day", "Practice day, from 1."),
    ("order", Holds::Integer, "Order", "In the day, from 1."),
    ("value", Holds::Real, "Value", "What the stop adds to the plan."),
    ("arrive", Holds::Moment, "Arrive", "UTC."),
    ("depart", Holds::Moment, "Depart", "UTC."),
    ("search_min", Holds::Real, "Search (min)", "Minutes to search."),
    ("look_for", Holds::Text, "Look for", ""),
    ("leave_rule", Holds::Text, "Leave", "When to go on."),
    ("must", Holds::Text, "Must", "Whether the user wants it in any case."),
    ("from", Holds::Text, "From", ""),
    ("to", Holds::Text, "To", ""),
    ("distance", Holds::Real, "Distance", "Along the way, through water."),
    ("course_true", Holds::Real, "Course, true", "First course in degrees by true north; no chart course."),
    (
        "course_magnetic",
        Holds::Real,
        "Course, magnetic",
        "First course in degrees by magnetic north; no chart course.",
    ),
    ("minutes", Holds::Real, "Minutes", "Of running."),
    ("slow_minutes", Holds::Real, "Slow minutes", "Of them in slow water."),
    ("straight", Holds::Real, "Straight distance", "As the bird flies."),
    ("depth", Holds::Real, "Depth", "Of the bottom, below the surface that the layer tells of."),
    ("elevation", Holds::Real, "Elevation", "Above the datum of the lake's levels."),
    ("closed", Holds::Text, "Closed", "Whether the line is a ring: yes or no."),
    ("datum", Holds::Text, "Datum", "What levels are counted from."),
    ("over_full_pool", Holds::Real, "Water over it at full pool", "Below zero it stands out of the water."),
    (
        "over_lowest",
        Holds::Real,
        "Water over it at the lowest level",
        "Of the levels given; below zero it stands out.",
    ),
    ("over_on_date", Holds::Real, "Water over it on the date", "Below zero it stands out of the water."),
    ("hazards-and-cover.date", Holds::Date, "Date", "The day of the plan or the outlook."),
    ("shallow", Holds::Text, "Shallow", "No more than the clearance over it that day: yes, no or not known."),
    ("near_leg", Holds::Text, "Near leg", "The leg of the pre-fish plan that passes near it."),
];

/// What units add to a name, and how a person writes them.
const UNITS: &[(&str, &str)] = &[
    ("_ft", "ft"),
    ("_m", "m"),
    ("_f", "°F"),
    ("_c", "°C"),
    ("_mi", "mi"),
    ("_km", "km"),
    ("_acres", "acres"),
    ("_ha", "ha"),
];

/// The properties of a layer after `id`, in order. What a property that no table lists holds is told by its values; one
/// without any is text.
pub(super) fn fields(layer: &Layer<'_>) -> Vec<Field> {
    let mut fields: Vec<(Field, bool)> =
        layer.columns().into_iter().map(|name| known(layer.name, name)).collect();
    if fields.iter().any(|(_, known)| !known) {
        let mut seen = vec![None; fields.len()];
        let looked = layer.each(&mut |feature| {
            for (seen, cell) in seen.iter_mut().zip(&feature.cells) {
                *seen = wider(*seen, cell);
            }
            Ok::<(), io::Error>(())
        });
        // Looking writes nothing, so nothing can fail.
        debug_assert!(looked.is_ok());
        for ((field, _), seen) in fields.iter_mut().zip(seen).filter(|((_, known), _)| !known) {
            field.holds = seen.unwrap_or(Holds::Text);
        }
    }
    fields.into_iter().map(|(field, _)| field).collect()
}

/// A field as the table knows it, and whether it does.
fn known(layer: &str, name: &str) -> (Field, bool) {
    let find = |base: &str| {
        let of_layer = format!("{layer}.{base}");
        KNOWN.iter().find(|(known, ..)| *known == of_layer || *known == base)
    };
    let with_unit = || {
        let (suffix, unit) = UNITS.iter().find(|(suffix, _)| name.ends_with(suffix))?;
        let found = find(&name[..name.len() - suffix.len()])?;
        Some((found, Some(*unit)))
    };
    let Some(((_, holds, title, about), unit)) = find(name).map(|found| (found, None)).or_else(with_unit)
    else {
        let title = name.replace('_', " ");
        return (Field { name: name.to_owned(), holds: Holds::Text, title, about: "" }, false);
    };
    let title = unit.map_or_else(|| (*title).to_owned(), |unit| format!("{title} ({unit})"));
    (Field { name: name.to_owned(), holds: *holds, title, about }, true)
}

/// What a column holds that held `seen` so far.
fn wider(seen: Option<Holds>, cell: &Cell<'_>) -> Option<Holds> {
    let here = match cell {
        Cell::Null => return seen,
        Cell::Integer(_) => Holds::Integer,
        Cell::Decimal(..) => Holds::Real,
        Cell::Text(_) => Holds::Text,
        Cell::Integers(_) | Cell::Texts(_) => Holds::List,
    };
    match seen {
        Some(before) if before != here => match (before, here) {
            (Holds::Integer, Holds::Real) | (Holds::Real, Holds::Integer) => Some(Holds::Real),
            _ => Some(Holds::Text),
        },
        _ => Some(here),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(layer: &str, name: &str, expected: (Holds, &str)) {
        let (field, _) = known(layer, name);
        assert_eq!((field.holds, field.title.as_str()), expected, "{layer}.{name}");
    }

    #[test]
    fn a_title_tells_the_unit_and_a_day_is_what_its_layer_means() {
        check("marks", "fish_depth_ft", (Holds::Real, "Fish depth (ft)"));
        check("areas", "water_temp_min_c", (Holds::Real, "Least water temperature (°C)"));
        check("effort", "effort_ha", (Holds::Real, "Effort (ha)"));
        check("movement-days", "day", (Holds::Text, "Day"));
        check("prefish-stops", "day", (Holds::Integer, "Day"));
        // `_f` is a unit, but `of` is part of a name.
        check("any", "height_of", (Holds::Text, "height of"));
    }

    #[test]
    fn values_tell_what_an_unlisted_property_holds() {
        let whole = Cell::Integer(3);
        let decimal = Cell::Decimal(2.5, 1);
        for (cells, expected) in [
            (vec![&Cell::Null], None),
            (vec![&whole, &Cell::Null], Some(Holds::Integer)),
            (vec![&whole, &decimal], Some(Holds::Real)),
            (vec![&decimal, &Cell::Text("x".into())], Some(Holds::Text)),
            (vec![&Cell::Integers(&[1])], Some(Holds::List)),
        ] {
            assert_eq!(cells.iter().fold(None, |seen, cell| wider(seen, cell)), expected, "{cells:?}");
        }
    }
}
