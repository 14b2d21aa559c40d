//! The merged log as GPX 1.1, a mark at a time.
//!
//! Written here rather than through crate `gpx`, which holds the whole file in memory and has no place for
//! extensions. What a mark's records said stands in `name`, `cmt`, `desc`, `sym` and `type`; what was read out of
//! them, and GPX has no element for, in extensions of our own namespace.

use crate::layers::cell::rounded;
use crate::layers::xml::write_escaped;
use crate::layers::{GENERATOR, Results, caution};
use crate::terms::mark::Mark;
use rayon::prelude::*;
use std::io::{self, Write};

/// Namespace of the extensions `kind`, `name`, `fish_depth_m`, `water_depth_m`, `water_temp_c`, `date` and `note`.
pub const NAMESPACE: &str = "urn:shoalwright:marks:1";

/// Writes the merged log: `wpt` elements in the order of the log, children in the order of the GPX 1.1 schema.
///
/// Longitude 180 becomes -180 (the schema's range is half-open). A mark of which only the date is known has no
/// `time` (the schema wants a time of day); its local date is the extension `date`. `src` names the records that the
/// mark came from.
///
/// # Errors
/// When `out` cannot be written.
pub fn merged(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    let marks: Vec<&Mark> = results.log.iter().collect();
    write_all(out, results, &marks, |_| None)
}

/// What a mark wears in the boat's unit instead of its own name and symbol.
#[derive(Clone, Copy, Debug)]
pub(super) struct Worn<'a> {
    pub(super) name: &'a str,
    /// Empty: none is written.
    pub(super) symbol: &'a str,
}

/// Writes marks in order, each in what it wears.
pub(super) fn write_all<'w>(
    out: &mut impl Write,
    results: &Results<'_>,
    marks: &[&Mark],
    worn: impl Fn(usize) -> Option<Worn<'w>> + Sync,
) -> io::Result<()> {
    let mut text = Vec::new();
    write!(
        text,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"{GENERATOR}\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:sw=\"{NAMESPACE}\">\n<metadata>"
    )?;
    write_element(&mut text, "name", &results.lake.name);
    write_element(&mut text, "desc", caution::FULL);
    text.extend_from_slice(b"</metadata>\n");
    out.write_all(&text)?;
    text.clear();
    let numbered: Vec<usize> = (0..marks.len()).collect();
    for batch in numbered.chunks(BLOCK * BLOCKS_AT_ONCE) {
        let blocks: Vec<Vec<u8>> = batch
            .par_chunks(BLOCK)
            .map(|numbers| {
                let mut text = Vec::new();
                numbers.iter().try_for_each(|n| write_mark(&mut text, results, marks[*n], worn(*n)))?;
                Ok(text)
            })
            .collect::<io::Result<_>>()?;
        blocks.iter().try_for_each(|block| out.write_all(block))?;
    }
    text.extend_from_slice(b"</gpx>\n");
    out.write_all(&text)
}

/// Marks written in one go by one thread, and how many such blocks are held before they go out.
const BLOCK: usize = 1 << 10;
const BLOCKS_AT_ONCE: usize = 16;

fn write_mark(
    out: &mut Vec<u8>,
    results: &Results<'_>,
    mark: &Mark,
    worn: Option<Worn<'_>>,
) -> io::Result<()> {
    let (own, desc) = (mark.words.name(), mark.words.desc());
    let name = worn.map_or(own, |worn| worn.name);
    let (lon, lat) = (longitude(mark.place.lon), rounded(mark.place.lat, 7));
    write!(out, "<wpt lat=\"{lat}\" lon=\"{lon}\">")?;
    if let Some(time) = mark.time {
        write_element(out, "time", &time.rfc3339());
    }
    write_element(out, "name", name);
    write_element(out, "cmt", mark.words.cmt());
    write_element(out, "desc", if desc.is_empty() && name != own { own } else { desc });
    write_element(out, "src", &results.sources(mark).join("; "));
    write_element(out, "sym", worn.map_or(mark.words.sym(), |worn| worn.symbol));
    write_element(out, "type", mark.words.type_());
    out.extend_from_slice(b"<extensions>");
    write_element(out, "sw:kind", mark.kind.word());
    if name != own {
        write_element(out, "sw:name", own);
    }
    for (name, value) in [
        ("sw:fish_depth_m", mark.fish_depth.map(|depth| rounded(depth.metres(), 3))),
        ("sw:water_depth_m", mark.water_depth.map(|depth| rounded(depth.metres(), 3))),
        ("sw:water_temp_c", mark.water_temp.map(|temp| rounded(temp.celsius(), 2))),
    ] {
        if let Some(value) = value {
            write!(out, "<{name}>{value}</{name}>")?;
        }
    }
    if let (None, Some(day)) = (mark.time, mark.day) {
        write_element(out, "sw:date", &day.date.to_string());
    }
    write_element(out, "sw:note", &mark.note);
    out.extend_from_slice(b"</extensions></wpt>\n");
    Ok(())
}

/// A longitude to seven decimals in `[-180, 180)`, as GPX 1.1 wants it.
pub(super) fn longitude(lon: f64) -> f64 {
    let lon = rounded(lon, 7);
    if lon >= 180.0 { lon - 360.0 } else { lon }
}

/// Appends an element, or nothing for empty text.
fn write_element(out: &mut Vec<u8>, name: &str, text: &str) {
    if text.is_empty() {
        return;
    }
    out.push(b'<');
    out.extend_from_slice(name.as_bytes());
    out.push(b'>');
    write_escaped(out, text);
    out.extend_from_slice(b"</");
    out.extend_from_slice(name.as_bytes());
    out.push(b'>');
}
