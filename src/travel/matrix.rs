//! Shortest times between all pairs of some places.

use super::levels::Access;
use super::mesh::Mesh;
use super::pace::Pace;
use super::search::{Label, Spot, Ways};
use super::sight::metres;
use super::standing::Standing;
use super::{MARGIN_SHARES, Waters, plane_point};
use crate::terms::finding::{Code, Finding};
use crate::terms::place::Place;
use geo::Coord;
use rayon::prelude::*;

/// What the quickest way from one place to another takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trip {
    /// Seconds under way.
    pub seconds: f64,
    /// Length of the way in metres.
    pub metres: f64,
    /// Seconds of them below running speed: in slow areas, and near the shore at either end.
    pub slow_seconds: f64,
    /// By how many seconds a way that may cross edges of slow areas anywhere could be quicker, at most.
    pub slack_seconds: f64,
    /// Straight distance in metres, over land too.
    pub straight_m: f64,
    /// Distance kept from the shore in metres, but for the ends.
    pub kept_off_m: f64,
    /// No shoreline is known: the leg takes no account of land.
    pub straight: bool,
    route: Route,
}

/// Through which water a way goes.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Route {
    Level(usize),
    /// All of it nearer to the shore than the margin.
    Banks,
}

/// Trips between places, and where each place stands.
#[derive(Debug)]
pub struct Matrix<'w> {
    waters: &'w Waters,
    standings: Vec<Standing>,
    at: Vec<Coord<f64>>,
    /// By level, then place.
    access: [Vec<Option<Access>>; MARGIN_SHARES.len()],
    trips: Vec<Option<Trip>>,
}

impl Waters {
    /// Quickest ways between all pairs of places. The boat starts at the place numbered `home`, and what it cannot
    /// reach from that water is out of reach.
    #[must_use]
    pub fn matrix(&self, places: &[Place], home: usize) -> Matrix<'_> {
        let at: Vec<_> = places.iter().map(|p| self.to_plane(*p)).collect();
        self.matrix_on_plane(&at, home)
    }

    /// As [`Waters::matrix`], for places of the plane in metres.
    #[must_use]
    pub fn matrix_on_plane(&self, places: &[Coord<f64>], home: usize) -> Matrix<'_> {
        let water = places.get(home).and_then(|at| self.water_near(*at)).unwrap_or(0);
        let (standings, at): (Vec<_>, Vec<_>) = places.iter().map(|at| self.stand(*at, water)).unzip();
        let mut matrix = Matrix {
            waters: self,
            trips: vec![None; at.len() * at.len()],
            access: std::array::from_fn(|_| vec![None; at.len()]),
            standings,
            at,
        };
        for level in 0..MARGIN_SHARES.len() {
            if !matrix.fill(level) {
                break;
            }
        }
        matrix
    }
}

