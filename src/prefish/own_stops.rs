//! The user's own stops: a CSV with the columns name, lon, lat, value, `search_min`, earliest, latest, must and group.

use crate::prefish::model::Want;
use crate::prefish::settings::read_clock;
use crate::terms::finding::{Code, Finding};
use crate::terms::place::Place;
use jiff::civil::Time;

/// A stop of the user's.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnStop {
    /// Its name; never empty.
    pub name: String,
    /// Where it is.
    pub place: Place,
    /// Chance to meet fish in the search, or another worth.
    pub value: f64,
    /// Minutes of search; `None`: as many as `search_time`.
    pub search_min: Option<f64>,
    /// Earliest begin of the search.
    pub earliest: Option<Time>,
    /// Latest begin of the search.
    pub latest: Option<Time>,
    /// Whether it is wanted.
    pub want: Want,
    /// Stops of one group look for one school.
    pub group: Option<String>,
}

/// Reads stops. A row that cannot be used is told and left out; a table without its columns is told as a whole.
#[must_use]
pub fn read_stops(text: &str) -> (Vec<OwnStop>, Vec<Finding>) {
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let told = |seen: String| {
        Finding::new(Code::StopUnreadable, seen).done("left out of the plan").fix("mend it in the stops file")
    };
    let (mut stops, mut findings) = (Vec::new(), Vec::new());
    let headers = match reader.headers() {
        Ok(headers) => headers.clone(),
        Err(error) => return (stops, vec![told(format!("the stops file is no CSV: {error}"))]),
    };
    let column = |word: &str| headers.iter().position(|h| h.eq_ignore_ascii_case(word));
    let missing: Vec<&str> =
        ["name", "lon", "lat", "value"].into_iter().filter(|word| column(word).is_none()).collect();
    if !missing.is_empty() {
        let here = headers.iter().collect::<Vec<_>>().join(", ");
        let seen = format!("the stops file has no column `{}` (columns here: {here})", missing.join("`, `"));
        return (stops, vec![told(seen)]);
    }
    for (number, row) in (2..).zip(reader.records()) {
        let row = match row {
            Ok(row) => row,
            Err(error) => {
                findings.push(told(format!("line {number} of the stops file: {error}")));
                continue;
            }
        };
        let line = row.position().map_or(number, csv::Position::line);
        if row.iter().all(str::is_empty) {
            continue;
        }
        let cell = |word: &str| column(word).and_then(|c| row.get(c)).filter(|text| !text.is_empty());
        match stop(cell) {
            Ok(stop) => stops.push(stop),
            Err(what) => findings.push(told(format!("line {line} of the stops file: {what}"))),
        }
    }
    (stops, findings)
}

fn stop<'a>(cell: impl Fn(&str) -> Option<&'a str>) -> Result<OwnStop, String> {
    let name = cell("name").ok_or("it has no name")?;
    let number = |word: &str| -> Result<Option<f64>, String> {
        cell(word)
            .map(|text| {
                let number = text.parse::<f64>().ok().filter(|n| n.is_finite());
                number.ok_or_else(|| format!("`{name}`: `{text}` is no number for `{word}`"))
            })
            .transpose()
    };
    let needed = |word: &str| number(word)?.ok_or_else(|| format!("`{name}` has no `{word}`"));
    let (lon, lat) = (needed("lon")?, needed("lat")?);
    let place = Place::new(lon, lat)
        .ok_or_else(|| format!("`{name}`: `{lon}, {lat}` is no place: lon is -180 to 180, lat -90 to 90"))?;
    let value = needed("value")?;
    let group = cell("group").map(str::to_owned);
    if value < 0.0 || value > 1.0 && group.is_some() {
        return Err(format!(
            "`{name}`: a value of `{value}` cannot be used: write a chance from 0 to 1{}",
            if group.is_some() { ", as it stands in a group" } else { ", or another worth above 0" }
        ));
    }
    let search_min = number("search_min")?;
    if search_min.is_some_and(|minutes| !(0.0..=720.0).contains(&minutes)) {
        return Err(format!("`{name}`: search_min must be 0 to 720 minutes"));
    }
    let clock = |word: &str| {
        cell(word).map(|text| read_clock(text).map_err(|e| format!("`{name}`, {word}: {e}"))).transpose()
    };
    let (earliest, latest) = (clock("earliest")?, clock("latest")?);
    if earliest.zip(latest).is_some_and(|(earliest, latest)| latest < earliest) {
        return Err(format!(
            "`{name}`: latest comes before earliest; hours that pass midnight cannot be planned"
        ));
    }
    let want = match cell("must").map(str::to_lowercase).as_deref() {
        None | Some("no" | "false" | "0") => Want::May,
        Some("yes" | "true" | "1" | "x" | "must") => Want::Must,
        Some("never") => Want::Never,
        Some(other) => return Err(format!("`{name}`: must is `{other}`; write yes, no or never")),
    };
    Ok(OwnStop { name: name.to_owned(), place, value, search_min, earliest, latest, want, group })
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "name,lon,lat,value,search_min,earliest,latest,must,group\n";

    /// Reads rows under the usual header; what is read, or what is told.
    #[track_caller]
    fn check(rows: &str, expected: &str) {
        let (stops, findings) = read_stops(&format!("{HEAD}{rows}"));
        let got = stops
            .iter()
            .map(|s| format!("{} {} {:?} {:?}", s.name, s.value, s.want, s.group))
            .chain(findings.iter().map(|f| f.seen.to_string()))
            .collect::<Vec<_>>()
            .join("; ");
        assert!(got.contains(expected), "{got}");
    }

    #[test]
    fn rows_are_read_with_their_hours_and_wishes() {
        check("Point 7,-94.1,35.2,0.4,20,07:00,09:30,yes,A\n", "Point 7 0.4 Must Some(\"A\")");
        check("Hump,-94.1,35.2,0.4\n", "Hump 0.4 May None");
        check("Dam,-94.1,35.2,0.4,,,,never,\n", "Dam 0.4 Never None");
        let (stops, _) = read_stops(&format!("{HEAD}P,-94.1,35.2,0.4,20,07:00,09:30,,\n"));
        assert_eq!(stops[0].earliest, Some(Time::constant(7, 0, 0, 0)));
        assert_eq!(stops[0].latest, Some(Time::constant(9, 30, 0, 0)));
    }

    #[test]
    fn a_row_that_cannot_be_used_is_told_with_its_line_and_the_rest_goes_on() {
        check("A,-94.1,95,0.4\nB,-94.1,35.2,0.4\n", "B 0.4");
        check("A,-94.1,95,0.4\n", "line 2 of the stops file: `A`: `-94.1, 95` is no place");
        check("A,-94.1,35.2,high\n", "`high` is no number for `value`");
        check("A,-94.1,35.2,1.4,,,,,G\n", "write a chance from 0 to 1, as it stands in a group");
        check("A,-94.1,35.2,0.4,20,22:00,02:00\n", "hours that pass midnight cannot be planned");
        check("A,-94.1,35.2,0.4,20,7am\n", "`7am` is no time of day");
        check("A,-94.1,35.2,0.4,20,,,maybe\n", "write yes, no or never");
        check(",-94.1,35.2,0.4\n", "it has no name");
        let (_, findings) = read_stops("name,x,y\nA,1,2\n");
        assert!(findings[0].seen.contains("no column `lon`, `lat`, `value`"), "{}", findings[0].seen);
    }
}
