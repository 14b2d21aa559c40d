//! The bottom by the depths of track logs, on a lake whose bottom is known.
//!
//! The bottom, the tracks and the noise are the simulator's; nothing here is drawn from the program. Against scipy:
//! `scripts/bench/soundings.py`.

#![expect(clippy::print_stdout, reason = "figures for who asks with --nocapture")]

use crate::cli::{shoalwright, text};
use crate::soundings_simulator::{FULL_M, LOW_M, Sounded, Wish, simulate};
use jiff::civil::date;
use rstar::primitives::{GeomWithData, Line};
use rstar::{AABB, PointDistance, RTree};
use shoalwright::soundings::{Bottom, Settings, UnitOffsets, fill_water_depths, soundings};
use shoalwright::terms::codes::Codes;
use shoalwright::terms::export::FileId;
use shoalwright::terms::finding::Code;
use shoalwright::terms::id::Id;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark, Words};
use shoalwright::terms::place::{Place, PlanePoint};
use shoalwright::terms::random::Random;
use shoalwright::terms::units::{Distance, METRES_PER_FOOT};
use std::fmt::Write;

const CELL_M: f64 = 10.0;

fn drawn(sounded: &Sounded, settings: &Settings) -> Bottom {
    soundings(&sounded.logs, &sounded.exports, &sounded.lake, settings)
}

/// A smaller lake, for what does not hang on its size.
fn pond() -> Wish {
    Wish { radius_m: 450.0, tracks: 12, points: 1800, ..Wish::default() }
}

fn code(bottom: &Bottom, code: Code) -> Option<&str> {
    bottom.findings.iter().find(|f| f.code == code).map(|f| f.seen.as_ref())
}

/// A piece of a contour on the plane, from places as they are written (7 decimals), with the number of its contour.
type Piece = GeomWithData<Line<[f64; 2]>, usize>;

fn pieces(bottom: &Bottom, lake: &Lake) -> Vec<Piece> {
    let written = |deg: f64| (deg * 1e7).round() / 1e7;
    let mut pieces = Vec::new();
    for (number, contour) in bottom.contours.iter().enumerate() {
        let line: Vec<[f64; 2]> = contour
            .line
            .iter()
            .map(|p| lake.to_plane(Place { lon: written(p.lon), lat: written(p.lat) }))
            .map(|p| [p.east_m, p.north_m])
            .collect();
        pieces.extend(line.windows(2).map(|pair| GeomWithData::new(Line::new(pair[0], pair[1]), number)));
    }
    pieces
}

#[test]
fn the_bottom_is_nearer_the_truth_than_a_single_sounding_and_the_told_error_does_not_flatter() {
    for seed in 1..=3 {
        let sounded = simulate(Wish { seed, ..Wish::default() });
        let bottom = drawn(&sounded, &Settings::default());
        let bed = bottom.bed.as_ref().unwrap();
        let lattice = sounded.lattice(13.0);
        let errors: Vec<f64> = lattice
            .iter()
            .filter_map(|(at, truth_m)| Some((bed.depth_m(*at, &sounded.lake)? - truth_m) / METRES_PER_FOOT))
            .collect();
        let rmse = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
        let held_out = bottom.held_out.as_ref().unwrap();
        let told = held_out.rmse_m / METRES_PER_FOOT;
        println!(
            "seed {seed}: RMSE {rmse:.3} ft over {} of {}, told {told:.3} ft",
            errors.len(),
            lattice.len()
        );
        assert!(errors.len() * 20 > lattice.len() * 19, "nearly all of the lake lies within reach");
        // One sounding is off by 1 ft either way, evenly: a standard deviation of 1/√3 = 0.577 ft.
        assert!(rmse < 0.577 / 2.0, "{rmse}");
        assert!(told > rmse, "held out {told}, truly {rmse}");
        assert_eq!((held_out.tracks, held_out.of), (24, 24));
        // What was spoilt is found, nearly all of it and little else.
        let t = bottom.tally;
        let found = (t.zeros + t.spikes + t.repeats + t.jumps) as f64;
        assert_eq!(
            t.points,
            t.kept + t.zeros + t.spikes + t.repeats + t.jumps + t.no_level + t.ashore + t.copies
        );
        assert!((0.95..1.02).contains(&(found / sounded.spoilt as f64)), "{t:?} of {}", sounded.spoilt);
    }
}

