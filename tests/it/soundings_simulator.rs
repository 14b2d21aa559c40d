//! A lake whose bottom is known, and the depths that a boat would have logged on it.
//!
//! What it makes easy: positions are exact, levels are right, the bank comes up to nothing at the shore as the program
//! takes it to. What it makes hard: noise on every sounding, spikes, stretches where the bottom is lost, two pool levels,
//! tracks that go where they like.

use jiff::civil::date;
use shoalwright::soundings::Surface;
use shoalwright::terms::export::{Columns, CsvClock, Ele, Export, FileId, Format, RecordedDepth};
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::Origin;
use shoalwright::terms::place::{LocalPlane, Place, PlanePoint};
use shoalwright::terms::random::Random;
use shoalwright::terms::track_log::{TrackLog, TrackPoint};
use shoalwright::terms::units::{DepthUnit, METRES_PER_FOOT, TemperatureUnit};
use shoalwright::terms::water::Water;
use std::f64::consts::TAU;

/// Level at full pool and on the second of the two days, in metres: 8 ft drawn down.
pub(crate) const FULL_M: f64 = 612.0 * METRES_PER_FOOT;
pub(crate) const LOW_M: f64 = 604.0 * METRES_PER_FOOT;

/// What is simulated.
#[derive(Clone, Copy)]
pub(crate) struct Wish {
    pub(crate) seed: u64,
    /// Mean radius of the lake in metres.
    pub(crate) radius_m: f64,
    pub(crate) tracks: u32,
    /// Points of each track, a second apart.
    pub(crate) points: u32,
    /// Share of soundings that are spikes, and whether the bottom is lost now and then.
    pub(crate) spikes: f64,
    pub(crate) lost: bool,
    /// By how much the second unit sounds deeper, in metres.
    pub(crate) offset_m: f64,
}

impl Default for Wish {
    fn default() -> Self {
        Self { seed: 1, radius_m: 900.0, tracks: 24, points: 3600, spikes: 0.05, lost: true, offset_m: 0.0 }
    }
}

pub(crate) struct Sounded {
    pub(crate) lake: Lake,
    pub(crate) logs: Vec<TrackLog>,
    pub(crate) exports: Vec<Export>,
    pub(crate) bottom: Truth,
    /// East, north and depth at full pool of every sounding that nothing was wrong with but its noise.
    pub(crate) sound: Vec<[f64; 3]>,
    /// Soundings that were spoilt: zeros, spikes, repeats.
    pub(crate) spoilt: u64,
}

/// The bottom.
#[derive(Clone, Copy)]
pub(crate) struct Truth {
    radius_m: f64,
}

impl Truth {
    fn shore_m(self, turn: f64) -> f64 {
        self.radius_m * (1.0 + 0.22 * (3.0 * turn + 0.4).cos() + 0.08 * (5.0 * turn).sin())
    }

    fn island(self) -> (f64, f64, f64) {
        (0.38 * self.radius_m, 0.22 * self.radius_m, 0.12 * self.radius_m)
    }

    /// Depth at full pool in metres; below zero on land.
    pub(crate) fn depth_m(self, at: PlanePoint) -> f64 {
        let out = at.east_m.hypot(at.north_m) / self.shore_m(at.north_m.atan2(at.east_m));
        let (east_m, north_m, radius_m) = self.island();
        let off = radius_m / (at.east_m - east_m).hypot(at.north_m - north_m);
        let humps = 1.0 + 0.2 * (at.east_m / 170.0).sin() * (at.north_m / 140.0).cos();
        14.0 * (1.0 - out * out)
            * (1.0 - off * off).min(1.0)
            * humps
            * if off > 1.0 && out > 1.0 { -1.0 } else { 1.0 }
    }

    fn ring(self, island: bool) -> Vec<PlanePoint> {
        let corners = 720;
        let point = |n: i32| {
            let turn = TAU * f64::from(n % corners) / f64::from(corners);
            let (east_m, north_m, radius_m) =
                if island { self.island() } else { (0.0, 0.0, self.shore_m(turn)) };
            PlanePoint { east_m: east_m + radius_m * turn.cos(), north_m: north_m + radius_m * turn.sin() }
        };
        (0..=corners).map(point).collect()
    }
}

pub(crate) fn simulate(wish: Wish) -> Sounded {
    let centre = Place { lon: -56.0, lat: 36.0 };
    let plane = LocalPlane::new(centre);
    let bottom = Truth { radius_m: wish.radius_m };
    let ring = |island| {
        geo::LineString::from(
            bottom
                .ring(island)
                .iter()
                .map(|p| plane.to_place(*p))
                .map(|p| (p.lon, p.lat))
                .collect::<Vec<_>>(),
        )
    };
    let polygon = geo::Polygon::new(ring(false), vec![ring(true)]);
    let mut lake = Lake::unknown_at(centre);
    lake.water = Some(Water::new(geo::MultiPolygon::new(vec![polygon]), plane));
    lake.full_pool_m = Some(FULL_M);
    lake.levels_m = (0..60)
        .filter_map(|n| Some((date(2024, 5, 1).checked_add(jiff::Span::new().days(i64::from(n))).ok()?, n)))
        .map(|(day, n)| (day, if n % 2 == 0 { FULL_M } else { LOW_M }))
        .collect();
    assert_eq!(Surface::of(&lake), Surface::FullPool(FULL_M));

    let mut sounded = Sounded {
        lake,
        logs: Vec::new(),
        exports: ["bow", "console"].map(export).into(),
        bottom,
        sound: Vec::new(),
        spoilt: 0,
    };
    for track in 0..wish.tracks {
        sounded.sail(track, &wish, &plane);
    }
    sounded
}

