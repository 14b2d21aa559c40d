//! Slow and closed areas: the text as it stands, or outlines told by bytes. They are laid on a lake and travelled.
#![no_main]

use jiff::civil::{date, time};
use judged::outlines::outlines;
use libfuzzer_sys::fuzz_target;
use shoalwright::ingest::zones::read_zones;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::place::Place;
use shoalwright::terms::water::Water;
use shoalwright::terms::zone::Zone;
use shoalwright::travel::{TravelSettings, Waters, zone_findings};

/// A lake of ten by ten hundredths of a degree.
fn lake() -> Lake {
    let mut lake = judged::lake();
    let corners = vec![(-94.02, 34.98), (-93.9, 34.98), (-93.9, 35.1), (-94.02, 35.1), (-94.02, 34.98)];
    let water = geo::Polygon::new(corners.into(), Vec::new());
    lake.water = Some(Water::new(water.into(), lake.plane));
    lake
}

fn properties(turn: u8) -> String {
    const TIMES: [&str; 4] = ["2025-10-06", "11-01", "22:00", "2025-10-06T07:30"];
    let time = |at: u8| TIMES[usize::from(at) % TIMES.len()];
    let zone = if turn & 1 == 0 { r#""zone":"closed""# } else { r#""zone":"slow","speed":"5 mph""# };
    let from = if turn & 2 == 0 { String::new() } else { format!(r#","from":"{}""#, time(turn >> 3)) };
    let until = if turn & 4 == 0 { String::new() } else { format!(r#","until":"{}""#, time(turn >> 5)) };
    format!("{zone}{from}{until}")
}

fuzz_target!(|bytes: &[u8]| {
    let Some((turn, rest)) = bytes.split_first() else { return };
    let text = if turn & 1 == 0 {
        let Ok(text) = std::str::from_utf8(rest) else { return };
        text.to_owned()
    } else {
        outlines(rest, properties)
    };
    let Ok((zones, told)) = read_zones(&text) else { return };
    let features = text.matches("Feature").count();
    assert!(zones.len() + told.len() <= features, "more zones and findings than features");
    let lake = lake();
    let day = date(2025, 10, 6);
    let (first, last) = (day.to_datetime(time(6, 0, 0, 0)), day.to_datetime(time(15, 0, 0, 0)));
    let in_force: Vec<Zone> = zones.iter().filter(|zone| zone.in_force(first, last)).cloned().collect();
    assert!(zone_findings(&zones, &lake).len() <= zones.len());
    let settings = TravelSettings { keep_off_m: 20.0, run_m_s: 13.0, idle_m_s: 2.0 };
    let water = lake.water.as_ref().map(Water::polygons);
    let waters = Waters::new(water, lake.plane, &in_force, &[], &settings);
    let places = [Place { lon: -94.01, lat: 34.99 }, Place { lon: -93.95, lat: 35.05 }];
    let matrix = waters.matrix(&places, 0);
    if let Some(trip) = matrix.trip(0, 1) {
        assert!(trip.seconds.is_finite() && trip.seconds * settings.run_m_s >= trip.straight_m * (1.0 - 1e-9), "{trip:?}");
    }
});
