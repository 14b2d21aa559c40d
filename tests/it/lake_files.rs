//! A simulated lake as an angler would have it: a folder with an export a season, the shoreline and a `lake.toml`.

use crate::simulator::SimulatedLake;
use jiff::civil::Date;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::Mark;
use shoalwright::terms::track_log::TrackLog;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// What stands in the export of a season.
type Season<'a> = (Vec<&'a Mark>, Vec<&'a TrackLog>);

/// The same angler with less time: so many outings of each season, spread evenly over it.
pub(crate) fn with_outings(mut simulated: SimulatedLake, a_season: usize) -> SimulatedLake {
    let mut dates: BTreeMap<i16, Vec<Date>> = BTreeMap::new();
    for log in &simulated.track_logs {
        let date = day_of(log, &simulated.lake);
        dates.entry(date.year()).or_default().push(date);
    }
    let kept: Vec<Date> = dates
        .into_values()
        .flat_map(|days| {
            (0..a_season.min(days.len())).map(move |k| days[k * days.len() / a_season.min(days.len())])
        })
        .collect();
    simulated.track_logs.retain(|log| kept.contains(&day_of(log, &simulated.lake)));
    simulated.marks.retain(|mark| kept.contains(&mark.day.unwrap().date));
    simulated
}

fn day_of(log: &TrackLog, lake: &Lake) -> Date {
    let begun = log.segments.iter().flatten().find_map(|point| point.time).unwrap();
    begun.local_date(&lake.time_zone).unwrap()
}

/// Writes the lake; `name` is printed on what is made of it.
pub(crate) fn write_lake(folder: &Path, name: &str, simulated: &SimulatedLake) {
    let lake = &simulated.lake;
    fs::create_dir_all(folder.join("exports")).unwrap();
    let mut seasons: BTreeMap<i16, Season> = BTreeMap::new();
    for mark in &simulated.marks {
        seasons.entry(mark.day.unwrap().date.year()).or_default().0.push(mark);
    }
    for log in &simulated.track_logs {
        seasons.entry(day_of(log, lake).year()).or_default().1.push(log);
    }
    for (year, (marks, logs)) in &seasons {
        fs::write(folder.join(format!("exports/bow-{year}.gpx")), gpx(marks, logs)).unwrap();
    }
    fs::write(folder.join("shoreline.geojson"), shoreline(lake)).unwrap();
    let last = seasons.keys().next_back().unwrap();
    let settings = format!(
        "[lake]\nname = \"{name}\"\ntimezone = \"UTC\"\nshoreline = \"shoreline.geojson\"\n\n[[input]]\n\
         files = [\"exports/bow-*.gpx\"]\nunit = \"bow\"\n\n[outlook]\ndate = {}-05-15\n",
        last + 1
    );
    fs::write(folder.join("lake.toml"), settings).unwrap();
}

fn shoreline(lake: &Lake) -> String {
    geojson::Geometry::new(geojson::GeometryValue::from(lake.water.as_ref().unwrap().polygons())).to_string()
}

/// Marks as they are named on the boat, `BAIT 27FT 61F`, and where the boat went.
fn gpx(marks: &[&Mark], logs: &[&TrackLog]) -> String {
    let mut text = String::from(
        "<gpx version=\"1.1\" creator=\"simulated\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n",
    );
    for mark in marks {
        let [lon, lat] = mark.place.six_decimals();
        let mut name = mark.kind.word().to_uppercase();
        if let Some(depth) = mark.fish_depth {
            write!(name, " {:.0}FT", depth.feet()).unwrap();
        }
        if let Some(temp) = mark.water_temp {
            write!(name, " {:.0}F", temp.fahrenheit()).unwrap();
        }
        let time = mark.time.unwrap().rfc3339();
        writeln!(text, "<wpt lat=\"{lat}\" lon=\"{lon}\"><time>{time}</time><name>{name}</name></wpt>")
            .unwrap();
    }
    for log in logs {
        writeln!(text, "<trk><name>{}</name>", log.name).unwrap();
        for segment in &log.segments {
            text.push_str("<trkseg>\n");
            for point in segment {
                let [lon, lat] = point.place.six_decimals();
                let time = point.time.unwrap().rfc3339();
                writeln!(text, "<trkpt lat=\"{lat}\" lon=\"{lon}\"><time>{time}</time></trkpt>").unwrap();
            }
            text.push_str("</trkseg>\n");
        }
        text.push_str("</trk>\n");
    }
    text.push_str("</gpx>\n");
    text
}
