//! Where the practice days begin and end.

use crate::prefish::model::Ramp;
use crate::prefish::settings::Spot;
use crate::prefish::stage::{PrefishError, Wish, refuse};
use crate::terms::mark::{Kind, Mark};

/// Start, and finish where it is another place.
pub(super) fn ramps(wish: &Wish) -> Result<Vec<Ramp>, PrefishError> {
    let settings = wish.settings;
    let start = match (wish.on_water, &settings.start) {
        (Some(now), _) => Ramp { name: String::from("here"), place: now.from },
        (None, Some(spot)) => ramp(spot, "start", wish.log)?,
        (None, None) => {
            return refuse(format!(
                "no ramp is given: set prefish.start, like start = [-94.1, 35.2], or the name of an access mark{}",
                access_names(wish.log)
            ));
        }
    };
    let finish = match (&settings.finish, &settings.start) {
        (Some(spot), _) => Some(ramp(spot, "finish", wish.log)?),
        (None, Some(spot)) if wish.on_water.is_some() => Some(ramp(spot, "start", wish.log)?),
        (None, None) if wish.on_water.is_some() => {
            return refuse("no ramp to go home to is given: set prefish.start or prefish.finish");
        }
        _ => None,
    };
    Ok(std::iter::once(start).chain(finish).collect())
}

fn ramp(spot: &Spot, key: &str, log: &[Mark]) -> Result<Ramp, PrefishError> {
    match spot {
        Spot::At(place) => Ok(Ramp { name: key.to_owned(), place: *place }),
        Spot::Named(name) => {
            let named = |m: &&Mark| m.kind == Kind::Access && m.words.name().eq_ignore_ascii_case(name);
            match log.iter().filter(named).min_by_key(|m| m.id) {
                Some(mark) => Ok(Ramp { name: mark.words.name().to_owned(), place: mark.place }),
                None => refuse(format!(
                    "prefish.{key} is `{name}`, but no access mark of the log is called so{}",
                    access_names(log)
                )),
            }
        }
    }
}

/// `: the log has …` for a message.
fn access_names(log: &[Mark]) -> String {
    let mut names: Vec<&str> = log
        .iter()
        .filter(|m| m.kind == Kind::Access)
        .map(|m| m.words.name())
        .filter(|n| !n.is_empty())
        .collect();
    names.sort_unstable();
    names.dedup();
    names.truncate(12);
    if names.is_empty() {
        String::from("; the log has no access marks")
    } else {
        format!("; the log has `{}`", names.join("`, `"))
    }
}
