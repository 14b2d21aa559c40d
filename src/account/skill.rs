//! What seasons held out told of the outlook, and how one outing went against it, as the account tells them.

use serde::Serialize;

/// The backtest: a section of the summary.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SkillAccount {
    /// In words.
    pub verdict: String,
    /// Seasons held out.
    pub seasons: usize,
    /// Outings of these with track logs.
    pub outings: usize,
    /// Sightings scored.
    pub sightings: usize,
    /// Gain in log score a sighting, by guess.
    pub gains: Vec<GainAccount>,
    /// Sightings over the number expected.
    pub observed_over_expected: f64,
    /// Cells in five groups of equal effort, by rate.
    pub reliability: Vec<ReliabilityAccount>,
}

/// Gain over one guess.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GainAccount {
    /// The guess.
    pub over: &'static str,
    /// Mean a sighting.
    pub gain: f64,
    /// 95 % interval by outings.
    pub low: f64,
    /// The same.
    pub high: f64,
}

/// One group of the reliability table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ReliabilityAccount {
    /// Mean chance in a standard search.
    pub chance: f64,
    /// Sightings expected.
    pub expected: f64,
    /// Sightings made.
    pub observed: usize,
}

/// One outing reviewed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReviewAccount {
    /// The outing.
    pub outing: String,
    /// Its sightings by chance: chance in a standard search, share of the water that was foretold better.
    pub sightings: Vec<[f64; 2]>,
    /// Sightings expected on the water looked over.
    pub expected: f64,
    /// Sightings expected and made on the tenth of the water that was foretold best.
    pub best_expected: f64,
    /// The same.
    pub best_seen: usize,
    /// Whether any of that tenth was looked over.
    pub looked_at_best: bool,
    /// Gain over looking just anywhere, summed.
    pub gain: f64,
    /// Outings of the season so far with their gains, sightings so far and gain a sighting so far.
    pub running: Vec<RunningAccount>,
}

/// One outing of the season so far.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RunningAccount {
    /// The outing.
    pub outing: String,
    /// Its sightings.
    pub sightings: usize,
    /// Its gain, summed.
    pub gain: f64,
    /// Gain a sighting over the season so far.
    pub mean_so_far: f64,
}

impl SkillAccount {
    pub(super) fn text(&self) -> String {
        let mut lines = vec![format!(
            "seasons held out: {} sightings on {} outings of {} seasons; the outlook is {}",
            self.sightings, self.outings, self.seasons, self.verdict
        )];
        for g in &self.gains {
            lines.push(format!(
                "  over {}: {:+.2} a sighting in log score, 95 of 100 between {:+.2} and {:+.2}",
                g.over, g.gain, g.low, g.high
            ));
        }
        let groups: Vec<String> = self
            .reliability
            .iter()
            .map(|r| format!("{:.0} % {:.0}/{}", 100.0 * r.chance, r.expected, r.observed))
            .collect();
        lines.push(format!(
            "  chance, sightings expected/made, from poor water to good: {}",
            groups.join(", ")
        ));
        lines.join("\n")
    }
}

impl ReviewAccount {
    pub(super) fn text(&self) -> String {
        let mut lines = vec![format!(
            "outing {}: {} sightings where {:.1} were expected; {}",
            self.outing,
            self.sightings.len(),
            self.expected,
            if self.looked_at_best {
                format!(
                    "{} of them on the best tenth of the water, where {:.1} were",
                    self.best_seen, self.best_expected
                )
            } else {
                String::from("the best tenth of the water was not looked at")
            }
        )];
        for [chance, above] in &self.sightings {
            lines.push(format!(
                "  a sighting where the chance was {:.0} %, {:.0} % of the water foretold better",
                100.0 * chance,
                100.0 * above
            ));
        }
        if let Some(last) = self.running.last() {
            let seen: usize = self.running.iter().map(|r| r.sightings).sum();
            lines.push(format!(
                "  season so far: {} outings, {seen} sightings, {:+.2} a sighting over looking just anywhere",
                self.running.len(),
                last.mean_so_far
            ));
        }
        lines.join("\n")
    }
}
