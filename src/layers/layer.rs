//! A layer: features in a fixed order, for whichever format writes them.
//!
//! A feature is made when it is asked for and dropped when it is written, so a writer holds one at a time. Formats ask
//! twice: for the shapes, whose bounds stand at the head, and for the features.

use crate::layers::Results;
use crate::layers::cell::Cell;
use crate::layers::properties::Column;
use crate::layers::shape::{Bounds, Shape, ShapeKind, around};
use std::io;

/// What a layer is called and holds.
pub struct Layer<'a> {
    /// Stem of its file and name of its table: `area-centres`.
    pub name: &'static str,
    /// What a person reads in a list of layers.
    pub(super) title: &'static str,
    /// One sentence on what its features are.
    pub(super) about: &'static str,
    pub(super) kind: ShapeKind,
    pub(super) results: &'a Results<'a>,
    things: Box<dyn Things + 'a>,
}

/// One thing of a layer.
pub(super) struct Feature<'f> {
    pub(super) id: String,
    pub(super) shape: Shape,
    /// The values, in the order of the columns.
    pub(super) cells: Vec<Cell<'f>>,
    /// Styling hints, as JSON members.
    pub(super) style: String,
}

impl Layer<'_> {
    /// The names of the columns after `id`.
    pub(super) fn columns(&self) -> Vec<&str> {
        self.things.columns()
    }

    /// West, south, east, north of the positions as written; `None` when there are none.
    pub(super) fn bounds(&self) -> Option<Bounds> {
        let mut bounds: Option<Bounds> = None;
        self.things.each_shape(&mut |shape| {
            bounds = bounds.into_iter().chain(shape.bounds()).reduce(around);
        });
        bounds
    }

    /// Hands out the shapes in order.
    pub(super) fn each_shape(&self, look: &mut dyn FnMut(&Shape)) {
        self.things.each_shape(look);
    }

    /// Hands out the features in order, until one cannot be written.
    pub(super) fn each(&self, write: &mut dyn FnMut(Feature<'_>) -> io::Result<()>) -> io::Result<()> {
        self.things.each(write)
    }
}

/// Features of any numbering, so that layers of all kinds stand in one list.
trait Things: Sync {
    fn columns(&self) -> Vec<&str>;
    fn each_shape(&self, look: &mut dyn FnMut(&Shape));
    fn each(&self, write: &mut dyn FnMut(Feature<'_>) -> io::Result<()>) -> io::Result<()>;
}

/// How the thing numbered `I` is named, drawn and described.
pub(super) struct Collection<'a, I> {
    pub(super) name: &'static str,
    pub(super) title: &'static str,
    pub(super) about: &'static str,
    pub(super) kind: ShapeKind,
    pub(super) results: &'a Results<'a>,
    pub(super) columns: Vec<Column<I>>,
    pub(super) id: fn(&Results<'_>, I) -> String,
    pub(super) shape: fn(&Results<'_>, I) -> Shape,
    /// Styling hints, as JSON members.
    pub(super) style: fn(&Results<'_>, I) -> String,
}

impl<'a, I: Copy + Sync + 'a> Collection<'a, I> {
    /// The layer of the things with these numbers, in their order.
    pub(super) fn over(self, numbers: impl Iterator<Item = I> + Clone + Sync + 'a) -> Layer<'a> {
        Layer {
            name: self.name,
            title: self.title,
            about: self.about,
            kind: self.kind,
            results: self.results,
            things: Box::new(Numbered { collection: self, numbers }),
        }
    }
}

struct Numbered<'a, I, N> {
    collection: Collection<'a, I>,
    numbers: N,
}

impl<I: Copy + Sync, N: Iterator<Item = I> + Clone + Sync> Things for Numbered<'_, I, N> {
    fn columns(&self) -> Vec<&str> {
        self.collection.columns.iter().map(|column| column.name.as_str()).collect()
    }

    fn each_shape(&self, look: &mut dyn FnMut(&Shape)) {
        let of = &self.collection;
        self.numbers.clone().for_each(|number| look(&(of.shape)(of.results, number)));
    }

    fn each(&self, write: &mut dyn FnMut(Feature<'_>) -> io::Result<()>) -> io::Result<()> {
        let of = &self.collection;
        self.numbers.clone().try_for_each(|number| {
            write(Feature {
                id: (of.id)(of.results, number),
                shape: (of.shape)(of.results, number),
                cells: of.columns.iter().map(|column| (column.read)(of.results, number)).collect(),
                style: (of.style)(of.results, number),
            })
        })
    }
}
