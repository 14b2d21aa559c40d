//! A constant offset between two units: an antenna mounted elsewhere, or a file in an old datum.
//!
//! In: marks of all exports. Out: for each unit how far east and north it lies of a unit with more marks, told by
//! marks that both hold. The estimate is the median of the differences, which half of wrong pairs cannot carry away;
//! its standard error is `sqrt(pi/2) s / sqrt(n)` with `s` the median absolute deviation times 1.4826 (asymptotic
//! error of the median of a normal sample; from memory).

use super::Settings;
use super::names::bare_name;
use crate::terms::export::Export;
use crate::terms::export::FileId;
use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::{Mark, Origin};
use crate::terms::place::{Place, PlanePoint};
use std::collections::{BTreeMap, BTreeSet};

/// Fewer shared marks prove no offset.
const FEWEST: usize = 20;
/// Farther apart two marks of one name and second are no copies: datums of one region differ by up to some 100 m
/// (common practice, no source).
const FARTHEST_M: f64 = 150.0;
/// A smaller offset is told by nobody's eye; rounding to five decimals moves a position by up to 0.6 m.
const LEAST_M: f64 = 1.0;
/// An offset counts when it is so many times its error.
const SURE: f64 = 3.0;
/// So many marks of one name are looked at behind each, nearest in time first.
const MOST_NEIGHBOURS: usize = 64;

/// Where a unit lies, seen from another.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Offset {
    reference: usize,
    east: Estimate,
    north: Estimate,
    pairs: usize,
}

/// Metres and their standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Estimate {
    metres: f64,
    error_m: f64,
}

/// A mark of a unit that no other mark of that unit can be taken for.
struct Known {
    name: Box<str>,
    ms: i64,
    unit: usize,
    at: PlanePoint,
    mark: usize,
}

/// Tells the offsets between units, and takes them out of `marks` where the settings say so.
pub(super) fn settle(
    marks: &mut [Mark],
    lake: &Lake,
    exports: &[Export],
    settings: &Settings,
) -> Vec<Finding> {
    let labels: Vec<&str> =
        exports.iter().map(|e| e.unit.as_str()).collect::<BTreeSet<_>>().into_iter().collect();
    if labels.len() < 2 {
        return Vec::new();
    }
    let unit_of_file: Vec<usize> =
        exports.iter().filter_map(|e| labels.binary_search(&e.unit.as_str()).ok()).collect();
    let unit_of = |mark: &Mark| unit_of_file.get(mark.origin().file.0 as usize).copied();
    let mut counts = vec![0_usize; labels.len()];
    marks.iter().filter_map(unit_of).for_each(|unit| counts[unit] += 1);
    // The unit with most marks stands; of two alike the first by label.
    let mut order: Vec<usize> = (0..labels.len()).collect();
    order.sort_by_key(|unit| (usize::MAX - counts[*unit], *unit));
    let mut rank = vec![0; labels.len()];
    order.iter().enumerate().for_each(|(at, unit)| rank[*unit] = at);

    let offsets = offsets(&known(marks, lake, unit_of), &rank, settings);
    let mut total = vec![(0.0, 0.0); labels.len()];
    let mut findings = Vec::new();
    for unit in order {
        let Some(offset) = offsets.get(&unit) else { continue };
        let (east_m, north_m) = total[offset.reference];
        total[unit] = (east_m + offset.east.metres, north_m + offset.north.metres);
        let file = unit_of_file.iter().position(|of| *of == unit).unwrap_or(0);
        let seen = format!(
            "unit `{}` lies `{:.1} m` east (error {:.1}) and `{:.1} m` north (error {:.1}) of unit `{}`, by {} shared marks",
            labels[unit],
            offset.east.metres,
            offset.east.error_m,
            offset.north.metres,
            offset.north.error_m,
            labels[offset.reference],
            offset.pairs
        );
        let finding = Finding::new(Code::UnitOffset, seen).at(Origin::whole_file(FileId(file as u32)), "");
        findings.push(if settings.apply_unit_offset {
            finding.done("its marks were moved back by that before matching")
        } else {
            finding.fix("export in WGS 84 and check where the antenna is; or set `apply_unit_offset = true` in [merge]")
        });
    }
    if settings.apply_unit_offset {
        for mark in marks {
            let Some(unit) = unit_of(mark).filter(|unit| total[*unit] != (0.0, 0.0)) else { continue };
            let at = lake.to_plane(mark.place);
            let (east_m, north_m) = total[unit];
            let there =
                lake.plane.to_place(PlanePoint { east_m: at.east_m - east_m, north_m: at.north_m - north_m });
            // No finer than any file writes it.
            let fine = |deg: f64| (deg * 1e7).round() / 1e7;
            mark.place = Place { lon: fine(there.lon), lat: fine(there.lat) };
        }
    }
    findings
}

