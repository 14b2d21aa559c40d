//! Reads a GPX file: windows side by side, what they hold joined in order.

use super::decode::Text;
use super::gpx_dialect::{Head, look};
use super::gpx_window::{Damage, Event, WindowRead, read_window};
use super::windows::{WindowSize, Windows};
use super::xml_tokens::MOST_BYTES;
use super::{Counts, FileRead};
use crate::terms::export::FileId;
use crate::terms::finding::{Code, Finding, Outcome};
use crate::terms::mark::{Origin, RawMark};
use crate::terms::track_log::{TrackLog, TrackPoint};
use rayon::prelude::*;
use std::io::{self, Read};

/// A window of a quarter megabyte stays in the cache of a core while it is read.
pub(super) const USUAL: WindowSize = WindowSize { window: 1 << 18, at_once: 8 };

/// Reads a GPX file's text. The result does not depend on `size`.
pub(super) fn read_gpx(file: FileId, source: impl Read + Send, size: WindowSize) -> FileRead {
    let mut text = Text::new(source);
    let mut buffer = Vec::new();
    let more = text.append(&mut buffer, MOST_BYTES);
    let mut join = Join::new(file);
    let encoding = text.foreign_encoding();
    let dialect = match look(&buffer[..buffer.len().min(MOST_BYTES)]) {
        Head::Gpx { dialect, damaged } => {
            if damaged {
                join.tell(
                    Finding::new(Code::XmlDamaged, "the file does not start with a `gpx` element")
                        .done("its records were read all the same"),
                );
            }
            dialect
        }
        Head::Empty => {
            join.tell(unreadable(text.failed()).unwrap_or_else(empty_file));
            return join.finish();
        }
        Head::Other(what) => {
            join.tell(
                Finding::new(Code::FileNotGpx, format!("the file is no GPX: {what}"))
                    .done("nothing was read from it")
                    .fix("export it as GPX, or unpack it first"),
            );
            unreadable(text.failed()).into_iter().for_each(|finding| join.tell(finding));
            return join.finish();
        }
    };
    if let Some(encoding) = encoding {
        let seen = format!("the text of the file is `{encoding}`");
        join.tell(Finding::new(Code::EncodingRepaired, seen).done("turned into UTF-8"));
    }
    let mut windows = Windows::new(text, &dialect, size, buffer, more);
    while let Some(batch) = windows.next_batch() {
        join.line += batch.lines_passed;
        let mut offset = batch.offset;
        let placed: Vec<(u64, &[u8])> = batch
            .windows
            .into_iter()
            .map(|window| {
                let at = offset;
                offset += window.len() as u64;
                (at, window)
            })
            .collect();
        let read: Vec<WindowRead> =
            placed.into_par_iter().map(|(at, window)| read_window(window, at, file, &dialect)).collect();
        for window in read {
            join.window(window);
        }
    }
    let ended_adrift = windows.ended_adrift();
    if (join.open_documents > 0 || join.ends_inside) && !ended_adrift {
        join.tell(
            Finding::new(Code::XmlTruncated, "the file ends before its last element does")
                .done("all complete records before it were read")
                .fix("export it again"),
        );
    }
    unreadable(windows.failed()).into_iter().for_each(|finding| join.tell(finding));
    join.finish()
}

/// The finding for a file whose reading failed.
pub(super) fn unreadable(failed: Option<&io::Error>) -> Option<Finding> {
    let seen = format!("reading stopped: `{}`", failed?);
    Some(Finding::new(Code::FileUnreadable, seen).done("what was read before stays"))
}

/// The finding for a file without text.
pub(super) fn empty_file() -> Finding {
    Finding::new(Code::FileEmpty, "the file holds nothing").fix("export it again")
}

/// Joins what windows hold, in their order.
struct Join {
    file: FileId,
    counts: Counts,
    marks: Outcome<RawMark>,
    track_logs: Vec<TrackLog>,
    damage: Damage,
    documents: u64,
    open_documents: u64,
    /// Line feeds before the next window.
    line: u32,
    in_track: bool,
    in_segment: bool,
    ends_inside: bool,
}

impl Join {
    fn new(file: FileId) -> Self {
        Self {
            file,
            counts: Counts::default(),
            marks: Outcome::default(),
            track_logs: Vec::new(),
            damage: Damage::default(),
            documents: 0,
            open_documents: 0,
            line: 0,
            in_track: false,
            in_segment: false,
            ends_inside: false,
        }
    }

    /// A finding about the file as a whole.
    fn tell(&mut self, finding: Finding) {
        self.marks.findings.push(finding.at(Origin::whole_file(self.file), ""));
    }

