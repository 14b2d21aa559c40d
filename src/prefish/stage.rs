//! From settings, areas, own stops and water to a plan with its ways.

use crate::prefish::calendar::{Window, clock_text, window};
use crate::prefish::candidates::{AreaSearch, area_stops, joined, own_stops};
use crate::prefish::fuel::FuelLeft;
use crate::prefish::model::{Day, Effort, Problem, Ramp, Stop, TravelTable, Want};
use crate::prefish::near_hazards::{NearHazard, near_hazards};
use crate::prefish::own_stops::OwnStop;
use crate::prefish::ramps::ramps;
use crate::prefish::result::{Plan, Proof};
use crate::prefish::settings::Settings;
use crate::schools::{HoldingArea, Sighting};
use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark};
use crate::terms::place::Place;
use crate::terms::search_law::swept_m2_s;
use crate::terms::units::Distance;
use crate::terms::zone::{Zone, ZoneKind};
use crate::travel::{Matrix, Standing, TravelSettings, Waters, hazards, zone_findings};
use jiff::civil::{Date, Time};

/// What a plan is made from.
#[derive(Clone, Copy)]
pub struct Wish<'a> {
    /// `[prefish]`.
    pub settings: &'a Settings,
    /// Full width looked over.
    pub swath: Distance,
    /// The lake.
    pub lake: &'a Lake,
    /// The merged log: hazards and access marks.
    pub log: &'a [Mark],
    /// Sightings behind the areas.
    pub sightings: &'a [Sighting],
    /// Holding areas.
    pub areas: &'a [HoldingArea],
    /// Chance that bait is in each area on the first day; `None`: not in season.
    pub chances: &'a [Option<f64>],
    /// The user's own stops.
    pub own: &'a [OwnStop],
    /// Slow and closed areas.
    pub zones: &'a [Zone],
    /// The boat is on the water already.
    pub on_water: Option<&'a OnWater>,
}

/// Where the boat is when a day is planned anew.
#[derive(Clone, Debug, PartialEq)]
pub struct OnWater {
    /// Where.
    pub from: Place,
    /// Clock time.
    pub at: Time,
    /// What fuel is left; `None`: as much as the settings say.
    pub fuel_left: Option<FuelLeft>,
    /// Names or ids of stops that were checked.
    pub done: Vec<String>,
    /// Names or ids of stops whose school was met: it counts no more, at no stop.
    pub found: Vec<String>,
}

/// A plan, what it was made for, and the ways through water.
#[derive(Clone, Debug, PartialEq)]
pub struct Prefish {
    /// The question.
    pub problem: Problem,
    /// The answer.
    pub plan: Plan,
    /// Hours and sun of each day.
    pub windows: Vec<Window>,
    /// By day and leg of the plan.
    pub ways: Vec<Vec<Way>>,
    /// By day: names of the closed and slow areas in force.
    pub rules: Vec<Vec<String>>,
    /// By day: hazard marks near its legs with little water over them, or with none known.
    pub hazards: Vec<Vec<NearHazard>>,
    /// What is told.
    pub findings: Vec<Finding>,
}

/// How a leg leads through the water.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Its corners, both ends included.
    pub path: Vec<Place>,
    /// Seconds below running speed.
    pub slow_s: f64,
    /// By how many seconds the leg could be quicker at most.
    pub slack_s: f64,
    /// Straight distance in metres, over land too.
    pub straight_m: f64,
    /// Distance kept from the shore in metres.
    pub kept_off_m: f64,
    /// No shoreline is known: the leg takes no account of land.
    pub straight: bool,
}

/// Why nothing can be planned.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct PrefishError(String);

pub(super) fn refuse<T>(what: impl Into<String>) -> Result<T, PrefishError> {
    Err(PrefishError(what.into()))
}

