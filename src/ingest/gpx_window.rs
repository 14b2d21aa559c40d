//! Reads one window of GPX text: marks, track points, and what gives the file its shape. Knows no other window.

use super::coordinate::{Coordinate, plain_decimal, read_coordinate};
use super::gpx_dialect::{Dialect, Shape};
use super::gpx_record::{End, Record, Wanted, read_record};
use super::heights::Heights;
use super::record_findings::{MEND, repair_findings, unreadable_number, unreadable_time};
use super::time_text::read_time;
use super::xml_text::{TextRepairs, clean, plain_ascii};
use super::xml_tokens::{MOST_BYTES, StartTag, Token, Tokens};
use crate::terms::export::{Ele, FileId};
use crate::terms::finding::{Code, Finding, Outcome, SetAside};
use crate::terms::mark::{Fields, Origin, RawMark, RawTime, Words};
use crate::terms::place::Place;
use crate::terms::track_log::TrackPoint;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use std::borrow::Cow;

/// Bytes of a mark, about, to take room for a window's marks at once. (Measured on exports: 150-500.)
const USUAL_MARK_BYTES: usize = 300;

/// What a window holds. Record numbers and lines count from 1 in the window.
#[derive(Debug, Default)]
pub(super) struct WindowRead {
    /// `wpt` elements.
    pub(super) marks_seen: u32,
    /// Marks, kept and set aside.
    pub(super) marks: Outcome<RawMark>,
    /// Readable track points of all tracks, in order.
    pub(super) points: Vec<TrackPoint>,
    /// What gives the file its shape, in order.
    pub(super) events: Vec<Event>,
    /// Heights of its marks, where they are not taken as depths.
    pub(super) heights: Heights,
    /// Damage outside records.
    pub(super) damage: Damage,
    /// Line feeds in it.
    pub(super) lines: u32,
    /// Whether it ends inside a record.
    pub(super) ends_inside: bool,
}

/// An element, or its end, that gives the file its shape.
#[derive(Debug, PartialEq)]
pub(super) enum Event {
    Document,
    DocumentEnd,
    Route,
    RoutePoint,
    Track(Origin),
    TrackEnd,
    Segment,
    SegmentEnd,
    /// So many of the window's points come next, with times of one sort.
    Points(u32, PointTimes),
    /// A `name` that stands outside records.
    Name(Box<str>),
}

/// What the times of points in a row say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum PointTimes {
    /// Moments, or nothing.
    Told,
    /// Date and time of day without an offset, held as if they were UTC.
    Local,
}

/// Damage that belongs to no mark, counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Damage {
    /// Stretches outside records that are no XML, at most one between two elements that give the file its shape.
    pub(super) stretches: u32,
    /// Line of the first of them.
    pub(super) first_stretch_line: u32,
    /// Track points without a readable position, or broken.
    pub(super) points_dropped: u32,
    /// Line of the first of them.
    pub(super) first_point_line: u32,
    /// Track points whose time is no moment.
    pub(super) points_undated: u32,
    /// `trkpt` elements, readable or not.
    pub(super) points_seen: u32,
}

/// Reads a window that starts at `offset` of the file's text.
pub(super) fn read_window(text: &[u8], offset: u64, file: FileId, ele: Ele, dialect: &Dialect) -> WindowRead {
    let mut out = WindowRead::default();
    if memchr::memmem::find(&text[..text.len().min(USUAL_MARK_BYTES)], b"wpt").is_some() {
        out.marks.kept.reserve(text.len() / USUAL_MARK_BYTES);
    }
    let mut reading = Reading {
        tokens: Tokens::new(text),
        plain: plain_ascii(text),
        text,
        offset,
        file,
        ele,
        dialect,
        open: Vec::new(),
        counted_to: 0,
        line: 1,
        in_damage: false,
        out,
    };
    reading.run();
    reading.line_at(text.len());
    reading.out.lines = reading.line - 1;
    reading.out
}

struct Reading<'a> {
    tokens: Tokens<'a>,
    /// The text, when it is plain ASCII.
    plain: Option<&'a str>,
    text: &'a [u8],
    offset: u64,
    file: FileId,
    ele: Ele,
    dialect: &'a Dialect,
    open: Vec<&'a [u8]>,
    counted_to: usize,
    line: u32,
    /// Whether damage was told since the last element that gives the file its shape.
    in_damage: bool,
    out: WindowRead,
}

