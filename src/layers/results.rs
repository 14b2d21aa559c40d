//! What the stages computed, as the writers take it, with the links from a mark to what it belongs to.

use crate::effort::{self, CellEffort, Effort};
use crate::layers::prefish::Planned;
use crate::movement::Movement;
use crate::outlook::{Outlook, OutlookCell, OutlookPlace};
use crate::schools::{HoldingArea, Pairing, Sighting};
use crate::soundings::{Bottom, Contour};
use crate::terms::export::{Export, FileId};
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark, Origin};
use crate::terms::pool::lies_still;
use geo::{BoundingRect, Coord, Intersects};
use jiff::civil::Date;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::borrow::Cow;
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// Everything that layers and tables are written from.
pub struct Results<'a> {
    /// The lake.
    pub lake: &'a Lake,
    /// The inputs; a `FileId` is a place in this list.
    pub exports: &'a [Export],
    /// The merged log.
    pub log: &'a [Mark],
    /// Sightings over the log.
    pub sightings: &'a [Sighting],
    /// Holding areas over the sightings.
    pub areas: &'a [HoldingArea],
    /// Movement over the sightings.
    pub movement: &'a Movement,
    /// Side of a cell in metres.
    pub(super) cell_m: f64,
    /// Effort by cell with the bait sightings in it.
    pub(super) effort: Vec<(CellEffort, usize)>,
    /// Bait and gamefish side by side.
    pub pairing: Option<&'a Pairing>,
    /// The outlook, where one was made.
    pub(super) outlook: Option<&'a Outlook>,
    /// Contours of the bottom.
    pub contours: &'a [Contour],
    /// Level in metres from which their depths are counted, where levels are given.
    pub(super) contour_surface_m: Option<f64>,
    /// The pre-fish plan.
    pub planned: Option<Planned<'a>>,
    /// The day that water over hazards and cover is told for, `None`: no date was asked about; and how much water over a
    /// hazard is enough, in metres.
    ahead: (Option<Date>, f64),
    /// Sighting of each mark, as a place in `sightings`.
    sighting_of: Vec<Option<u32>>,
    /// Holding area of each mark, as a place in `areas`.
    area_of: Vec<Option<u32>>,
}

impl<'a> Results<'a> {
    /// Gathers the results and links each mark to its sighting and holding area. An undated mark has no sighting;
    /// it gets the area of its kind in whose hull it lies, which is a result of place alone. Of several such areas
    /// the one with most sightings is taken, then the first.
    #[must_use]
    pub fn new(
        lake: &'a Lake,
        exports: &'a [Export],
        log: &'a [Mark],
        sightings: &'a [Sighting],
        areas: &'a [HoldingArea],
        movement: &'a Movement,
    ) -> Self {
        let mut sighting_of = vec![None; log.len()];
        let mut area_of = vec![None; log.len()];
        for (number, sighting) in (0..).zip(sightings) {
            for mark in &sighting.marks {
                sighting_of[*mark] = Some(number);
                area_of[*mark] = sighting.area.map(|area| area as u32);
            }
        }
        let hulls = Hulls::over(areas);
        for (mark, area) in log.iter().zip(&mut area_of).filter(|(mark, _)| mark.day.is_none()) {
            *area = hulls.around(mark);
        }
        let (cell_m, effort) = (0.0, Vec::new());
        Self {
            lake,
            exports,
            log,
            sightings,
            areas,
            movement,
            cell_m,
            effort,
            pairing: None,
            outlook: None,
            contours: &[],
            contour_surface_m: None,
            planned: None,
            ahead: (None, 0.0),
            sighting_of,
            area_of,
        }
    }

    /// The same with what the log shows of bait and gamefish together.
    #[must_use]
    pub fn with_pairing(mut self, pairing: Option<&'a Pairing>) -> Self {
        self.pairing = pairing;
        self
    }

