//! Two lines of text as latitude and longitude, in GPX and in CSV. Plain decimal numbers must be read as they stand.
#![no_main]

use judged::{export, lake, read};
use libfuzzer_sys::fuzz_target;
use shoalwright::interpret::{self, Labels};
use shoalwright::terms::export::Format;

fuzz_target!(|text: &str| {
    let (lat, lon) = text.split_once('\n').unwrap_or((text, "1"));
    let gpx = format!("<gpx><wpt lat=\"{lat}\" lon=\"{lon}\"/></gpx>");
    let export_ = export(Format::Gpx);
    let of_gpx = read(&export_, gpx.as_bytes());
    let plain = |text: &str| {
        let digits = text.strip_prefix('-').unwrap_or(text);
        let (whole, part) = digits.split_once('.')?;
        let fits = |digits: &str| (1..=9).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
        (fits(whole) && fits(part)).then(|| text.parse::<f64>().ok()).flatten()
    };
    if let (Some(lat), Some(lon)) = (plain(lat), plain(lon)) {
        assert_eq!(of_gpx.marks.kept.len(), 1, "{text:?}");
        let mark = &of_gpx.marks.kept[0];
        assert!((mark.lat_deg - lat).abs() < 1e-9 && (mark.lon_deg - lon).abs() < 1e-9, "{text:?}: {mark:?}");
    }
    let quoted = |text: &str| text.replace('"', "\"\"");
    let csv = format!("lat,lon\n\"{}\",\"{}\"\n", quoted(lat), quoted(lon));
    read(&export(Format::Csv), csv.as_bytes());
    let came = of_gpx.marks.kept.len();
    let marks = interpret::interpret(
        of_gpx.marks.kept,
        Vec::new(),
        &[export_],
        &lake(),
        jiff::civil::date(2026, 1, 1),
        &Labels::default(),
    )
    .marks;
    assert_eq!(marks.kept.len() + marks.set_aside.len(), came);
    assert!(marks.kept.iter().all(|m| m.place.lon.abs() <= 180.0 && m.place.lat.abs() <= 90.0));
});
