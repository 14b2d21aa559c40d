//! Finds out which column of a CSV file holds what, from its header.
//!
//! The header words are common practice, without a source. What the user named wins over what is guessed.

use super::quantity_text::{Quantity, Unit, quantity_named};
use crate::terms::export::Columns;

/// Where a mark's parts stand in a row.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Layout {
    /// Cells of the header.
    pub(super) width: usize,
    /// Latitude, longitude.
    pub(super) position: Option<Position>,
    /// Date and time, or the date alone.
    pub(super) time: Option<usize>,
    /// Time of day, where it stands apart.
    pub(super) clock: Option<usize>,
    /// Local date, for a mark that has no time.
    pub(super) local_date: Option<usize>,
    /// Whether the header says that times are UTC.
    pub(super) utc: bool,
    /// Name, sym, type, cmt, desc.
    pub(super) words: [Option<usize>; 5],
    /// What the mark is on.
    pub(super) kind: Option<usize>,
    /// Depths and temperature, with the unit that the header tells.
    pub(super) quantities: Vec<(usize, Quantity, Option<Unit>)>,
    /// Columns that the user named and the header lacks.
    pub(super) missing: Vec<String>,
}

/// Where the position stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Position {
    /// In two columns.
    Apart { lat: usize, lon: usize },
    /// In one.
    Together(usize),
}

impl Position {
    /// The last cell that a row needs.
    pub(super) fn last_cell(self) -> usize {
        match self {
            Self::Apart { lat, lon } => lat.max(lon),
            Self::Together(both) => both,
        }
    }
}

const LAT: &[&str] = &["lat", "latitude", "gpslat", "gpslatitude", "ycoord", "y"];
const LON: &[&str] = &["lon", "long", "lng", "longitude", "gpslon", "gpslong", "gpslongitude", "xcoord", "x"];
const BOTH: &[&str] = &[
    "position",
    "pos",
    "coordinates",
    "coordinate",
    "coords",
    "latlon",
    "latlong",
    "latlng",
    "latitudelongitude",
    "gps",
    "gpsposition",
    "location",
];
const MOMENT: &[&str] = &[
    "datetime",
    "dateandtime",
    "datetimeutc",
    "timestamp",
    "timestamputc",
    "when",
    "utc",
    "recorded",
    "recordedat",
    "created",
    "createdat",
    "creationtime",
    "marked",
    "markedat",
    "logged",
];
const DATE: &[&str] = &["date", "dateutc", "day"];
const CLOCK: &[&str] = &["time", "timeutc", "clock", "timeofday", "hour"];
const NAME: &[&str] = &["name", "waypoint", "waypointname", "wpt", "mark", "markname", "title", "label"];
const SYM: &[&str] = &["sym", "symbol", "icon"];
const TYPE: &[&str] = &["type", "species", "fish"];
const CMT: &[&str] = &["note", "notes", "comment", "comments", "cmt", "remark", "remarks", "memo"];
const DESC: &[&str] = &["desc", "description", "details"];
const KIND: &[&str] = &["kind", "category", "class", "what"];

impl Layout {
    /// From a header row.
    pub(super) fn of(header: &[String], named: &Columns) -> Self {
        let folded: Vec<String> = header.iter().map(|cell| fold(cell)).collect();
        let mut layout = Self { width: header.len(), ..Self::default() };
        let mut by_user = |name: &Option<String>| {
            let name = name.as_ref()?;
            let found = header.iter().position(|cell| cell.trim().eq_ignore_ascii_case(name.trim()));
            if found.is_none() {
                layout.missing.push(name.clone());
            }
            found
        };
        let user = [
            &named.lat,
            &named.lon,
            &named.time,
            &named.clock,
            &named.name,
            &named.kind,
            &named.note,
            &named.fish_depth,
            &named.water_depth,
            &named.water_temp,
        ]
        .map(&mut by_user);
        let [lat, lon, time, clock, name, kind, note, fish_depth, water_depth, water_temp] = user;
        // A column that the user gave a job has no other.
        let taken: Vec<usize> = user.into_iter().flatten().collect();
        let guess = |words: &[&str]| {
            words.iter().find_map(|word| {
                folded.iter().position(|cell| cell == word).filter(|column| !taken.contains(column))
            })
        };

        layout.position =
            match (lat.or_else(|| guess_angle(&folded, LAT)), lon.or_else(|| guess_angle(&folded, LON))) {
                (Some(lat), Some(lon)) if lat == lon => Some(Position::Together(lat)),
                (Some(lat), Some(lon)) => Some(Position::Apart { lat, lon }),
                // One column named by the user, or headed as such, may hold both.
                (None, None) => guess(BOTH).map(Position::Together),
                _ => None,
            };
        let moment = time.or_else(|| guess(MOMENT));
        (layout.time, layout.clock) = match (moment, guess(DATE), guess(CLOCK)) {
            (Some(moment), _, _) => (Some(moment), clock),
            (None, Some(date), apart) => (Some(date), clock.or(apart)),
            (None, None, time) => (time, clock),
        };
        layout.local_date = guess(&["localdate"]);
        layout.utc = [layout.time, layout.clock]
            .into_iter()
            .flatten()
            .any(|column| ["utc", "gmt", "zulu"].iter().any(|word| folded[column].contains(word)));
        layout.words =
            [name.or_else(|| guess(NAME)), guess(SYM), guess(TYPE), note.or_else(|| guess(CMT)), guess(DESC)];
        layout.kind = kind.or_else(|| guess(KIND));
        layout.quantities = quantities(header, &taken);
        for (column, quantity) in [
            (fish_depth, Quantity::FishDepth),
            (water_depth, Quantity::WaterDepth),
            (water_temp, Quantity::WaterTemp),
        ] {
            if let Some(column) = column {
                layout.quantities.retain(|(_, other, _)| *other != quantity);
                layout.quantities.push((column, quantity, unit_of(&header[column])));
            }
        }
        layout
    }
}

