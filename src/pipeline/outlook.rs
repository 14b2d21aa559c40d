//! The outlook's part of the run: effort, the outlook for a date, seasons held out, an outing reviewed.

use super::{Stages, hundredths};
use crate::account::{GainAccount, ReliabilityAccount, ReviewAccount, RunningAccount, SkillAccount};
use crate::effort::{self, Effort, effort};
use crate::movement::{Clock, FittedTracks, Movement};
use crate::outlook::{self, Backtest, Given, Guess, Otherwise, OutingReview, Outlook, verdict};
use crate::schools::Schools;
use crate::settings::Settings;
use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::Mark;
use crate::terms::track_log::TrackLog;
use crate::terms::units::Distance;
use jiff::civil::Date;

/// What came of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OutlookRun {
    /// Where was looked.
    pub effort: Effort,
    /// The outlook; `None`: no date was asked for.
    pub outlook: Option<Outlook>,
    /// Seasons held out; `None`: there are too few.
    pub backtest: Option<Backtest>,
    /// An outing against what had been said of it; `None`: none was asked for, or nothing tells of it.
    pub review: Option<OutingReview>,
}

/// What the stages before it made.
pub(super) struct Before<'a> {
    pub(super) log: &'a [Mark],
    pub(super) track_logs: &'a [TrackLog],
    pub(super) lake: &'a Lake,
    pub(super) settings: &'a Settings,
    pub(super) schools: &'a Schools,
    pub(super) movement: &'a Movement,
    /// The fit behind it.
    pub(super) tracks: Option<&'a FittedTracks>,
}

impl Before<'_> {
    /// Runs the stages; findings are added to those there are.
    pub(super) fn run(
        &self,
        outing: Option<Date>,
        stages: &mut Stages,
        findings: &mut Vec<Finding>,
    ) -> OutlookRun {
        let looking = &self.settings.effort;
        let looked = stages.time("effort", self.track_logs.len(), || {
            let looked = self.effort(looking);
            let outings = looked.outings.len();
            (looked, outings)
        });
        findings.extend(looked.findings.iter().cloned());
        let given = self.given(&looked);
        let outlook = self.settings.outlook.date.map(|date| {
            stages.time("outlook", self.schools.sightings.len(), || {
                let otherwise = if looked.outings.is_empty() { Vec::new() } else { self.otherwise() };
                let outlook =
                    outlook::outlook_by(given, self.tracks, &self.settings.outlook, date, &otherwise);
                let cells = outlook.cells.len();
                (outlook, cells)
            })
        });
        findings.extend(outlook.iter().flat_map(|o| o.findings.iter().cloned()));
        let (backtest, review) = stages.time("backtest", self.schools.sightings.len(), || {
            let backtest = outlook::backtest(given);
            let scored = backtest.as_ref().map_or(0, |b| b.all.sightings);
            ((backtest, outing.and_then(|date| outlook::review(given, date))), scored)
        });
        findings.push(told(backtest.as_ref()));
        if let Some(date) = outing.filter(|_| review.is_none()) {
            let days = looked.outings.iter().map(|outing| outing.day.date);
            let nearest =
                days.min_by_key(|day| (day.since(date).map_or(i32::MAX, |s| s.get_days().abs()), *day));
            let nearest = nearest.map_or_else(
                || String::from("no outing has a track log"),
                |day| format!("the nearest outing with one is `{day}`"),
            );
            let seen = format!("--outing {date}: no track log tells of it, or of any before it; {nearest}");
            findings.push(
                Finding::new(Code::BacktestRefused, seen)
                    .done("it was not reviewed")
                    .fix("give the date of an outing with a track log, and one before it"),
            );
        }
        OutlookRun { effort: looked, outlook, backtest, review }
    }

    /// The outlook for a date, by itself; `None`: without track logs there are no chances.
    pub(super) fn outlook_on(&self, date: Date) -> Option<Outlook> {
        let looking = &self.settings.effort;
        let looked = self.effort(looking);
        let asked = &self.settings.outlook;
        let water_temp = asked.water_temp.filter(|_| asked.date.is_none_or(|of| of == date));
        let settings = outlook::Settings { date: Some(date), water_temp, ..*asked };
        (!looked.outings.is_empty())
            .then(|| outlook::outlook_by(self.given(&looked), self.tracks, &settings, date, &[]))
    }

    fn given<'g>(&'g self, looked: &'g Effort) -> Given<'g> {
        Given {
            log: self.log,
            sightings: &self.schools.sightings,
            effort: looked,
            lake: self.lake,
            movement: &self.settings.movement,
            clock: self.movement.tracks.first().map_or(Clock::Date, |t| t.clock),
            looking: &self.settings.effort,
        }
    }

    /// Effort alone, which is all of this that something explained asks for.
    pub(super) fn looked(&self) -> OutlookRun {
        OutlookRun { effort: self.effort(&self.settings.effort), ..OutlookRun::default() }
    }

    fn effort(&self, looking: &effort::Settings) -> Effort {
        effort(self.track_logs, self.log, self.lake, looking, self.settings.outlook.cell.metres())
    }

    /// The effort by other settings: half and twice the swath, running for nothing and twice its weight.
    fn otherwise(&self) -> Vec<Otherwise> {
        let own = self.settings.effort;
        let swath =
            |times: f64| effort::Settings { swath: Distance::from_metres(own.swath.metres() * times), ..own };
        let running = |running_weight: f64| effort::Settings { running_weight, ..own };
        [
            ("half the swath", swath(0.5)),
            ("twice the swath", swath(2.0)),
            ("running for nothing", running(0.0)),
            ("running at twice its weight", running((2.0 * own.running_weight).min(1.0))),
        ]
        .into_iter()
        .map(|(what, looking)| (what, looking, self.effort(&looking)))
        .collect()
    }
}

