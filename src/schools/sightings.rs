//! sightings: marks in, the marks that stand for one school seen together out.
//!
//! A time-ordered leader for each outing and kind: a mark joins the nearest open sighting in reach of its running
//! centre, of its first depth and of its last mark's time, else it opens one. In reach means: the three, each as a share
//! of the farthest it may be, squared and added, come to no more than 1. So a mark that is nearly too far off must come
//! soon and at the same depth. Against three gates of their own the index of Hubert & Arabie within an outing rose from
//! .865 to .891 on 72 simulated lakes, the least from .746 to .772, and on three lakes of another simulator from .835 to
//! .842. Shares added without the square gave .924 on the former and .818 on the latter: too much of a simulator whose
//! angler marks a school within a minute.

use crate::schools::Sighting;
use crate::terms::id::Id;
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, LocalDay, Mark};
use crate::terms::place::PlanePoint;
use crate::terms::units::{Depth, Distance, METRES_PER_FOOT, Span, WaterTemp};
use crate::travel::WaterDistance;
use serde::Deserialize;
use std::collections::{BTreeMap, HashMap};

/// `[sightings]`: which marks of an outing stand for one school. Each is the farthest where the other two are nought. The
/// defaults are the middle of a flat optimum on simulated lakes.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SightingSettings {
    /// Farthest from the running centre of the sighting, by boat where a shoreline is given. Default 80 m.
    pub distance: Distance,
    /// Greatest difference from its first depth; an unknown depth passes. Default 8 ft.
    pub depth: Distance,
    /// Longest time since its last mark; an unknown time passes. Default 10 min.
    pub time: Span,
}

impl Default for SightingSettings {
    fn default() -> Self {
        Self {
            distance: Distance::from_metres(80.0),
            depth: Distance::from_metres(8.0 * METRES_PER_FOOT),
            time: Span::from_seconds(600.0),
        }
    }
}

/// A dated mark of bait or gamefish.
struct Seen<'a> {
    number: usize,
    mark: &'a Mark,
    day: LocalDay,
    plane: PlanePoint,
}

/// Joins marks into sightings, in the order of day, time, kind and id. Marks of other kinds and undated marks take
/// no part.
#[must_use]
pub(super) fn sightings(
    log: &[Mark],
    lake: &Lake,
    water: Option<&WaterDistance>,
    settings: &SightingSettings,
) -> Vec<Sighting> {
    let mut outings: BTreeMap<_, Vec<Seen>> = BTreeMap::new();
    for (number, mark) in log.iter().enumerate() {
        if let (Kind::Bait | Kind::Gamefish, Some(day)) = (mark.kind, mark.day) {
            let seen = Seen { number, mark, day, plane: lake.to_plane(mark.place) };
            outings.entry((day.date, mark.kind)).or_default().push(seen);
        }
    }
    let mut all = Vec::new();
    for outing in outings.values_mut() {
        // Timed marks first: a mark without a time of day may join any of them. The rest of the key only matters
        // for marks that share an id, which a merged log has none of.
        outing.sort_by(|a, b| {
            let key = |s: &Seen| (s.mark.time.is_none(), s.mark.time, s.mark.id);
            let rest = |s: &Seen| [s.mark.place.lon, s.mark.place.lat, depth_m(s.mark).unwrap_or(-1.0)];
            key(a)
                .cmp(&key(b))
                .then_with(|| rest(a).partial_cmp(&rest(b)).unwrap_or(std::cmp::Ordering::Equal))
        });
        let groups = leader(outing, water, settings);
        all.extend(groups.iter().map(|group| sighting(outing, group, lake)));
    }
    all.sort_by_key(|s| (s.day.date, s.time.is_none(), s.time, s.kind, s.id));
    all
}

fn depth_m(mark: &Mark) -> Option<f64> {
    mark.fish_depth.map(Depth::metres)
}

/// A sighting that grows.
struct Open {
    members: Vec<usize>,
    east_sum: f64,
    north_sum: f64,
    first_depth_m: Option<f64>,
    last: Option<Instant>,
}

impl Open {
    fn centre(&self) -> PlanePoint {
        let n = self.members.len() as f64;
        PlanePoint { east_m: self.east_sum / n, north_m: self.north_sum / n }
    }
}

/// Squares of the plane with the open sightings whose centres lie in them: a crowded outing is not compared pair
/// by pair. A grid and not the R-tree of `cells`, because the centres move with every mark.
struct Grid {
    side_m: f64,
    squares: HashMap<(i64, i64), Vec<usize>>,
}

impl Grid {
    fn square(&self, p: PlanePoint) -> (i64, i64) {
        ((p.east_m / self.side_m).floor() as i64, (p.north_m / self.side_m).floor() as i64)
    }

    fn add(&mut self, at: PlanePoint, group: usize) {
        self.squares.entry(self.square(at)).or_default().push(group);
    }

