//! Where a place stands: in the water that the boat is in, moved into it, or out of reach.

use super::polygons::inside;
use super::sight::metres;
use super::{MOVED_AT_MOST_M, Waters, coord, plane_point};
use crate::terms::finding::{Code, Finding};
use crate::terms::place::Place;
use geo::{Coord, MultiPolygon, Polygon};

/// How far past the edge of the water a moved place is set, in metres: the first that lies in water.
const PAST_SHORE_M: [f64; 4] = [1.0, 0.1, 0.01, 0.001];

/// Where a place stands.
#[derive(Clone, Debug, PartialEq)]
pub enum Standing {
    /// In open water.
    Afloat,
    /// On land near the water, or nearer to a hazard than the boat keeps: moved into open water.
    Moved {
        /// Where to.
        to: Place,
        /// How far, in metres.
        by_m: f64,
        /// Whether a hazard was the reason, and not land.
        off_hazard: bool,
    },
    /// In another water than the start.
    OtherWater,
    /// On land, further from the water than a stop is moved.
    OnLand {
        /// Metres to the water; infinite when there is none.
        metres: f64,
    },
    /// In a closed area, with its name.
    Closed {
        /// The area's name.
        zone: String,
    },
}

impl Standing {
    /// Whether legs can lead there.
    #[must_use]
    pub const fn is_afloat(&self) -> bool {
        matches!(self, Self::Afloat | Self::Moved { .. })
    }

    /// What is told about a stop of that standing; `None` for one afloat.
    #[must_use]
    pub fn finding(&self, name: &str) -> Option<Finding> {
        let at = |code, seen: String| {
            let mut finding = Finding::new(code, seen);
            finding.name = name.into();
            finding
        };
        Some(match self {
            Self::Afloat => return None,
            Self::Moved { by_m, off_hazard: false, .. } => {
                at(Code::StopMoved, format!("`{name}` lies on land, `{by_m:.0} m` from the water"))
                    .done("moved to the nearest water of the start")
                    .fix("nothing when the place is right; else mend its position")
            }
            Self::Moved { by_m, .. } => {
                at(Code::StopMoved, format!("`{name}` lies nearer to a hazard mark than the boat keeps"))
                    .done(format!("moved `{by_m:.0} m`, off the hazard"))
                    .fix("look at the hazard before going closer")
            }
            Self::OtherWater => {
                at(Code::StopOtherWater, format!("`{name}` lies in another water than the start"))
                    .done("left out of the plan")
                    .fix("mend its position, or draw the passage into the shoreline")
            }
            Self::OnLand { metres } if metres.is_finite() => {
                at(Code::StopOnLand, format!("`{name}` lies on land, `{metres:.0} m` from the water"))
                    .done("left out of the plan")
                    .fix(format!("move it to within {MOVED_AT_MOST_M} m of the water"))
            }
            Self::OnLand { .. } => at(Code::StopOnLand, format!("no open water lies near `{name}`"))
                .done("left out of the plan")
                .fix("look at the shoreline and the closed areas"),
            Self::Closed { zone } => {
                at(Code::StopClosed, format!("`{name}` lies in the closed area `{zone}`"))
                    .done("left out of the plan")
                    .fix("take the stop out, or mend the area or its dates")
            }
        })
    }
}

impl Waters {
    /// The number of the water that a place lies in or is nearest to.
    pub(super) fn water_near(&self, at: Coord<f64>) -> Option<usize> {
        self.water_at(at).or_else(|| {
            let (foot, _) = self.shore.feet(at).next()?;
            past(at, foot).find_map(|to| self.water_at(to))
        })
    }

    fn water_at(&self, at: Coord<f64>) -> Option<usize> {
        self.water.iter().position(|p| holds(p, at))
    }

    /// Where a place stands for a boat in the water numbered `home`, and where it counts from.
    pub(super) fn stand(&self, at: Coord<f64>, home: usize) -> (Standing, Coord<f64>) {
        let triangles = self.banks.mesh.triangles_at(at);
        if let Some(t) = triangles.first() {
            let [a, b, c] = self.banks.mesh.corners(*t);
            let afloat = self.water_at((a + b + c) / 3.0).is_none_or(|water| water == home);
            return (if afloat { Standing::Afloat } else { Standing::OtherWater }, at);
        }
        if let Some(zone) = self.closed_at(at) {
            return (Standing::Closed { zone }, at);
        }
        let water = self.water_at(at);
        if water.is_some_and(|water| water != home) {
            return (Standing::OtherWater, at);
        }
        let mut land_m = f64::INFINITY;
        for (foot, foot_m) in self.banks.edges.feet(at) {
            let moved = self.past_edge(at, foot, home);
            if foot_m > MOVED_AT_MOST_M {
                land_m = foot_m;
                break;
            }
            if let Some(to) = moved {
                let by_m = metres(at, to);
                let to_place = self.plane.to_place(plane_point(to));
                return (Standing::Moved { to: to_place, by_m, off_hazard: water.is_some() }, to);
            }
        }
        (Standing::OnLand { metres: land_m }, at)
    }

    fn closed_at(&self, at: Coord<f64>) -> Option<String> {
        self.closed.iter().find(|(_, area)| holds_any(area, at)).map(|(name, _)| name.clone())
    }

    /// Open water of `home` just past its edge.
    fn past_edge(&self, from: Coord<f64>, edge: Coord<f64>, home: usize) -> Option<Coord<f64>> {
        past(from, edge)
            .find(|to| !self.banks.mesh.triangles_at(*to).is_empty() && self.water_at(*to) == Some(home))
    }

    /// The point of the plane that a place in degrees stands for.
    pub(super) fn to_plane(&self, place: Place) -> Coord<f64> {
        coord(self.plane.to_plane(place))
    }
}

/// Places just past an edge of the water, as seen from a place on its other side.
fn past(from: Coord<f64>, edge: Coord<f64>) -> impl Iterator<Item = Coord<f64>> {
    let length = metres(from, edge);
    let ahead = if length > 0.0 { (edge - from) / length } else { Coord { x: 1.0, y: 0.0 } };
    PAST_SHORE_M.iter().map(move |past| edge + ahead * *past)
}

fn holds(polygon: &Polygon<f64>, at: Coord<f64>) -> bool {
    inside(std::iter::once(polygon.exterior()).chain(polygon.interiors()), at)
}

fn holds_any(area: &MultiPolygon<f64>, at: Coord<f64>) -> bool {
    area.iter().any(|p| holds(p, at))
}
