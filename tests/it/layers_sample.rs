//! A small hand-made run on an invented lake, for the tests of the writers. It lies in open ocean, so that nobody
//! takes it for a real one.

use geo::{LineString, Polygon};
use jiff::civil::{Date, date};
use shoalwright::layers::Results;
use shoalwright::movement::{Clock, Movement, MovementDay, MovementTrack};
use shoalwright::schools::{GamefishNear, HoldingArea, Pairing, Sighting, Without};
use shoalwright::terms::codes::Codes;
use shoalwright::terms::export::{Columns, CsvClock, Ele, Export, FileId, Format, RecordedDepth};
use shoalwright::terms::finding::{Code, Finding};
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark, Origin, Words};
use shoalwright::terms::place::Place;
use shoalwright::terms::season::SeasonDay;
use shoalwright::terms::units::{Depth, DepthUnit, TemperatureUnit, Units, WaterTemp};

/// What the stages would have handed on.
pub(crate) struct Sample {
    pub(crate) lake: Lake,
    pub(crate) exports: Vec<Export>,
    pub(crate) log: Vec<Mark>,
    pub(crate) sightings: Vec<Sighting>,
    pub(crate) areas: Vec<HoldingArea>,
    pub(crate) movement: Movement,
    pub(crate) pairing: Option<Pairing>,
    pub(crate) findings: Vec<Finding>,
}

impl Sample {
    pub(crate) fn results(&self) -> Results<'_> {
        Results::new(&self.lake, &self.exports, &self.log, &self.sightings, &self.areas, &self.movement)
            .with_pairing(self.pairing.as_ref())
    }
}

/// Record `record` of file `file`, ten lines a record.
pub(crate) fn at(file: u32, record: u32) -> Origin {
    Origin { file: FileId(file), record, line: record * 10, bytes: 80, start: u64::from(record) * 80 }
}

fn place(lon: f64, lat: f64) -> Place {
    Place::new(lon, lat).unwrap()
}

fn export(label: &str, unit: &str, format: Format) -> Export {
    Export {
        path: label.into(),
        label: label.into(),
        format,
        unit: unit.into(),
        recorded_depth: RecordedDepth::default(),
        ele: Ele::default(),
        columns: Columns::default(),
        depth_unit: DepthUnit::default(),
        temperature_unit: TemperatureUnit::default(),
        time_zone: CsvClock::default(),
    }
}

/// A mark that tells nothing but its place; `day`: noon of that many days after 2023-10-01.
pub(crate) fn mark(seed: &str, lon: f64, lat: f64, kind: Kind, day: Option<i64>) -> Mark {
    let time = day.map(|day| Instant::from_unix_s(1_696_161_600 + day * 86_400)); // 2023-10-01T12:00:00Z
    Mark {
        id: Id::of('m', &[seed]),
        place: place(lon, lat),
        time,
        day: time.and_then(|time| Lake::unknown_at(place(-56.0, 36.0)).day_of(time)),
        kind,
        fish_depth: None,
        water_depth: None,
        water_temp: None,
        words: Words::new(seed, "", "", "", ""),
        note: "".into(),
        sources: vec![at(0, 1)].into(),
        repairs: Codes::default(),
    }
}

/// Marks whose names would break a careless writer.
pub(crate) fn hostile_marks() -> Vec<Mark> {
    [
        "=HYPERLINK(\"http://x.invalid\",\"y\")",
        "+1",
        "-5",
        "@SUM(A1)",
        "</name><wpt lat=\"0\" lon=\"0\"/>",
        "<![CDATA[x]]>",
        "a & b; \"quoted\", 'single'",
        "{\"type\":\"Feature\"}",
        "tab\u{1}bell\u{7}esc\u{1b}[31m",
        "über 🐟 \u{202e}right to left",
        "../../etc/passwd",
        "%s%n",
    ]
    .iter()
    .zip(0..)
    .map(|(name, day)| mark(name, -56.0 + f64::from(day) * 0.001, 36.0, Kind::Bait, Some(i64::from(day))))
    .collect()
}

/// A holding area that tells no depth, no temperature and no gamefish, seen from late November into January.
pub(crate) fn area(seed: &str, kind: Kind) -> HoldingArea {
    let ring = [(-56.0, 36.0), (-55.996, 36.0), (-55.996, 36.003), (-56.0, 36.003)];
    HoldingArea {
        id: Id::of('a', &[seed]),
        kind,
        sightings: vec![2],
        marks: 1,
        outings: 1,
        seasons: vec![2023],
        first_day: SeasonDay::from_days(330.0),
        last_day: SeasonDay::from_days(12.0),
        peak_day: SeasonDay::from_days(355.0),
        fish_depth: None,
        water_depth_median: None,
        water_temp: None,
        centre: place(-55.998, 36.0015),
        radius_m: 151.6,
        hull: Polygon::new(LineString::from(ring.to_vec()), vec![]),
        gamefish: None,
    }
}

fn sighting(seed: &str, kind: Kind, marks: &[usize], day: Date, area: Option<usize>) -> Sighting {
    let lake = Lake::unknown_at(place(-56.0, 36.0));
    let place = place(-55.998_123_456_789, 36.001_5);
    Sighting {
        id: Id::of('s', &[seed]),
        kind,
        marks: marks.to_vec(),
        day: lake.day(day),
        time: None,
        place,
        plane: lake.to_plane(place),
        fish_depth: None,
        water_depth: None,
        water_temp: None,
        area,
    }
}

fn track(number: usize, days: Vec<MovementDay>) -> MovementTrack {
    MovementTrack {
        id: Id::of('t', &[&number.to_string()]),
        kind: Kind::Bait,
        number,
        sightings: 40,
        seasons: vec![2022, 2023, 2024],
        clock: Clock::Date,
        way: days.iter().map(|d| d.place).collect(),
        days,
        length_m: 5_230.0,
    }
}

