//! A stop of a pre-fish plan: where its chance, worth and minutes come from.

use super::told::Told;
use super::{Known, counted, rounded};
use crate::prefish::{Prefish, Search, Stop, Visit, clock_text, leave_rule, look_for, seasons_near};
use crate::terms::search_law::random_search;
use serde_json::json;

pub(super) fn stop(known: &Known<'_>, number: usize) -> Told {
    let Some(prefish) = known.prefish else { return Told::default() };
    let stop = &prefish.problem.stops[number];
    let id = stop.id.to_string();
    let visits: Vec<(usize, usize, &Visit)> = prefish
        .plan
        .days
        .iter()
        .enumerate()
        .flat_map(|(day, plan)| plan.visits.iter().enumerate().map(move |(order, visit)| (day, order, visit)))
        .filter(|(_, _, visit)| visit.stop == number)
        .collect();
    let whose = if stop.facts.area.is_some() { "a holding area in season" } else { "a stop of your own" };
    let mut told = Told::new("stop", &id, format!("Stop `{}` (`{id}`): {whose}.", stop.name));
    told.fact("name", stop.name.as_str().into());
    told.fact("area", json!(stop.facts.area.map(|a| a.to_string())));
    told.say(
        "look_for",
        look_for(stop, known.lake.units).into(),
        format!("Look for: {}.", look_for(stop, known.lake.units)),
    );
    chance(known, stop, visits.first().map(|(_, _, visit)| *visit), &mut told);
    if let Some(group) = stop.group {
        let others: Vec<&str> = prefish
            .problem
            .stops
            .iter()
            .filter(|other| other.group == Some(group) && other.id != stop.id)
            .map(|other| other.name.as_str())
            .collect();
        if !others.is_empty() {
            told.say(
                "same_school",
                json!(others),
                format!(
                    "It looks for the same school as `{}`, which counts once: 1 - Π(1 - chance).",
                    others.join("`, `")
                ),
            );
        }
    }
    if visits.is_empty() {
        told.say("visits", json!([]), why_not(prefish, number));
    }
    for (day, order, visit) in visits {
        in_plan(known, prefish, day, order, visit, &mut told);
    }
    told
}

/// Where the chance of meeting a school comes from.
fn chance(known: &Known<'_>, stop: &Stop, visit: Option<&Visit>, told: &mut Told) {
    match stop.search {
        Search::Fixed { seconds, chance } => told.say(
            "chance",
            json!({"value": chance, "minutes": seconds / 60.0, "from": "your stops file"}),
            format!("Its worth of `{chance}` in `{:.0} min` stands in your stops file.", seconds / 60.0),
        ),
        Search::Chosen { q, rate_per_min, least_min, most_min } => {
            let area = known.schools.areas.iter().find(|area| Some(area.id) == stop.facts.area);
            if let Some((area, day)) = area.zip(known.practice) {
                let [seen, out] = seasons_near(area, &known.schools.sightings, day.season_day);
                let counted_q = (seen.len() as f64 + 0.5) / (out.len() as f64 + 1.0);
                // Where the chance is not that of the log (an outlook's is better), its number alone is told.
                let sentence = if (counted_q - q).abs() < 1e-9 {
                    format!(
                        "Chance that bait is there: seen within 21 days of `{}` in {} of {} with anything seen on the \
                         lake then: ({} + 0.5) / ({} + 1) = `{q:.2}`. A season in which nobody looked counts as a miss.",
                        day.season_day.month_day(),
                        counted(seen.len(), "season"),
                        out.len(),
                        seen.len(),
                        out.len()
                    )
                } else {
                    format!("Chance that bait is there: `{q:.2}`, by the outlook.")
                };
                told.say(
                    "present",
                    json!({"chance": rounded(q, 4), "seasons_seen": seen, "seasons_out": out}),
                    sentence,
                );
            }
            told.fact("least_minutes", least_min.into());
            told.fact("most_minutes", most_min.into());
            let Some(visit) = visit else { return };
            let coverage = rate_per_min * visit.search_min;
            let swept_m2 =
                crate::terms::search_law::swept_m2_s(known.looking.swath.metres(), known.search_speed)
                    * 60.0
                    * visit.search_min;
            let acres = |m2: f64| known.lake.units.area_from_square_metres(m2);
            told.say(
                "search",
                json!({
                    "minutes": rounded(visit.search_min, 1),
                    "coverage": rounded(coverage, 3),
                    "swept": rounded(acres(swept_m2), 1),
                    "place": rounded(acres(swept_m2 / coverage), 1),
                    "unit": known.lake.units.area(),
                    "chance": rounded(visit.chance, 4),
                }),
                format!(
                    "`{:.0} min` of search sweep `{:.0} {u}` of the `{:.0} {u}` it wanders in: coverage `{coverage:.2}`. \
                     Chance to meet it: {q:.2} × (1 - e^-{coverage:.2}) = {q:.2} × {:.2} = `{:.2}`.",
                    visit.search_min,
                    acres(swept_m2),
                    acres(swept_m2 / coverage),
                    random_search(coverage),
                    visit.chance,
                    u = known.lake.units.area()
                ),
            );
        }
    }
}

/// One visit: when, what it costs, when to leave.
fn in_plan(known: &Known<'_>, prefish: &Prefish, day: usize, order: usize, visit: &Visit, told: &mut Told) {
    let lake = known.lake;
    let clock = |moment| clock_text(moment, lake);
    let leg = &prefish.plan.days[day].legs[order];
    let run_min = leg.arrive.seconds_since(leg.leave) / 60.0;
    let value = json!([{
        "day": day + 1,
        "order": order + 1,
        "arrive": clock(visit.arrive),
        "begin": clock(visit.begin),
        "depart": clock(visit.depart),
        "search_min": rounded(visit.search_min, 1),
        "chance": rounded(visit.chance, 4),
        "run_min": rounded(run_min, 1),
        "leave_after_min": visit.leave_after_min,
        "leave_by": clock(visit.leave_by),
        "turn_back": clock(visit.turn_back),
        "slack_to_ramp_min": rounded(visit.slack_to_ramp_s / 60.0, 0),
        "leave_rule": leave_rule(visit, lake),
    }]);
    told.say(
        "visits",
        value,
        format!(
            "In the plan: stop `{}` of day `{}`, `{}` to `{}`, after a run of `{run_min:.0} min`. The plan as a whole is \
             worth `{:.2}` different schools.",
            order + 1,
            day + 1,
            clock(visit.begin),
            clock(visit.depart),
            prefish.plan.value
        ),
    );
    told.line(format!(
        "Leave rule: {}. Turn for the ramp by `{}`, `{:.0} min` after leaving as planned.",
        leave_rule(visit, lake),
        clock(visit.turn_back),
        visit.slack_to_ramp_s / 60.0
    ));
    told.line(crate::layers::caution::FULL.to_owned());
}

/// Why a candidate is not in the plan.
fn why_not(prefish: &Prefish, number: usize) -> String {
    match prefish.plan.unfit.iter().find(|unfit| unfit.stop == number) {
        Some(unfit) => format!("It is a must-stop that does not fit: {}.", unfit.why.words()),
        None => String::from(
            "It was a candidate and is not in the plan: the minutes and the running it takes meet more schools elsewhere.",
        ),
    }
}