/// Plans the practice days.
///
/// # Errors
/// When no date, start or stop is given, the start is unknown, on land or closed on all days, or no time is left.
pub fn prefish(wish: &Wish) -> Result<Prefish, PrefishError> {
    let Some(first) = wish.settings.date else {
        return refuse("no practice day is given: add --date 2027-01-09, or set prefish.date");
    };
    let mut findings = Vec::new();
    let ramps = ramps(wish)?;
    let windows = windows(wish, first, ramps[0].place, &mut findings)?;
    let mut stops = stops(wish, &windows, &mut findings)?;
    if let Some(now) = wish.on_water {
        mark_done(&mut stops, now)?;
    }
    findings.extend(zone_findings(wish.zones, wish.lake));
    if wish.lake.water.is_none() {
        findings.push(
            Finding::new(Code::ShorelineMissing, "No shoreline is given")
                .done("all legs are straight and may cross land")
                .fix("set lake.shoreline before you follow any of them"),
        );
    }
    let (rules, waters) = waters(wish, &windows);
    let places: Vec<Place> = stops.iter().map(|s| s.place).chain(ramps.iter().map(|r| r.place)).collect();
    let matrices: Vec<Matrix> = waters.iter().map(|w| w.waters.matrix(&places, stops.len())).collect();
    let open = open_days(&ramps, &windows, &waters, &matrices, stops.len(), &mut findings)?;
    tell_standings(&stops, &open, &matrices, &mut findings);
    if let Some(matrix) = open.first().map(|(_, table)| &matrices[*table]) {
        for (number, stop) in stops.iter_mut().enumerate() {
            if matrix.standings()[number].is_afloat() {
                stop.place = matrix.place(number);
            }
        }
    }
    for stop in stops.iter_mut().filter(|s| !s.windows.is_empty()) {
        stop.windows = open.iter().map(|(day, _)| stop.windows[*day]).collect();
    }
    let problem = problem(wish, stops, ramps, &windows, &open, &matrices)?;
    let plan = crate::prefish::plan(&problem);
    let ways: Vec<Vec<Way>> = plan
        .days
        .iter()
        .zip(&problem.days)
        .map(|(day, facts)| {
            let matrix = &matrices[facts.travel];
            day.legs.iter().map(|leg| way(matrix, leg.from, leg.to)).collect()
        })
        .collect();
    for (day, facts) in plan.days.iter().zip(&problem.days) {
        for leg in &day.legs {
            let name = format!("{} to {}", node_name(&problem, leg.from), node_name(&problem, leg.to));
            findings.extend(matrices[facts.travel].leg_finding(leg.from, leg.to, &name));
        }
    }
    tell_plan(&problem, &plan, wish.lake, &mut findings);
    let windows: Vec<Window> = open.iter().map(|(day, _)| windows[*day]).collect();
    let rules = open.iter().map(|(day, _)| rules[*day].clone()).collect();
    let hazards = ways
        .iter()
        .zip(&problem.days)
        .map(|(ways, day)| near_hazards(wish.log, wish.lake, day.date, wish.settings.clearance, ways))
        .collect();
    Ok(Prefish { problem, plan, windows, ways, rules, hazards, findings })
}

/// What a node of the travel tables is called.
#[must_use]
pub fn node_name(problem: &Problem, node: usize) -> &str {
    match node.checked_sub(problem.stops.len()) {
        None => &problem.stops[node].name,
        Some(ramp) => &problem.ramps[ramp].name,
    }
}

fn windows(
    wish: &Wish,
    first: Date,
    ramp: Place,
    findings: &mut Vec<Finding>,
) -> Result<Vec<Window>, PrefishError> {
    let (days, launch) = match wish.on_water {
        Some(now) => (1, Some(now.at)),
        None => (wish.settings.days, wish.settings.launch),
    };
    let mut windows = Vec::new();
    let mut date = first;
    for _ in 0..days {
        windows.push(window(date, launch, wish.settings, ramp, wish.lake, findings).map_err(PrefishError)?);
        date = date.tomorrow().map_err(|e| PrefishError(format!("`{date}` is the last date: {e}")))?;
    }
    Ok(windows)
}

