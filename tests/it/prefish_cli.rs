//! `prefish` as the angler uses it, on an invented lake: plans, plans made anew, and input that cannot be used.

use crate::cli::{shoalwright, text};
use std::fs;
use tempfile::TempDir;

/// A lake of 0.1 by 0.06 degrees (about 9 by 6.7 km) with an island in its middle, and a pond of its own.
const SHORE: &str = r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":
{"type":"MultiPolygon","coordinates":[
[[[-94.10,35.00],[-94.00,35.00],[-94.00,35.06],[-94.10,35.06],[-94.10,35.00]],
 [[-94.06,35.02],[-94.06,35.04],[-94.04,35.04],[-94.04,35.02],[-94.06,35.02]]],
[[[-93.98,35.00],[-93.97,35.00],[-93.97,35.01],[-93.98,35.01],[-93.98,35.00]]]]}}]}"#;
const MARKS: &str = r#"<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="35.03" lon="-94.0995"><name>North Ramp</name><type>ramp</type></wpt>
<wpt lat="35.05" lon="-94.03"><name>ROCK</name></wpt></gpx>"#;
const STOPS: &str = "name,lon,lat,value,search_min,earliest,latest,must,group\n\
Hump,-94.08,35.03,0.5,20,,,,\n\
Far bank,-94.01,35.03,0.6,25,,,,G\n\
Point,-94.02,35.05,0.3,15,08:00,09:00,,G\n";

struct Home(TempDir);

impl Home {
    /// A folder with the lake; `prefish` and further settings, and the stops.
    fn new(prefish: &str, stops: &str) -> Self {
        let home = Self(tempfile::tempdir().unwrap());
        home.write("shore.geojson", SHORE);
        home.write("marks.gpx", MARKS);
        home.write("stops.csv", stops);
        home.write(
            "lake.toml",
            &format!(
                "[lake]\ntimezone = \"America/Chicago\"\nshoreline = \"shore.geojson\"\n\
                 [[input]]\nfiles = [\"marks.gpx\"]\n[prefish]\nstops = \"stops.csv\"\n{prefish}"
            ),
        );
        home
    }

    /// The usual: from the ramp, on a January day.
    fn usual(stops: &str) -> Self {
        Self::new("start = \"North Ramp\"\ndate = 2027-01-09\n", stops)
    }

    fn write(&self, name: &str, content: &str) {
        fs::write(self.0.path().join(name), content).unwrap();
    }

    /// Exit status, standard output and standard error of `prefish` with further arguments.
    fn plan(&self, args: &[&str]) -> (i32, String, String) {
        let out = shoalwright(self.0.path(), &[&["prefish"], args].concat());
        (out.status.code().unwrap(), text(&out.stdout), text(&out.stderr))
    }

    /// Checks status and a piece of what is printed.
    #[track_caller]
    fn check(&self, args: &[&str], status: i32, expected: &str) {
        let (got, stdout, stderr) = self.plan(args);
        assert!(got == status && (stdout + &stderr).contains(expected), "{got}: {:?}", self.plan(args));
    }
}

#[test]
fn own_stops_are_planned_in_their_hours_and_back_at_the_ramp_in_time() {
    let home = Home::usual(STOPS);
    let (status, stdout, stderr) = home.plan(&["--set", "prefish.launch=07:30"]);
    assert_eq!(status, 0, "{stderr}");
    // All three fit: 0.5 + 1 - 0.4 · 0.7 = 1.22 (by hand), as two stand in one group.
    assert!(
        stdout.contains("expected to meet 1.22 different schools; no plan over these stops is worth more"),
        "{stdout}"
    );
    let line = stdout.lines().find(|l| l.contains(". Point ")).unwrap();
    let begin = line.split("Point").nth(1).unwrap().trim().split('-').next().unwrap();
    assert!(("08:00"..="09:00").contains(&begin), "{line}");
    assert!(stdout.contains("07:30 from North Ramp, back at North Ramp by 15:00"), "{stdout}");
}

#[test]
fn a_plan_is_the_same_bytes_with_one_thread_and_two() {
    let home = Home::usual(STOPS);
    assert_eq!(home.plan(&["--threads", "1"]).1, home.plan(&["--threads", "2"]).1);
}

