//! Any bytes as a GPX file, read whole and in windows of a few bytes.
#![no_main]

use judged::{FILE, export, read};
use libfuzzer_sys::fuzz_target;
use shoalwright::ingest;
use shoalwright::terms::export::{Ele, Format};

fuzz_target!(|bytes: &[u8]| {
    let mut export = export(Format::Gpx);
    // Told by the length, so that every input is a plain GPX file.
    if bytes.len() % 2 == 1 {
        export.ele = Ele::Depth;
    }
    let whole = read(&export, bytes);
    let parts = ingest::read_in_windows(&export, FILE, bytes, 1 + bytes.len() % 97);
    assert!(parts == whole, "windows change what is read");
});
