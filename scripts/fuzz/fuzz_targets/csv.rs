//! Any bytes as a CSV file; the first byte turns the user's settings of the file.
#![no_main]

use judged::{export, read};
use libfuzzer_sys::fuzz_target;
use shoalwright::terms::export::{Columns, CsvClock, Format};
use shoalwright::terms::units::DepthUnit;

fuzz_target!(|bytes: &[u8]| {
    let Some((turn, table)) = bytes.split_first() else { return };
    let mut export = export(Format::Csv);
    if turn & 1 != 0 {
        export.time_zone = CsvClock::Utc;
    }
    if turn & 2 != 0 {
        export.depth_unit = DepthUnit::Metres;
    }
    if turn & 4 != 0 {
        let name = |name: &str| Some(name.to_owned());
        export.columns = Columns { lat: name("a"), lon: name("b"), time: name("c"), ..Columns::default() };
    }
    read(&export, table);
});
