//! waists: density clusters in, the same parted at their waists out.
//!
//! Bait on its way from one holding place to the next is marked here and there, and such marks join the two into one
//! cluster that tells neither a place nor a part of the season. Seen as hills, whose height at a core point is the number
//! of its neighbours, two tops stay one cluster only where the way between them does not sink much below the lesser
//! (Chazal, Guibas, Oudot & Skraba 2013, J. ACM 60(6), article 41, from memory; clusters without a waist stay as they are).
//! On simulated lakes (seeds 101 to 124, 201 to 224) the index of areas rose from .511 and .503 to .543 and .548; hollow-a,
//! b and c in the tests have no waists.
//!
//! Does not: change which points are noise.

use crate::schools::bounds::{Bounds, Neighbourhood, Point, apart};
use crate::schools::cells::{Cells, Stands};
use crate::schools::cluster::{Label, Labelled, labelled};

/// The way between two tops is a waist where no more than this share of the lesser top's neighbours is left. Between .4
/// and .8 the index of areas differed by .02 on those lakes.
const WAIST: f64 = 0.6;
/// Pairs that may have to be compared, in multiples of a cluster's points; a cluster with more is left whole, so that piles
/// do not cost the square of their marks.
const PAIRS_A_POINT: usize = 500;
/// As many are compared in any case: all pairs of 2,000 sightings.
const FEW_PAIRS: usize = 4_000_000;

/// Clusters as `cluster_on_stands` does, and parts them at their waists. No part has fewer than `min_points` points, unless
/// its cluster has.
#[must_use]
pub fn parted_on_stands(
    points: &[Point],
    stands: &[u32],
    meet: &dyn Fn(u32, u32) -> bool,
    neighbourhood: &Neighbourhood,
) -> Vec<Label> {
    let cells = Cells::new(points, neighbourhood, Stands { of_point: stands, meet });
    part(points, &cells, labelled(points, &cells, neighbourhood), neighbourhood)
}

fn part(points: &[Point], cells: &Cells, found: Labelled, n: &Neighbourhood) -> Vec<Label> {
    let Labelled { mut labels, borders } = found;
    let clusters = labels.iter().filter_map(|label| label.cluster()).max().map_or(0, |last| last + 1);
    let mut cores: Vec<Vec<CorePoint>> = vec![Vec::new(); clusters];
    for (column, range) in cells.columns.iter().enumerate() {
        for (cell, i) in range.clone().flat_map(|cell| cells.points_of(cell).iter().map(move |i| (cell, *i)))
        {
            if let Label::Core(cluster) = labels[i as usize] {
                cores[cluster].push(CorePoint { column, cell, number: i });
            }
        }
    }
    let mut borders_of: Vec<Vec<(u32, u32)>> = vec![Vec::new(); clusters];
    for (border, core) in borders {
        if let Label::Core(cluster) = labels[core as usize] {
            borders_of[cluster].push((border, core));
        }
    }
    // The top that each point belongs to: a core point, whose number names the part.
    let mut top_of: Vec<u32> = vec![NONE; points.len()];
    let mut place_of: Vec<u32> = vec![NONE; points.len()];
    for (cores, borders) in cores.iter().zip(&borders_of) {
        let tops = match Slopes::new(points, cells, cores, n, &mut place_of) {
            Some(slopes) => slopes.tops(borders, &place_of, n.min_points),
            None => vec![0; cores.len()],
        };
        for (core, top) in cores.iter().zip(&tops) {
            top_of[core.number as usize] = cores[*top].number;
        }
        for (border, core) in borders {
            top_of[*border as usize] = top_of[*core as usize];
        }
    }
    let mut number_of_top: Vec<Option<usize>> = vec![None; points.len()];
    let mut parts = 0;
    for i in 0..points.len() {
        if let Label::Core(_) = labels[i] {
            number_of_top[top_of[i] as usize].get_or_insert_with(|| {
                parts += 1;
                parts - 1
            });
        }
    }
    for (label, top) in labels.iter_mut().zip(&top_of) {
        let number = number_of_top.get(*top as usize).copied().flatten();
        *label = match (*label, number) {
            (Label::Core(_), Some(number)) => Label::Core(number),
            (Label::Border(_), Some(number)) => Label::Border(number),
            _ => Label::Noise,
        };
    }
    labels
}

