//! layers: everything in, GeoJSON, GeoPackage, GPX and CSV out.
//!
//! Does not: compute what a stage should have computed; open files (it writes to what it is handed).
//! Standards: GeoJSON RFC 7946, GeoPackage 1.3 (OGC 12-128r18), GPX 1.1, CSV RFC 4180, simplestyle-spec 1.1.0 for the styling hints.
//!
//! What a layer says about a thing stands once, in `properties`; `geojson`, `geopackage` and `tables` write the same columns.
//! A lake across the antimeridian is not supported: its layers would span the globe.

use crate::terms::mark::Kind;
use serde::{Deserialize, Deserializer, Serialize, de};
use std::collections::BTreeMap;

mod cell;
mod fields;
mod layer;
mod prefish;
mod properties;
mod results;
mod shape;
mod sheet_cautions;
mod xml;
pub mod all;
pub mod boat;
pub mod boat_marks;
pub mod boat_route;
pub mod caution;
pub mod colours;
pub mod columnar;
pub mod geojson;
pub mod geopackage;
pub mod gpx;
pub mod sheet;
pub mod tables;

pub use layer::Layer;
pub use prefish::Planned;
pub use results::Results;

/// What writes the files, with its version: GeoJSON `generator`, GPX `creator`.
pub const GENERATOR: &str = concat!("shoalwright ", env!("CARGO_PKG_VERSION"));

/// The `[output]` table of the settings.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// The output folder; default `out`.
    pub dir: String,
    /// Longest waypoint name written for the boat, in ASCII characters, 4 to 64. Default 12: old units keep 8 to 12,
    /// newer ones 20 to 30 (common practice, no source).
    #[serde(deserialize_with = "name_length")]
    pub name_length: usize,
    /// Text of GPX `sym` for a kind, in the words of the user's unit. Default: none is written, because symbol
    /// names differ from unit to unit.
    pub symbols: BTreeMap<Kind, String>,
    /// Most waypoints in a file for the boat, 1 or more. Default: not limited. Units hold some thousands (common practice,
    /// no source); what is left out is told.
    #[serde(deserialize_with = "most_marks", skip_serializing_if = "Option::is_none")]
    pub most_marks: Option<usize>,
    /// Whether `merge` writes its GPX for the boat, as `boat/marks.gpx` is. Default false: names and symbols stay as
    /// they were.
    pub for_boat: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            dir: String::from("out"),
            name_length: 12,
            symbols: BTreeMap::new(),
            most_marks: None,
            for_boat: false,
        }
    }
}

fn name_length<'de, D: Deserializer<'de>>(deserializer: D) -> Result<usize, D::Error> {
    // Read as i64, so that a negative number gets the same sentence as one that is too large.
    let length = i64::deserialize(deserializer)?;
    usize::try_from(length).ok().filter(|length| (4..=64).contains(length)).ok_or_else(|| {
        de::Error::custom(format!("`{length}` is no length of a waypoint name: write a number from 4 to 64"))
    })
}

fn most_marks<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<usize>, D::Error> {
    let most = i64::deserialize(deserializer)?;
    usize::try_from(most).ok().filter(|most| *most > 0).map(Some).ok_or_else(|| {
        de::Error::custom(format!(
            "`{most}` is no number of marks: write 1 or more, or leave the setting out"
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(toml: &str, expected: Result<(usize, &str), &str>) {
        match (toml::from_str::<Settings>(toml), expected) {
            (Ok(settings), Ok((length, bait))) => {
                let symbol = settings.symbols.get(&Kind::Bait).map_or("", String::as_str);
                assert_eq!((settings.name_length, symbol), (length, bait));
            }
            (Err(error), Err(part)) => assert!(error.to_string().contains(part), "{error}"),
            (got, _) => panic!("{toml}: {got:?}"),
        }
    }

    #[test]
    fn settings_keep_names_between_4_and_64_characters_and_know_their_keys() {
        check("", Ok((12, "")));
        check("name_length = 8\nsymbols = { bait = \"Fish, small\" }", Ok((8, "Fish, small")));
        check("name_length = 3", Err("`3` is no length of a waypoint name: write a number from 4 to 64"));
        check("most_marks = 0", Err("`0` is no number of marks: write 1 or more, or leave the setting out"));
        check("name_length = -8", Err("`-8`"));
        check("name_lenght = 8", Err("unknown field `name_lenght`"));
        check("symbols = { shad = \"x\" }", Err("unknown variant `shad`"));
    }
}