    fn moved(&mut self, from: PlanePoint, to: PlanePoint, group: usize) {
        if self.square(from) != self.square(to) {
            if let Some(list) = self.squares.get_mut(&self.square(from)) {
                list.retain(|g| *g != group);
            }
            self.add(to, group);
        }
    }
}

/// Groups of places in `outing`, in the order in which they opened.
fn leader(outing: &[Seen], water: Option<&WaterDistance>, settings: &SightingSettings) -> Vec<Vec<usize>> {
    let reach_m = settings.distance.metres();
    let mut grid = Grid { side_m: reach_m.max(1.0), squares: HashMap::new() };
    let mut groups: Vec<Open> = Vec::new();
    let mut timed = true;
    for (member, seen) in outing.iter().enumerate() {
        if timed && seen.mark.time.is_none() {
            timed = false;
            // Sightings that had closed for timed marks are open to this one.
            grid.squares.clear();
            (0..groups.len()).for_each(|g| grid.add(groups[g].centre(), g));
        }
        if let Some(group) = nearest(&mut grid, &groups, seen, water, settings) {
            let open = &mut groups[group];
            let before = open.centre();
            open.members.push(member);
            open.east_sum += seen.plane.east_m;
            open.north_sum += seen.plane.north_m;
            open.first_depth_m = open.first_depth_m.or(depth_m(seen.mark));
            open.last = seen.mark.time.or(open.last);
            grid.moved(before, groups[group].centre(), group);
        } else {
            grid.add(seen.plane, groups.len());
            groups.push(Open {
                members: vec![member],
                east_sum: seen.plane.east_m,
                north_sum: seen.plane.north_m,
                first_depth_m: depth_m(seen.mark),
                last: seen.mark.time,
            });
        }
    }
    groups.into_iter().map(|g| g.members).collect()
}

/// The nearest open sighting in reach; of equally near ones the first opened. Takes those that the time has closed out
/// of the squares it looks at: marks come in the order of time, so no later timed mark can join them.
fn nearest(
    grid: &mut Grid,
    groups: &[Open],
    seen: &Seen,
    water: Option<&WaterDistance>,
    settings: &SightingSettings,
) -> Option<usize> {
    let reach_m = settings.distance.metres();
    let of_time = |g: usize| match (seen.mark.time, groups[g].last) {
        (Some(now), Some(last)) => share(now.seconds_since(last), settings.time.seconds()),
        _ => 0.0,
    };
    let of_depth = |g: usize| match (depth_m(seen.mark), groups[g].first_depth_m) {
        (Some(a), Some(b)) => share((a - b).abs(), settings.depth.metres()),
        _ => 0.0,
    };
    let (column, row) = grid.square(seen.plane);
    let mut best: Option<(f64, usize)> = None;
    for square in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (column + dx, row + dy))) {
        let Some(list) = grid.squares.get_mut(&square) else { continue };
        list.retain(|g| of_time(*g) <= 1.0);
        for g in list.iter().copied() {
            let left = 1.0 - of_time(g).powi(2) - of_depth(g).powi(2) + HAIR;
            if left < 0.0 {
                continue;
            }
            // Never past a square's side, beyond which nothing is looked for.
            let reach_m = reach_m * left.min(1.0).sqrt();
            let centre = groups[g].centre();
            let straight_m = centre.metres_to(seen.plane);
            if straight_m > reach_m || best.is_some_and(|(least, _)| straight_m > least) {
                continue;
            }
            let metres = water.map_or(straight_m, |water| water.metres(seen.plane, centre, reach_m));
            if metres <= reach_m
                && best.is_none_or(|(least, first)| metres < least || metres <= least && g < first)
            {
                best = Some((metres, g));
            }
        }
    }
    best.map(|(_, g)| g)
}

/// Depths are kept in 32 bits, and 8 ft apart in feet is to be 8 ft apart in metres.
const HAIR: f64 = 1e-4;

/// How much of the farthest it may be something is.
fn share(apart: f64, farthest: f64) -> f64 {
    if apart <= 0.0 { 0.0 } else { apart / farthest }
}

fn sighting(outing: &[Seen], group: &[usize], lake: &Lake) -> Sighting {
    let members = || group.iter().map(|m| &outing[*m]);
    let first = &outing[group[0]];
    let count = group.len() as f64;
    let plane = PlanePoint {
        east_m: members().map(|s| s.plane.east_m).sum::<f64>() / count,
        north_m: members().map(|s| s.plane.north_m).sum::<f64>() / count,
    };
    let mut ids: Vec<String> = members().map(|s| s.mark.id.to_string()).collect();
    ids.sort_unstable();
    let mut marks: Vec<usize> = members().map(|s| s.number).collect();
    marks.sort_unstable();
    Sighting {
        id: Id::of('s', &ids.iter().map(String::as_str).collect::<Vec<_>>()),
        kind: first.mark.kind,
        marks,
        day: first.day,
        time: first.mark.time,
        place: lake.plane.to_place(plane),
        plane,
        fish_depth: mean(members().filter_map(|s| depth_m(s.mark))).and_then(Depth::from_metres),
        water_depth: mean(members().filter_map(|s| s.mark.water_depth.map(Depth::metres)))
            .and_then(Depth::from_metres),
        water_temp: mean(members().filter_map(|s| s.mark.water_temp.map(WaterTemp::celsius)))
            .and_then(WaterTemp::from_celsius),
        area: None,
    }
}