const NONE: u32 = u32::MAX;

/// A core point and where it stands in the cells.
#[derive(Clone, Copy)]
struct CorePoint {
    column: usize,
    cell: usize,
    /// Its number in the whole.
    number: u32,
}

/// The core points of one cluster, by their places in a list, with their neighbours among one another.
struct Slopes {
    /// Number of each in the whole, which breaks ties.
    number: Vec<u32>,
    /// Neighbours of each, of whatever kind, itself counted.
    height: Vec<u32>,
    near: Vec<u32>,
    /// Start of each point's neighbours in `near`, and one more.
    starts: Vec<usize>,
}

impl Slopes {
    /// `None`: too many pairs. `place_of` is scratch: it is left with the place of each core point in the list.
    fn new(
        points: &[Point],
        cells: &Cells,
        cores: &[CorePoint],
        n: &Neighbourhood,
        place_of: &mut [u32],
    ) -> Option<Self> {
        let mut columns = Vec::new();
        let pairs: usize = cores
            .chunk_by(|a, b| a.column == b.column)
            .map(|own| {
                cells.columns_near(own[0].column, &mut columns);
                let near = columns.iter().flat_map(|column| cells.columns[*column].clone());
                own.len() * near.map(|cell| cells.points_of(cell).len()).sum::<usize>()
            })
            .sum();
        if pairs > FEW_PAIRS.max(PAIRS_A_POINT * cores.len()) {
            return None;
        }
        for (place, core) in (0..).zip(cores) {
            place_of[core.number as usize] = place;
        }
        let mut this = Self {
            number: cores.iter().map(|core| core.number).collect(),
            height: Vec::with_capacity(cores.len()),
            near: Vec::new(),
            starts: vec![0],
        };
        let mut of = None;
        for core in cores {
            if of != Some(core.column) {
                cells.columns_near(core.column, &mut columns);
                of = Some(core.column);
            }
            let point = &points[core.number as usize];
            let here = Bounds::of(point);
            let mut height = 0;
            for cell in columns.iter().flat_map(|other| cells.columns[*other].clone()) {
                if !cells.may_touch(&here, &cells.list[cell].bounds) || !cells.meet(core.cell, cell) {
                    continue;
                }
                for j in cells.points_of(cell) {
                    if apart(point, &points[*j as usize], n.year).within(n.metric) {
                        height += 1;
                        // Neighbours that are cores are of this cluster; other points have no place in its list.
                        let place = place_of[*j as usize];
                        if this.number.get(place as usize) == Some(j) {
                            this.near.push(place);
                        }
                    }
                }
            }
            this.height.push(height);
            this.starts.push(this.near.len());
        }
        Some(this)
    }

