//! CSV tables by RFC 4180: comma, CRLF, UTF-8, a header, the columns of the layers after `id`, `lon`, `lat`; last `wkt`,
//! the geometry as well-known text, so that GIS tools take a table for a layer.
//!
//! A text that a spreadsheet would run as a formula gets an apostrophe in front; numbers that we write do not.
//! Absent values are empty cells; lists are joined by `; `.

use crate::layers::Results;
use crate::layers::all::track_day_id;
use crate::layers::cell::{Cell, starts_a_formula};
use crate::layers::prefish::{self, Planned};
use crate::layers::properties::{self, Column, track_day, track_days};
use crate::layers::results::label;
use crate::layers::shape::Shape;
use crate::outlook::{Backtest, Guess};
use crate::soundings::{Bottom, Tally};
use crate::terms::export::Export;
use crate::terms::finding::{Finding, SetAside};
use crate::terms::id::Id;
use crate::terms::place::Place;
use crate::terms::units::Units;
use csv::{ByteRecord, Terminator, Writer, WriterBuilder};
use std::io::{self, Write};

/// A row a merged mark.
///
/// # Errors
/// When `out` cannot be written.
pub fn marks(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Table {
        results,
        columns: properties::marks(results.lake.units),
        id: |r, i| r.log[i].id.to_string(),
        place: |r, i| r.log[i].place,
        shape: |r, i| Shape::point(r.log[i].place),
    }
    .write(out, 0..results.log.len())
}

/// A row a sighting.
///
/// # Errors
/// When `out` cannot be written.
pub fn sightings(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Table {
        results,
        columns: properties::sightings(results.lake.units),
        id: |r, i| r.sightings[i].id.to_string(),
        place: |r, i| r.sightings[i].place,
        shape: |r, i| Shape::point(r.sightings[i].place),
    }
    .write(out, 0..results.sightings.len())
}

/// A row a holding area, at its centre.
///
/// # Errors
/// When `out` cannot be written.
pub fn areas(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Table {
        results,
        columns: properties::areas(results.lake.units),
        id: |r, i| r.areas[i].id.to_string(),
        place: |r, i| r.areas[i].centre,
        shape: |r, i| Shape::polygon(&r.areas[i].hull),
    }
    .write(out, 0..results.areas.len())
}

/// A row a bait sighting without gamefish near and a gamefish mark without bait near, of the same outing.
///
/// # Errors
/// When `out` cannot be written.
pub fn pairing(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Table {
        results,
        columns: properties::without(results.lake.units),
        id: |r, row| properties::without_thing(r, row).0.to_string(),
        place: |r, row| properties::without_thing(r, row).1,
        shape: |r, row| Shape::point(properties::without_thing(r, row).1),
    }
    .write(out, properties::without_rows(results))
}

/// A row a season that tells one: the days by which it ran late (positive) or early against the movement tracks.
///
/// # Errors
/// When `out` cannot be written.
pub fn season_shifts(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    let mut table = table(out);
    table.write_record(["season", "shift_days"])?;
    for (season, days) in &results.movement.season_shifts {
        table.write_byte_record(&row([Cell::Integer((*season).into()), Cell::Decimal(*days, 1)])?)?;
    }
    table.flush()
}

/// A row a movement track and supported day.
///
/// # Errors
/// When `out` cannot be written.
pub fn movement(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Table {
        results,
        columns: properties::movement_days(results.lake.units),
        id: track_day_id,
        place: |r, at| track_day(r, at).1.place,
        shape: |r, at| Shape::point(track_day(r, at).1.place),
    }
    .write(out, track_days(results))
}

/// A row a place of the outlook, the best first.
///
/// # Errors
/// When `out` cannot be written.
pub fn outlook(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Table {
        results,
        columns: properties::outlook_places(results.lake.units),
        id: |r, i| {
            let [lon, lat] = r.outlook_places()[i].place.six_decimals();
            Id::of('o', &[&lon, &lat]).to_string()
        },
        place: |r, i| r.outlook_places()[i].place,
        shape: |r, i| Shape::point(r.outlook_places()[i].place),
    }
    .write(out, 0..results.outlook_places().len())
}