    fn window(&mut self, mut window: WindowRead) {
        let (record, line) = (self.counts.marks as u32, self.line);
        let shift = |origin: &mut Origin| {
            origin.record += record;
            origin.line += line;
        };
        window.marks.kept.iter_mut().for_each(|mark| shift(&mut mark.origin));
        for aside in &mut window.marks.set_aside {
            shift(&mut aside.origin);
            aside.finding.origin = Some(aside.origin);
        }
        window.marks.findings.iter_mut().filter_map(|f| f.origin.as_mut()).for_each(shift);
        self.marks.kept.append(&mut window.marks.kept);
        self.marks.set_aside.append(&mut window.marks.set_aside);
        self.marks.findings.append(&mut window.marks.findings);
        self.counts.marks += u64::from(window.marks_seen);
        self.counts.track_points += u64::from(window.damage.points_seen);
        let mut points = window.points.as_slice();
        for event in window.events {
            self.event(event, &mut points);
        }
        self.damage.add(window.damage, line);
        self.line += window.lines;
        self.ends_inside = window.ends_inside;
    }

    fn event(&mut self, event: Event, points: &mut &[TrackPoint]) {
        match event {
            Event::Document => {
                self.documents += 1;
                self.open_documents += 1;
                self.in_track = false;
            }
            Event::DocumentEnd => {
                self.open_documents = self.open_documents.saturating_sub(1);
                self.in_track = false;
            }
            Event::Route => {
                self.counts.routes += 1;
                self.in_track = false;
            }
            Event::RoutePoint => self.counts.route_points += 1,
            Event::Track(mut origin) => {
                self.counts.tracks += 1;
                origin.record = self.counts.tracks as u32;
                origin.line += self.line;
                self.start_track(origin);
            }
            Event::TrackEnd => self.in_track = false,
            Event::Segment => {
                self.counts.track_segments += 1;
                self.in_segment = false;
            }
            Event::SegmentEnd => self.in_segment = false,
            Event::Points(count) => {
                let (these, rest) = points.split_at(count as usize);
                *points = rest;
                self.points(these);
            }
            Event::Name(name) => {
                if let Some(track) = self.track_logs.last_mut().filter(|_| self.in_track && !self.in_segment)
                    && track.name.is_empty()
                {
                    track.name = name;
                }
            }
        }
    }

    fn start_track(&mut self, origin: Origin) {
        self.track_logs.push(TrackLog { origin, name: "".into(), segments: Vec::new() });
        self.in_track = true;
        self.in_segment = false;
    }

    /// Points go to the open segment; points without one start it, and without a track a track.
    fn points(&mut self, points: &[TrackPoint]) {
        if !self.in_track {
            self.start_track(Origin::whole_file(self.file));
        }
        let Some(track) = self.track_logs.last_mut() else { return };
        if !self.in_segment {
            track.segments.push(Vec::new());
            self.in_segment = true;
        }
        if let Some(segment) = track.segments.last_mut() {
            segment.extend_from_slice(points);
        }
    }

    fn finish(mut self) -> FileRead {
        let damage = self.damage;
        if damage.stretches > 0 {
            let seen = format!(
                "{} stretch(es) of the file are no XML, the first on line {}",
                damage.stretches, damage.first_stretch_line
            );
            self.tell(
                Finding::new(Code::XmlDamaged, seen).done("passed over; reading went on at the next record"),
            );
        }
        if damage.points_dropped > 0 {
            let seen = format!(
                "{} track point(s) have no readable position, the first on line {}",
                damage.points_dropped, damage.first_point_line
            );
            self.tell(Finding::new(Code::XmlDamaged, seen).done("left out of the track log"));
        }
        if damage.points_undated > 0 {
            let seen =
                format!("{} track point(s) have a time that is no moment in UTC", damage.points_undated);
            self.tell(Finding::new(Code::TimeUnreadable, seen).done("kept without a time"));
        }
        if self.documents > 1 {
            let seen = format!("{} GPX documents stand in the file", self.documents);
            self.tell(Finding::new(Code::XmlSecondDocument, seen).done("all were read"));
        }
        self.track_logs.retain(|track| !track.segments.is_empty());
        FileRead { file: self.file, counts: self.counts, marks: self.marks, track_logs: self.track_logs }
    }
}

impl Damage {
    fn add(&mut self, window: Self, line: u32) {
        if self.stretches == 0 {
            self.first_stretch_line = line + window.first_stretch_line;
        }
        if self.points_dropped == 0 {
            self.first_point_line = line + window.first_point_line;
        }
        self.stretches += window.stretches;
        self.points_dropped += window.points_dropped;
        self.points_undated += window.points_undated;
        self.points_seen += window.points_seen;
    }
}