#[test]
fn where_few_tracks_lie_far_apart_the_told_error_does_not_flatter_either() {
    for seed in 4..=6 {
        let sounded = simulate(Wish { seed, tracks: 5, points: 1500, ..Wish::default() });
        let bottom = drawn(&sounded, &Settings::default());
        let bed = bottom.bed.as_ref().unwrap();
        let errors: Vec<f64> = sounded
            .lattice(13.0)
            .iter()
            .filter_map(|(at, truth_m)| Some(bed.depth_m(*at, &sounded.lake)? - truth_m))
            .collect();
        let rmse_m = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
        let told_m = bottom.held_out.unwrap().rmse_m;
        println!("seed {seed}: RMSE {rmse_m:.3} m over {} places, told {told_m:.3} m", errors.len());
        assert!(told_m > rmse_m, "held out {told_m}, truly {rmse_m}");
    }
}

#[test]
fn contours_lie_within_a_cell_of_the_truth_at_each_depth() {
    for seed in 1..=3 {
        let sounded = simulate(Wish { seed, ..Wish::default() });
        let bottom = drawn(&sounded, &Settings::default());
        let (pieces, bed) = (pieces(&bottom, &sounded.lake), bottom.bed.as_ref().unwrap());
        let step_m = 5.0;
        let lattice = sounded.lattice(step_m);
        let mut depths: Vec<f64> = bottom.contours.iter().map(|c| c.depth_m).collect();
        depths.dedup();
        assert!(depths.len() >= 8, "{depths:?}");
        for depth_m in depths {
            let of_depth: Vec<Piece> = pieces
                .iter()
                .copied()
                .filter(|p| bottom.contours[p.data].depth_m.to_bits() == depth_m.to_bits())
                .collect();
            let drawn = RTree::bulk_load(of_depth.clone());
            // Where the truth passes the depth between two places of a fine lattice, eastward and northward.
            let mut truth = Vec::new();
            for (at, here_m) in &lattice {
                for (east_m, north_m) in [(step_m, 0.0), (0.0, step_m)] {
                    let on = |share: f64| PlanePoint {
                        east_m: at.east_m + share * east_m,
                        north_m: at.north_m + share * north_m,
                    };
                    let there_m = sounded.bottom.depth_m(on(1.0));
                    if (*here_m > depth_m) != (there_m > depth_m) {
                        truth.push(on((depth_m - here_m) / (there_m - here_m)));
                    }
                }
            }
            let there = RTree::bulk_load(truth.iter().map(|p| [p.east_m, p.north_m]).collect());
            // It can only be missed where the bottom is known.
            let truth: Vec<[f64; 2]> = truth
                .into_iter()
                .filter(|p| bed.depth_m(*p, &sounded.lake).is_some())
                .map(|p| [p.east_m, p.north_m])
                .collect();
            let missed = |at: &[f64; 2]| drawn.nearest_neighbor(at).unwrap().geom().distance_2(at).sqrt();
            let strayed =
                |p: &Piece| there.nearest_neighbor(&p.geom().from).unwrap().distance_2(&p.geom().from).sqrt();
            let mut off: Vec<f64> = of_depth.iter().map(strayed).chain(truth.iter().map(missed)).collect();
            off.sort_by(f64::total_cmp);
            let at = |share: f64| off[((off.len() - 1) as f64 * share) as usize];
            println!(
                "seed {seed}, {:.0} ft: off by {:.1} m in the median, {:.1} m in 95 of 100, {:.1} m at most",
                depth_m / METRES_PER_FOOT,
                at(0.5),
                at(0.95),
                at(1.0)
            );
            assert!(at(0.95) <= CELL_M, "{:.0} ft: {:.1} m", depth_m / METRES_PER_FOOT, at(0.95));
        }
    }
}

