//! Density clusters by comparing each point with each other one: slow, and plain enough to be read at a glance.

use shoalwright::schools::cluster::{Metric, Neighbourhood, Point};

/// Whether two points are neighbours, written from the definition and not from the code under test.
pub(crate) fn neighbours(a: &Point, b: &Point, n: &Neighbourhood) -> bool {
    let place = (a.place[0] - b.place[0]).hypot(a.place[1] - b.place[1]);
    let straight = (a.day - b.day).abs();
    let day = if straight > n.year / 2.0 { n.year - straight } else { straight };
    let depth = a.depth.zip(b.depth).map_or(0.0, |(a, b)| (a - b).abs());
    match n.metric {
        Metric::Gates => place <= 1.0 && day <= 1.0 && depth <= 1.0,
        Metric::Euclid => place.hypot(day).hypot(depth) <= 1.0,
    }
}

/// Which points are cores, and the smallest core that each core is joined to by a chain of neighbours.
pub(crate) fn plain_cores(points: &[Point], n: &Neighbourhood) -> Vec<Option<usize>> {
    let near: Vec<Vec<usize>> = points
        .iter()
        .map(|a| (0..points.len()).filter(|j| neighbours(a, &points[*j], n)).collect())
        .collect();
    let core = |i: usize| near[i].len() >= n.min_points;
    let mut first = vec![None; points.len()];
    for start in (0..points.len()).filter(|i| core(*i)) {
        let mut waiting = vec![start];
        while let Some(i) = waiting.pop() {
            if core(i) && first[i].is_none() {
                first[i] = Some(start);
                waiting.extend(&near[i]);
            }
        }
    }
    first
}
