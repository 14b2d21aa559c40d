//! Route instances of others as problems for the planner, and a judge that knows only the instance file.

use serde_json::Value;
use shoalwright::prefish::{Day, Effort, Plan, Problem, Ramp, Search, Stop, StopFacts, TravelTable, Want};
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::place::Place;
use std::collections::BTreeMap;

const NOWHERE: Place = Place { lon: 0.0, lat: 0.0 };

/// A stop of an instance; times in minutes.
pub(crate) fn stop(name: &str, chance: f64, minutes: f64) -> Stop {
    Stop {
        id: Id::of('p', &[name]),
        name: name.to_owned(),
        place: NOWHERE,
        search: Search::Fixed { seconds: minutes * 60.0, chance },
        want: Want::May,
        group: None,
        windows: Vec::new(),
        facts: StopFacts::default(),
    }
}

/// A day of an instance from ramp 0 to ramp 1.
pub(crate) fn day(length_min: f64, range_m: f64) -> Day {
    Day {
        date: jiff::civil::date(2027, 1, 9),
        launch: minute(0.0),
        off_water: minute(length_min),
        start: 0,
        finish: 1,
        aboard_m: range_m,
        range_m,
        travel: 0,
    }
}

pub(crate) fn minute(minutes: f64) -> Instant {
    Instant::from_unix_ms((minutes * 60_000.0).round() as i64)
}

/// A problem over stops, with two ramps after them in the travel table.
pub(crate) fn problem(stops: Vec<Stop>, days: Vec<Day>, travel: TravelTable, seed: u64) -> Problem {
    let ramp = |name: &str| Ramp { name: name.to_owned(), place: NOWHERE };
    Problem {
        days,
        stops,
        ramps: vec![ramp("out"), ramp("in")],
        travel: vec![travel],
        max_stops: usize::MAX,
        seed,
        effort: Effort::default(),
    }
}

fn matrix(value: &Value, factor: f64) -> Vec<f64> {
    let rows = value.as_array().unwrap().iter();
    rows.flat_map(|row| row.as_array().unwrap()).map(|x| x.as_f64().unwrap() * factor).collect()
}

/// A lake instance: `stops`, `time` in minutes, `fuel` in kilometres, `days` with nodes after the stops.
pub(crate) fn lake_problem(instance: &Value, seed: u64) -> Problem {
    let number = |v: &Value, key: &str| v[key].as_f64();
    let days: Vec<&Value> = instance["days"].as_array().unwrap().iter().collect();
    let stops: Vec<Stop> = instance["stops"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| {
            let mut stop =
                stop(s["id"].as_str().unwrap(), number(s, "prize").unwrap(), number(s, "service").unwrap());
            stop.group = s["group"].as_u64().map(|g| g as u32);
            if s["must"] == true {
                stop.want = Want::Must;
            }
            if s["never"] == true {
                stop.want = Want::Never;
            }
            if s["close"].is_number() || s["open"].is_number() {
                let window =
                    [number(s, "open").unwrap_or(0.0), number(s, "close").unwrap_or(1e7)].map(minute);
                stop.windows = vec![window; days.len()];
            }
            stop
        })
        .collect();
    let seconds = matrix(&instance["time"], 60.0);
    let nodes = instance["time"].as_array().unwrap().len();
    let metres = if instance["fuel"].is_array() {
        matrix(&instance["fuel"], 1000.0)
    } else {
        vec![0.0; seconds.len()]
    };
    let ramp_of = |v: &Value, key: &str| number(v, key).unwrap() as usize - stops.len();
    let days = days
        .iter()
        .map(|d| Day {
            start: ramp_of(d, "start"),
            finish: ramp_of(d, "end"),
            launch: minute(number(d, "t0").unwrap()),
            ..day(number(d, "t1").unwrap(), number(d, "fuel").map_or(f64::INFINITY, |f| f * 1000.0))
        })
        .collect();
    let travel = TravelTable::new(nodes, seconds, metres).unwrap();
    problem(stops, days, travel, seed)
}