#[test]
fn contours_never_cross_lie_in_water_and_their_rings_close() {
    let few = Wish { tracks: 5, points: 1500, ..Wish::default() };
    for wish in [Wish { seed: 4, ..Wish::default() }, few] {
        let sounded = simulate(wish);
        let fine = Settings { interval: Some(Distance::from_metres(0.3)), ..Settings::default() };
        let bottom = drawn(&sounded, &fine);
        assert!(bottom.contours.len() > 40);
        let water = sounded.lake.water.as_ref().unwrap();
        let pieces = pieces(&bottom, &sounded.lake);
        for piece in &pieces {
            let [from, to] =
                [piece.geom().from, piece.geom().to].map(|p| PlanePoint { east_m: p[0], north_m: p[1] });
            assert!(water.contains(sounded.lake.plane.to_place(from)), "{from:?} lies on land");
            assert!(!water.shore_between(from, to), "{from:?} to {to:?} crosses the shore");
        }
        let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
            (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
        };
        let same = |[p, q]: &[[f64; 2]; 2]| p.map(f64::to_bits) == q.map(f64::to_bits);
        let tree = RTree::bulk_load(pieces.clone());
        for one in &pieces {
            let (a, b) = (one.geom().from, one.geom().to);
            for other in tree.locate_in_envelope_intersecting(&AABB::from_corners(a, b)) {
                let (c, d) = (other.geom().from, other.geom().to);
                let shares_an_end =
                    one.data == other.data && [[a, c], [a, d], [b, c], [b, d]].iter().any(same);
                let cross = side(a, b, c) * side(a, b, d) <= 0.0 && side(c, d, a) * side(c, d, b) <= 0.0;
                assert!(shares_an_end || !cross, "{} and {} cross at {a:?}", one.data, other.data);
            }
        }
        for contour in &bottom.contours {
            let ends = (contour.line.first(), contour.line.last());
            assert_eq!(contour.closed, ends.0 == ends.1);
            assert!(contour.line.len() > if contour.closed { 3 } else { 1 });
        }
        assert!(bottom.contours.iter().any(|c| c.closed));
    }
}

#[test]
fn days_of_two_pool_levels_meet_as_elevations_and_not_as_depths() {
    let mut sounded = simulate(pond());
    let with = drawn(&sounded, &Settings::default()).crossings.unwrap();
    sounded.lake.levels_m.clear();
    let bottom = drawn(&sounded, &Settings::default());
    let without = bottom.crossings.unwrap();
    assert_eq!(with.count, without.count);
    let drawdown_m = FULL_M - LOW_M; // 8 ft
    assert!(with.p95_m < drawdown_m / 4.0, "{with:?}");
    assert!((without.p95_m - drawdown_m).abs() < drawdown_m / 4.0, "{without:?}");
    assert!(code(&bottom, Code::SoundingsSurface).unwrap().contains("no pool levels"));
}

#[test]
fn a_unit_whose_transducer_hangs_lower_is_told_and_set_right_only_where_that_is_clear() {
    for (offset_m, clear) in [(0.6, true), (0.02, false)] {
        let sounded = simulate(Wish { offset_m, ..pond() });
        let bottom = drawn(&sounded, &Settings::default());
        let [told] = &bottom.offsets[..] else { panic!("{:?}", bottom.offsets) };
        let deeper_m = if told.unit == "console" { offset_m } else { -offset_m };
        assert!((told.deeper_m - deeper_m).abs() < 4.0 * told.error_m + 0.02, "{told:?}");
        assert_eq!(told.applied, clear);
        let left = Settings { unit_offsets: UnitOffsets::Never, ..Settings::default() };
        let left = drawn(&sounded, &left);
        assert!(!left.offsets[0].applied);
        let median_m = |b: &Bottom| b.crossings.unwrap().median_m;
        assert_eq!(median_m(&bottom) < median_m(&left) - 0.05, clear);
        // The user knows better: the console hangs so much lower, so its depths from the water's surface are larger.
        let hung = Settings {
            transducer: [("bow".to_owned(), Distance::from_metres(offset_m))].into(),
            unit_offsets: UnitOffsets::Never,
            ..Settings::default()
        };
        assert!(drawn(&sounded, &hung).offsets[0].deeper_m.abs() < 0.05);
    }
}