/// The dated and named marks by name and time, one a unit, name and time; those that stand at two places are left out.
fn known(marks: &[Mark], lake: &Lake, unit_of: impl Fn(&Mark) -> Option<usize>) -> Vec<Known> {
    let mut all: Vec<Known> = (0..)
        .zip(marks)
        .filter_map(|(i, mark)| {
            let (time, unit, name) = (mark.time?, unit_of(mark)?, bare_name(mark.words.name()));
            let at = lake.to_plane(mark.place);
            (!name.is_empty()).then(|| Known { name, ms: time.unix_ms(), unit, at, mark: i })
        })
        .collect();
    all.sort_by(|a, b| (&a.name, a.ms, a.unit, a.mark).cmp(&(&b.name, b.ms, b.unit, b.mark)));
    let mut single = Vec::new();
    let mut rest = all.into_iter().peekable();
    while let Some(first) = rest.next() {
        let mut one_place = true;
        while let Some(copy) =
            rest.next_if(|k| (&k.name, k.ms, k.unit) == (&first.name, first.ms, first.unit))
        {
            // Copies in other files of the unit, rounded to four decimals at worst.
            one_place &= copy.at.metres_to(first.at) <= 10.0;
        }
        if one_place {
            single.push(first);
        }
    }
    single
}

/// For each unit its offset from the unit of smaller rank with which it shares most marks.
fn offsets(known: &[Known], rank: &[usize], settings: &Settings) -> BTreeMap<usize, Offset> {
    let slack_ms = (settings.same_time.seconds() * 1000.0) as i64;
    let mut met: Vec<(usize, usize)> = Vec::new();
    for (i, one) in known.iter().enumerate() {
        let near = |other: &&Known| other.name == one.name && other.ms - one.ms <= slack_ms;
        for (step, other) in known[i + 1..].iter().take(MOST_NEIGHBOURS).take_while(near).enumerate() {
            if other.unit != one.unit && other.at.metres_to(one.at) <= FARTHEST_M {
                let j = i + 1 + step;
                met.push(if rank[other.unit] > rank[one.unit] { (i, j) } else { (j, i) });
            }
        }
    }
    // One to one: a mark that meets two of one unit tells nothing.
    let mut meetings: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (a, b) in &met {
        *meetings.entry((*a, known[*b].unit)).or_default() += 1;
        *meetings.entry((*b, known[*a].unit)).or_default() += 1;
    }
    let mut differences: BTreeMap<(usize, usize), (Vec<f64>, Vec<f64>)> = BTreeMap::new();
    for (a, b) in met {
        let (standing, moved) = (&known[a], &known[b]);
        if meetings[&(a, moved.unit)] == 1 && meetings[&(b, standing.unit)] == 1 {
            let (east, north) = differences.entry((moved.unit, standing.unit)).or_default();
            east.push(moved.at.east_m - standing.at.east_m);
            north.push(moved.at.north_m - standing.at.north_m);
        }
    }
    let mut best: BTreeMap<usize, Offset> = BTreeMap::new();
    for ((unit, reference), (east, north)) in differences {
        let pairs = east.len();
        let better = best.get(&unit).is_none_or(|b| (pairs, rank[b.reference]) > (b.pairs, rank[reference]));
        if pairs >= FEWEST && better {
            best.insert(unit, Offset { reference, east: estimate(east), north: estimate(north), pairs });
        }
    }
    best.retain(|_, offset| {
        let length_m = offset.east.metres.hypot(offset.north.metres);
        length_m >= LEAST_M && length_m > SURE * offset.east.error_m.hypot(offset.north.error_m)
    });
    best
}

fn estimate(mut values: Vec<f64>) -> Estimate {
    let metres = median(&mut values);
    let count = values.len() as f64;
    let mut away: Vec<f64> = values.iter().map(|v| (v - metres).abs()).collect();
    let spread_m = 1.4826 * median(&mut away);
    Estimate { metres, error_m: (std::f64::consts::FRAC_PI_2 / count).sqrt() * spread_m }
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    let middle = values.len() / 2;
    if values.len() % 2 == 1 { values[middle] } else { f64::midpoint(values[middle - 1], values[middle]) }
}