impl<'a> Reading<'a> {
    fn run(&mut self) {
        let mut piece = 0;
        let mut passing = false;
        loop {
            self.tokens.pass_text();
            let start = self.tokens.at();
            let token = self.tokens.next();
            let shape = token.and_then(|token| self.shape_of(token));
            let too_far = start - piece > MOST_BYTES;
            // `windows` cuts such a stretch off; doing the same here keeps window size out of the result.
            if too_far && !std::mem::replace(&mut passing, true) {
                self.damaged(piece);
            }
            let Some(token) = token else { return };
            if shape.is_some() {
                piece = start;
                passing = false;
                self.in_damage = false;
            } else if too_far {
                continue;
            }
            match (token, shape) {
                // A record that is too long has told of its stretch itself.
                (Token::Start(tag), Some(shape)) => passing = self.shaped(shape, start, tag) == End::TooLong,
                (Token::Start(tag), None) => {
                    if !tag.closed {
                        self.damaged(start);
                    } else if !tag.empty
                        && let Some(raw) = self.tokens.leaf_text(tag.name)
                        && tag.name.local() == b"name"
                        && self.dialect.owns(tag.name)
                    {
                        let text = clean(raw.trim_ascii(), &mut TextRepairs::default());
                        self.out.events.push(Event::Name(text.into()));
                    }
                }
                (Token::End(name), _) => match self.dialect.shape(name) {
                    Some(Shape::Gpx) => self.out.events.push(Event::DocumentEnd),
                    Some(Shape::Track) => self.out.events.push(Event::TrackEnd),
                    Some(Shape::TrackSegment) => self.out.events.push(Event::SegmentEnd),
                    Some(Shape::Route) | None => {}
                    // The end of a record whose start was not one.
                    Some(Shape::Waypoint | Shape::RoutePoint | Shape::TrackPoint) => self.damaged(start),
                },
                (Token::Broken, _) => self.damaged(start),
                _ => {}
            }
        }
    }

    fn shape_of(&self, token: Token<'_>) -> Option<Shape> {
        match token {
            Token::Start(tag) => self.dialect.shape(tag.name),
            _ => None,
        }
    }

    fn shaped(&mut self, shape: Shape, start: usize, tag: StartTag<'a>) -> End {
        match shape {
            Shape::Waypoint => {
                let record = self.record(Wanted::Words, start, tag);
                let mut origin = self.origin(start);
                let end = record.end;
                if end == End::TooLong {
                    // Where it was given up depends on the window.
                    origin.bytes = MOST_BYTES as u32;
                }
                self.mark(&record, origin);
                return end;
            }
            Shape::TrackPoint => {
                let wanted = if self.ele == Ele::Depth { Wanted::FieldsAndEle } else { Wanted::Fields };
                let record = self.record(wanted, start, tag);
                self.track_point(&record, start);
                return record.end;
            }
            Shape::RoutePoint => {
                self.out.events.push(Event::RoutePoint);
                return self.record(Wanted::Fields, start, tag).end;
            }
            Shape::Gpx => {
                self.out.events.push(Event::Document);
                if tag.empty {
                    self.out.events.push(Event::DocumentEnd);
                }
            }
            Shape::Route => self.out.events.push(Event::Route),
            Shape::Track => {
                let line = self.line_at(start);
                self.out.events.push(Event::Track(Origin {
                    file: self.file,
                    record: 0,
                    line,
                    bytes: (self.tokens.at() - start) as u32,
                    start: self.offset + start as u64,
                }));
            }
            Shape::TrackSegment => self.out.events.push(Event::Segment),
        }
        End::Complete
    }

