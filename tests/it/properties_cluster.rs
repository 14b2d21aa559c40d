//! Density clusters in cells give what a plain scan of all pairs gives, in any order.

use crate::plain_clusters::{neighbours, plain_cores};
use proptest::prelude::*;
use shoalwright::schools::cluster::{Label, Metric, Neighbourhood, Point, cluster};

const YEAR: f64 = 6.0;

/// Points on a coarse raster, so that piles and differences of just one gate are common.
fn point() -> impl Strategy<Value = Point> {
    let step = |n: i32| f64::from(n) / 4.0;
    (-8..8_i32, -3..3_i32, 0..24_i32, prop::option::weighted(0.7, 0..12_i32)).prop_map(
        move |(x, y, day, depth)| Point { place: [step(x), step(y)], day: step(day), depth: depth.map(step) },
    )
}

fn neighbourhood() -> impl Strategy<Value = Neighbourhood> {
    (prop::bool::ANY, prop::sample::select(vec![YEAR, f64::INFINITY]), 1..6_usize).prop_map(
        |(gates, year, min_points)| Neighbourhood {
            metric: if gates { Metric::Gates } else { Metric::Euclid },
            year,
            min_points,
        },
    )
}

fn squared(a: &Point, b: &Point, year: f64) -> f64 {
    let straight = (a.day - b.day).abs();
    let day = straight.min(year - straight);
    let depth = a.depth.zip(b.depth).map_or(0.0, |(a, b)| a - b);
    (a.place[0] - b.place[0]).powi(2) + (a.place[1] - b.place[1]).powi(2) + day * day + depth * depth
}

proptest! {
    #[test]
    fn cells_give_what_a_scan_of_all_pairs_gives(points in prop::collection::vec(point(), 0..120), n in neighbourhood()) {
        let labels = cluster(&points, &n);
        let firsts = plain_cores(&points, &n);
        let mut number_of_first = std::collections::BTreeMap::new();
        for (i, (label, first)) in labels.iter().zip(&firsts).enumerate() {
            match (label, first) {
                // Clusters are numbered in the order of their first cores.
                (Label::Core(cluster), Some(first)) => {
                    let next = number_of_first.len();
                    prop_assert_eq!(*number_of_first.entry(*first).or_insert(next), *cluster);
                }
                (Label::Core(_), None) | (_, Some(_)) => prop_assert!(false, "point {} is {:?}", i, label),
                _ => {}
            }
        }
        for (i, label) in labels.iter().enumerate().filter(|(i, _)| firsts[*i].is_none()) {
            let nearest = (0..points.len())
                .filter(|j| firsts[*j].is_some() && neighbours(&points[i], &points[*j], &n))
                .min_by(|j, k| {
                    let away = |j: usize| squared(&points[i], &points[j], n.year);
                    away(*j).total_cmp(&away(*k)).then(j.cmp(k))
                });
            let wanted = nearest.map_or(Label::Noise, |j| Label::Border(labels[j].cluster().unwrap()));
            prop_assert_eq!(*label, wanted, "point {}", i);
        }
    }

    #[test]
    fn two_great_piles_are_joined_just_when_a_pair_touches(
        a in prop::collection::vec((0..40_i32, 0..40_i32), 40..120),
        b in prop::collection::vec((0..40_i32, 0..40_i32), 40..120),
        apart in 90..150_i32,
    ) {
        // Within a pile all are neighbours; between the piles lies about one gate.
        let place = |(x, y): (i32, i32), east: i32| [f64::from(x + east) / 100.0, f64::from(y) / 100.0];
        let points: Vec<Point> = a.iter().map(|p| place(*p, 0)).chain(b.iter().map(|p| place(*p, apart)))
            .map(|place| Point { place, day: 0.0, depth: None })
            .collect();
        let n = Neighbourhood { metric: Metric::Gates, year: f64::INFINITY, min_points: 4 };
        let (one, other) = points.split_at(a.len());
        let touches = one.iter().any(|p| other.iter().any(|q| neighbours(p, q, &n)));
        let labels = cluster(&points, &n);
        prop_assert_eq!(labels[0] == labels[a.len()], touches);
    }
}
