//! Reads areas of water with a rule from GeoJSON: Polygons with the property `zone` = `slow` or `closed`, and `speed`,
//! `from`, `until`, `name`.

use super::shoreline::polygons_in;
use crate::terms::finding::{Code, Finding};
use crate::terms::units::Speed;
use crate::terms::zone::{Zone, ZoneKind, ZoneTime};
use geo::MultiPolygon;
use geojson::{Feature, GeoJson, JsonObject};
use jiff::civil::{Date, DateTime, Time};

/// Reads zones. A feature that cannot be used is told and left out; properties that are not ours are passed over.
///
/// `from` and `until` are a day (`2025-10-06`), a day of every year (`11-01`), a time of every day (`22:00`) or a
/// moment (`2025-10-06T07:30`), in the lake's time zone. A day given as `until` is included.
///
/// # Errors
/// When the text is no GeoJSON.
pub fn read_zones(text: &str) -> Result<(Vec<Zone>, Vec<Finding>), String> {
    let parsed: GeoJson =
        text.trim_start_matches('\u{feff}').parse().map_err(|e| format!("it is no GeoJSON: {e}"))?;
    let features = match parsed {
        GeoJson::FeatureCollection(collection) => collection.features,
        GeoJson::Feature(feature) => vec![feature],
        GeoJson::Geometry(_) => return Err(String::from("it holds a bare geometry, which tells no `zone`")),
    };
    let (mut zones, mut findings) = (Vec::new(), Vec::new());
    for (number, feature) in (1..).zip(&features) {
        match zone(feature, number) {
            Ok(zone) => zones.push(zone),
            Err(what) => findings.push(
                Finding::new(Code::ZoneUnreadable, format!("zone {number}: {what}"))
                    .done("the area is not in force")
                    .fix("mend it in the zones file"),
            ),
        }
    }
    Ok((zones, findings))
}

fn zone(feature: &Feature, number: usize) -> Result<Zone, String> {
    let none = JsonObject::new();
    let properties = feature.properties.as_ref().unwrap_or(&none);
    let text = |key: &str| -> Result<Option<&str>, String> {
        match properties.get(key) {
            None | Some(serde_json::Value::Null) => Ok(None),
            Some(serde_json::Value::String(text)) => Ok(Some(text.trim()).filter(|t| !t.is_empty())),
            Some(other) => Err(format!("`{key}` is `{other}`; write it as a text")),
        }
    };
    let kind = match text("zone")? {
        Some("closed") => ZoneKind::Closed,
        Some("slow") => {
            let speed = text("speed")?.ok_or("a slow zone needs `speed`, like `5 mph`")?;
            let m_s = speed.parse::<Speed>().map_err(|e| e.to_string())?.metres_per_second();
            if m_s <= 0.0 {
                return Err(format!("`{speed}` is no speed to travel at; use zone = `closed`"));
            }
            ZoneKind::Slow { m_s }
        }
        Some(other) => return Err(format!("`{other}` is no zone: write `slow` or `closed`")),
        None => return Err(String::from("it has no property `zone`: write `slow` or `closed`")),
    };
    let time = |key: &str| text(key)?.map(zone_time).transpose();
    let area = match &feature.geometry {
        Some(geometry) => polygons_in(geometry).map_err(|e| e.to_string())?,
        None => Vec::new(),
    };
    if area.is_empty() {
        return Err(String::from("it holds no Polygon and no MultiPolygon"));
    }
    let name = text("name").ok().flatten().map_or_else(|| format!("zone {number}"), str::to_owned);
    Ok(Zone { name, kind, area: MultiPolygon::new(area), from: time("from")?, until: time("until")? })
}

fn zone_time(text: &str) -> Result<ZoneTime, String> {
    let month_day = || {
        let (month, day) = text.split_once('-')?;
        // A leap year, so that 29 February is a day.
        let date = Date::new(2024, month.parse().ok()?, day.parse().ok()?).ok()?;
        Some(ZoneTime::EveryYear { month: date.month(), day: date.day() })
    };
    let moment = || text.contains([' ', 'T']).then(|| text.parse::<DateTime>().ok())?.map(ZoneTime::Moment);
    // A date parses as a moment as well, so it is asked first.
    let day = || (text.len() == 10).then(|| text.parse::<Date>().ok())?.map(ZoneTime::Day);
    let time = || text.contains(':').then(|| text.parse::<Time>().ok())?.map(ZoneTime::EveryDay);
    day().or_else(month_day).or_else(moment).or_else(time).ok_or_else(|| {
        format!("`{text}` is no day and no time: write it like `2025-10-06`, `11-01`, `22:00` or `2025-10-06T07:30`")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// Reads one zone with these properties; `kind from until`, or the finding's text.
    #[track_caller]
    fn check(properties: &str, expected: &str) {
        let text = format!(
            r#"{{"type":"FeatureCollection","features":[{{"type":"Feature","properties":{{{properties}}},
            "geometry":{{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]}}}}]}}"#
        );
        let (zones, findings) = read_zones(&text).unwrap();
        let got = zones
            .iter()
            .map(|z| format!("{}: {:?} {:?} {:?}", z.name, z.kind, z.from, z.until))
            .chain(findings.iter().map(|f| f.seen.to_string()))
            .collect::<String>();
        assert!(got.contains(expected), "{got}");
    }

    #[test]
    fn zones_tell_their_rule_and_its_times() {
        check(r#""zone":"closed","name":"dam""#, "dam: Closed None None");
        check(r#""zone":"slow","speed":"5 mph""#, "zone 1: Slow { m_s: 2.2352 } None None");
        check(r#""zone":"closed","from":"11-01","until":"03-15""#, "EveryYear { month: 11, day: 1 }");
        let times = zone_time("2025-10-06").unwrap();
        assert_eq!(times, ZoneTime::Day(date(2025, 10, 6)));
        assert_eq!(
            zone_time("2025-10-06T07:30").unwrap(),
            ZoneTime::Moment(date(2025, 10, 6).at(7, 30, 0, 0))
        );
        assert_eq!(zone_time("22:00").unwrap(), ZoneTime::EveryDay(Time::constant(22, 0, 0, 0)));
    }

    #[test]
    fn a_zone_that_cannot_be_used_is_told_with_its_mend() {
        check(r#""zone":"slow""#, "zone 1: a slow zone needs `speed`, like `5 mph`");
        check(r#""zone":"slow","speed":"fast""#, "`fast` is no speed");
        check(r#""zone":"slow","speed":"0 mph""#, "use zone = `closed`");
        check(r#""zone":"quiet""#, "`quiet` is no zone");
        check(r#""zone":"closed","from":"31/10""#, "`31/10` is no day and no time");
        check(r#""zone":"closed","from":"02-30""#, "`02-30` is no day");
        check("", "no property `zone`");
        assert!(read_zones("<kml/>").unwrap_err().starts_with("it is no GeoJSON"));
    }
}