#[test]
fn too_few_soundings_or_soundings_at_odds_draw_nothing_and_say_why() {
    let thin = simulate(Wish { tracks: 1, points: 300, ..pond() });
    let bottom = drawn(&thin, &Settings::default());
    assert!(bottom.bed.is_none() && bottom.contours.is_empty());
    assert!(code(&bottom, Code::SoundingsRefused).unwrap().contains("too thin"), "{:?}", bottom.findings);

    let mut odd = simulate(pond());
    for (number, log) in odd.logs.iter_mut().enumerate() {
        let wrong_m = (25.0 * Random::new(9, number as u64).unit()) as f32;
        for point in log.segments.iter_mut().flatten() {
            point.depth_m = point.depth_m.map(|m| m + wrong_m);
        }
    }
    let bottom = drawn(&odd, &Settings::default());
    assert!(bottom.bed.is_none() && bottom.contours.is_empty());
    assert!(code(&bottom, Code::SoundingsRefused).unwrap().contains("at odds"), "{:?}", bottom.findings);
}

#[test]
fn water_far_from_every_sounding_is_blank() {
    let sounded = simulate(Wish { tracks: 3, points: 1200, ..Wish::default() });
    let reach = Settings { reach: Distance::from_metres(40.0), ..Settings::default() };
    let bottom = drawn(&sounded, &reach);
    let bed = bottom.bed.as_ref().unwrap();
    let sound = RTree::bulk_load(sounded.sound.iter().map(|[e, n, _]| [*e, *n]).collect());
    let nearest_m = |at: PlanePoint| {
        sound.nearest_neighbor(&[at.east_m, at.north_m]).unwrap().distance_2(&[at.east_m, at.north_m]).sqrt()
    };
    let (mut known, mut blank) = (0, 0);
    for (at, _) in sounded.lattice(20.0) {
        if bed.depth_m(at, &sounded.lake).is_some() {
            known += 1;
            // Thinning moves a sounding by a square at most.
            assert!(nearest_m(at) <= 40.0 + 1.5 * CELL_M);
        } else {
            blank += 1;
        }
    }
    assert!(known > 100 && blank > 100);
    for place in bottom.contours.iter().flat_map(|c| &c.line) {
        assert!(nearest_m(sounded.lake.to_plane(*place)) <= 40.0 + 3.0 * CELL_M);
    }
}

#[test]
fn without_a_shoreline_a_bottom_is_drawn_between_the_soundings_and_that_is_told() {
    let mut sounded = simulate(pond());
    sounded.lake.water = None;
    let bottom = drawn(&sounded, &Settings::default());
    assert!(bottom.contours.len() > 3);
    assert!(
        bottom.findings.iter().any(|f| f.code == Code::SoundingsSurface && f.seen.contains("no shoreline"))
    );
    let far = PlanePoint { east_m: 2000.0, north_m: 0.0 };
    assert_eq!(bottom.bed.unwrap().depth_m(far, &sounded.lake), None);
}

fn mark(lake: &Lake, at: PlanePoint, kind: Kind, day: Option<i8>) -> Mark {
    Mark {
        id: Id::of('m', &["x"]),
        place: lake.plane.to_place(at),
        time: None,
        day: day.map(|d| lake.day(date(2024, 5, d))),
        kind,
        fish_depth: None,
        water_depth: None,
        water_temp: None,
        words: Words::default(),
        note: "".into(),
        sources: Vec::new().into(),
        repairs: Codes::default(),
    }
}

