//! Joins what the windows of a GPX file hold, in their order: numbers records and lines, builds track logs.

use super::asides;
use super::gpx_window::{Damage, Event, PointTimes, WindowRead};
use super::heights::Heights;
use super::{Counts, FileRead};
use crate::terms::export::FileId;
use crate::terms::finding::{Code, Finding, Outcome};
use crate::terms::mark::{Origin, RawMark};
use crate::terms::track_log::{TrackLog, TrackPoint};

/// How far the reading of a track has come.
#[derive(Clone, Copy, Debug, Default)]
struct OpenTrack {
    in_segment: bool,
    /// Whether one of its points has a time.
    dated: bool,
}

/// Joins what windows hold, in their order.
pub(super) struct Join {
    file: FileId,
    counts: Counts,
    marks: Outcome<RawMark>,
    track_logs: Vec<TrackLog>,
    heights: Heights,
    damage: Damage,
    documents: u64,
    open_documents: u64,
    /// Line feeds before the next window.
    line: u32,
    /// The track that is open.
    track: Option<OpenTrack>,
    ends_inside: bool,
}

impl Join {
    pub(super) fn new(file: FileId) -> Self {
        Self {
            file,
            counts: Counts::default(),
            marks: Outcome::default(),
            track_logs: Vec::new(),
            heights: Heights::default(),
            damage: Damage::default(),
            documents: 0,
            open_documents: 0,
            line: 0,
            track: None,
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
        for mut aside in window.marks.set_aside {
            shift(&mut aside.origin);
            aside.finding.origin = Some(aside.origin);
            asides::add(&mut self.marks.set_aside, aside);
        }
        window.marks.findings.iter_mut().filter_map(|f| f.origin.as_mut()).for_each(shift);
        self.marks.kept.append(&mut window.marks.kept);
        self.marks.findings.append(&mut window.marks.findings);
        self.counts.marks += u64::from(window.marks_seen);
        self.counts.track_points += u64::from(window.damage.points_seen);
        let mut points = window.points.as_slice();
        for event in window.events {
            self.event(event, &mut points);
        }
        self.heights.join(window.heights);
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
                self.track = None;
            }
            Event::DocumentEnd => {
                self.open_documents = self.open_documents.saturating_sub(1);
                self.track = None;
            }
            Event::Route => {
                self.counts.routes += 1;
                self.track = None;
            }
            Event::RoutePoint => self.counts.route_points += 1,
            Event::Track(mut origin) => {
                self.counts.tracks += 1;
                origin.record = self.counts.tracks as u32;
                origin.line += self.line;
                self.start_track(origin);
            }
            Event::TrackEnd => self.track = None,
            Event::Segment => {
                self.counts.track_segments += 1;
                self.close_segment();
            }
            Event::SegmentEnd => self.close_segment(),
            Event::Points(count, times) => {
                let (these, rest) = points.split_at(count as usize);
                *points = rest;
                self.points(these, times);
            }
            Event::Name(name) => {
                let outside = self.track.is_some_and(|track| !track.in_segment);
                if let Some(track) = self.track_logs.last_mut().filter(|_| outside)
                    && track.name.is_empty()
                {
                    track.name = name;
                }
            }
        }
    }

    const fn close_segment(&mut self) {
        if let Some(track) = &mut self.track {
            track.in_segment = false;
        }
    }

    fn start_track(&mut self, origin: Origin) {
        self.track_logs.push(TrackLog { origin, name: "".into(), local_times: false, segments: Vec::new() });
        self.track = Some(OpenTrack::default());
    }

    /// Points go to the open segment; points without one start it, and without a track a track.
    fn points(&mut self, points: &[TrackPoint], times: PointTimes) {
        if self.track.is_none() {
            self.start_track(Origin::whole_file(self.file));
        }
        let (Some(track), Some(open)) = (self.track_logs.last_mut(), &mut self.track) else { return };
        if !open.in_segment {
            track.segments.push(Vec::new());
            open.in_segment = true;
        }
        // The first dated points tell how the log holds its times; those of the other sort stay undated.
        if !open.dated && points.iter().any(|point| point.time.is_some()) {
            (track.local_times, open.dated) = (times == PointTimes::Local, true);
        }
        let other_sort = open.dated && track.local_times != (times == PointTimes::Local);
        if let Some(segment) = track.segments.last_mut() {
            let from = segment.len();
            segment.extend_from_slice(points);
            if other_sort {
                for point in segment[from..].iter_mut().filter(|point| point.time.is_some()) {
                    point.time = None;
                    self.damage.points_undated += 1;
                }
            }
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
        if let Some(finding) = self.heights.finding() {
            self.tell(finding);
        }
        asides::tell_many(&mut self.marks.set_aside);
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