    /// The same with the contours of the bottom.
    #[must_use]
    pub fn with_bottom(mut self, bottom: &'a Bottom) -> Self {
        self.contours = &bottom.contours;
        self.contour_surface_m = bottom.surface.level_m();
        self
    }

    /// The same with a pre-fish plan.
    #[must_use]
    pub fn with_plan(mut self, planned: Option<Planned<'a>>) -> Self {
        self.planned = planned;
        self
    }

    /// The same with the day that the user looks ahead to, and how much water over a hazard is enough, in metres.
    #[must_use]
    pub fn with_date(mut self, date: Option<Date>, clearance_m: f64) -> Self {
        self.ahead = (date, clearance_m);
        self
    }

    /// The day looked ahead to.
    pub(super) const fn ahead(&self) -> Option<Date> {
        self.ahead.0
    }

    /// How much water over a hazard is enough, in metres.
    pub(super) const fn clearance_m(&self) -> f64 {
        self.ahead.1
    }

    /// Level of the day looked ahead to, in metres.
    pub(super) fn level_ahead_m(&self) -> Option<f64> {
        self.ahead().and_then(|date| self.lake.level_ahead_m(date))
    }

    /// Marks of what lies still while the water rises and falls, as places in the log.
    pub(super) fn standing(&self) -> impl Iterator<Item = usize> + Clone {
        (0..self.log.len()).filter(|i| lies_still(self.log[*i].kind))
    }

    /// A merged log of which nothing further was computed.
    #[must_use]
    pub fn of_log(lake: &'a Lake, exports: &'a [Export], log: &'a [Mark]) -> Self {
        static NO_MOVEMENT: Movement =
            Movement { tracks: Vec::new(), season_shifts: Vec::new(), findings: Vec::new() };
        Self::new(lake, exports, log, &[], &[], &NO_MOVEMENT)
    }

    /// Adds the effort, and counts the bait sightings in its cells.
    #[must_use]
    pub fn with_effort(mut self, effort: &Effort) -> Self {
        let mut in_cell: BTreeMap<effort::Cell, usize> = BTreeMap::new();
        for sighting in self.sightings.iter().filter(|s| s.kind == Kind::Bait && effort.cell_m > 0.0) {
            *in_cell.entry(effort::Cell::at(sighting.plane, effort.cell_m)).or_default() += 1;
        }
        self.cell_m = effort.cell_m;
        self.effort =
            effort.by_cell().into_iter().map(|e| (e, in_cell.get(&e.cell).copied().unwrap_or(0))).collect();
        self
    }

    /// Adds the outlook.
    #[must_use]
    pub fn with_outlook(mut self, outlook: Option<&'a Outlook>) -> Self {
        self.outlook = outlook;
        self
    }

    /// The date of the outlook; `None`: there is no outlook, or it says nothing of any cell.
    #[must_use]
    pub fn outlook_date(&self) -> Option<Date> {
        self.outlook.filter(|outlook| !outlook.cells.is_empty()).map(|outlook| outlook.date)
    }

    /// The cells of the outlook; none where there is no outlook.
    pub(super) fn outlook_cells(&self) -> &'a [OutlookCell] {
        self.outlook.map_or(&[], |o| &o.cells)
    }

    /// The places of the outlook; none where there is no outlook.
    pub(super) fn outlook_places(&self) -> &'a [OutlookPlace] {
        self.outlook.map_or(&[], |o| &o.places)
    }

    /// The sighting that a mark of the log belongs to.
    #[must_use]
    pub fn sighting_of(&self, mark: usize) -> Option<&'a Sighting> {
        self.sighting_of[mark].map(|number| &self.sightings[number as usize])
    }

    /// The holding area that a mark of the log belongs to.
    #[must_use]
    pub fn area_of(&self, mark: usize) -> Option<&'a HoldingArea> {
        self.area_of[mark].map(|number| &self.areas[number as usize])
    }

    /// Where the records of a mark stand: `file#record`, the one that won first.
    pub(super) fn sources(&self, mark: &Mark) -> Vec<Cow<'a, str>> {
        let source =
            |origin: &Origin| Cow::Owned(format!("{}#{}", label(self.exports, origin.file), origin.record));
        mark.sources.iter().map(source).collect()
    }
}

