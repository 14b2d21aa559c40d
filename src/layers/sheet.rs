//! The sheet for the boat: one page a practice day, for paper, black on white.
//!
//! Self-contained: no script, no link, nothing that is loaded; the policy in its head forbids all but its own style,
//! named by its hash. Everything that comes from files or settings is escaped.

use crate::layers::Results;
use crate::layers::prefish::{OfDay, Planned, whole_course};
use crate::layers::sheet_cautions::cautions;
use crate::layers::xml::write_escaped;
use crate::prefish::{DayPlan, LateCard, NearHazard, Proof, Stop, Want, Why, clock_text};
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::units::Depth;
use std::io::{self, Write};

const STYLE: &str = include_str!("sheet.css");
/// SHA-256 of [`STYLE`] in base 64; `scripts/outside-checks` compares it with what Python computes.
const STYLE_HASH: &str = "x5Pwj2VB0Sbk+w9PuwNMWsf0aiBE4FxcIZm/MkjjmFg=";

/// As many hazards are told on a sheet: it must stay one page.
const MOST_HAZARDS: usize = 6;

/// With so many stops there is room for each caution on a line of its own.
const SPACIOUS: usize = 6;

/// Writes the sheet.
///
/// # Errors
/// When `out` cannot be written.
pub fn sheet(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    let mut page = Page { text: Vec::new(), lake: results.lake };
    page.raw("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
    page.raw("<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'sha256-");
    page.raw(STYLE_HASH);
    page.raw("'; base-uri 'none'; form-action 'none'\">\n<title>Pre-fish sheet</title>\n<style>");
    page.raw(STYLE);
    page.raw("</style>\n</head>\n<body>\n");
    if let Some(planned) = results.planned {
        for day in 0..planned.prefish.plan.days.len() {
            page.day(planned, day);
        }
    }
    page.raw("</body>\n</html>\n");
    out.write_all(&page.text)
}

/// The text so far, and the lake whose clock and units it speaks.
struct Page<'a> {
    text: Vec<u8>,
    lake: &'a Lake,
}