fn stops(wish: &Wish, windows: &[Window], findings: &mut Vec<Finding>) -> Result<Vec<Stop>, PrefishError> {
    let settings = wish.settings;
    let search_time_min = settings.search_time.seconds() / 60.0;
    let day = wish.lake.day(windows[0].date).season_day;
    let search = AreaSearch {
        swept_m2_min: 60.0 * swept_m2_s(wish.swath.metres(), settings.search_speed),
        most_min: search_time_min as u16,
    };
    let of_areas = area_stops(wish.areas, wish.sightings, wish.chances, day, &search);
    let (own, told) = own_stops(wish.own, wish.areas, windows, wish.lake, search_time_min);
    findings.extend(told);
    let stops = joined(of_areas, own, wish.areas, findings);
    if stops.is_empty() {
        return refuse(format!(
            "there is nothing to check on {}: of `{}` holding areas of bait none was seen within 21 days of that \
             date, and prefish.stops gives no stop that can be used",
            windows[0].date,
            wish.areas.iter().filter(|a| a.kind == Kind::Bait).count()
        ));
    }
    Ok(stops)
}

/// Takes out what was checked, and all stops on a school that was met.
fn mark_done(stops: &mut [Stop], now: &OnWater) -> Result<(), PrefishError> {
    let find = |stops: &[Stop], word: &str| {
        let known = |s: &Stop| s.name.eq_ignore_ascii_case(word) || s.id.to_string() == word;
        stops.iter().position(known).ok_or_else(|| {
            let names: Vec<&str> = stops.iter().map(|s| s.name.as_str()).collect();
            PrefishError(format!("there is no stop `{word}`; the stops are `{}`", names.join("`, `")))
        })
    };
    for word in &now.done {
        let stop = find(stops, word)?;
        stops[stop].want = Want::Never;
    }
    for word in &now.found {
        let stop = find(stops, word)?;
        let group = stops[stop].group;
        for (number, other) in stops.iter_mut().enumerate() {
            if number == stop || group.is_some() && other.group == group {
                other.want = Want::Never;
            }
        }
    }
    Ok(())
}

/// Water that is alike on some days.
struct DayWaters {
    days: Vec<usize>,
    waters: Waters,
}

/// Names of the rules in force on each day, and the different waters with the days that have them.
fn waters(wish: &Wish, windows: &[Window]) -> (Vec<Vec<String>>, Vec<DayWaters>) {
    let settings = TravelSettings {
        keep_off_m: wish.settings.keep_off.metres(),
        run_m_s: wish.settings.run_speed.metres_per_second(),
        idle_m_s: wish.settings.idle_speed.metres_per_second(),
    };
    let local = |moment: crate::terms::instant::Instant| {
        moment.timestamp().map(|t| wish.lake.time_zone.to_datetime(t))
    };
    let mut rules = Vec::new();
    let mut known: Vec<(Vec<Zone>, Vec<Place>, Vec<usize>)> = Vec::new();
    for (day, window) in windows.iter().enumerate() {
        let hours = local(window.launch).zip(local(window.off_water));
        let in_force: Vec<Zone> = wish
            .zones
            .iter()
            .filter(|zone| hours.is_none_or(|(first, last)| zone.in_force(first, last)))
            .cloned()
            .collect();
        let kind = |zone: &Zone| if zone.kind == ZoneKind::Closed { "closed" } else { "slow" };
        rules.push(in_force.iter().map(|zone| format!("{}: {}", kind(zone), zone.name)).collect());
        let level_m = wish.lake.level_ahead_m(window.date);
        let off = hazards(wish.log, wish.lake, level_m, wish.settings.clearance.metres());
        match known.iter_mut().find(|(zones, hazards, _)| *zones == in_force && *hazards == off) {
            Some((_, _, days)) => days.push(day),
            None => known.push((in_force, off, vec![day])),
        }
    }
    let water = wish.lake.water.as_ref().map(crate::terms::water::Water::polygons);
    let waters = known
        .into_iter()
        .map(|(zones, hazards, days)| DayWaters {
            days,
            waters: Waters::new(water, wish.lake.plane, &zones, &hazards, &settings),
        })
        .collect();
    (rules, waters)
}