#[test]
fn a_mark_without_a_water_depth_gets_that_of_its_own_day_and_a_hazard_none() {
    let sounded = simulate(pond());
    let bottom = drawn(&sounded, &Settings::default());
    let at = PlanePoint { east_m: -60.0, north_m: 40.0 };
    // 1 May is a day at full pool, 2 May one 8 ft lower.
    let wishes = [
        (Kind::Bait, Some(1)),
        (Kind::Bait, Some(2)),
        (Kind::Bait, None),
        (Kind::Hazard, Some(1)),
        (Kind::Access, Some(1)),
    ];
    let mut log: Vec<Mark> = wishes.iter().map(|(kind, day)| mark(&sounded.lake, at, *kind, *day)).collect();
    log.push(mark(&sounded.lake, PlanePoint { east_m: 5000.0, north_m: 0.0 }, Kind::Bait, Some(1)));
    let told = fill_water_depths(&mut log, &bottom, &sounded.lake).unwrap();
    let truth_m = sounded.bottom.depth_m(at);
    let off_m = |mark: &Mark, truth_m: f64| (mark.water_depth.unwrap().metres() - truth_m).abs();
    assert!(off_m(&log[0], truth_m) < 0.3 && off_m(&log[1], truth_m - (FULL_M - LOW_M)) < 0.3);
    assert!(log[..2].iter().all(|m| m.repairs.iter().any(|c| c == Code::WaterDepthSounded)));
    assert!(log[2..].iter().all(|m| m.water_depth.is_none()));
    assert!(told.seen.contains("`2` marks"), "{told:?}");
}

#[test]
fn a_log_that_stands_in_two_exports_counts_once_and_threads_change_nothing() {
    let mut sounded = simulate(pond());
    let once = drawn(&sounded, &Settings::default());
    let mut again = sounded.logs[3].clone();
    again.origin.file = FileId(0);
    again.origin.record = 99;
    let points = again.segments[0].len() as u64;
    sounded.logs.push(again);
    let twice = drawn(&sounded, &Settings::default());
    assert_eq!(twice.contours, once.contours);
    assert!(twice.tally.copies > points * 8 / 10 && twice.tally.kept == once.tally.kept);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let alone = pool.install(|| drawn(&sounded, &Settings::default()));
    assert_eq!((alone.contours, alone.held_out, alone.tally), (twice.contours, twice.held_out, twice.tally));
}