/// A row a season held out and a guess, and rows for all seasons together (`season` is `all`). Gains are natural log
/// units a sighting; captured shares are those of the first 2, 5 and 10 % of the water.
///
/// # Errors
/// When `out` cannot be written.
pub fn skill(out: &mut impl Write, backtest: Option<&Backtest>) -> io::Result<()> {
    let mut table = table(out);
    table.write_record([
        "season",
        "guess",
        "outings",
        "sightings",
        "gain",
        "gain_low",
        "gain_high",
        "captured_2",
        "captured_5",
        "captured_10",
        "guess_captured_2",
        "guess_captured_5",
        "guess_captured_10",
        "observed_over_expected",
    ])?;
    let Some(backtest) = backtest else { return table.flush() };
    let seasons = backtest.seasons.iter().map(|s| (s.season.to_string(), &s.skill));
    for (season, skill) in seasons.chain([(String::from("all"), &backtest.all)]) {
        for (number, guess) in Guess::ALL.into_iter().enumerate() {
            let gain = skill.gains[number];
            // Effort alone knows no place, so it captures nothing in particular.
            let captured = skill.captured.get(number + 1);
            let share = |which: usize| Cell::decimal(captured.map(|c| c[which]), 3);
            table.write_byte_record(&row([
                Cell::Text(season.clone().into()),
                Cell::words(guess.word()),
                Cell::count(skill.outings),
                Cell::count(skill.sightings),
                Cell::Decimal(gain.mean, 3),
                Cell::Decimal(gain.interval[0], 3),
                Cell::Decimal(gain.interval[1], 3),
                Cell::Decimal(skill.captured[0][0], 3),
                Cell::Decimal(skill.captured[0][1], 3),
                Cell::Decimal(skill.captured[0][2], 3),
                share(0),
                share(1),
                share(2),
                Cell::Decimal(skill.observed_over_expected, 3),
            ])?)?;
        }
    }
    table.flush()
}

/// What became of the soundings and how far they agree: a row a measure, with its unit; empty where it is not known.
///
/// # Errors
/// When `out` cannot be written.
pub fn soundings(out: &mut impl Write, bottom: &Bottom, units: Units) -> io::Result<()> {
    let Tally { points, zeros, repeats, spikes, jumps, no_level, ashore, copies, kept } = bottom.tally;
    let counts = [
        ("soundings", points),
        ("kept", kept),
        ("left_out_zero", zeros),
        ("left_out_repeat", repeats),
        ("left_out_spike", spikes),
        ("left_out_jump", jumps),
        ("left_out_no_level", no_level),
        ("left_out_on_land", ashore),
        ("left_out_copy", copies),
        ("squares", bottom.thinned as u64),
        ("contours", bottom.contours.len() as u64),
        ("crossings", bottom.crossings.map_or(0, |c| c.count as u64)),
        ("tracks_held_out", bottom.held_out.as_ref().map_or(0, |h| h.tracks as u64)),
        ("squares_held_out", bottom.held_out.as_ref().map_or(0, |h| h.places as u64)),
    ];
    let lengths = [
        ("crossing_difference_median", bottom.crossings.map(|c| c.median_m)),
        ("crossing_difference_95", bottom.crossings.map(|c| c.p95_m)),
        ("held_out_error_median", bottom.held_out.as_ref().map(|h| h.median_m)),
        ("held_out_error_rms", bottom.held_out.as_ref().map(|h| h.rmse_m)),
    ];
    let mut table = table(out);
    table.write_record(["measure", "value", "unit"])?;
    for (measure, count) in counts {
        let value = Cell::Integer(i64::try_from(count).unwrap_or(i64::MAX));
        table.write_byte_record(&row([Cell::words(measure), value, Cell::words("count")])?)?;
    }
    for (measure, metres) in lengths {
        let value = Cell::decimal(metres.map(|m| units.short_from_metres(m)), 2);
        table.write_byte_record(&row([Cell::words(measure), value, Cell::words(units.short_length())])?)?;
    }
    let area = Cell::Decimal(units.area_from_square_metres(bottom.drawn_m2), 1);
    table.write_byte_record(&row([Cell::words("water_drawn"), area, Cell::words(units.area())])?)?;
    table.flush()
}

/// A row a stop of the pre-fish plan.
///
/// # Errors
/// When `out` cannot be written.
pub fn prefish(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Table {
        results,
        columns: prefish::stop_columns(results.lake.units),
        id: prefish::visit_id,
        place: prefish::visit_place,
        shape: |r, at| Shape::point(prefish::visit_place(r, at)),
    }
    .write(out, results.planned.into_iter().flat_map(Planned::visits))
}

