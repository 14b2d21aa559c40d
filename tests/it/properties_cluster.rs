//! Density clusters in cells give what a plain scan of all pairs gives, in any order.

use crate::plain_clusters::{neighbours, plain_cores};
use proptest::prelude::*;
use shoalwright::schools::cluster::{Label, Metric, Neighbourhood, Point, cluster};
use shoalwright::schools::waists::parted_on_stands;

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
    fn clusters_are_parted_only_where_the_way_between_sinks(points in prop::collection::vec(point(), 0..120), n in neighbourhood()) {
        let whole = cluster(&points, &n);
        let parted = parted_on_stands(&points, &[], &|_, _| true, &n);
        let height = |i: usize| points.iter().filter(|other| neighbours(&points[i], other, &n)).count();
        let heights: Vec<usize> = (0..points.len()).map(height).collect();
        // Cluster, greatest height and size of each part.
        let mut parts: Vec<(usize, usize, usize)> = Vec::new();
        for i in 0..points.len() {
            let (Some(cluster), Some(part)) = (whole[i].cluster(), parted[i].cluster()) else {
                prop_assert_eq!(whole[i], parted[i]);
                continue;
            };
            prop_assert_eq!(matches!(whole[i], Label::Core(_)), matches!(parted[i], Label::Core(_)));
            if parts.len() <= part {
                parts.resize(part + 1, (cluster, 0, 0));
            }
            let (of, top, size) = parts[part];
            prop_assert!(of == cluster || size == 0, "a part lies in one cluster");
            parts[part] = (cluster, top.max(if matches!(whole[i], Label::Core(_)) { heights[i] } else { 0 }), size + 1);
        }
        for (cluster, _, size) in &parts {
            let points_of_it = whole.iter().filter(|label| label.cluster() == Some(*cluster)).count();
            prop_assert!(*size >= n.min_points.min(points_of_it), "no part is too small");
        }
        for (i, j) in (0..points.len()).flat_map(|i| (0..i).map(move |j| (i, j))) {
            if let (Label::Core(a), Label::Core(b)) = (parted[i], parted[j])
                && a != b
                && neighbours(&points[i], &points[j], &n)
            {
                let (way, lesser) = (heights[i].min(heights[j]), parts[a].1.min(parts[b].1));
                prop_assert!(5 * way <= 3 * lesser, "{} on the way from a top of {}", way, lesser);
            }
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