fn export(unit: &str) -> Export {
    Export {
        path: format!("{unit}.gpx").into(),
        label: format!("{unit}.gpx"),
        format: Format::Gpx,
        unit: unit.to_owned(),
        recorded_depth: RecordedDepth::Water,
        columns: Columns::default(),
        depth_unit: DepthUnit::Feet,
        temperature_unit: TemperatureUnit::Fahrenheit,
        time_zone: CsvClock::Local,
        ele: Ele::default(),
    }
}

impl Sounded {
    /// One track at 1.8 m/s that turns as it likes and turns back where it would run aground.
    fn sail(&mut self, track: u32, wish: &Wish, plane: &LocalPlane) {
        let mut random = Random::new(wish.seed, u64::from(track));
        let drawn_m = if track.is_multiple_of(2) { 0.0 } else { FULL_M - LOW_M };
        let unit = usize::from(track % 4 >= 2);
        let deeper_m = if unit == 1 { wish.offset_m } else { 0.0 };
        // The days take turns at full pool and drawn down; 15:00 in UTC.
        let start_s = 1_714_575_600 + 86_400 * i64::from(track % 60) + 7200 * i64::from(track / 60);
        let afloat = |truth: Truth, at: PlanePoint| truth.depth_m(at) - drawn_m > 0.8;
        let mut at = loop {
            let some = |random: &mut Random| (2.0 * random.unit() - 1.0) * 1.2 * wish.radius_m;
            let at = PlanePoint { east_m: some(&mut random), north_m: some(&mut random) };
            if afloat(self.bottom, at) {
                break at;
            }
        };
        let (mut heading, mut turning) = (TAU * random.unit(), 0.0);
        let (mut stuck, mut last_m) = (0, 0.0);
        let mut points = Vec::with_capacity(wish.points as usize);
        for second in 0..wish.points {
            turning = 0.97 * turning + 0.004 * (random.unit() - 0.5);
            heading += turning;
            let next = loop {
                let next = PlanePoint {
                    east_m: at.east_m + 1.8 * heading.cos(),
                    north_m: at.north_m + 1.8 * heading.sin(),
                };
                if afloat(self.bottom, next) {
                    break next;
                }
                heading += 2.0 + random.unit();
            };
            at = next;
            let full_m = self.bottom.depth_m(at);
            let noise_m = (2.0 * random.unit() - 1.0) * METRES_PER_FOOT; // 1 ft either way
            let tenths = |m: f64| (m / METRES_PER_FOOT * 10.0).round() / 10.0 * METRES_PER_FOOT;
            let right_m = tenths((full_m - drawn_m + deeper_m + noise_m).max(0.1));
            let fate = random.unit();
            if wish.lost && stuck == 0 && random.unit() < 1.0 / 900.0 {
                stuck = 20 + random.below(30);
            }
            let depth_m = if stuck > 0 && second > 0 {
                stuck -= 1;
                last_m
            } else if fate < 0.2 * wish.spikes {
                0.0
            } else if fate < wish.spikes {
                tenths(1.0 + 30.0 * random.unit())
            } else {
                right_m
            };
            if depth_m.to_bits() == right_m.to_bits() {
                self.sound.push([at.east_m, at.north_m, full_m + noise_m]);
            } else {
                self.spoilt += 1;
            }
            last_m = depth_m;
            points.push(TrackPoint {
                place: plane.to_place(at),
                time: Some(Instant::from_unix_s(start_s + i64::from(second))),
                depth_m: Some(depth_m as f32),
                water_temp_c: None,
            });
        }
        let origin =
            Origin { file: FileId(unit as u32), record: track + 1, line: track + 1, bytes: 0, start: 0 };
        self.logs.push(TrackLog { origin, name: "".into(), local_times: false, segments: vec![points] });
    }

    /// Places in the water on a lattice of so many metres, with their depth at full pool.
    pub(crate) fn lattice(&self, step_m: f64) -> Vec<(PlanePoint, f64)> {
        let side = (1.5 * self.bottom.radius_m / step_m) as i32;
        let at = |n: i32| (f64::from(n) + 0.5) * step_m;
        (-side..side)
            .flat_map(|e| (-side..side).map(move |n| PlanePoint { east_m: at(e), north_m: at(n) }))
            .map(|point| (point, self.bottom.depth_m(point)))
            .filter(|(_, depth_m)| *depth_m > 0.0)
            .collect()
    }
}
