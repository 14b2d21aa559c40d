//! Where a mark's records stand. Nearly every mark has one, and a log holds a million: one needs no allocation.

use crate::terms::mark::Origin;
use std::ops::Deref;

/// The records that a mark came from: the one that won first, the rest in order. Reads as a slice.
///
/// ```
/// use shoalwright::terms::export::FileId;
/// use shoalwright::terms::mark::Origin;
/// use shoalwright::terms::sources::Sources;
///
/// let sources = Sources::from(Origin::whole_file(FileId(3)));
/// assert_eq!(sources.len(), 1);
/// assert_eq!(sources[0].file, FileId(3));
/// ```
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Sources(Held);

#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Held {
    One(Origin),
    Many(Box<[Origin]>),
}

impl From<Origin> for Sources {
    fn from(origin: Origin) -> Self {
        Self(Held::One(origin))
    }
}

impl From<Vec<Origin>> for Sources {
    fn from(origins: Vec<Origin>) -> Self {
        match origins[..] {
            [one] => Self(Held::One(one)),
            _ => Self(Held::Many(origins.into())),
        }
    }
}

impl Deref for Sources {
    type Target = [Origin];

    fn deref(&self) -> &[Origin] {
        match &self.0 {
            Held::One(origin) => std::slice::from_ref(origin),
            Held::Many(origins) => origins,
        }
    }
}

impl<'a> IntoIterator for &'a Sources {
    type Item = &'a Origin;
    type IntoIter = std::slice::Iter<'a, Origin>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}
