//! Cautions of the sheet: fixed wording, shortened for paper, those whose reason holds on the day.

use crate::layers::prefish::Planned;
use crate::terms::lake::Lake;
use crate::terms::units::{Depth, WaterTemp};

/// Below this the Coast Guard speaks of cold water, in Fahrenheit.
const COLD_F: f64 = 70.0;
/// Below this the wording is stronger, in Fahrenheit.
const VERY_COLD_F: f64 = 60.0;
/// Fish from deeper than this may be hurt by coming up, in feet.
const DEEP_FT: f64 = 25.0;

/// The cautions of a day, in order.
pub(super) fn cautions(planned: Planned<'_>, day: usize, lake: &Lake) -> Vec<String> {
    let mut told = vec![
        String::from(
            "NOT FOR NAVIGATION: routes come from the outline and hazards you supplied and show no depth, buoy, current, \
             wake, new obstruction or closure. Keep a lookout; official charts and posted marks come first.",
        ),
        format!(
            "Hazard marks are those someone recorded, at that day's level; none marked means nothing. Level now: {}.",
            level(planned, day, lake)
        ),
        String::from(
            "Check weather and wind before and during the trip: open water turns rough quickly. The plan knows none.",
        ),
        rules(planned, day),
        String::from(
            "Life jackets: US rule, a wearable one aboard for each person, worn under way by children under 13 \
             (33 CFR 175.15), or as the state says. Wear yours under power. Wear the engine cut-off link (US law for many \
             boats under 26 ft).",
        ),
    ];
    told.extend(cold(planned.surface));
    if deep(planned, day) {
        told.push(String::from(
            "Fish from deep water are hurt as they rise. Some agencies advise against release from below 25 or 30 ft; \
             for venting or weighted return ask yours, do not learn it here.",
        ));
    }
    told.push(String::from(
        "Ice is not planned for; agencies say no ice is safe. Sun times are for a flat horizon: the organiser's clock decides.",
    ));
    told
}

fn level(planned: Planned<'_>, day: usize, lake: &Lake) -> String {
    let date = planned.prefish.problem.days[day].date;
    let of_readings = lake.level_m(date).map(|m| format!("{}, {date}", lake.level_text(m)));
    let expected = || Some(format!("{} expected for {date}", lake.level_text(lake.expected_level_m?)));
    of_readings.or_else(expected).unwrap_or_else(|| String::from("not given"))
}

fn rules(planned: Planned<'_>, day: usize) -> String {
    let rules = &planned.prefish.rules[day];
    let used = if rules.is_empty() { String::from("none") } else { rules.join("; ") };
    format!(
        "Licence, limits, closed water, speed, event rules and dates are those of agency, owner and organiser: where \
         this sheet differs, they are right. Rules used here: {used}."
    )
}

fn cold(surface: Option<WaterTemp>) -> Option<String> {
    let fahrenheit = surface.map(WaterTemp::fahrenheit);
    if fahrenheit.is_some_and(|f| f >= COLD_F) {
        return None;
    }
    let very = fahrenheit.filter(|f| *f < VERY_COLD_F);
    let wear = very.map_or("", |_| " Keep the life jacket on, closed, at all times, and do not go alone.");
    Some(format!(
        "Cold water: cold shock in the first minute, no strength in about ten, hypothermia in about an hour. Dress for the \
         water; leave word where you go and when you are due.{wear}"
    ))
}

fn deep(planned: Planned<'_>, day: usize) -> bool {
    planned.prefish.plan.days[day].visits.iter().any(|visit| {
        let band = planned.prefish.problem.stops[visit.stop].facts.fish_depth;
        band.is_some_and(|[_, high]: [Depth; 2]| high.feet() > DEEP_FT)
    })
}
