//! Small logs made in place, for tests of what comes after interpretation.

use shoalwright::terms::codes::Codes;
use shoalwright::terms::export::FileId;
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark, Origin, Words};
use shoalwright::terms::place::{Place, PlanePoint};
use shoalwright::terms::units::Depth;

/// A lake of which only the middle is known.
pub(crate) fn lake() -> Lake {
    Lake::unknown_at(Place { lon: -94.2, lat: 35.4 })
}

/// A mark so many metres east and north of the lake's middle, at a moment in seconds since 1970.
pub(crate) fn mark(kind: Kind, east_m: f64, north_m: f64, unix_s: i64, depth: Option<Depth>) -> Mark {
    let lake = lake();
    let place = lake.plane.to_place(PlanePoint { east_m, north_m });
    let time = Instant::from_unix_s(unix_s);
    let [lon, lat] = place.six_decimals();
    let depth_text = format!("{depth:?}");
    Mark {
        id: Id::of('m', &[&lon, &lat, &time.rfc3339(), kind.word(), &depth_text]),
        place,
        time: Some(time),
        day: lake.day_of(time),
        kind,
        fish_depth: depth,
        water_depth: None,
        water_temp: None,
        words: Words::default(),
        note: "".into(),
        sources: vec![Origin { file: FileId(0), record: 1, line: 1, bytes: 0, start: 0 }].into(),
        repairs: Codes::default(),
    }
}
