//! A shoreline: the text as it stands, or outlines told by bytes. What is read as water is asked and travelled through.
#![no_main]

use judged::outlines::outlines;
use libfuzzer_sys::fuzz_target;
use shoalwright::ingest::shoreline::read_shoreline;
use shoalwright::terms::place::{LocalPlane, Place};
use shoalwright::terms::water::Water;
use shoalwright::travel::{TravelSettings, Waters};

fuzz_target!(|bytes: &[u8]| {
    let Some((turn, rest)) = bytes.split_first() else { return };
    let text = if turn & 1 == 0 {
        let Ok(text) = std::str::from_utf8(rest) else { return };
        text.to_owned()
    } else {
        outlines(rest, |_| String::new())
    };
    let Ok(shoreline) = read_shoreline(&text) else { return };
    let first = shoreline.polygons.0[0].exterior().0[0];
    let first = Place { lon: first.x, lat: first.y };
    assert!(Place::new(shoreline.middle.lon, shoreline.middle.lat).is_some(), "{:?}", shoreline.middle);
    let plane = LocalPlane::new(shoreline.middle);
    let water = Water::new(shoreline.polygons, plane);
    assert!(water.metres_to_shore(first) < 1e-3, "a corner lies off the shore");
    let places = [shoreline.middle, first];
    let settings = TravelSettings { keep_off_m: f64::from(turn >> 4) * 2.0, run_m_s: 13.0, idle_m_s: 2.0 };
    let waters = Waters::new(Some(water.polygons()), plane, &[], &[first], &settings);
    let matrix = waters.matrix(&places, 0);
    if let Some(trip) = matrix.trip(0, 1) {
        assert!(trip.seconds.is_finite() && trip.metres >= trip.straight_m * (1.0 - 1e-9) - 1e-3, "{trip:?}");
    }
});