fn track_day(season_day: f64, lon: f64, lat: f64) -> MovementDay {
    MovementDay {
        season_day: SeasonDay::from_days(season_day),
        place: place(lon, lat),
        fish_depth: Depth::from_feet(18.0),
        fish_depth_band: Depth::from_feet(9.0).zip(Depth::from_feet(31.0)).map(|(low, high)| [low, high]),
        band_m: 240.0,
        sightings_near: 6.25,
    }
}

/// The hand-made run.
pub(crate) fn sample(units: Units) -> Sample {
    let mut lake = Lake::unknown_at(place(-56.0, 36.0));
    lake.name = String::from("Hand-made <Lake> & Sons");
    lake.units = units;
    lake.levels_m = [(date(2023, 10, 1), 184.71), (date(2023, 10, 11), 184.01)].into();

    let mut log = vec![
        mark("SHAD 27FT 71F", -55.998_123_456_789, 36.001_5, Kind::Bait, Some(5)),
        mark("shad", -55.997, 36.001, Kind::Bait, Some(5)),
        mark("LM", -55.9985, 36.0012, Kind::Gamefish, Some(20)),
        mark("BAIT old", -55.998, 36.002, Kind::Bait, None),
        mark("brush", -55.998, 36.002, Kind::Cover, None),
        mark("rock!", -56.05, 35.97, Kind::Hazard, Some(400)),
    ];
    log[0].fish_depth = Depth::from_feet(27.0);
    log[0].water_depth = Depth::from_feet(41.5);
    log[0].water_temp = WaterTemp::from_fahrenheit(71.0);
    log[0].words =
        Words::new("SHAD 27FT 71F", "Fish", "bait", "thick, \"wall\" of them", "thick, \"wall\" of them");
    log[0].note = "=check again".into();
    log[0].sources = vec![at(1, 4), at(0, 2)].into();
    log[0].repairs = Codes::from([Code::ClockNoZone, Code::EditApplied]);
    log[5].time = None; // the date alone is known
    log.extend(hostile_marks());

    let mut sightings = vec![
        sighting("0", Kind::Bait, &[0, 1], date(2023, 10, 6), Some(0)),
        sighting("1", Kind::Bait, &[], date(2024, 10, 2), Some(0)),
        sighting("2", Kind::Gamefish, &[2], date(2023, 10, 21), Some(1)),
        sighting("3", Kind::Bait, &[], date(2024, 2, 29), None),
    ];
    sightings[0].fish_depth = Depth::from_feet(27.0);
    sightings[0].water_temp = WaterTemp::from_fahrenheit(71.0);

    let mut bait = area("bait", Kind::Bait);
    bait.sightings = vec![0, 1];
    bait.marks = 3;
    bait.outings = 2;
    bait.seasons = vec![2023, 2024];
    bait.first_day = SeasonDay::from_date(date(2023, 10, 2));
    bait.last_day = SeasonDay::from_date(date(2023, 10, 6));
    bait.peak_day = SeasonDay::from_date(date(2023, 10, 4));
    bait.fish_depth = match [17.0, 22.0, 27.0].map(Depth::from_feet) {
        [Some(low), Some(median), Some(high)] => Some([low, median, high]),
        _ => None,
    };
    bait.water_depth_median = Depth::from_feet(41.5);
    bait.water_temp = WaterTemp::from_celsius(18.0).zip(WaterTemp::from_celsius(22.0)).map(|(a, b)| [a, b]);
    bait.gamefish = Some(GamefishNear { near: 3, lift: 1.873, p: 0.041_27 });

    let way = [(250.0, -56.02, 35.98), (255.0, -56.01, 35.99), (260.0, -56.0, 36.0), (265.0, -55.99, 36.02)];
    let mut bare = track_day(2.0, -56.03, 36.0);
    (bare.fish_depth, bare.fish_depth_band) = (None, None);
    let movement = Movement {
        season_shifts: vec![(2022, -3.25), (2023, 0.0), (2024, 3.25)],
        tracks: vec![
            track(1, way.map(|(day, lon, lat)| track_day(day, lon, lat)).to_vec()),
            track(2, vec![bare]),
            track(3, vec![track_day(100.0, -56.04, 36.0), track_day(105.0, -56.04, 36.0)]),
        ],
        findings: vec![],
    };
    let findings = vec![
        Finding::new(Code::TimezoneMissing, "no time zone is set")
            .done("UTC is used")
            .fix("set lake.timezone"),
        Finding::new(Code::FileEmpty, "the file is empty").at(Origin::whole_file(FileId(1)), ""),
        Finding::new(Code::DepthSentinel, "depth is `-999`").at(at(0, 2), "=EVIL()").done("blanked"),
    ];
    Sample {
        lake,
        exports: vec![
            export("bow.gpx", "bow", Format::Gpx),
            export("notes, & more.csv", "field book", Format::Csv),
        ],
        log,
        sightings,
        areas: vec![bait, area("gamefish", Kind::Gamefish)],
        movement,
        pairing: Some(Pairing {
            gamefish_marks: 1,
            tested: 0,
            near: 0,
            median_distance_m: None,
            mean_distance_m: None,
            test: None,
            bait_without_gamefish: vec![
                Without { number: 0, nearest_m: Some(300.0), depth_gap_m: Some(1.524) },
                Without { number: 3, nearest_m: None, depth_gap_m: None },
            ],
            gamefish_without_bait: vec![Without { number: 2, nearest_m: Some(1609.344), depth_gap_m: None }],
        }),
        findings,
    }
}
