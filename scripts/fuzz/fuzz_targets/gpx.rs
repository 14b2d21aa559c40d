//! Any bytes as a GPX file.
#![no_main]

use judged::{export, read};
use libfuzzer_sys::fuzz_target;
use shoalwright::terms::export::Format;

fuzz_target!(|bytes: &[u8]| {
    read(&export(Format::Gpx), bytes);
});
