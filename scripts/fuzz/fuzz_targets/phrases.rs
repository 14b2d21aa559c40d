//! Lines of text as name, comment, description, symbol and type of a mark: kind, depths and temperature out of words.
#![no_main]

use judged::{FILE, export, lake};
use libfuzzer_sys::fuzz_target;
use shoalwright::interpret::{self, Labels};
use shoalwright::terms::export::Format;
use shoalwright::terms::mark::{Fields, Origin, RawMark, RawTime, Words};

fuzz_target!(|text: &str| {
    let mut lines = text.splitn(5, '\n');
    let mut line = || lines.next().unwrap_or("");
    let (name, cmt, desc, sym, type_) = (line(), line(), line(), line(), line());
    let mark = |record: u32| RawMark {
        origin: Origin { file: FILE, record, line: record, bytes: 1, start: u64::from(record) },
        lon_deg: -94.0,
        lat_deg: 35.0 + f64::from(record) * 1e-4,
        time: RawTime::Missing,
        words: Words::new(name, sym, type_, cmt, desc),
        fields: Fields::default(),
        note: "".into(),
    };
    let exports = [export(Format::Gpx)];
    let day = jiff::civil::date(2026, 1, 1);
    let read = interpret::interpret(vec![mark(1), mark(2)], Vec::new(), &exports, &lake(), day, &Labels::default());
    let marks = read.marks;
    assert_eq!(marks.kept.len() + marks.set_aside.len(), 2);
    for mark in &marks.kept {
        let metres = [mark.fish_depth, mark.water_depth].map(|depth| depth.map(|d| d.metres()));
        assert!(metres.iter().flatten().all(|m| m.is_finite() && *m >= 0.0), "{metres:?}");
        if let [Some(fish), Some(water)] = metres {
            assert!(fish <= water + 0.5, "the fish lies below the bottom: {fish} m, {water} m");
        }
        assert!(mark.water_temp.is_none_or(|t| (-5.0..=60.0).contains(&t.celsius())), "{:?}", mark.water_temp);
    }
    if let [a, b] = &marks.kept[..] {
        assert_eq!((a.kind, a.fish_depth, a.water_depth), (b.kind, b.fish_depth, b.water_depth));
    }
});
