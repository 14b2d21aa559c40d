//! Findings that GPX and CSV share.

use super::xml_text::{TextRepair, TextRepairs};
use crate::terms::finding::{Code, Finding};
use std::io;

/// How to mend a record that was set aside.
pub(super) const MEND: &str = "mend the record in the set-aside file and read that file beside the others";

/// The finding for a file whose reading failed.
pub(super) fn unreadable_file(failed: Option<&io::Error>) -> Option<Finding> {
    let seen = format!("reading stopped: `{}`", failed?);
    Some(Finding::new(Code::FileUnreadable, seen).done("what was read before stays"))
}

/// The finding for a file without text.
pub(super) fn empty_file() -> Finding {
    Finding::new(Code::FileEmpty, "the file holds nothing").fix("export it again")
}

/// One finding a kind of repair.
pub(super) fn repair_findings(repairs: TextRepairs) -> impl Iterator<Item = Finding> {
    repairs.made().map(|repair| {
        let (code, seen, done) = match repair {
            TextRepair::Ampersand => {
                (Code::XmlAmpersand, "a bare `&` or an unknown entity stands in its texts", "read as text")
            }
            TextRepair::EscapedTwice => {
                (Code::XmlEscapedTwice, "entities in its texts are escaped twice", "unescaped once more")
            }
            TextRepair::Control => {
                (Code::ControlCharacters, "control characters stand in its texts", "taken out")
            }
            TextRepair::Encoding => {
                (Code::EncodingRepaired, "bytes in its texts are no UTF-8", "read as windows-1252")
            }
        };
        Finding::new(code, seen).done(done)
    })
}

/// The finding for a time that is none.
pub(super) fn unreadable_time(text: &str) -> Finding {
    Finding::new(Code::TimeUnreadable, format!("time is `{text}`"))
        .done("the mark is kept without a time")
        .fix("write the time as in `2024-05-01T12:00:00Z`")
}

/// The finding for a depth or temperature that is none.
pub(super) fn unreadable_number(text: &str) -> Finding {
    let shown: String = text.chars().take(40).collect();
    Finding::new(Code::NumberUnreadable, format!("depth or temperature is `{shown}`"))
        .done("left out")
        .fix("write a number, with or without a unit, as in `27 ft`")
}