fn quantities(header: &[String], taken: &[usize]) -> Vec<(usize, Quantity, Option<Unit>)> {
    header
        .iter()
        .enumerate()
        .filter(|(column, _)| !taken.contains(column))
        .filter_map(|(column, cell)| {
            let (quantity, unit) = quantity_named(cell.as_bytes())?;
            Some((column, quantity, unit.or_else(|| unit_of(cell))))
        })
        .collect()
}

/// The unit in a header: what stands in brackets, or the last word.
fn unit_of(header: &str) -> Option<Unit> {
    let lower = header.to_lowercase();
    let bracketed = lower.split(['(', '[']).nth(1).map(|rest| rest.trim_end_matches([')', ']', ' ']));
    bracketed
        .and_then(Unit::from_word)
        .or_else(|| Unit::from_word(lower.rsplit([' ', '_', '-', ',', '/']).next()?))
}

/// Letters and digits in lower case.
fn fold(cell: &str) -> String {
    cell.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// A column of latitudes or longitudes: the word alone, or followed by how the angle is written.
fn guess_angle(folded: &[String], words: &[&str]) -> Option<usize> {
    const FORMS: &[&str] = &[
        "",
        "deg",
        "degrees",
        "dd",
        "decimal",
        "decimaldegrees",
        "wgs84",
        "n",
        "w",
        "e",
        "ddmm",
        "dm",
        "dms",
    ];
    words.iter().find_map(|word| {
        folded.iter().position(|cell| cell.strip_prefix(word).is_some_and(|form| FORMS.contains(&form)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::units::{DepthUnit, TemperatureUnit};

    fn layout(header: &str, named: &Columns) -> Layout {
        Layout::of(&header.split(',').map(str::to_owned).collect::<Vec<_>>(), named)
    }

    #[test]
    fn columns_are_guessed_from_many_words() {
        for header in ["Latitude,Longitude", "LAT,LNG", "lat_deg,long_deg", "Lat (dd),Lon (dd)", "y,x"] {
            let seen = layout(header, &Columns::default()).position;
            assert_eq!(seen, Some(Position::Apart { lat: 0, lon: 1 }), "{header}");
        }
        let seen = layout("Position,Date,Time,Notes,Depth (ft),Water Temp (C)", &Columns::default());
        assert_eq!(seen.position, Some(Position::Together(0)));
        assert_eq!((seen.time, seen.clock, seen.words[3]), (Some(1), Some(2), Some(3)));
        let ft = Some(Unit::Depth(DepthUnit::Feet));
        let c = Some(Unit::Temperature(TemperatureUnit::Celsius));
        assert_eq!(seen.quantities, [(4, Quantity::Depth, ft), (5, Quantity::WaterTemp, c)]);
    }

    #[test]
    fn what_the_user_named_wins() {
        let named = Columns {
            lat: Some("N".into()),
            lon: Some("w".into()),
            fish_depth: Some("Depth ft".into()),
            note: Some("gone".into()),
            ..Columns::default()
        };
        let seen = layout("N,W,Depth ft,Latitude,Comment", &named);
        assert_eq!(seen.position, Some(Position::Apart { lat: 0, lon: 1 }));
        assert_eq!(seen.quantities, [(2, Quantity::FishDepth, Some(Unit::Depth(DepthUnit::Feet)))]);
        assert_eq!(seen.missing, ["gone"]);
        assert_eq!(seen.words[3], Some(4));
    }

    #[test]
    fn a_header_without_a_position_has_none() {
        assert_eq!(layout("name,latitude,depth", &Columns::default()).position, None);
    }
}
