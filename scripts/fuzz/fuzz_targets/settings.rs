//! Any text as `lake.toml`, its last line as a `--set`; and any text as shoreline, levels and edits.
#![no_main]

use libfuzzer_sys::fuzz_target;
use shoalwright::ingest::levels::read_levels;
use shoalwright::ingest::shoreline::read_shoreline;
use shoalwright::merge::read_edits;
use shoalwright::settings::Settings;
use shoalwright::terms::units::Units;
use std::path::Path;

fuzz_target!(|text: &str| {
    let path = Path::new("lake.toml");
    if let Ok(settings) = Settings::read(Some((path, text)), &[]) {
        // What was read says the same once more.
        assert!(Settings::read(Some((path, text)), &[]).is_ok_and(|again| again == settings));
        assert!(settings.in_force.is_object());
    }
    let (above, last) = text.rsplit_once('\n').unwrap_or(("", text));
    let _ = Settings::read(Some((path, above)), &[last.to_owned()]);
    let _ = read_levels(text, Units::default());
    let _ = read_shoreline(text);
    let _ = read_edits(text);
});
