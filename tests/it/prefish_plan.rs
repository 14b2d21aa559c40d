//! The pre-fish planner against proven answers of others, judged from the instance files alone.

use crate::prefish_instances::{day, judge, lake_problem, problem, random_exact, stop};
use serde_json::Value;
use shoalwright::prefish::{Plan, Problem, Proof, Search, TravelTable, Want, Why, plan};
use std::fs;
use std::path::Path;

fn read(path: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference").join(path);
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

/// Origin: `fixtures/README.md`, row `reference/prefish`. Every seed must reach the proven optimum; the bench
/// `prefish` looks at seeds 1 to 5 of all.
#[track_caller]
fn reaches_the_optimum(name: &str, seeds: u64) {
    let instance = read(&format!("prefish/{name}.json"));
    let optimum = instance["optimum"].as_f64().unwrap();
    for seed in 1..=seeds {
        let plan = plan(&lake_problem(&instance, seed));
        let value = judge(&instance, &plan).unwrap();
        assert!((value - optimum).abs() < 1e-6, "{name}, seed {seed}: {value} of {optimum}");
        assert!((plan.value - value).abs() < 1e-9, "{name}: told {}, worth {value}", plan.value);
        if let Proof::Gap(gap) = plan.proof {
            assert!(gap > 0.0, "{name}: {gap}");
        }
    }
}

#[test]
fn small_lakes_get_the_best_plan() {
    for name in ["open-01-tiny8", "open-02-12fuel", "open-03-16win", "rnd20-25"] {
        reaches_the_optimum(name, 3);
    }
}

#[test]
fn lakes_without_windows_get_the_best_plan() {
    reaches_the_optimum("open-04-20plain", 2);
    reaches_the_optimum("open-06-25plain", 2);
}

#[test]
fn schools_shared_by_stops_count_once_in_the_best_plan() {
    reaches_the_optimum("open-05-20group", 2);
    reaches_the_optimum("rnd11-25", 2);
}

#[test]
fn narrow_windows_get_the_best_plan() {
    reaches_the_optimum("rnd14-25", 3);
}

#[test]
fn three_days_get_the_best_plan() {
    reaches_the_optimum("open-09-25three", 1);
}

#[test]
fn what_is_said_to_be_best_is_what_another_solver_proved() {
    // Origin: `fixtures/README.md`, row `reference/orienteering`.
    let mut proven = 0;
    for instance in read("orienteering/random_exact.json").as_array().unwrap() {
        let numbers = random_exact(instance);
        let (problem, nodes) = numbers.problem(1);
        let plan = plan(&problem);
        let score = numbers.judge(&plan, &nodes).unwrap();
        let [best, bound] = ["best", "bound"].map(|key| instance[key].as_f64().unwrap());
        assert!(score <= bound, "{}: {score} of at most {bound}", instance["name"]);
        if instance["proved"] == true {
            assert!((score - best).abs() < 1e-9, "{}: {score} of {best}", instance["name"]);
        }
        proven += usize::from(plan.proof == Proof::Best);
    }
    assert!(proven >= 4, "only {proven} of 6 proven");
}

#[test]
fn a_round_of_all_must_stops_is_the_shortest() {
    // TSPLIB gr17, optimum 2085 (Reinelt 1995): the first town is the ramp, the others are must-stops.
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/orienteering/gr17.tsp");
    let text = fs::read_to_string(path).unwrap();
    let mut numbers =
        text.split("EDGE_WEIGHT_SECTION").nth(1).unwrap().split_whitespace().map_while(|x| x.parse().ok());
    let mut legs = vec![vec![0.0_f64; 17]; 17];
    for (a, b) in (0..17).flat_map(|a| (0..=a).map(move |b| (a, b))) {
        let leg: f64 = numbers.next().unwrap();
        (legs[a][b], legs[b][a]) = (leg, leg);
    }
    let nodes: Vec<usize> = (1..17).chain([0, 0]).collect();
    let table = |factor: f64| -> Vec<f64> {
        nodes.iter().flat_map(|a| nodes.iter().map(|b| factor * legs[*a][*b]).collect::<Vec<_>>()).collect()
    };
    let stops = (1..17)
        .map(|n| {
            let mut stop = stop(&format!("T{n}"), 0.5, 0.0);
            stop.want = Want::Must;
            stop
        })
        .collect();
    let travel = TravelTable::new(18, table(60.0), table(1000.0)).unwrap();
    let plan = plan(&problem(stops, vec![day(3000.0, f64::INFINITY)], travel, 1));
    assert_eq!(plan.days[0].visits.len(), 16);
    assert!((plan.days[0].run_m - 2_085_000.0).abs() < 1e-6, "{}", plan.days[0].run_m);
}

/// Stops on a line east of the ramp, `minutes` from it; a day of `length` minutes at a kilometre a minute.
fn on_a_line(minutes: &[f64], length: f64, range_km: f64) -> Problem {
    let at: Vec<f64> = minutes.iter().copied().chain([0.0, 0.0]).collect();
    let table = |factor: f64| -> Vec<f64> {
        at.iter().flat_map(|a| at.iter().map(|b| factor * (a - b).abs()).collect::<Vec<_>>()).collect()
    };
    let stops = (1..=minutes.len()).map(|n| stop(&format!("S{n}"), 0.5, 20.0)).collect();
    let travel = TravelTable::new(at.len(), table(60.0), table(1000.0)).unwrap();
    problem(stops, vec![day(length, range_km * 1000.0)], travel, 1)
}

fn visited(plan: &Plan) -> Vec<usize> {
    plan.days.iter().flat_map(|d| d.visits.iter().map(|v| v.stop)).collect()
}

#[test]
fn must_stops_that_do_not_fit_are_named_with_the_reason_and_the_rest_is_planned() {
    // Worked by hand: 100 minutes; stop 1 takes 10 + 20 + 10, stop 2 60 + 20 + 60, stop 3 as stop 1.
    let mut problem = on_a_line(&[10.0, 60.0, 10.0], 100.0, f64::INFINITY);
    problem.stops[1].want = Want::Must;
    let late = plan(&problem);
    assert_eq!(late.unfit.iter().map(|u| (u.stop, u.why)).collect::<Vec<_>>(), [(1, Why::Time)]);
    assert_eq!(visited(&late).len(), 2);
    assert_eq!(late.proof, Proof::Best);

    let mut problem = on_a_line(&[10.0, 60.0], 600.0, 100.0);
    problem.stops[1].want = Want::Must;
    assert_eq!(plan(&problem).unfit.iter().map(|u| u.why).collect::<Vec<_>>(), [Why::Fuel]);

    let mut problem = on_a_line(&[20.0, -20.0], 100.0, f64::INFINITY);
    problem.stops.iter_mut().for_each(|s| s.want = Want::Must);
    let one = plan(&problem);
    assert_eq!(one.unfit.iter().map(|u| u.why).collect::<Vec<_>>(), [Why::Others]);
    assert_eq!(visited(&one).len(), 1);
}

#[test]
fn a_stop_that_is_never_wanted_or_shut_all_day_is_not_planned() {
    let mut problem = on_a_line(&[10.0, 20.0, 30.0], 600.0, f64::INFINITY);
    problem.stops[0].want = Want::Never;
    problem.stops[1].windows =
        vec![[crate::prefish_instances::minute(1.0), crate::prefish_instances::minute(0.0)]];
    assert_eq!(visited(&plan(&problem)), [2]);
}

#[test]
fn spare_minutes_go_where_the_next_one_is_worth_most() {
    // Koopman's law: at the best split of 60 minutes over q1 = 0.8, r1 = 0.05 and q2 = 0.5, r2 = 0.1 the last
    // minutes are worth the same. Checked against all splits.
    let mut problem = on_a_line(&[0.0, 0.0], 60.0, f64::INFINITY);
    let law = [(0.8, 0.05), (0.5, 0.1)];
    for (stop, (q, rate_per_min)) in problem.stops.iter_mut().zip(law) {
        stop.search = Search::Chosen { q, rate_per_min, least_min: 10, most_min: 50 };
    }
    let worth = |minutes: [f64; 2]| -> f64 {
        minutes.iter().zip(law).map(|(t, (q, r))| q * (1.0 - (-r * t).exp())).sum()
    };
    let best = (10..=50).map(|t| worth([f64::from(t), f64::from(60 - t)])).fold(0.0, f64::max);
    let plan = plan(&problem);
    assert!((plan.value - best).abs() < 1e-9, "{} of {best}", plan.value);
    assert_eq!(plan.proof, Proof::Best);
}

#[test]
fn the_times_to_leave_and_turn_back_are_the_last_that_do() {
    // Worked by hand: out 10, search 20, on 10, search 20, home 20: back after 80 of 100 minutes.
    let plan = plan(&on_a_line(&[10.0, 20.0], 100.0, f64::INFINITY));
    let day = &plan.days[0];
    assert!((day.slack_s - 1200.0).abs() < 1e-6);
    let minutes = |t: shoalwright::terms::instant::Instant| t.unix_ms() as f64 / 60_000.0;
    for visit in &day.visits {
        let spare = minutes(visit.leave_by) - minutes(visit.depart);
        assert!((spare - 20.0).abs() < 1e-6, "{visit:?}");
        let home = if visit.stop == 0 { 10.0 } else { 20.0 };
        assert!((minutes(visit.turn_back) - (100.0 - home)).abs() < 1e-6, "{visit:?}");
    }
    // 30 minutes late only one stop is left: the far one costs 40 minutes, the near one 20 (it lies on the way).
    assert_eq!((day.late[0].minutes, day.late[0].dropped.clone()), (30, vec![1]));
    assert_eq!(day.late[1].dropped, [1]);
    assert_eq!(day.late[0].kept.len(), 1);
    assert!((minutes(day.late[0].back.unwrap()) - 70.0).abs() < 1e-6);
}

#[test]
fn a_far_point_is_told_by_thirds_of_the_fuel() {
    let far = |range_km| plan(&on_a_line(&[30.0], 600.0, range_km)).days[0].fuel;
    assert!(far(80.0).far && !far(90.0).far);
    assert!((far(80.0).left_m - 20_000.0).abs() < 1e-6);
}

#[test]
fn a_plan_is_the_same_with_one_thread_and_many() {
    let instance = read("prefish/open-09-25three.json");
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let mut problem = lake_problem(&instance, 3);
        (problem.effort.rounds, problem.effort.labels) = (200, 2_000);
        pool.install(|| format!("{:?}", plan(&problem)))
    };
    assert_eq!(with(1), with(3));
}

#[test]
fn a_day_without_stops_goes_from_ramp_to_ramp() {
    let plan = plan(&on_a_line(&[], 60.0, f64::INFINITY));
    assert_eq!((plan.days[0].visits.len(), plan.days[0].legs.len()), (0, 1));
    assert_eq!(plan.proof, Proof::Best);
}
