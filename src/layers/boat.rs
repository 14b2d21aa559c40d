//! Holding areas as waypoints for the boat's unit, through crate `gpx`.

use crate::layers::cell::rounded;
use crate::layers::gpx::longitude;
use crate::layers::xml::clean;
use crate::layers::{GENERATOR, Results, Settings, caution};
use crate::schools::HoldingArea;
use crate::terms::mark::{Kind, SUGGESTION_TAG};
use crate::terms::season::SeasonDay;
use crate::terms::units::{Depth, Units};
use gpx::{Gpx, GpxVersion, Metadata, Waypoint};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Write};

/// Writes the holding areas as GPX 1.1 waypoints at their centres, in order.
///
/// Names are ASCII, at most `settings.name_length` characters, unique in the file: `B07 22FT OCT` is the seventh
/// area of bait, median fish depth 22 ft, peak in October. Parts that do not fit are left out, never cut. `sym` is
/// written only for kinds that the settings give one. The tag of our own suggestions stands in `cmt` and in `desc`,
/// because some units keep only one of them (common practice, no source). Of more than `settings.most_marks` areas those
/// with most sightings are written; names are the same as if all were.
///
/// # Errors
/// When `out` cannot be written.
pub fn boat_areas(out: &mut impl Write, results: &Results<'_>, settings: &Settings) -> io::Result<()> {
    let kept = kept(results.areas, settings.most_marks);
    let file = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(GENERATOR.to_owned()),
        metadata: Some(Metadata {
            name: Some(clean(&results.lake.name).into_owned()).filter(|name| !name.is_empty()),
            description: Some(caution::FULL.to_owned()),
            ..Metadata::default()
        }),
        waypoints: results
            .areas
            .iter()
            .zip(names(results, settings.name_length))
            .enumerate()
            .filter(|(number, _)| kept.contains(number))
            .map(|(_, named)| named)
            .map(|(area, name)| waypoint(area, name, results.lake.units, &settings.symbols))
            .collect(),
        ..Gpx::default()
    };
    gpx::write(&file, &mut *out).map_err(io::Error::other)?;
    out.write_all(b"\n")
}

/// The numbers of the areas that a file of at most `most` waypoints keeps: those with most sightings, of equals the first.
fn kept(areas: &[HoldingArea], most: Option<usize>) -> BTreeSet<usize> {
    let mut numbers: Vec<usize> = (0..areas.len()).collect();
    numbers.sort_by_key(|number| (Reverse(areas[*number].sightings.len()), *number));
    numbers.into_iter().take(most.unwrap_or(areas.len())).collect()
}

fn waypoint(area: &HoldingArea, name: String, units: Units, symbols: &BTreeMap<Kind, String>) -> Waypoint {
    let place = geo::Point::new(longitude(area.centre.lon), rounded(area.centre.lat, 7));
    let mut waypoint = Waypoint::new(place);
    waypoint.name = Some(name);
    waypoint.comment = Some(format!("{SUGGESTION_TAG}; {}", caution::SHORT));
    waypoint.description = Some(description(area, units));
    waypoint.symbol =
        symbols.get(&area.kind).map(|symbol| clean(symbol).into_owned()).filter(|symbol| !symbol.is_empty());
    waypoint.type_ = Some(area.kind.word().to_owned());
    waypoint
}

fn description(area: &HoldingArea, units: Units) -> String {
    let seasons: Vec<String> = area.seasons.iter().map(i16::to_string).collect();
    let number = |depth: Depth| units.short_from_metres(depth.metres()).round();
    let depth = area.fish_depth.map_or(String::new(), |[low, median, high]| {
        let u = units.short_length();
        format!("; fish at {}-{} {u}, median {}", number(low), number(high), number(median))
    });
    format!(
        "{SUGGESTION_TAG}: {kind} area {id}; {sightings} on {outings} in {seasons}; {first} to {last}, peak {peak}{depth}",
        kind = area.kind.word(),
        id = area.id,
        sightings = counted(area.sightings.len(), "sighting"),
        outings = counted(area.outings, "outing"),
        seasons = seasons.join(", "),
        first = area.first_day.month_day(),
        last = area.last_day.month_day(),
        peak = area.peak_day.month_day(),
    )
}

fn counted(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

/// A name an area: letter of the kind and number among its kind, then median depth and peak month where they fit.
fn names(results: &Results<'_>, length: usize) -> Vec<String> {
    let mut of_kind: BTreeMap<Kind, usize> = BTreeMap::new();
    for area in results.areas {
        *of_kind.entry(area.kind).or_default() += 1;
    }
    let mut numbers: BTreeMap<Kind, usize> = BTreeMap::new();
    let name = |area: &HoldingArea| {
        let number = numbers.entry(area.kind).or_default();
        *number += 1;
        let mut name = format!(
            "{}{}",
            letter(area.kind),
            numbered(*number, of_kind[&area.kind], length.saturating_sub(1))
        );
        let units = results.lake.units;
        let depth = area.fish_depth.map(|depths| {
            let number = units.short_from_metres(depths[1].metres()).round();
            format!("{number}{}", units.short_length().to_ascii_uppercase())
        });
        for part in depth.into_iter().chain([month(area.peak_day).to_owned()]) {
            if name.len() + 1 + part.len() <= length {
                name = format!("{name} {part}");
            }
        }
        name
    };
    results.areas.iter().map(name).collect()
}

/// A number among `count`, at least two digits, all of one width. Where decimal digits do not fit in `room`, base 36
/// does with the same room: three places hold 46,655 areas of a kind. Beyond that names grow rather than repeat.
pub(super) fn numbered(number: usize, count: usize, room: usize) -> String {
    let width = count.to_string().len().max(2);
    if width <= room {
        return format!("{number:0width$}");
    }
    format!("{:0>room$}", base_36(number))
}

/// A number in digits and letters.
pub(super) fn base_36(number: usize) -> String {
    const DIGITS: &[u8; 36] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    let mut digits = Vec::new();
    let mut rest = number;
    while rest > 0 {
        digits.push(DIGITS[rest % 36]);
        rest /= 36;
    }
    digits.iter().rev().map(|digit| char::from(*digit)).collect()
}

/// No two kinds share a letter, so a name with its number is unique in the file.
const fn letter(kind: Kind) -> char {
    match kind {
        Kind::Bait => 'B',
        Kind::Gamefish => 'G',
        Kind::Cover => 'C',
        Kind::Structure => 'S',
        Kind::Hazard => 'H',
        Kind::Access => 'A',
        Kind::Other => 'O',
    }
}

fn month(day: SeasonDay) -> &'static str {
    const MONTHS: [&str; 12] =
        ["JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC"];
    let month: usize = day.month_day()[..2].parse().unwrap_or(1);
    MONTHS[month - 1]
}
