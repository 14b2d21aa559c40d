//! What the angler reads of a plan: what to look for, when to leave, and the plan as plain text.

use crate::prefish::calendar::clock_text;
use crate::prefish::model::{Search, Stop};
use crate::prefish::result::{Proof, Visit};
use crate::prefish::stage::{Prefish, node_name};
use crate::terms::lake::Lake;
use crate::terms::units::{Depth, Units};
use std::fmt::Write;

/// `bait at 24-31 ft over 45 ft; 58-63 F in past seasons; seen 11 times in 3 seasons`.
#[must_use]
pub fn look_for(stop: &Stop, units: Units) -> String {
    let facts = &stop.facts;
    let (u, t) = (units.short_length(), units.temperature().to_ascii_uppercase());
    let depth = |d: Depth| units.short_from_metres(d.metres());
    if facts.area.is_none() {
        return String::from("as you know it: your own stop");
    }
    let mut text = String::from("bait");
    if let Some([low, high]) = facts.fish_depth {
        let _ = write!(text, " at {:.0}-{:.0} {u}", depth(low), depth(high));
    }
    if let Some(water) = facts.water_depth {
        let _ = write!(text, " over {:.0} {u}", depth(water));
    }
    if let Some([low, high]) = facts.water_temp {
        let _ = write!(text, "; {:.0}-{:.0} {t} in past seasons", units.degrees(low), units.degrees(high));
    }
    let seasons = if facts.seasons == 1 { "season" } else { "seasons" };
    let _ = write!(text, "; seen {} times in {} {seasons}", facts.sightings, facts.seasons);
    text
}

/// `nothing in 20 min: leave`.
#[must_use]
pub fn leave_rule(visit: &Visit, lake: &Lake) -> String {
    let latest = clock_text(visit.leave_by, lake);
    format!("nothing in {} min: leave; in any case by {latest}", visit.leave_after_min)
}

/// The hazards beside the legs of a day, a line each.
fn hazards(text: &mut String, prefish: &Prefish, day: usize, lake: &Lake) {
    let u = lake.units.short_length();
    for hazard in &prefish.hazards[day] {
        let off = lake.units.short_from_metres(hazard.off_m);
        let _ = writeln!(text, "  hazard {off:.0} {u} off leg {}: {}", hazard.leg + 1, hazard.told(lake));
    }
}

/// The plan as plain text, a line a stop.
#[must_use]
pub fn plan_text(prefish: &Prefish, lake: &Lake) -> String {
    let (problem, plan) = (&prefish.problem, &prefish.plan);
    let clock = |moment| clock_text(moment, lake);
    let u = lake.units.long_length();
    let long = |metres: f64| lake.units.long_from_metres(metres);
    let mut text = String::new();
    for (number, (day, facts)) in plan.days.iter().zip(&problem.days).enumerate() {
        let _ = writeln!(
            text,
            "{}: {} from {}, back at {} by {} (planned {}, {:.0} min to spare); {:.1} {u}",
            facts.date,
            clock(facts.launch),
            problem.ramps[facts.start].name,
            problem.ramps[facts.finish].name,
            clock(facts.off_water),
            clock(day.back),
            day.slack_s / 60.0,
            long(day.run_m),
        );
        for rule in &prefish.rules[number] {
            let _ = writeln!(text, "  {rule}");
        }
        hazards(&mut text, prefish, number, lake);
        for (order, visit) in (1..).zip(&day.visits) {
            let stop = &problem.stops[visit.stop];
            let leg = &day.legs[order - 1];
            let must = if stop.want == crate::prefish::model::Want::Must { ", must" } else { "" };
            let _ = writeln!(
                text,
                "  {order:>2}. {}  {}-{}  {:.0} min, chance {:.2}{must}  ({:.1} {u} from {}, {:.0} min)",
                stop.name,
                clock(visit.begin),
                clock(visit.depart),
                visit.search_min,
                visit.chance,
                long(leg.metres),
                node_name(problem, leg.from),
                leg.arrive.seconds_since(leg.leave) / 60.0,
            );
            let _ = writeln!(text, "      {}", look_for(stop, lake.units));
            let _ = writeln!(
                text,
                "      {}; turn for the ramp by {}",
                leave_rule(visit, lake),
                clock(visit.turn_back)
            );
            let near: Vec<String> = visit
                .alternates
                .iter()
                .map(|a| format!("{} ({:.0} min)", problem.stops[a.stop].name, a.seconds / 60.0))
                .collect();
            if !near.is_empty() {
                let _ = writeln!(text, "      near at hand: {}", near.join(", "));
            }
        }
        for card in &day.late {
            let names: Vec<&str> = card.dropped.iter().map(|s| problem.stops[*s].name.as_str()).collect();
            let _ = match card.back {
                None => writeln!(text, "  {} min late: go home; even that is past the end", card.minutes),
                Some(back) if names.is_empty() => {
                    writeln!(text, "  {} min late: all stops stay, back {}", card.minutes, clock(back))
                }
                Some(back) => writeln!(
                    text,
                    "  {} min late: drop {}, back {}",
                    card.minutes,
                    names.join(", then "),
                    clock(back)
                ),
            };
        }
        if day.fuel.range_m.is_finite() {
            let _ = writeln!(
                text,
                "  fuel: {:.1} of {:.1} {u} that may be used; farthest from the ramp {:.1} {u}",
                long(day.run_m),
                long(day.fuel.range_m),
                long(day.fuel.farthest_m)
            );
        }
    }
    for unfit in &plan.unfit {
        let name = &problem.stops[unfit.stop].name;
        let _ = writeln!(text, "must-stop `{name}` does not fit: {}", unfit.why.words());
    }
    let worth = match plan.proof {
        Proof::Best => String::from("no plan over these stops is worth more"),
        Proof::Gap(gap) => format!("at most {:.1} % more is possible", 100.0 * gap),
        Proof::Nothing => String::from("better plans may exist"),
    };
    let _ = writeln!(text, "expected to meet {:.2} different schools; {worth}", plan.value);
    let guess = problem.stops.iter().any(|s| matches!(s.search, Search::Chosen { .. }));
    if guess {
        text.push_str(
            "chances come from past trips and a law of random search: they are no promise of fish\n",
        );
    }
    text
}