impl Matrix<'_> {
    /// Where each place stands.
    #[must_use]
    pub fn standings(&self) -> &[Standing] {
        &self.standings
    }

    /// The number of places.
    #[must_use]
    pub fn len(&self) -> usize {
        self.at.len()
    }

    /// Whether there are no places.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.at.is_empty()
    }

    /// The place as legs lead to it: moved into the water where it had to be.
    #[must_use]
    pub fn place(&self, number: usize) -> Place {
        self.waters.plane.to_place(plane_point(self.at[number]))
    }

    /// The trip between two places; `None`: no way leads there. A trip back takes what the trip out takes.
    #[must_use]
    pub fn trip(&self, from: usize, to: usize) -> Option<&Trip> {
        self.trips[from * self.len() + to].as_ref()
    }

    /// What is told of a leg that keeps off the shore less than the settings ask for.
    #[must_use]
    pub fn leg_finding(&self, from: usize, to: usize, name: &str) -> Option<Finding> {
        let trip = self.trip(from, to)?;
        let asked_m = self.waters.settings.keep_off_m;
        (trip.kept_off_m < asked_m).then(|| {
            let mut finding = Finding::new(
                Code::LegKeepOff,
                format!(
                    "no way keeps `{asked_m:.0} m` off: kept off only `{:.0} m` on this leg",
                    trip.kept_off_m
                ),
            );
            finding.name = name.into();
            finding
                .done("counted at idle speed where the shore is nearer")
                .fix("look at the chart, or leave the stop out")
        })
    }

    /// The way between two places, both included.
    #[must_use]
    pub fn path(&self, from: usize, to: usize) -> Vec<Place> {
        let plane = &self.waters.plane;
        self.path_on_plane(from, to).into_iter().map(|at| plane.to_place(plane_point(at))).collect()
    }

    /// The way between two places on the plane in metres, both included; empty when there is none.
    #[must_use]
    pub fn path_on_plane(&self, from: usize, to: usize) -> Vec<Coord<f64>> {
        let Some(trip) = self.trip(from, to) else { return Vec::new() };
        if from == to {
            return vec![self.at[from]];
        }
        let turned = self.before(to, from);
        let (a, b) = if turned { (to, from) } else { (from, to) };
        let mut way = match trip.route {
            Route::Level(level) => self.way(level, a, b),
            Route::Banks => self.banks_way(a, b).map_or_else(Vec::new, |(_, way)| way),
        };
        if turned {
            way.reverse();
        }
        way
    }

    /// Whether a place comes first where a pair is looked at: the order of the places leaves no trace.
    fn before(&self, a: usize, b: usize) -> bool {
        let key = |n: usize| self.at[n];
        key(a).x.total_cmp(&key(b).x).then(key(a).y.total_cmp(&key(b).y)).then(a.cmp(&b)).is_lt()
    }

    /// Fills trips that are still open and can be made at one level; whether some are left for a smaller margin.
    fn fill(&mut self, level: usize) -> bool {
        let count = self.len();
        let banks = &self.waters.banks.mesh;
        let body: Vec<Option<u32>> = (0..count)
            .map(|n| self.standings[n].is_afloat().then(|| banks.triangles_at(self.at[n])))
            .map(|triangles| triangles.and_then(|t| t.first().map(|t| banks.body(*t))))
            .collect();
        // Trips to be found from each place, to places that come later in order.
        let wanted: Vec<Vec<usize>> = (0..count)
            .map(|from| {
                (0..count)
                    .filter(|to| self.before(from, *to) && self.trip(from, *to).is_none())
                    .filter(|to| body[from].is_some() && body[from] == body[*to])
                    .collect()
            })
            .collect();
        for (n, body) in body.iter().enumerate() {
            if body.is_some() {
                self.trips[n * count + n] = Some(self.trip_of(&Label::START, [n, n], level, None));
            }
        }
        if wanted.iter().all(Vec::is_empty) {
            return false;
        }
        let at_level = self.waters.level(level);
        let taking_part: Vec<bool> =
            (0..count).map(|n| !wanted[n].is_empty() || wanted.iter().any(|to| to.contains(&n))).collect();
        self.access[level] = (0..count)
            .into_par_iter()
            .map(|n| taking_part[n].then(|| at_level.access(banks, self.at[n])).flatten())
            .collect();
        let found: Vec<Vec<(usize, Trip)>> = wanted
            .par_iter()
            .enumerate()
            .map(|(from, wanted)| self.trips_from(level, from, wanted))
            .collect();
        let mut open = wanted.iter().map(Vec::len).sum::<usize>();
        for (from, trips) in found.into_iter().enumerate() {
            open -= trips.len();
            for (to, trip) in trips {
                self.trips[from * count + to] = Some(trip);
                self.trips[to * count + from] = Some(trip);
            }
        }
        open > 0
    }

    fn trips_from(&self, level: usize, from: usize, wanted: &[usize]) -> Vec<(usize, Trip)> {
        let Some(access) = self.access[level][from].as_ref().filter(|_| !wanted.is_empty()) else {
            return Vec::new();
        };
        let at_level = self.waters.level(level);
        let reached: Vec<(usize, &Spot)> =
            wanted.iter().filter_map(|to| Some((*to, &self.access[level][*to].as_ref()?.spot))).collect();
        let spots: Vec<&Spot> = reached.iter().map(|(_, spot)| *spot).collect();
        let mut ways = Ways::new(&at_level.mesh, &access.spot, self.waters.step_m);
        let labels = ways.to(&spots);
        let trips = reached.iter().zip(&labels).filter_map(|((to, _), label)| {
            let label = label.as_ref()?;
            let way = (level > 0).then(|| self.joined(level, from, *to, ways.bends(label)));
            let trip = self.trip_of(label, [from, *to], level, way.as_deref());
            Some((*to, self.or_along_the_bank(trip, level, from, *to)))
        });
        trips.collect()
    }

    /// A trip by its label at a level. The ends outside the level's water are idled; where the margin had to be less
    /// than asked for, so is all of the way that lies nearer to the shore.
    fn trip_of(
        &self,
        label: &Label,
        [from, to]: [usize; 2],
        level: usize,
        way: Option<&[Coord<f64>]>,
    ) -> Trip {
        let pace = if let Some(way) = way {
            self.waters.pace(way, Some(&self.waters.level(0).water))
        } else {
            let join = |n: usize| self.access[level][n].as_ref().map_or(&[][..], |a| &a.join[..]);
            let [out, back] = [from, to].map(|n| self.waters.pace(join(n), None));
            Pace {
                seconds: label.seconds + out.seconds + back.seconds,
                slow_s: label.slow_s + out.slow_s + back.slow_s,
                metres: label.metres + out.metres + back.metres,
            }
        };
        Trip {
            seconds: pace.seconds,
            metres: pace.metres,
            slow_seconds: pace.slow_s,
            slack_seconds: label.slack_s,
            straight_m: metres(self.at[from], self.at[to]),
            kept_off_m: self.waters.settings.keep_off_m * MARGIN_SHARES[level],
            straight: !self.waters.shoreline,
            route: Route::Level(level),
        }
    }

    /// Two places near each other and near the shore: along the bank at idle speed, when that is quicker than out
    /// into open water and back.
    fn or_along_the_bank(&self, trip: Trip, level: usize, from: usize, to: usize) -> Trip {
        let joined = |n: usize| self.access[level][n].as_ref().is_some_and(|a| !a.join.is_empty());
        let idle_m = trip.seconds * self.waters.settings.idle_m_s;
        if !(joined(from) && joined(to)) || metres(self.at[from], self.at[to]) >= idle_m {
            return trip;
        }
        let Some((label, way)) = self.banks_way(from, to) else { return trip };
        let pace = self.waters.pace(&way, None);
        if label.metres >= idle_m || pace.seconds >= trip.seconds {
            return trip;
        }
        Trip {
            seconds: pace.seconds,
            metres: pace.metres,
            slow_seconds: pace.slow_s,
            slack_seconds: 0.0,
            route: Route::Banks,
            ..trip
        }
    }

    fn banks_way(&self, from: usize, to: usize) -> Option<(Label, Vec<Coord<f64>>)> {
        let mesh: &Mesh = &self.waters.banks.mesh;
        let [a, b] = [from, to].map(|n| Spot::new(mesh, self.at[n], f64::INFINITY));
        let (a, b) = (a?, b?);
        let mut ways = Ways::new(mesh, &a, 0.0);
        let label = ways.to(&[&b])[0]?;
        let mut way = vec![a.at];
        way.extend(ways.bends(&label));
        way.push(b.at);
        Some((label, way))
    }

    /// The way at a level, from place to place.
    fn way(&self, level: usize, from: usize, to: usize) -> Vec<Coord<f64>> {
        let [Some(a), Some(b)] = [from, to].map(|n| self.access[level][n].as_ref()) else {
            return Vec::new();
        };
        let mut ways = Ways::new(&self.waters.level(level).mesh, &a.spot, self.waters.step_m);
        let label = ways.to(&[&b.spot])[0];
        label.map_or_else(Vec::new, |label| self.joined(level, from, to, ways.bends(&label)))
    }

    /// Bends of a way between two places at a level, with both ends and the ways into the level's water.
    fn joined(&self, level: usize, from: usize, to: usize, bends: Vec<Coord<f64>>) -> Vec<Coord<f64>> {
        let end = |n: usize| match self.access[level][n].as_ref() {
            Some(access) if !access.join.is_empty() => access.join.clone(),
            _ => vec![self.at[n]],
        };
        let mut way = end(from);
        way.extend(bends);
        let mut last = end(to);
        last.reverse();
        way.extend(last);
        way.dedup();
        way
    }
}
