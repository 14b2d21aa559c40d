//! Places that may be checked: holding areas of the season, joined with the user's own stops.

use crate::prefish::calendar::{Window, on_clock};
use crate::prefish::model::{Search, Stop, StopFacts, Want};
use crate::prefish::own_stops::OwnStop;
use crate::schools::{HoldingArea, Sighting};
use crate::terms::finding::{Code, Finding};
use crate::terms::id::Id;
use crate::terms::lake::Lake;
use crate::terms::mark::Kind;
use crate::terms::place::PlanePoint;

use crate::terms::season::SeasonDay;
use crate::terms::units::{Depth, SQUARE_METRES_PER_ACRE};
use geo::{Contains, Point};
use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::PI;

/// An area counts on a date when it was seen within so many days of it: the reach of holding areas.
const SEASON_DAYS: f64 = 21.0;
/// Smallest box looked over: a school wanders (common practice, no source).
const LEAST_BOX_M2: f64 = 5.0 * SQUARE_METRES_PER_ACRE;
/// Shortest search of an area in minutes (common practice, no source).
const LEAST_SEARCH_MIN: u16 = 10;
/// Most candidates that a plan is searched over: of more, those of least chance go.
const MOST_CANDIDATES: usize = 100;

/// Chance that bait is in each area on a date, from the log alone; `None`: not seen in that part of the season.
///
/// Of the seasons in which the boat was out within 21 days of the date, the share in which the area held bait then,
/// with half a season added to each side (Jeffreys' prior). A season in which nobody looked there counts as a miss,
/// so it is a cautious guess; the outlook, which knows where was looked, is the better one: on 24 simulated lakes it is off by
/// .24 to .25 (root mean square), this by .31 to .33 (`scripts/bench/outlook_skill.rs`, `areas`).
#[must_use]
pub fn chances(areas: &[HoldingArea], sightings: &[Sighting], day: SeasonDay) -> Vec<Option<f64>> {
    let chance = |area| {
        let [seen, out] = seasons_near(area, sightings, day);
        (!seen.is_empty()).then(|| (seen.len() as f64 + 0.5) / (out.len() as f64 + 1.0))
    };
    areas.iter().map(chance).collect()
}

/// What a chance stands on: the seasons in which the area held bait within 21 days of the date, and those in which
/// anything was seen on the lake then.
#[must_use]
pub fn seasons_near(area: &HoldingArea, sightings: &[Sighting], day: SeasonDay) -> [BTreeSet<i16>; 2] {
    let near = |s: &&Sighting| s.day.season_day.days_apart(day) <= SEASON_DAYS;
    let out = sightings.iter().filter(near).map(|s| s.day.season).collect();
    let seen = area.sightings.iter().map(|s| &sightings[*s]).filter(near).map(|s| s.day.season).collect();
    [seen, out]
}

/// What makes areas into stops.
pub(super) struct AreaSearch {
    /// Square metres looked over in a minute.
    pub(super) swept_m2_min: f64,
    /// Most minutes at one stop.
    pub(super) most_min: u16,
}

/// The areas of the season as stops, in the order of the areas.
pub(super) fn area_stops(
    areas: &[HoldingArea],
    sightings: &[Sighting],
    chances: &[Option<f64>],
    day: SeasonDay,
    search: &AreaSearch,
) -> Vec<Stop> {
    let mut number = 0;
    let mut stops = Vec::new();
    for (area, chance) in areas.iter().zip(chances) {
        if area.kind != Kind::Bait {
            continue;
        }
        // Numbered over all seasons, so a name stays when the date changes.
        number += 1;
        let Some(q) = *chance else { continue };
        let of_area = || area.sightings.iter().map(|s| &sightings[*s]);
        let in_season = || of_area().filter(|s| s.day.season_day.days_apart(day) <= SEASON_DAYS);
        let mut depths: Vec<Depth> = in_season().filter_map(|s| s.fish_depth).collect();
        depths.sort_by(|a, b| a.metres().total_cmp(&b.metres()));
        let radius_m = radius_m(area, sightings);
        stops.push(Stop {
            id: area.id,
            name: format!("A{number}"),
            place: area.centre,
            search: Search::Chosen {
                q,
                rate_per_min: search.swept_m2_min / (PI * radius_m * radius_m),
                least_min: LEAST_SEARCH_MIN.min(search.most_min),
                most_min: search.most_min,
            },
            want: Want::May,
            group: None,
            windows: Vec::new(),
            facts: StopFacts {
                area: Some(area.id),
                sightings: area.sightings.len(),
                seasons: area.seasons.len(),
                fish_depth: depths.first().copied().zip(depths.last().copied()).map(<[Depth; 2]>::from),
                water_depth: area.water_depth_median,
                water_temp: area.water_temp,
                radius_m: Some(radius_m),
            },
        });
    }
    stops
}

/// Radius in metres of a circle as large as the water that an area's school wanders in.
#[must_use]
pub fn radius_m(area: &HoldingArea, sightings: &[Sighting]) -> f64 {
    let places: Vec<PlanePoint> = area.sightings.iter().map(|s| sightings[*s].plane).collect();
    (box_m2(&places) / PI).sqrt()
}

