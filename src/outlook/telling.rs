//! What is told with an outlook: how much it stands on, what was not used, and how far its settings move it.

use super::{Basis, Outlook, OutlookCell};
use crate::terms::finding::{Code, Finding};

/// Fewer seasons or sightings show history, not a forecast (judgement).
pub(super) const FEW_SEASONS: usize = 2;
pub(super) const FEW_SIGHTINGS: usize = 40;

/// How much the outlook stands on.
pub(super) struct Standing {
    pub(super) sightings: usize,
    pub(super) seasons: usize,
    pub(super) looks: usize,
    /// Sightings and looks in the part of the season.
    pub(super) sightings_then: usize,
    pub(super) looks_then: usize,
    /// Sightings that no look of their day came near.
    pub(super) off_looks: usize,
    pub(super) with_logs: bool,
    pub(super) tracks: usize,
}

impl Standing {
    pub(super) fn findings(&self, date: jiff::civil::Date) -> Vec<Finding> {
        let mut findings = Vec::new();
        let looks = if self.with_logs {
            format!("`{}` outings with track logs, `{}` of them", self.looks, self.looks_then)
        } else {
            format!("no track logs; `{}` sightings", self.sightings_then)
        };
        let tracks = match self.tracks {
            0 => "no movement tracks stand behind it".to_owned(),
            1 => "one movement track stands behind it".to_owned(),
            n => format!("{n} movement tracks stand behind it"),
        };
        let told = format!(
            "outlook for `{date}`: `{}` bait sightings in `{}` season{}, {looks} within three weeks of that day of the year",
            self.sightings,
            self.seasons,
            if self.seasons == 1 { "" } else { "s" },
        );
        findings.push(Finding::new(Code::OutlookBasis, told).done(tracks));
        if !self.with_logs {
            findings.push(
                Finding::new(Code::OutlookRanksOnly, "no track log tells where was looked")
                    .done("places are ranked by where marks of all kinds were dropped; no rates and no chances are told")
                    .fix("export the track logs too"),
            );
        }
        if self.seasons < FEW_SEASONS || self.sightings < FEW_SIGHTINGS {
            findings.push(Finding::new(
                Code::OutlookThin,
                format!(
                    "`{}` bait sightings in `{}` season{} are little: read the outlook as what was seen, not as what will be",
                    self.sightings,
                    self.seasons,
                    if self.seasons == 1 { "" } else { "s" },
                ),
            ));
        }
        let nothing = if self.with_logs { self.looks_then == 0 } else { self.sightings_then == 0 };
        if nothing {
            findings.push(
                Finding::new(
                    Code::OutlookNoData,
                    format!("no outing of any season came within three weeks of the day of `{date}`"),
                )
                .done("what is told comes from other parts of the season alone"),
            );
        }
        if self.off_looks > 0 && self.with_logs {
            findings.push(
                Finding::new(
                    Code::OutlookOffTrack,
                    format!(
                        "`{}` of `{}` bait sightings lie where no track log of their day passed",
                        self.off_looks, self.sightings
                    ),
                )
                .done("they count for no rate")
                .fix("export the track logs of those days, of all units"),
            );
        }
        findings
    }
}

/// Cells by which outlooks by other settings are compared.
pub(super) const BEST_CELLS: usize = 50;

/// How far another swath or another weight of running moves the outlook: the median chance of its best places, and how
/// many of the best fifty cells stay among them.
pub(super) fn sensitivity(of: &Outlook, others: &[(&str, Outlook)]) -> Option<Finding> {
    let best = |o: &Outlook| -> Vec<OutlookCell> { o.cells.iter().take(BEST_CELLS).copied().collect() };
    let own = best(of);
    let middle = |cells: &[OutlookCell]| -> Option<f64> {
        let mut chances: Vec<f64> = cells.iter().filter_map(|c| c.chance.map(|c| c.mean)).collect();
        chances.sort_by(f64::total_cmp);
        chances.get(chances.len() / 2).copied()
    };
    let base = middle(&own)?;
    let parts: Vec<String> = others
        .iter()
        .filter_map(|(what, other)| {
            let cells = best(other);
            let stay = own.iter().filter(|c| cells.iter().any(|o| o.cell == c.cell)).count();
            Some(format!("with {what} `{:.2}`, `{stay}` of `{}` stay", middle(&cells)?, own.len()))
        })
        .collect();
    (!parts.is_empty()).then(|| {
        Finding::new(
            Code::OutlookSensitivity,
            format!("median chance of the best `{}` cells `{base:.2}`; {}", own.len(), parts.join("; ")),
        )
    })
}

/// How far a cell stands on itself: what was looked over about it against what the prior weighs.
pub(super) fn basis(near_km2: f64, prior_km2: f64, cell_km2: f64) -> Basis {
    if near_km2 >= prior_km2 {
        Basis::Log
    } else if near_km2 >= cell_km2 {
        Basis::Near
    } else {
        Basis::Prior
    }
}
