//! Colours of the kinds, and the styling hints written from them.
//!
//! Palette: M. Okabe and K. Ito, "Color Universal Design" (2008, jfly.uni-koeln.de/color), eight colours told apart by all common forms of
//! colour-blindness. Which kind gets which is our own choice.
//! Hints: simplestyle-spec 1.1.0, an open convention that many GeoJSON viewers follow.

use crate::terms::mark::Kind;

/// The colour of a kind, as `#rrggbb`.
#[must_use]
pub const fn of(kind: Kind) -> &'static str {
    match kind {
        Kind::Bait => "#0072B2",      // blue
        Kind::Gamefish => "#009E73",  // bluish green
        Kind::Cover => "#E69F00",     // orange
        Kind::Structure => "#56B4E9", // sky blue
        Kind::Hazard => "#D55E00",    // vermilion
        Kind::Access => "#CC79A7",    // reddish purple
        Kind::Other => "#000000",     // black
    }
}

/// Styling hints of a point, as JSON members.
pub(super) fn point(kind: Kind, size: &str) -> String {
    format!(r#""marker-color":"{}","marker-size":"{size}""#, of(kind))
}

/// Styling hints of a line, as JSON members.
pub(super) fn line(kind: Kind) -> String {
    format!(r#""stroke":"{}","stroke-width":3,"stroke-opacity":0.9"#, of(kind))
}

/// Styling hints of a contour, as JSON members: thin, in the colour of structure, so that marks stand out on it.
pub(super) fn contour() -> String {
    format!(r#""stroke":"{}","stroke-width":1,"stroke-opacity":0.8"#, of(Kind::Structure))
}

/// Styling hints of a cell, as JSON members: the colour of bait where some is told, black where none is.
pub(super) fn cell(bait: bool, opacity: f64) -> String {
    let colour = of(if bait { Kind::Bait } else { Kind::Other });
    format!(r#""stroke":"{colour}","stroke-width":0,"fill":"{colour}","fill-opacity":{opacity:.2}"#)
}

/// Styling hints of an area, as JSON members.
pub(super) fn area(kind: Kind) -> String {
    let colour = of(kind);
    format!(r#""stroke":"{colour}","stroke-width":2,"fill":"{colour}","fill-opacity":0.25"#)
}
