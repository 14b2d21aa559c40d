//! GeoJSON out of few bytes: polygons whose corners repeat, cross and touch, which random text hardly ever holds.

use std::fmt::Write;

/// Degrees east and north of (-94, 35) of the corners that bytes tell: coarse, so that corners meet.
const STEP_DEG: f64 = 0.0005;

/// A `FeatureCollection` with a polygon a part of the bytes, cut at 255; each corner takes two bytes, and a ring ends
/// at 254. `properties` gives those of a polygon by the first byte of its part.
pub fn outlines(bytes: &[u8], properties: impl Fn(u8) -> String) -> String {
    let mut text = String::from(r#"{"type":"FeatureCollection","features":["#);
    for (number, part) in bytes.split(|byte| *byte == 255).enumerate() {
        let Some((turn, part)) = part.split_first() else { continue };
        if !text.ends_with('[') {
            text.push(',');
        }
        let rings: Vec<String> = part.split(|byte| *byte == 254).map(|ring| ring_of(ring, number)).collect();
        write!(
            text,
            r#"{{"type":"Feature","properties":{{{}}},"geometry":{{"type":"Polygon","coordinates":[{}]}}}}"#,
            properties(*turn),
            rings.join(",")
        )
        .expect("a text takes what is written");
    }
    text.push_str("]}");
    text
}

fn ring_of(bytes: &[u8], number: usize) -> String {
    let deg = |byte: u8| f64::from(byte) * STEP_DEG + number as f64 * STEP_DEG / 7.0;
    let mut corners: Vec<String> =
        bytes.chunks_exact(2).map(|xy| format!("[{},{}]", -94.0 + deg(xy[0]), 35.0 + deg(xy[1]))).collect();
    corners.extend(corners.first().cloned());
    format!("[{}]", corners.join(","))
}