impl Page<'_> {
    fn raw(&mut self, html: &str) {
        self.text.extend_from_slice(html.as_bytes());
    }

    fn escaped(&mut self, text: &str) {
        write_escaped(&mut self.text, text);
    }

    /// An element with escaped text.
    fn element(&mut self, open: &str, text: &str) {
        let tag = open.split(' ').next().unwrap_or(open);
        self.raw(&format!("<{open}>"));
        self.escaped(text);
        self.raw(&format!("</{tag}>\n"));
    }

    fn clock(&self, time: Instant) -> String {
        clock_text(time, self.lake)
    }

    fn distance(&self, metres: f64) -> String {
        let units = self.lake.units;
        format!("{:.1} {}", units.long_from_metres(metres), units.long_length())
    }

    fn day(&mut self, planned: Planned<'_>, day: usize) {
        let plan = &planned.prefish.plan.days[day];
        self.raw("<section>\n");
        self.head(planned, day);
        self.raw("<table>\n<thead><tr><th>To</th>");
        let unit = self.lake.units.long_length();
        for name in ["Leave", "There", unit, "T / M \u{b0}", "Run (slow)", "Search", "Leave by", "Turn by"] {
            self.element("th class=\"n\"", name);
        }
        self.raw("</tr></thead>\n<tbody>\n");
        for leg in 0..plan.legs.len() {
            self.leg(planned, (day, leg));
            if leg < plan.visits.len() {
                self.visit(planned, (day, leg));
            }
        }
        self.raw("</tbody>\n</table>\n");
        self.element("p", "Run and search in minutes; leave by: or the rest is late; turn by: the last time to run for the ramp.");
        self.hazards(planned, day);
        self.fuel(plan);
        self.raw("<div class=\"late\">\n");
        for card in &plan.late {
            self.late(plan, card);
        }
        self.raw("</div>\n");
        let told = cautions(planned, day, self.lake);
        if plan.visits.len() <= SPACIOUS {
            for caution in &told {
                self.element("p", caution);
            }
        } else {
            self.element("p", &told.join(" "));
        }
        self.raw("</section>\n");
    }

    fn head(&mut self, planned: Planned<'_>, day: usize) {
        let (asked, plan) = (&planned.prefish.problem.days[day], &planned.prefish.plan.days[day]);
        let lake = if self.lake.name.is_empty() { String::new() } else { format!("{}: ", self.lake.name) };
        let weekday = asked.date.strftime("%A");
        self.element("h1", &format!("{lake}practice day {}, {weekday} {}", day + 1, asked.date));
        let ramp = |n: usize| planned.prefish.problem.ramps[n].name.as_str();
        let mut line = format!("Launch {} at {}", self.clock(asked.launch), ramp(asked.start));
        if let Some(leg) = plan.legs.first().filter(|_| !plan.visits.is_empty()) {
            line.push_str(" (leave by ");
            line.push_str(&self.clock(leg.leave_by));
            line.push_str(" for all of this)");
        }
        line += ". ";
        let back = format!(
            "Back at {} {} by plan, {} at the latest ({:.0} min to spare).",
            ramp(asked.finish),
            self.clock(plan.back),
            self.clock(asked.off_water),
            plan.slack_s / 60.0
        );
        line.push_str(&back);
        self.element("p", &line);
        let sun = planned.prefish.windows[day].sun;
        let times = [
            ("civil dawn", sun.dawn),
            ("sunrise", sun.sunrise),
            ("sunset", sun.sunset),
            ("civil dusk", sun.dusk),
        ];
        let told = times.iter().filter_map(|(name, time)| Some(format!("{name} {}", self.clock((*time)?))));
        let mut facts: Vec<String> = told.collect();
        facts.push(planned.declination(day).map_or_else(
            || String::from("magnetic courses not known for this date"),
            |d| {
                let side = if d.degrees < 0.0 { "W" } else { "E" };
                format!("declination {:.1}° {side} ({}, {})", d.degrees.abs(), d.model, d.date)
            },
        ));
        if planned.prefish.plan.proof == Proof::Best {
            facts.push(String::from("no plan is worth more (proved)"));
        } else if let Proof::Gap(gap) = planned.prefish.plan.proof {
            facts.push(format!("at most {:.1} % more is possible", (gap * 1000.0).ceil() / 10.0));
        }
        let facts = facts.join("; ");
        self.element("p", &format!("{}{}.", facts[..1].to_uppercase(), &facts[1..]));
        if planned.prefish.ways[day].iter().any(|way| way.straight) {
            self.element("strong", "No shoreline was given: legs are straight and take no account of land.");
        }
        for unfit in &planned.prefish.plan.unfit {
            let why = match unfit.why {
                Why::NoWay => "no way through water leads there",
                Why::Time => "there is not the time for it",
                Why::Fuel => "it takes more fuel than a day has",
                Why::Others => "it does not fit beside the other stops that must be",
            };
            self.raw("<p>");
            self.element(
                "strong",
                &format!("Left out: {}: {why}.", planned.prefish.problem.stops[unfit.stop].name),
            );
            self.raw("</p>");
        }
    }

    fn leg(&mut self, planned: Planned<'_>, at: OfDay) {
        let (leg, way) = planned.leg(at);
        let course = planned.courses(at).map_or_else(String::new, |(by_true, magnetic)| {
            let magnetic =
                magnetic.map_or_else(|| String::from("?"), |m| format!("{:03.0}", whole_course(m)));
            format!("{:03.0} / {magnetic}", whole_course(by_true))
        });
        let minutes = leg.arrive.seconds_since(leg.leave) / 60.0;
        let to = planned.node_name(leg.to);
        let visit = planned.day(at).visits.get(at.1);
        self.raw("<tr class=\"run\">");
        self.element(
            "td class=\"to\"",
            &visit.map_or_else(|| to.to_owned(), |_| format!("{}. {to}", at.1 + 1)),
        );
        for cell in [
            self.clock(leg.leave),
            self.clock(leg.arrive),
            format!("{:.1}", self.lake.units.long_from_metres(leg.metres)),
            course,
            format!("{minutes:.0} ({:.0})", way.slow_s / 60.0),
            visit.map_or_else(String::new, |v| format!("{:.0}", v.search_min)),
            visit.map_or_else(String::new, |v| self.clock(v.leave_by)),
            visit.map_or_else(String::new, |v| self.clock(v.turn_back)),
        ] {
            self.element("td class=\"n\"", &cell);
        }
        self.raw("</tr>\n");
        if planned.is_close(at) {
            let units = self.lake.units;
            let kept_off = units.short_from_metres(way.kept_off_m);
            let told = format!("This leg keeps off the shore only {kept_off:.0} {}.", units.short_length());
            self.raw("<tr><td colspan=\"9\">");
            self.element("strong", &told);
            self.raw("</td></tr>\n");
        }
    }

    fn visit(&mut self, planned: Planned<'_>, at: OfDay) {
        let (visit, stop) = planned.visit(at);
        let mut parts = vec![self.sought(stop)];
        if visit.begin > visit.arrive {
            parts.push(format!("opens {}", self.clock(visit.begin)));
        }
        if stop.want == Want::Must {
            parts.push(String::from("MUST"));
        }
        parts.push(format!("nothing in {} min: leave", visit.leave_after_min));
        if let Some(alternate) = visit.alternates.first() {
            let name = &planned.prefish.problem.stops[alternate.stop].name;
            parts.push(format!("else {name}, {:.0} min", alternate.seconds / 60.0));
        }
        self.raw("<tr>");
        self.element("td colspan=\"9\"", &parts.join("; "));
        self.raw("</tr>\n");
    }

    /// What to look for, short enough for a line: `bait 20-31 ft over 44, 50-56 F, within 295 ft`.
    fn sought(&self, stop: &Stop) -> String {
        let (units, facts) = (self.lake.units, &stop.facts);
        let (u, t) = (units.short_length(), units.temperature().to_ascii_uppercase());
        let depth = |depth: Depth| units.short_from_metres(depth.metres()).round();
        let mut parts = Vec::new();
        match (facts.fish_depth, facts.water_depth) {
            (Some([low, high]), Some(bottom)) => {
                parts.push(format!("bait {}-{} {u} over {}", depth(low), depth(high), depth(bottom)));
            }
            (Some([low, high]), None) => parts.push(format!("bait {}-{} {u}", depth(low), depth(high))),
            (None, Some(bottom)) => parts.push(format!("bottom {} {u}", depth(bottom))),
            (None, None) if facts.area.is_none() => parts.push(String::from("your own stop")),
            (None, None) => parts.push(String::from("bait, depth not known")),
        }
        if let Some([low, high]) = facts.water_temp {
            parts.push(format!("{:.0}-{:.0} {t}", units.degrees(low), units.degrees(high)));
        }
        if let Some(radius) = facts.radius_m {
            parts.push(format!("within {:.0} {u}", units.short_from_metres(radius)));
        }
        parts.join(", ")
    }

    /// Hazards beside the legs, those with least water over them first where there is no room for all.
    fn hazards(&mut self, planned: Planned<'_>, day: usize) {
        let mut near: Vec<_> = planned.hazards(day).collect();
        if near.is_empty() {
            return;
        }
        near.sort_by(|a, b| {
            let over = |h: &NearHazard| h.over_m.or(h.over_lowest_m).unwrap_or(f64::MIN);
            over(a).total_cmp(&over(b)).then(a.leg.cmp(&b.leg))
        });
        let told: Vec<String> = near
            .iter()
            .take(MOST_HAZARDS)
            .map(|h| format!("leg {}, {}", h.leg + 1, h.told(self.lake)))
            .collect();
        let rest = near.len().saturating_sub(MOST_HAZARDS);
        let more = if rest > 0 { format!("; and {rest} more in the layers") } else { String::new() };
        self.raw("<p>");
        self.element("strong", "Hazards marked near the legs:");
        self.escaped(&format!(" {}{more}. Others may be there.", told.join("; ")));
        self.raw("</p>\n");
    }

    fn fuel(&mut self, plan: &DayPlan) {
        let fuel = &plan.fuel;
        let run = self.distance(plan.run_m);
        let mut told = if fuel.range_m.is_finite() {
            format!(
                "Fuel: {run} of the {} that may be run, {} left; farthest point {} from the ramp.",
                self.distance(fuel.range_m),
                self.distance(fuel.left_m),
                self.distance(fuel.farthest_m)
            )
        } else {
            format!("Fuel: {run} to run. No range was given: a third out, a third back, a third kept.")
        };
        if fuel.far {
            told += " WARNING: that is farther than a third of the range aboard.";
        }
        self.element("p", &told);
    }

    /// A late card, by the numbers of the stops.
    fn late(&mut self, plan: &DayPlan, card: &LateCard) {
        let number = |stop: usize| {
            let place = plan.visits.iter().position(|v| v.stop == stop);
            place.map_or_else(|| String::from("?"), |n| (n + 1).to_string())
        };
        let planned_min =
            |stop: usize| plan.visits.iter().find(|v| v.stop == stop).map(|v| v.search_min.round());
        let mut told = match &card.dropped[..] {
            [] => String::from("drop nothing"),
            dropped => {
                let numbers: Vec<String> = dropped.iter().map(|stop| number(*stop)).collect();
                format!("drop {}", numbers.join(", then "))
            }
        };
        let kept: Vec<String> = card
            .kept
            .iter()
            .map(|(stop, begin, minutes)| {
                let shorter = planned_min(*stop) != Some(minutes.round());
                let minutes = if shorter { format!(" ({minutes:.0} min)") } else { String::new() };
                format!("{} at {}{minutes}", number(*stop), self.clock(*begin))
            })
            .collect();
        if !kept.is_empty() {
            told.push_str("; keep ");
            told.push_str(&kept.join(", "));
        }
        told += &card.back.map_or_else(
            || String::from("; even straight to the ramp is too late: do not start"),
            |back| format!("; back {}", self.clock(back)),
        );
        self.raw("<p>");
        self.element("strong", &format!("{} min late:", card.minutes));
        self.escaped(&format!("{told}."));
        self.raw("</p>\n");
    }
}