/// A row a finding, in the order handed in. Findings about a whole file have no line and record, those about the
/// run no file.
///
/// # Errors
/// When `out` cannot be written.
pub fn findings<'f>(
    out: &mut impl Write,
    findings: impl IntoIterator<Item = &'f Finding>,
    exports: &[Export],
) -> io::Result<()> {
    let mut table = table(out);
    table.write_record(["code", "severity", "file", "line", "record", "name", "seen", "done", "fix"])?;
    for finding in findings {
        let place = finding.origin.filter(|origin| origin.record > 0);
        table.write_byte_record(&row([
            Cell::words(finding.code.word()),
            Cell::words(finding.code.severity().word()),
            finding.origin.map_or(Cell::Null, |origin| Cell::words(label(exports, origin.file))),
            place.map_or(Cell::Null, |origin| Cell::Integer(origin.line.into())),
            place.map_or(Cell::Null, |origin| Cell::Integer(origin.record.into())),
            Cell::words(&finding.name),
            Cell::words(&finding.seen),
            Cell::words(&finding.done),
            Cell::words(&finding.fix),
        ])?)?;
    }
    table.flush()
}

/// The columns of the table of records set aside.
pub const SET_ASIDE: [&str; 5] = ["file", "line", "code", "reason", "record"];

/// A row a record set aside, with the record whole. `record` gives the text of a record as it stands in its file.
///
/// The `record` column can be turned back to the byte: a record that begins with a formula character or with an
/// apostrophe gets one apostrophe in front, so a reader takes one apostrophe off where the cell begins with one
/// ([`record_of_cell`]).
///
/// # Errors
/// When `out` cannot be written, or `record` fails.
pub fn set_aside<'s>(
    out: &mut impl Write,
    set_aside: impl IntoIterator<Item = &'s SetAside>,
    exports: &[Export],
    mut record: impl FnMut(&SetAside) -> io::Result<String>,
) -> io::Result<()> {
    let mut table = table(out);
    table.write_record(SET_ASIDE)?;
    for one in set_aside {
        let line = one.origin.line;
        let reason = if one.finding.seen.is_empty() { one.finding.code.meaning() } else { &one.finding.seen };
        let mut row = row([
            Cell::words(label(exports, one.origin.file)),
            if line > 0 { Cell::Integer(line.into()) } else { Cell::Null },
            Cell::words(one.finding.code.word()),
            Cell::words(reason),
        ])?;
        row.push_field(cell_of_record(&record(one)?).as_bytes());
        table.write_byte_record(&row)?;
    }
    table.flush()
}

fn cell_of_record(record: &str) -> String {
    if record.starts_with('\'') || starts_a_formula(record) {
        format!("'{record}")
    } else {
        record.to_owned()
    }
}

/// The record that a cell of the set-aside table's `record` column stands for.
#[must_use]
pub fn record_of_cell(cell: &str) -> &str {
    cell.strip_prefix('\'').unwrap_or(cell)
}

/// A table: how the thing numbered `I` is named, placed and described.
struct Table<'a, I> {
    results: &'a Results<'a>,
    columns: Vec<Column<I>>,
    id: fn(&Results<'_>, I) -> String,
    place: fn(&Results<'_>, I) -> Place,
    shape: fn(&Results<'_>, I) -> Shape,
}

impl<I: Copy> Table<'_, I> {
    fn write(&self, out: &mut impl Write, things: impl Iterator<Item = I>) -> io::Result<()> {
        let mut table = table(out);
        let names = self.columns.iter().map(|column| column.name.as_str());
        table.write_record(["id", "lon", "lat"].into_iter().chain(names).chain(["wkt"]))?;
        let mut wkt = Vec::new();
        for thing in things {
            let place = (self.place)(self.results, thing);
            let head = [
                Cell::Text((self.id)(self.results, thing).into()),
                Cell::Decimal(place.lon, 7),
                Cell::Decimal(place.lat, 7),
            ];
            let rest = self.columns.iter().map(|column| (column.read)(self.results, thing));
            let mut row = row(head.into_iter().chain(rest))?;
            wkt.clear();
            (self.shape)(self.results, thing).write_wkt(&mut wkt)?;
            row.push_field(&wkt);
            table.write_byte_record(&row)?;
        }
        table.flush()
    }
}

fn table<W: Write>(out: W) -> Writer<W> {
    WriterBuilder::new().terminator(Terminator::CRLF).from_writer(out)
}

fn row<'a>(cells: impl IntoIterator<Item = Cell<'a>>) -> io::Result<ByteRecord> {
    let mut row = ByteRecord::new();
    let mut text = Vec::new();
    for cell in cells {
        text.clear();
        cell.write_csv(&mut text)?;
        row.push_field(&text);
    }
    Ok(row)
}