#[test]
fn a_start_that_cannot_be_used_is_told() {
    let home = Home::new("date = 2027-01-09\nstart = \"South Ramp\"\n", STOPS);
    home.check(&[], 2, "no access mark of the log is called so; the log has `North Ramp`");
    home.check(&["--set", "prefish.start=[-94.05, 35.03]"], 2, "lies on land");
    home.check(
        &["--set", "prefish.finish=[-93.975, 35.005]", "--set", "prefish.start=[-94.08, 35.03]"],
        2,
        "another water",
    );
    let home = Home::new("date = 2027-01-09\n", STOPS);
    home.check(&[], 2, "no ramp is given: set prefish.start");
    let home = Home::new("start = \"North Ramp\"\n", STOPS);
    home.check(&[], 2, "no practice day is given: add --date");
    home.check(&["--date", "2027-02-30"], 2, "--date: `2027-02-30` is no date");
}

#[test]
fn a_day_that_is_over_or_a_time_the_clock_does_not_show_is_told() {
    let home = Home::usual(STOPS);
    let at = |time| ["--from", "-94.05,35.05", "--at", time];
    home.check(&at("15:30"), 2, "the day is over before it begins");
    home.check(&["--set", "prefish.off_water=01:00"], 2, "a day ends on its own date");
    home.check(
        &["--date", "2027-03-14", "--set", "prefish.launch=02:30"],
        2,
        "the clock never shows `02:30`",
    );
    home.check(&at("10:75"), 2, "--at: `10:75` is no time of day");
}

#[test]
fn nothing_to_check_is_told() {
    let home = Home::usual("name,lon,lat,value\n");
    home.check(&[], 2, "there is nothing to check on 2027-01-09");
}

#[test]
fn stops_out_of_reach_are_named_and_the_rest_is_planned() {
    let home = Home::usual(&format!("{STOPS}Pond,-93.975,35.005,0.9,20\nDry,-94.05,35.03,0.9,20\n"));
    home.check(&[], 0, "`Pond` lies in another water than the start");
    home.check(&[], 0, "`Dry` lies on land");
    home.check(&[], 0, "expected to meet 1.22 different schools");
}

#[test]
fn a_must_stop_that_does_not_fit_is_named_and_the_rest_planned_with_status_1() {
    let home =
        Home::usual(&format!("{STOPS}Pond,-93.975,35.005,0.9,20,,,yes,\nLong,-94.02,35.01,0.9,600,,,yes,\n"));
    home.check(&[], 1, "must-stop `Pond` does not fit: no way through open water");
    home.check(&[], 1, "must-stop `Long` does not fit: even alone it brings the boat back late");
    home.check(&[], 1, "expected to meet 1.22 different schools");
    // Far bank and back is some 18 km: not with 10 miles of fuel, of which two thirds may be used.
    let home = Home::usual("name,lon,lat,value,search_min,must\nFar bank,-94.01,35.03,0.6,25,yes\n");
    home.check(&["--set", "prefish.range=10 mi"], 1, "even alone it takes more fuel");
    home.check(&["--set", "prefish.range=20 mi", "--set", "prefish.thirds=false"], 0, "1. Far bank");
}

#[test]
fn closed_areas_shut_stops_on_their_dates() {
    let home = Home::new("start = \"North Ramp\"\ndate = 2027-01-09\nzones = \"zones.geojson\"\n", STOPS);
    let zones = |ring: &str| {
        format!(
            r#"{{"type":"FeatureCollection","features":[{{"type":"Feature","properties":{{"zone":"closed",
            "name":"refuge","from":"11-01","until":"03-15"}},"geometry":{{"type":"Polygon","coordinates":[{ring}]}}}}]}}"#
        )
    };
    home.write(
        "zones.geojson",
        &zones("[[-94.03,35.0],[-94.0,35.0],[-94.0,35.04],[-94.03,35.04],[-94.03,35.0]]"),
    );
    home.check(&[], 0, "`Far bank` lies in the closed area `refuge`");
    home.check(&["--date", "2027-04-09"], 0, "expected to meet 1.22");
    home.write(
        "zones.geojson",
        &zones("[[-94.1,35.0],[-94.0,35.0],[-94.0,35.06],[-94.1,35.06],[-94.1,35.0]]"),
    );
    home.check(&[], 2, "lies in the closed area `refuge` on 2027-01-09");
    home.write(
        "zones.geojson",
        &zones("[[-90.1,35.0],[-90.0,35.0],[-90.0,35.06],[-90.1,35.06],[-90.1,35.0]]"),
    );
    home.check(&[], 0, "`refuge` touches no water of the lake");
    home.write("zones.geojson", "<kml/>");
    home.check(&[], 2, "cannot use the zones");
}