/// Area of the ellipse that holds three quarters of a normal scatter of the places: π 2 ln 4 √det Σ.
fn box_m2(places: &[PlanePoint]) -> f64 {
    let count = places.len() as f64;
    let mean = |of: fn(&PlanePoint) -> f64| places.iter().map(of).sum::<f64>() / count;
    let (east, north) = (mean(|p| p.east_m), mean(|p| p.north_m));
    let sum = |of: &dyn Fn(f64, f64) -> f64| {
        places.iter().map(|p| of(p.east_m - east, p.north_m - north)).sum::<f64>() / (count - 1.0).max(1.0)
    };
    let (ee, nn, en) = (sum(&|e, _| e * e), sum(&|_, n| n * n), sum(&|e, n| e * n));
    let ellipse = PI * 2.0 * 4.0_f64.ln() * (ee * nn - en * en).max(0.0).sqrt();
    ellipse.max(LEAST_BOX_M2)
}

/// The user's stops, with their hours on each day. One that lies in an area looks for that area's school, unless the
/// user gave it a group.
pub(super) fn own_stops(
    own: &[OwnStop],
    areas: &[HoldingArea],
    windows: &[Window],
    lake: &Lake,
    search_time_min: f64,
) -> (Vec<Stop>, Vec<Finding>) {
    let mut findings = Vec::new();
    let names: BTreeSet<&str> = own.iter().filter_map(|stop| stop.group.as_deref()).collect();
    let mut stops: Vec<Stop> = Vec::new();
    for stop in own {
        let mut hours = Vec::new();
        for window in windows {
            let at = |time| on_clock(window.date, time, lake).map_err(|e| (time, e));
            let open = stop.earliest.map_or(Ok(window.launch), at);
            let close = stop.latest.map_or(Ok(window.off_water), at);
            match (open, close) {
                (Ok(open), Ok(close)) => hours.push([open, close]),
                (Err((_, e)), _) | (_, Err((_, e))) => {
                    findings.push(
                        Finding::new(Code::StopUnreadable, format!("`{}`: {e}", stop.name))
                            .done("its hours were left out on that day: it counts as shut")
                            .fix("write another time"),
                    );
                    hours.push([window.off_water, window.launch]);
                }
            }
        }
        let unbound = stop.earliest.is_none() && stop.latest.is_none();
        let inside = || {
            let at = Point::new(stop.place.lon, stop.place.lat);
            areas.iter().position(|a| a.kind == Kind::Bait && stop.value <= 1.0 && a.hull.contains(&at))
        };
        let group = match stop.group.as_deref() {
            Some(group) => names.iter().position(|name| *name == group).map(|number| number as u32),
            None => inside().map(group_of_area),
        };
        let [lon, lat] = stop.place.six_decimals();
        let minutes = stop.search_min.unwrap_or(search_time_min);
        stops.push(Stop {
            id: Id::of('p', &[&stop.name, &lon, &lat]),
            name: stop.name.clone(),
            place: stop.place,
            search: Search::Fixed { seconds: minutes * 60.0, chance: stop.value },
            want: stop.want,
            group,
            windows: if unbound { Vec::new() } else { hours },
            facts: StopFacts::default(),
        });
    }
    (stops, findings)
}

/// The group of stops that look for the school of an area; groups that the user names are counted from 0.
fn group_of_area(area: usize) -> u32 {
    1_000_000 + area as u32
}

/// Areas and own stops together. An area that own stops lie in shares their group; names are made unique; beyond a
/// hundred the candidates of least chance go.
pub(super) fn joined(
    mut of_areas: Vec<Stop>,
    own: Vec<Stop>,
    areas: &[HoldingArea],
    findings: &mut Vec<Finding>,
) -> Vec<Stop> {
    for stop in &mut of_areas {
        let number = areas.iter().position(|area| stop.facts.area == Some(area.id));
        let group = number.map(group_of_area);
        if own.iter().any(|o| o.group.is_some() && o.group == group) {
            stop.group = group;
        }
    }
    let room = MOST_CANDIDATES.saturating_sub(own.len());
    if of_areas.len() > room {
        let chance = |stop: &Stop| if let Search::Chosen { q, .. } = stop.search { q } else { 1.0 };
        let mut order: Vec<usize> = (0..of_areas.len()).collect();
        order.sort_by(|a, b| chance(&of_areas[*b]).total_cmp(&chance(&of_areas[*a])).then(a.cmp(b)));
        let kept: BTreeSet<usize> = order.into_iter().take(room).collect();
        findings.push(
            Finding::new(Code::StopsMany, format!("`{}` areas are in season", of_areas.len()))
                .done(format!("the `{room}` of greatest chance were considered")),
        );
        let mut number = 0..;
        of_areas.retain(|_| number.next().is_some_and(|n: usize| kept.contains(&n)));
    }
    // Own stops first: a name given by the user stays as it is.
    let mut stops = own;
    stops.append(&mut of_areas);
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    for stop in &mut stops {
        let times = seen.entry(stop.name.to_lowercase()).or_insert(0);
        *times += 1;
        if *times > 1 {
            stop.name = format!("{} ({times})", stop.name);
        }
    }
    stops
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_is_the_ellipse_of_three_quarters_and_never_under_five_acres() {
        // Four places at (±100, ±200): variance 4/3 · 10⁴ and 4/3 · 4·10⁴, so π · 2 ln 4 · 4/3 · 2·10⁴ (by hand).
        let at = |east_m: f64, north_m: f64| PlanePoint { east_m, north_m };
        let places = [at(100.0, 200.0), at(100.0, -200.0), at(-100.0, 200.0), at(-100.0, -200.0)];
        let expected = PI * 2.772_588_722 * 4.0 / 3.0 * 2e4;
        assert!((box_m2(&places) - expected).abs() < 1.0, "{}", box_m2(&places));
        // Five acres are 20,234 m² (definition of the acre).
        assert!((box_m2(&[at(0.0, 0.0); 4]) - 20_234.28).abs() < 0.01);
    }
}