    fn record(&mut self, wanted: Wanted, start: usize, tag: StartTag<'a>) -> Record<'a> {
        let record =
            read_record(&mut self.tokens, self.plain, self.dialect, wanted, start, tag, &mut self.open);
        self.out.ends_inside = record.end == End::BrokenOff && self.tokens.at() == self.text.len();
        record
    }

    fn mark(&mut self, record: &Record<'a>, origin: Origin) {
        let [name, sym, type_, cmt, desc] = &record.words;
        let repairs = record.repairs;
        let (lon, lat) = match position(record) {
            Ok(position) => position,
            Err(finding) => {
                let finding = finding.at(origin, name);
                self.out.marks.set_aside.push(SetAside::one(origin, finding));
                return;
            }
        };
        let findings = &mut self.out.marks.findings;
        if repairs != TextRepairs::default() {
            findings.extend(repair_findings(repairs).map(|finding| finding.at(origin, name)));
        }
        if !(lon.plain && lat.plain) {
            let seen = format!("position is `{}`, `{}`", shown(record.lat).trim(), shown(record.lon).trim());
            let done = format!("read as latitude {}, longitude {}", lat.deg, lon.deg);
            findings.push(Finding::new(Code::PositionForm, seen).done(done).at(origin, name));
        }
        if let Some(text) = &record.unreadable_number {
            findings.push(unreadable_number(text).at(origin, name));
        }
        // Our own files tell the date apart where there is no time of day.
        let time = match read_time(&record.time) {
            RawTime::Missing => read_time(&record.date),
            time => time,
        };
        if let RawTime::Unreadable(text) = &time {
            findings.push(unreadable_time(text).at(origin, name));
        }
        let has_depth = [record.fields.depth_m, record.fields.water_depth_m].iter().any(Option::is_some);
        if let (Some(ele_m), Ele::Height) = (record.ele_m, self.ele) {
            self.out.heights.add(ele_m, has_depth);
        }
        self.out.marks.kept.push(RawMark {
            origin,
            lon_deg: lon.deg,
            lat_deg: lat.deg,
            time,
            words: Words::new(name, sym, type_, cmt, desc),
            fields: self.fields(record),
            note: record.note.as_ref().into(),
        });
    }

    fn track_point(&mut self, record: &Record<'_>, start: usize) {
        self.out.damage.points_seen += 1;
        let place = position(record).ok().and_then(|(lon, lat)| Place::new(lon.deg, lat.deg));
        let Some(place) = place else {
            let line = self.line_at(start);
            let damage = &mut self.out.damage;
            damage.points_dropped += 1;
            if damage.points_dropped == 1 {
                damage.first_point_line = line;
            }
            return;
        };
        let as_utc = |civil: DateTime| Some(TimeZone::UTC.to_timestamp(civil).ok()?.into());
        let (time, times) = match read_time(&record.time) {
            RawTime::Instant(instant) => (Some(instant), PointTimes::Told),
            RawTime::Missing => (None, PointTimes::Told),
            RawTime::Civil(civil) => (as_utc(civil), PointTimes::Local),
            RawTime::Date(_) | RawTime::Unreadable(_) => {
                self.out.damage.points_undated += 1;
                (None, PointTimes::Told)
            }
        };
        let fields = self.fields(record);
        self.out.points.push(TrackPoint {
            place,
            time,
            depth_m: fields.water_depth_m.or(fields.depth_m),
            water_temp_c: fields.water_temp_c,
        });
        match self.out.events.last_mut() {
            Some(Event::Points(count, of)) if *of == times => *count += 1,
            _ => self.out.events.push(Event::Points(1, times)),
        }
    }

    /// The fields, with a depth from `ele` where the user says that it holds one.
    fn fields(&self, record: &Record<'_>) -> Fields {
        let mut fields = record.fields;
        if self.ele == Ele::Depth && fields.depth_m.is_none() {
            fields.water_depth_m = fields.water_depth_m.or_else(|| Some(record.ele_m?.abs() as f32));
        }
        fields
    }

    /// Origin of the mark that starts at `start` and ends here.
    fn origin(&mut self, start: usize) -> Origin {
        self.out.marks_seen += 1;
        Origin {
            file: self.file,
            record: self.out.marks_seen,
            line: self.line_at(start),
            bytes: (self.tokens.at() - start) as u32,
            start: self.offset + start as u64,
        }
    }

    /// Line on which a byte stands, or the last one asked for where that stands further on.
    fn line_at(&mut self, at: usize) -> u32 {
        let at = at.max(self.counted_to);
        self.line += memchr::memchr_iter(b'\n', &self.text[self.counted_to..at]).count() as u32;
        self.counted_to = at;
        self.line
    }

    fn damaged(&mut self, at: usize) {
        if std::mem::replace(&mut self.in_damage, true) {
            return;
        }
        let line = self.line_at(at);
        let damage = &mut self.out.damage;
        damage.stretches += 1;
        if damage.stretches == 1 {
            damage.first_stretch_line = line;
        }
    }
}

/// Longitude and latitude of a record, or why it has none.
fn position(record: &Record<'_>) -> Result<(Coordinate, Coordinate), Box<Finding>> {
    let damaged = |seen: &'static str| Err(Box::new(Finding::new(Code::RecordDamaged, seen).fix(MEND)));
    match record.end {
        End::Complete => {}
        End::BrokenOff => return damaged("the record has no end tag"),
        End::NotWellFormed => return damaged("tags in the record do not match"),
        End::TooLong => return damaged("the record is longer than a megabyte"),
    }
    let (Some(lon), Some(lat)) = (record.lon, record.lat) else {
        let seen = match (record.lon, record.lat) {
            (None, None) => "the record has no `lat` and no `lon`",
            (None, _) => "the record has no `lon`",
            _ => "the record has no `lat`",
        };
        return Err(Box::new(Finding::new(Code::PositionMissing, seen).fix(MEND)));
    };
    let read = |raw: &[u8]| match plain_decimal(raw) {
        Some(deg) => Some(Coordinate::plain(deg)),
        None => read_coordinate(&clean(raw, &mut TextRepairs::default())),
    };
    read(lon).zip(read(lat)).ok_or_else(|| {
        let seen = format!("position is `{}`, `{}`", shown(Some(lat)), shown(Some(lon)));
        Box::new(Finding::new(Code::PositionUnreadable, seen).fix(MEND))
    })
}

fn shown(raw: Option<&[u8]>) -> String {
    let text: Cow<'_, str> = String::from_utf8_lossy(raw.unwrap_or_default());
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}