#[test]
fn a_self_crossing_shoreline_and_a_missing_one_are_planned_over() {
    let home = Home::usual("name,lon,lat,value,search_min\nHump,-94.08,35.03,0.5,20\n");
    home.write(
        "shore.geojson",
        r#"{"type":"Polygon","coordinates":[[[-94.1,35.0],[-94.0,35.06],[-94.0,35.0],[-94.1,35.06],[-94.1,35.0]]]}"#,
    );
    home.check(&[], 0, "1. Hump");
    home.write(
        "lake.toml",
        "[[input]]\nfiles = [\"marks.gpx\"]\n[prefish]\nstops = \"stops.csv\"\nstart = \"North Ramp\"\ndate = 2027-01-09\nlaunch = \"14:00\"\noff_water = \"18:00\"",
    );
    home.check(&[], 0, "No shoreline is given");
}

#[test]
fn a_day_is_planned_anew_from_the_water() {
    let home = Home::usual(STOPS);
    let here = ["--from", "-94.05,35.05", "--at", "10:00"];
    let with = |more: &[&'static str]| [&here[..], more].concat();
    home.check(&with(&[]), 0, "10:00 from here, back at North Ramp by 15:00");
    // Point shuts at 09:00, so 0.5 + 0.6; without Hump 0.6; a school met at Point is not met again at Far bank.
    home.check(&with(&[]), 0, "expected to meet 1.10");
    home.check(&with(&["--done", "Hump"]), 0, "expected to meet 0.60");
    home.check(&with(&["--found", "point"]), 0, "expected to meet 0.50");
    home.check(
        &with(&["--done", "Hill"]),
        2,
        "there is no stop `Hill`; the stops are `Hump`, `Far bank`, `Point`",
    );
    home.check(&with(&["--fuel-left", "9 gal"]), 2, "set prefish.range and prefish.tank");
    home.check(&with(&["--fuel-left", "9 elephants"]), 2, "--fuel-left: `9 elephants` is no fuel");
    let tank = ["--set", "prefish.range=60 mi", "--set", "prefish.tank=15 gal", "--fuel-left"];
    // 9 gallons of 15 are 36 miles; 5 gallons are the third that is kept, so 4 take the boat out and home.
    home.check(&with(&[&tank[..], &["9 gal"]].concat()), 0, "expected to meet 1.10");
    home.check(
        &with(&[&tank[..], &["5.1 gal"]].concat()),
        0,
        "straight to the ramp is farther than the fuel",
    );
    home.check(&with(&["--fuel-left", "40 mi"]), 0, "expected to meet 1.10");
    home.check(&with(&["--fuel-left", "2 mi"]), 0, "straight to the ramp is farther than the fuel");
    home.check(&["--from", "-94.05,35.05"], 2, "--at");
    home.check(&["--from", "35.05", "--at", "10:00"], 2, "--from: `35.05` is no place");
}

#[test]
fn run_plans_on_the_way_and_says_why_where_it_cannot() {
    let home = Home::usual(STOPS);
    let run = |home: &Home| {
        let out = shoalwright(home.0.path(), &["run", "--json"]);
        assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
        serde_json::from_slice::<serde_json::Value>(&out.stdout).unwrap()
    };
    assert_eq!(run(&home)["counts"]["stops"], 3);
    let account = run(&Home::new("date = 2027-01-09\n", STOPS));
    assert_eq!(
        (&account["counts"]["stops"], &account["findings"]["prefish-refused"]),
        (&0.into(), &1.into())
    );
}