/// Judges a plan by the instance file alone, in its own units: the worth, or what is broken.
pub(crate) fn judge(instance: &Value, plan: &Plan) -> Result<f64, String> {
    let at = |matrix: &str, a: usize, b: usize| instance[matrix][a][b].as_f64().unwrap_or(0.0);
    let stops = instance["stops"].as_array().unwrap();
    let days = instance["days"].as_array().unwrap();
    if days.len() != plan.days.len() {
        return Err(format!("{} days", plan.days.len()));
    }
    let mut seen = Vec::new();
    for (day, planned) in days.iter().zip(&plan.days) {
        let node = |key: &str| day[key].as_u64().unwrap() as usize;
        let (mut now, mut fuel, mut from) = (day["t0"].as_f64().unwrap(), 0.0, node("start"));
        for visit in &planned.visits {
            let to = visit.stop;
            if seen.contains(&to) {
                return Err(format!("stop {to} twice"));
            }
            seen.push(to);
            now += at("time", from, to);
            fuel += at("fuel", from, to);
            now = now.max(stops[to]["open"].as_f64().unwrap_or(f64::NEG_INFINITY));
            if now > stops[to]["close"].as_f64().unwrap_or(f64::INFINITY) + 1e-6 {
                return Err(format!("stop {to} at {now}, after it closes"));
            }
            let told_min = visit.begin.unix_ms() as f64 / 60_000.0;
            if (told_min - now).abs() > 1e-4 {
                return Err(format!("stop {to} begins at {now}, the plan says {told_min}"));
            }
            now += stops[to]["service"].as_f64().unwrap();
            from = to;
        }
        now += at("time", from, node("end"));
        fuel += at("fuel", from, node("end"));
        if now > day["t1"].as_f64().unwrap() + 1e-6 {
            return Err(format!("back at {now}"));
        }
        if fuel > day["fuel"].as_f64().unwrap_or(f64::INFINITY) + 1e-6 {
            return Err(format!("fuel {fuel}"));
        }
    }
    let mut value = 0.0;
    let mut missed: BTreeMap<u64, f64> = BTreeMap::new();
    for (number, stop) in stops.iter().enumerate() {
        let visited = seen.contains(&number);
        if stop["must"] == true && !visited {
            return Err(format!("must-stop {number} left out"));
        }
        if stop["never"] == true && visited {
            return Err(format!("stop {number} is never to be visited"));
        }
        let prize = stop["prize"].as_f64().unwrap();
        match stop["group"].as_u64() {
            Some(group) if visited => *missed.entry(group).or_insert(1.0) *= 1.0 - prize,
            None if visited => value += prize,
            _ => {}
        }
    }
    Ok(value + missed.values().map(|m| 1.0 - m).sum::<f64>())
}

/// An orienteering instance: scores, symmetric whole-number legs, time at the node entered, start and end node.
pub(crate) struct Orienteering {
    pub(crate) score: Vec<f64>,
    pub(crate) service: Vec<f64>,
    pub(crate) legs: Vec<Vec<f64>>,
    pub(crate) limit: f64,
    pub(crate) ends: [usize; 2],
}

impl Orienteering {
    /// As a problem, one unit of the instance a minute, and the nodes that its stops are.
    pub(crate) fn problem(&self, seed: u64) -> (Problem, Vec<usize>) {
        let nodes: Vec<usize> = (0..self.score.len()).filter(|n| !self.ends.contains(n)).collect();
        let all: Vec<usize> = nodes.iter().copied().chain(self.ends).collect();
        let seconds: Vec<f64> =
            all.iter().flat_map(|a| all.iter().map(|b| 60.0 * self.legs[*a][*b])).collect();
        let metres = vec![0.0; seconds.len()];
        let stops = nodes.iter().map(|n| stop(&format!("N{n}"), self.score[*n], self.service[*n])).collect();
        let travel = TravelTable::new(all.len(), seconds, metres).unwrap();
        // The end node's own service and score are due in any case.
        let due = if self.ends[0] == self.ends[1] { 0.0 } else { self.service[self.ends[1]] };
        (problem(stops, vec![day(self.limit - due, f64::INFINITY)], travel, seed), nodes)
    }

    /// Score of a plan by the instance alone; `Err`: the way is too long, or a node is passed twice.
    pub(crate) fn judge(&self, plan: &Plan, nodes: &[usize]) -> Result<f64, String> {
        let mut way = vec![self.ends[0]];
        way.extend(plan.days[0].visits.iter().map(|v| nodes[v.stop]));
        way.push(self.ends[1]);
        let length: f64 = way.windows(2).map(|leg| self.legs[leg[0]][leg[1]] + self.service[leg[1]]).sum();
        let length = if self.ends[0] == self.ends[1] { length - self.service[self.ends[1]] } else { length };
        let mut inner = way[1..way.len() - 1].to_vec();
        inner.sort_unstable();
        inner.dedup();
        if length > self.limit + 1e-9 || inner.len() + 2 != way.len() {
            return Err(format!("length {length} of {}, {way:?}", self.limit));
        }
        let mut counted = inner;
        counted.extend(self.ends);
        counted.sort_unstable();
        counted.dedup();
        Ok(counted.iter().map(|n| self.score[*n]).sum())
    }
}

/// Legs between points of a plane, rounded half up.
pub(crate) fn rounded_legs(xy: &[[f64; 2]]) -> Vec<Vec<f64>> {
    let leg = |a: &[f64; 2], b: &[f64; 2]| ((a[0] - b[0]).hypot(a[1] - b[1]) + 0.5).floor();
    xy.iter().map(|a| xy.iter().map(|b| leg(a, b)).collect()).collect()
}

/// One of `random_exact.json`.
pub(crate) fn random_exact(instance: &Value) -> Orienteering {
    let numbers = |key: &str| -> Vec<f64> {
        instance[key].as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
    };
    let xy: Vec<[f64; 2]> = instance["xy"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| [p[0].as_f64().unwrap(), p[1].as_f64().unwrap()])
        .collect();
    let closed = instance["kind"].as_str().unwrap().starts_with("closed");
    Orienteering {
        score: numbers("score"),
        service: numbers("service"),
        legs: rounded_legs(&xy),
        limit: instance["limit"].as_f64().unwrap(),
        ends: [0, if closed { 0 } else { xy.len() - 1 }],
    }
}