/// The days on which start and finish can be used, each with its water.
fn open_days(
    ramps: &[Ramp],
    windows: &[Window],
    waters: &[DayWaters],
    matrices: &[Matrix],
    stops: usize,
    findings: &mut Vec<Finding>,
) -> Result<Vec<(usize, usize)>, PrefishError> {
    let mut open = Vec::new();
    let mut shut = Vec::new();
    for (day, window) in windows.iter().enumerate() {
        let Some(table) = waters.iter().position(|w| w.days.contains(&day)) else { continue };
        let standings = &matrices[table].standings()[stops..];
        let mut why = None;
        for (ramp, standing) in ramps.iter().zip(standings) {
            let place = format!("`{}` ({:.6}, {:.6})", ramp.name, ramp.place.lon, ramp.place.lat);
            match standing {
                Standing::Afloat | Standing::Moved { .. } => {}
                Standing::Closed { zone } => {
                    why = Some(format!("{place} lies in the closed area `{zone}` on {}", window.date));
                }
                Standing::OnLand { metres } if metres.is_finite() => {
                    return refuse(format!(
                        "{place} lies on land, `{metres:.0} m` from the water: mend its position"
                    ));
                }
                Standing::OnLand { .. } => return refuse(format!("no open water lies near {place}")),
                Standing::OtherWater => {
                    return refuse(format!(
                        "{place} lies in another water than the start: no way leads there"
                    ));
                }
            }
        }
        let home = stops + ramps.len() - 1;
        if why.is_none() && matrices[table].trip(stops, home).is_none() && home != stops {
            why = Some(format!("no way leads from the start to the finish on {}", window.date));
        }
        match why {
            None => open.push((day, table)),
            Some(why) => shut.push(why),
        }
    }
    if open.is_empty() {
        return refuse(shut.join("; "));
    }
    findings.extend(shut.into_iter().map(|why| {
        Finding::new(Code::PrefishDayShut, why)
            .done("that day was left out of the plan")
            .fix("choose another ramp, or mend the area or its dates")
    }));
    Ok(open)
}

/// Tells of stops that are not where a boat can be, once each.
fn tell_standings(stops: &[Stop], open: &[(usize, usize)], matrices: &[Matrix], findings: &mut Vec<Finding>) {
    let mut tables: Vec<usize> = open.iter().map(|(_, table)| *table).collect();
    tables.dedup();
    for table in tables {
        for (stop, standing) in stops.iter().zip(matrices[table].standings()) {
            if let Some(finding) = standing.finding(&stop.name)
                && !findings.contains(&finding)
            {
                findings.push(finding);
            }
        }
    }
}

fn problem(
    wish: &Wish,
    stops: Vec<Stop>,
    ramps: Vec<Ramp>,
    windows: &[Window],
    open: &[(usize, usize)],
    matrices: &[Matrix],
) -> Result<Problem, PrefishError> {
    let settings = wish.settings;
    let aboard_m = match wish.on_water.and_then(|now| now.fuel_left) {
        Some(left) => left.metres(settings)?,
        None => settings.range.map_or(f64::INFINITY, Distance::metres),
    };
    // By thirds a third of a full tank is kept: on the water, of what the settings say the tank gives.
    let tank_m = settings.range.map_or(aboard_m, Distance::metres).max(aboard_m);
    let range_m = match (settings.thirds, aboard_m.is_finite()) {
        (true, true) => (aboard_m - tank_m / 3.0).max(0.0),
        _ => aboard_m,
    };
    let finish = ramps.len() - 1;
    let days = open
        .iter()
        .map(|(day, table)| Day {
            date: windows[*day].date,
            launch: windows[*day].launch,
            off_water: windows[*day].off_water,
            start: 0,
            finish,
            aboard_m,
            range_m,
            travel: *table,
        })
        .collect();
    let travel = matrices.iter().map(table).collect::<Option<_>>();
    Ok(Problem {
        days,
        stops,
        ramps,
        travel: travel.ok_or_else(|| PrefishError(String::from("the travel times are no numbers")))?,
        max_stops: settings.max_stops,
        seed: settings.seed,
        effort: Effort::default(),
    })
}

