//! A constant difference between the depths of two units: transducers that hang at different depths, or a keel offset that
//! one of them adds. Told by their crossings at one elevation of the bottom.
//!
//! Which of the two is right nobody can tell from the logs: the unit with most soundings stands. The estimate is the
//! median of the differences; its standard error is `sqrt(pi/2) s / sqrt(n)` with `s` the median absolute deviation times
//! 1.4826 (asymptotic error of the median of a normal sample; from memory).

use super::blocks::Soundings;
use super::clean::median;
use super::crossings::Meeting;
use super::{Settings, UnitOffsets};
use std::collections::{BTreeMap, BTreeSet};

/// How much deeper one unit sounds than another.
#[derive(Clone, Debug, PartialEq)]
pub struct UnitOffset {
    /// The unit.
    pub unit: String,
    /// The unit that it is compared with, which stands.
    pub reference: String,
    /// How much deeper it sounds, in metres; negative: shallower.
    pub deeper_m: f64,
    /// Standard error of that, in metres.
    pub error_m: f64,
    /// Crossings that tell it.
    pub crossings: usize,
    /// Whether its depths were corrected by it.
    pub applied: bool,
}

/// Fewer crossings, or of fewer logs of the unit, prove nothing: a day's level may be wrong.
const FEWEST: usize = 20;
const FEWEST_LOGS: usize = 3;
/// A smaller difference is drowned by the noise of consumer sounders (half a foot; judgement).
const LEAST_M: f64 = 0.15;
/// A difference is clear when it is so many times its error.
const SURE: f64 = 4.0;

/// The offsets of all units that cross the one with most soundings. One that is no clear offset is told and not applied.
pub(super) fn offsets(soundings: &Soundings, met: &[Meeting], settings: &Settings) -> Vec<UnitOffset> {
    let mut counts = vec![0.0; soundings.units.len()];
    for log in &soundings.logs {
        counts[log.unit] += log.blocks.iter().map(|b| b.count).sum::<f64>();
    }
    let Some(reference) = (0..counts.len()).max_by(|a, b| counts[*a].total_cmp(&counts[*b]).then(b.cmp(a)))
    else {
        return Vec::new();
    };
    let mut differences: BTreeMap<usize, (Vec<f64>, BTreeSet<usize>)> = BTreeMap::new();
    for meeting in met {
        let units = meeting.logs.map(|log| soundings.logs[log].unit);
        let (unit, log, deeper_m) = match units {
            [a, b] if a == b => continue,
            [a, b] if b == reference => (a, meeting.logs[0], meeting.difference_m),
            [a, b] if a == reference => (b, meeting.logs[1], -meeting.difference_m),
            _ => continue,
        };
        let (values, logs) = differences.entry(unit).or_default();
        values.push(deeper_m);
        logs.insert(log);
    }
    differences
        .into_iter()
        .filter(|(_, (values, _))| values.len() >= FEWEST)
        .map(|(unit, (mut values, logs))| {
            let deeper_m = median(&mut values);
            let mut away: Vec<f64> = values.iter().map(|v| (v - deeper_m).abs()).collect();
            let error_m =
                (std::f64::consts::FRAC_PI_2 / values.len() as f64).sqrt() * 1.4826 * median(&mut away);
            let clear =
                deeper_m.abs() >= LEAST_M && deeper_m.abs() > SURE * error_m && logs.len() >= FEWEST_LOGS;
            UnitOffset {
                unit: soundings.units[unit].clone(),
                reference: soundings.units[reference].clone(),
                deeper_m,
                error_m,
                crossings: values.len(),
                applied: clear && settings.unit_offsets == UnitOffsets::Clear,
            }
        })
        .collect()
}

/// Takes the applied offsets out of the depths.
pub(super) fn apply(soundings: &mut Soundings, offsets: &[UnitOffset]) {
    for log in &mut soundings.logs {
        let unit = &soundings.units[log.unit];
        if let Some(offset) = offsets.iter().find(|o| o.applied && o.unit == *unit) {
            for block in &mut log.blocks {
                block.depth_m = (block.depth_m - offset.deeper_m).max(0.0);
            }
        }
    }
}
