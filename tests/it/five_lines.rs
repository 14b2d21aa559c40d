//! Simulated seasons with truth through the public command (fixtures/README.md tells where they come from).

use crate::cli::{fixture, shoalwright, text};
use serde_json::Value;
use std::fs;

#[test]
fn five_lines_of_settings_give_areas_and_movement() {
    for name in ["hollow-a", "hollow-b", "hollow-c"] {
        let home = tempfile::tempdir().unwrap();
        for file in [format!("{name}.gpx"), format!("{name}-lake.geojson")] {
            fs::copy(fixture(&format!("reference/lake-seasons/{file}")), home.path().join(&file)).unwrap();
        }
        let settings = format!(
            "[lake]\ntimezone = \"Etc/GMT+6\"\nshoreline = \"{name}-lake.geojson\"\n[[input]]\nfiles = [\"{name}.gpx\"]\n"
        );
        fs::write(home.path().join("lake.toml"), settings).unwrap();
        let run = shoalwright(home.path(), &["run", "--json", "--quiet"]);
        assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
        let account: Value = serde_json::from_slice(&run.stdout).unwrap();
        assert!(account["counts"]["areas"].as_u64().unwrap() >= 3, "{}", account["counts"]);
        assert!(account["counts"]["movement_tracks"].as_u64().unwrap() >= 1, "{}", account["counts"]);
        // Every mark says what it is on.
        assert!(account["findings"].get("kind-unknown").is_none(), "{}", account["findings"]);
        // The set holds no damaged record: none may be set aside.
        assert_eq!(account["records"]["set_aside"], 0, "{}", account["findings"]);
    }
}