fn told(backtest: Option<&Backtest>) -> Finding {
    match backtest {
        Some(b) => Finding::new(
            Code::BacktestVerdict,
            format!("`{}` seasons held out in turn: the outlook is {}", b.seasons.len(), verdict(&b.all)),
        ),
        None => Finding::new(
            Code::BacktestRefused,
            "fewer than two seasons with track logs and bait sightings on them",
        )
        .done("nothing was held out: how good the outlook is is not known")
        .fix("export more seasons, with their track logs"),
    }
}

impl OutlookRun {
    /// The backtest for the account.
    pub(super) fn skill(&self) -> Option<SkillAccount> {
        self.backtest.as_ref().map(|b| SkillAccount {
            verdict: verdict(&b.all),
            seasons: b.seasons.len(),
            outings: b.all.outings,
            sightings: b.all.sightings,
            gains: Guess::ALL
                .iter()
                .zip(b.all.gains)
                .map(|(guess, g)| GainAccount {
                    over: guess.word(),
                    gain: hundredths(g.mean),
                    low: hundredths(g.interval[0]),
                    high: hundredths(g.interval[1]),
                })
                .collect(),
            observed_over_expected: hundredths(b.all.observed_over_expected),
            reliability: b
                .reliability
                .iter()
                .map(|r| ReliabilityAccount {
                    chance: hundredths(r.chance),
                    expected: hundredths(r.expected),
                    observed: r.observed,
                })
                .collect(),
        })
    }

    /// The review for the account.
    pub(super) fn reviewed(&self) -> Option<ReviewAccount> {
        self.review.as_ref().map(|r| ReviewAccount {
            outing: r.date.to_string(),
            sightings: r.sightings.iter().map(|s| [hundredths(s.chance), hundredths(s.above)]).collect(),
            expected: hundredths(r.expected),
            best_expected: hundredths(r.best_expected),
            best_seen: r.best_seen,
            looked_at_best: r.best_km2 > 0.0,
            gain: hundredths(r.gain),
            running: r
                .running
                .iter()
                .map(|o| RunningAccount {
                    outing: o.date.to_string(),
                    sightings: o.sightings,
                    gain: hundredths(o.gain),
                    mean_so_far: hundredths(o.mean_so_far),
                })
                .collect(),
        })
    }
}