/// The logs as GPX.
fn gpx(sounded: &Sounded, depths: bool) -> String {
    let mut out = String::from(
        r#"<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1" xmlns:u="urn:u">"#,
    );
    for log in &sounded.logs {
        out.push_str("<trk><trkseg>\n");
        for point in log.segments.iter().flatten() {
            let depth = point
                .depth_m
                .filter(|_| depths)
                .map_or_else(String::new, |m| format!("<extensions><u:depth>{m:.3}</u:depth></extensions>"));
            let (lon, lat, time) = (point.place.lon, point.place.lat, point.time.unwrap().rfc3339());
            writeln!(out, r#"<trkpt lat="{lat:.7}" lon="{lon:.7}"><time>{time}</time>{depth}</trkpt>"#)
                .unwrap();
        }
        out.push_str("</trkseg></trk>\n");
    }
    out + "</gpx>"
}

#[test]
fn the_command_writes_contours_and_a_table_and_says_so_where_there_is_nothing_to_draw() {
    let home = tempfile::tempdir().unwrap();
    let sounded = simulate(Wish { lost: false, ..pond() });
    std::fs::write(home.path().join("a.gpx"), gpx(&sounded, true)).unwrap();
    std::fs::write(home.path().join("b.gpx"), gpx(&sounded, false)).unwrap();
    let run = shoalwright(home.path(), &["soundings", "a.gpx", "-o", "out"]);
    assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
    let layer = std::fs::read_to_string(home.path().join("out/layers/contours.geojson")).unwrap();
    let layer: serde_json::Value = serde_json::from_str(&layer).unwrap();
    let features = layer["features"].as_array().unwrap();
    assert!(features.len() > 3 && layer["caution"].as_str().unwrap().contains("Not for navigation"));
    for feature in features {
        let depth = feature["properties"]["depth_ft"].as_f64().unwrap();
        assert!((depth / 5.0).fract().abs() < 1e-9 && depth > 0.0, "{depth}");
        assert!(feature["properties"]["elevation_ft"].is_null(), "no level is known");
    }
    let table = shoalwright(home.path(), &["soundings", "a.gpx"]);
    let table = text(&table.stdout);
    assert!(table.starts_with("measure,value,unit\r\nsoundings,21600,count\r\n"), "{table}");
    let nothing = shoalwright(home.path(), &["soundings", "b.gpx", "-o", "none"]);
    assert_eq!(nothing.status.code(), Some(0));
    assert!(
        text(&nothing.stderr).contains("no point of the track logs tells a depth"),
        "{}",
        text(&nothing.stderr)
    );
    let wrong = shoalwright(home.path(), &["soundings", "a.gpx", "--set", "soundings.cell=0 m"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(text(&wrong.stderr).contains("no side of a square"), "{}", text(&wrong.stderr));
}

#[test]
fn hazards_and_cover_are_told_by_the_water_over_them_at_full_pool_and_on_the_day_of_the_plan() {
    let home = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(home.path().join(name), text).unwrap();
    write("levels.csv", "date,level\n2024-05-01,612\n2024-12-01,604\n");
    write(
        "marks.csv",
        "lat,lon,time,name,water depth ft\n36.0,-56.0,2024-05-01T12:00:00Z,ROCK,8.8\n\
         36.001,-56.0,2024-05-01T12:10:00Z,BRUSH,24\n36.002,-56.0,2024-05-01T12:20:00Z,SHAD,30\n\
         36.003,-56.0,2024-07-15T12:20:00Z,STUMP,5\n",
    );
    let settings = "[lake]\ntimezone = \"UTC\"\nlevels = \"levels.csv\"\nfull_pool = \"612 ft\"\n\
                    [[input]]\nfiles = [\"marks.csv\"]\n[outlook]\ndate = 2025-01-10\n[prefish]\nlevel = \"606 ft\"\n";
    write("lake.toml", settings);
    let run = shoalwright(home.path(), &["run", "--strict"]);
    assert_eq!(run.status.code(), Some(1), "a datum is asked for");
    assert!(text(&run.stderr).contains("level-datum-missing"), "{}", text(&run.stderr));
    let layer = std::fs::read_to_string(home.path().join("out/layers/hazards-and-cover.geojson")).unwrap();
    let layer: serde_json::Value = serde_json::from_str(&layer).unwrap();
    let told: Vec<String> = layer["features"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| &f["properties"])
        .map(|p| {
            let numbers = ["elevation_ft", "over_full_pool_ft", "over_lowest_ft", "over_on_date_ft"];
            let numbers: Vec<String> = numbers.iter().map(|k| p[k].to_string()).collect();
            format!(
                "{} {} {}",
                p["name"].as_str().unwrap(),
                numbers.join(" "),
                p["shallow"].as_str().unwrap()
            )
        })
        .collect();
    // Worked by hand: 612 - 8.8 = 603.2; 606 - 603.2 = 2.8. July has no reading within a month: nothing is known.
    for expected in
        ["ROCK 603.2 8.8 0.8 2.8 yes", "BRUSH 588.0 24.0 16.0 18.0 no", "STUMP null null null null not known"]
    {
        assert!(told.contains(&expected.to_owned()), "{expected} is not in {told:?}");
    }
    assert_eq!(told.len(), 3, "bait follows the water: {told:?}");
    let named = settings.replace("full_pool", "level_datum = \"NGVD 29\"\nfull_pool");
    write("lake.toml", &named);
    let run = shoalwright(home.path(), &["run"]);
    assert!(!text(&run.stderr).contains("level-datum-missing"), "{}", text(&run.stderr));
}