/// How outputs name a file.
pub(super) fn label(exports: &[Export], file: FileId) -> &str {
    exports.get(file.0 as usize).map_or("", |export| &export.label)
}

/// The hulls of the holding areas, found by place.
struct Hulls<'a> {
    areas: &'a [HoldingArea],
    boxes: RTree<GeomWithData<Rectangle<[f64; 2]>, usize>>,
}

impl<'a> Hulls<'a> {
    fn over(areas: &'a [HoldingArea]) -> Self {
        let boxes = areas.iter().enumerate().filter_map(|(number, area)| {
            let bounds = area.hull.bounding_rect()?;
            let corners = [bounds.min(), bounds.max()].map(|c| [c.x, c.y]);
            Some(GeomWithData::new(Rectangle::from_corners(corners[0], corners[1]), number))
        });
        Self { areas, boxes: RTree::bulk_load(boxes.collect()) }
    }

    fn around(&self, mark: &Mark) -> Option<u32> {
        let place = Coord { x: mark.place.lon, y: mark.place.lat };
        self.boxes
            .locate_in_envelope_intersecting(&AABB::from_point([place.x, place.y]))
            .map(|found| found.data)
            .filter(|area| self.areas[*area].kind == mark.kind && self.areas[*area].hull.intersects(&place))
            .min_by_key(|area| (Reverse(self.areas[*area].sightings.len()), *area))
            .map(|area| area as u32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::codes::Codes;
    use crate::terms::id::Id;
    use crate::terms::mark::{Kind, Words};
    use crate::terms::place::Place;
    use crate::terms::season::SeasonDay;
    use geo::{Polygon, Rect};

    fn area(kind: Kind, west: f64, sightings: usize) -> HoldingArea {
        let day = SeasonDay::from_days(0.0);
        let hull: Polygon<f64> = Rect::new((west, 0.0), (west + 2.0, 1.0)).to_polygon();
        HoldingArea {
            id: Id::of('a', &[&west.to_string()]),
            kind,
            sightings: vec![0; sightings],
            marks: sightings,
            outings: sightings,
            seasons: vec![2024],
            first_day: day,
            last_day: day,
            peak_day: day,
            fish_depth: None,
            water_depth_median: None,
            water_temp: None,
            centre: Place { lon: west + 1.0, lat: 0.5 },
            radius_m: 100.0,
            hull,
            gamefish: None,
        }
    }

    /// The area found around an undated mark on a row of overlapping hulls.
    fn check(kind: Kind, lon: f64, expected: Option<u32>) {
        let areas = [
            area(Kind::Bait, 0.0, 4),
            area(Kind::Bait, 1.0, 9),
            area(Kind::Bait, 1.0, 9),
            area(Kind::Gamefish, 2.5, 4),
        ];
        let mark = Mark {
            id: Id::of('m', &[]),
            place: Place { lon, lat: 0.5 },
            time: None,
            day: None,
            kind,
            fish_depth: None,
            water_depth: None,
            water_temp: None,
            words: Words::default(),
            note: "".into(),
            sources: vec![].into(),
            repairs: Codes::default(),
        };
        assert_eq!(Hulls::over(&areas).around(&mark), expected, "{kind:?} at {lon}");
    }

    #[test]
    fn an_undated_mark_belongs_to_the_area_of_its_kind_with_most_sightings() {
        check(Kind::Bait, 0.5, Some(0));
        check(Kind::Bait, 1.5, Some(1)); // in all three; of two alike the first
        check(Kind::Bait, 3.0, Some(1)); // on the edge; a gamefish area does not count
        check(Kind::Bait, 4.0, None);
        check(Kind::Cover, 1.5, None);
    }
}