/// Mean in the order given, which is that of time and id; `None` without values.
fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, count) = values.fold((0.0, 0.0), |(s, n), v| (s + v, n + 1.0));
    (count > 0.0).then(|| sum / count)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::codes::Codes;
    use crate::terms::mark::Words;
    use crate::terms::place::Place;

    /// `kind east_m minute depth_ft` a mark (`-`: not told), `|` between them → numbers of the marks of each sighting.
    #[track_caller]
    fn check(marks: &str, expected: &str) {
        let lake = Lake::unknown_at(Place { lon: -94.2, lat: 35.4 });
        let log: Vec<Mark> = marks
            .split('|')
            .map(|text| {
                let [kind, east_m, minute, depth] = text.split_whitespace().collect::<Vec<_>>()[..] else {
                    panic!("`{text}` is no mark")
                };
                let place = lake.plane.to_place(PlanePoint { east_m: east_m.parse().unwrap(), north_m: 0.0 });
                let start = Instant::from_unix_s(1_700_000_000); // 2023-11-14T22:13:20Z
                let time = minute.parse::<i64>().ok().map(|m| start.plus_s(m * 60));
                Mark {
                    id: Id::of('m', &[text]),
                    place,
                    time,
                    day: lake.day_of(time.unwrap_or(start)),
                    kind: Kind::from_word(kind).unwrap(),
                    fish_depth: depth.parse().ok().and_then(Depth::from_feet),
                    water_depth: None,
                    water_temp: None,
                    words: Words::default(),
                    note: "".into(),
                    sources: Vec::new().into(),
                    repairs: Codes::default(),
                }
            })
            .collect();
        let found = sightings(&log, &lake, None, &SightingSettings::default());
        let text: Vec<String> = found
            .iter()
            .map(|s| s.marks.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "))
            .collect();
        assert_eq!(text.join(" | "), expected);
    }

    #[test]
    fn marks_of_one_school_make_one_sighting() {
        check("bait 0 0 20 | bait 60 1 24 | bait 79 2 -", "0 1 2");
    }

    #[test]
    fn each_gate_parts_sightings() {
        check("bait 0 0 20 | bait 81 1 20", "0 | 1");
        check("bait 0 0 20 | bait 0 1 27.9 | bait 0 2 28.1", "0 1 | 2");
        check("bait 0 0 20 | bait 0 10 20 | bait 0 21 20", "0 1 | 2");
        check("bait 0 0 20 | gamefish 0 0 20", "0 | 1");
    }

    #[test]
    fn a_mark_at_the_end_of_one_reach_must_be_near_by_the_others() {
        check("bait 0 0 20 | bait 60 0 24", "0 1"); // (60/80)² + (4/8)² = .81
        check("bait 0 0 20 | bait 60 0 26", "0 | 1"); // (60/80)² + (6/8)² = 1.13
        check("bait 0 0 20 | bait 60 6 20", "0 1"); // (60/80)² + (6/10)² = .92
        check("bait 0 0 20 | bait 60 7 20", "0 | 1"); // (60/80)² + (7/10)² = 1.05
        check("bait 0 0 20 | bait 0 6 24 | bait 0 12 28", "0 1 | 2"); // .6² + .5² = .61, then .6² + 1²
    }

    #[test]
    fn depth_is_held_against_the_first_depth_told_and_time_against_the_last_mark() {
        check("bait 0 0 - | bait 0 1 20 | bait 0 2 30", "0 1 | 2");
        check("bait 0 0 20 | bait 0 9 20 | bait 0 18 20 | bait 0 27 20", "0 1 2 3");
    }

    #[test]
    fn a_mark_without_a_time_of_day_joins_whatever_is_near_that_day() {
        check("bait 0 0 20 | bait 500 60 20 | bait 10 - 20", "0 2 | 1");
    }

    #[test]
    fn an_outing_ends_at_midnight_of_the_lake() {
        check("bait 0 106 20 | bait 0 107 20", "0 | 1"); // 23:59:20 and 00:00:20
    }

    #[test]
    fn other_kinds_make_no_sighting() {
        check("cover 0 0 20 | hazard 0 0 20", "");
    }
}