    fn near(&self, place: usize) -> impl Iterator<Item = usize> + '_ {
        self.near[self.starts[place]..self.starts[place + 1]].iter().map(|other| *other as usize)
    }

    /// What comes first on the way down: the higher, of equals the first in the whole.
    fn rank(&self, place: usize) -> (u32, u32) {
        (u32::MAX - self.height[place], self.number[place])
    }

    /// The top that each point belongs to.
    fn tops(&self, borders: &[(u32, u32)], place_of: &[u32], min_points: usize) -> Vec<usize> {
        let mut above: Vec<Option<usize>> = vec![None; self.number.len()];
        let mut order: Vec<usize> = (0..self.number.len()).collect();
        order.sort_unstable_by_key(|place| self.rank(*place));
        for place in order {
            let Some(up) = self
                .near(place)
                .filter(|other| above[*other].is_some())
                .min_by_key(|other| self.rank(*other))
            else {
                above[place] = Some(place);
                continue;
            };
            let mut own = top(&mut above, up);
            above[place] = Some(own);
            for other in self.near(place).filter(|other| *other != place) {
                if above[other].is_none() {
                    continue;
                }
                let other = top(&mut above, other);
                let [greater, lesser] =
                    if self.rank(own) < self.rank(other) { [own, other] } else { [other, own] };
                if greater != lesser && f64::from(self.height[place]) > WAIST * f64::from(self.height[lesser])
                {
                    above[lesser] = Some(greater);
                    own = greater;
                }
            }
        }
        let mut tops: Vec<usize> = (0..self.number.len()).map(|place| top(&mut above, place)).collect();
        let at_border: Vec<usize> =
            borders.iter().map(|(_, core)| place_of[*core as usize] as usize).collect();
        self.join_small(&mut tops, &at_border, min_points);
        tops
    }

    /// Gives parts of fewer than `min_points` points to the neighbour across the highest way.
    fn join_small(&self, tops: &mut [usize], at_border: &[usize], min_points: usize) {
        loop {
            let mut sizes = vec![0; tops.len()];
            for top in tops.iter().chain(at_border.iter().map(|core| &tops[*core])) {
                sizes[*top] += 1;
            }
            let small = |top: &usize| (1..min_points).contains(&sizes[*top]);
            let Some(least) =
                (0..tops.len()).filter(small).min_by_key(|top| (sizes[*top], self.number[*top]))
            else {
                return;
            };
            let ways = (0..tops.len()).filter(|place| tops[*place] == least).flat_map(|place| {
                self.near(place).filter(|other| tops[*other] != least).map(move |other| (place, other))
            });
            let Some((_, across)) =
                ways.min_by_key(|(place, other)| self.rank(*place).max(self.rank(*other)))
            else {
                return;
            };
            let joined = tops[across];
            tops.iter_mut().filter(|top| **top == least).for_each(|top| *top = joined);
        }
    }
}

fn top(above: &mut [Option<usize>], mut place: usize) -> usize {
    while let Some(up) = above[place].filter(|up| *up != place) {
        above[place] = above[up];
        place = up;
    }
    place
}

#[cfg(test)]
mod tests {
    use super::parted_on_stands;
    use crate::schools::cluster::{Label, Metric, Neighbourhood, Point, cluster};

    const FOUR: Neighbourhood = Neighbourhood { metric: Metric::Gates, year: f64::INFINITY, min_points: 4 };

    /// Points on a line, as many at each place as told.
    fn line(at: &[(f64, usize)]) -> Vec<Point> {
        let point = |east: f64| Point { place: [east, 0.0], day: 0.0, depth: None };
        at.iter().flat_map(|(east, count)| (0..*count).map(move |_| point(*east))).collect()
    }

    /// Cluster of the points at each place, before and after.
    fn clusters(at: &[(f64, usize)]) -> [Vec<Option<usize>>; 2] {
        let points = line(at);
        let whole = cluster(&points, &FOUR);
        let parted = parted_on_stands(&points, &[], &|_, _| true, &FOUR);
        [whole, parted].map(|labels| {
            let mut first = 0;
            at.iter()
                .map(|(_, count)| {
                    first += count;
                    labels[first - 1].cluster()
                })
                .collect()
        })
    }

    #[test]
    fn a_few_marks_on_the_way_do_not_join_two_places() {
        // Heights 10, 12, 4, 12, 10: at the middle less than .6 of the tops.
        let [whole, parted] = clusters(&[(0.0, 9), (0.9, 1), (1.7, 2), (2.5, 1), (3.4, 9)]);
        assert_eq!(whole, [Some(0); 5]);
        assert_eq!(parted[0], parted[1]);
        assert_eq!(parted[3], parted[4]);
        assert_ne!(parted[0], parted[4]);
    }

    #[test]
    fn what_is_marked_as_often_all_the_way_stays_one() {
        // Heights 4, 6, 6, 6, 4: nowhere less than .6 of the top.
        let [whole, parted] = clusters(&[(0.0, 2), (0.9, 2), (1.8, 2), (2.7, 2), (3.6, 2)]);
        assert_eq!(whole, [Some(0); 5]);
        assert_eq!(parted, whole);
    }

    #[test]
    fn one_great_pile_is_left_whole_and_costs_no_square() {
        let points = line(&[(0.0, 200_000)]);
        let labels = parted_on_stands(&points, &[], &|_, _| true, &FOUR);
        assert!(labels.iter().all(|label| *label == Label::Core(0)));
    }
}
