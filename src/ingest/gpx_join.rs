//! Joins what the windows of a GPX file hold, in their order: numbers records and lines, builds track logs.

use super::gpx_window::{Damage, Event, WindowRead};
use super::{Counts, FileRead};
use crate::terms::export::FileId;
use crate::terms::finding::{Code, Finding, Outcome};
use crate::terms::mark::{Origin, RawMark};
use crate::terms::track_log::{TrackLog, TrackPoint};

/// Joins what windows hold, in their order.
pub(super) struct Join {
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
    pub(super) fn new(file: FileId) -> Self {
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
    pub(super) fn tell(&mut self, finding: Finding) {
        self.marks.findings.push(finding.at(Origin::whole_file(self.file), ""));
    }

    /// Takes in the next window.
    pub(super) fn window(&mut self, mut window: WindowRead) {
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

    /// Counts lines that were passed over between windows.
    pub(super) const fn pass_lines(&mut self, lines: u32) {
        self.line += lines;
    }

    /// Whether the text so far ends inside a record or a document.
    pub(super) const fn ends_early(&self) -> bool {
        self.open_documents > 0 || self.ends_inside
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

    /// Tells of damage and hands everything over.
    pub(super) fn finish(mut self) -> FileRead {
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
            self.tell(
                Finding::new(Code::TrackPointUnreadable, seen)
                    .done("left out of the track log; the boat's way runs on between the points beside it"),
            );
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