fn table(matrix: &Matrix) -> Option<TravelTable> {
    let n = matrix.len();
    let pairs = || (0..n * n).map(|pair| (pair / n, pair % n));
    let seconds = |(a, b)| {
        if a == b { 0.0 } else { matrix.trip(a, b).map_or(f64::INFINITY, |trip| trip.seconds) }
    };
    let metres = |(a, b)| if a == b { 0.0 } else { matrix.trip(a, b).map_or(0.0, |trip| trip.metres) };
    TravelTable::new(n, pairs().map(seconds).collect(), pairs().map(metres).collect())
}

fn way(matrix: &Matrix, from: usize, to: usize) -> Way {
    let stay = Way {
        path: vec![matrix.place(from), matrix.place(to)],
        slow_s: 0.0,
        slack_s: 0.0,
        straight_m: 0.0,
        kept_off_m: 0.0,
        straight: false,
    };
    match matrix.trip(from, to) {
        Some(trip) if from != to => Way {
            path: matrix.path(from, to),
            slow_s: trip.slow_seconds,
            slack_s: trip.slack_seconds,
            straight_m: trip.straight_m,
            kept_off_m: trip.kept_off_m,
            straight: trip.straight,
        },
        _ => stay,
    }
}

/// What is told about the plan: must-stops left out, fuel, how good it is.
fn tell_plan(problem: &Problem, plan: &Plan, lake: &Lake, findings: &mut Vec<Finding>) {
    for unfit in &plan.unfit {
        let stop = &problem.stops[unfit.stop];
        let why = unfit.why.words();
        findings.push(
            Finding::new(Code::MustUnfit, format!("must-stop `{}` does not fit: {why}", stop.name))
                .done("planned without it")
                .fix("give the day more time or fuel, search shorter, or let the stop go"),
        );
    }
    for (day, facts) in plan.days.iter().zip(&problem.days) {
        if day.fuel.far {
            findings.push(
                Finding::new(
                    Code::FuelFar,
                    format!(
                        "on {} a stop lies `{:.1} km` of running from the ramp, more than a third of the range",
                        facts.date,
                        day.fuel.farthest_m / 1000.0
                    ),
                )
                .fix("carry more fuel, or turn back earlier"),
            );
        }
        if day.slack_s < -1e-3 {
            findings.push(
                Finding::new(
                    Code::PrefishLate,
                    format!(
                        "even straight home the boat is back at `{}` on {}, after the day's end",
                        clock_text(day.back, lake),
                        facts.date
                    ),
                )
                .done("no stop was planned")
                .fix("turn for the ramp now"),
            );
        } else if day.fuel.left_m < -1e-3 {
            findings.push(
                Finding::new(
                    Code::FuelShort,
                    format!("straight to the ramp is farther than the fuel of {} allows", facts.date),
                )
                .done("no stop was planned")
                .fix("the reserve is for this: go home, or get fuel"),
            );
        }
    }
    let told = match plan.proof {
        Proof::Best => String::from("no plan over these stops is worth more: all were searched"),
        Proof::Gap(gap) => format!("no plan over these stops is worth over `{:.1} %` more", 100.0 * gap),
        Proof::Nothing => String::from("better plans may exist; how much better is not known"),
    };
    let worth = format!("the plan meets `{:.2}` different schools in the mean", plan.value);
    findings.push(Finding::new(Code::PrefishWorth, format!("{worth}; {told}")));
}
