//! cluster: points in gate units in, a label each out.
//!
//! Does not: know what the points are. Density clusters (Ester, Kriegel, Sander & Xu 1996, DBSCAN): a core point
//! has at least `min_points` neighbours, itself counted; cores that are neighbours share a cluster; a point that is
//! no core but has one as neighbour is on a border. There each point goes to its nearest core, ties to the core that
//! comes first, so that the labels do not depend on the order in which anything is looked at.

use crate::schools::bounds::{Bounds, apart};
pub use crate::schools::bounds::{Metric, Neighbourhood, Point};
use crate::schools::cells::{Cells, Stands};

/// Where a point belongs. Clusters are numbered from 0 in the order of their first core points.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Label {
    /// A core point of this cluster.
    Core(usize),
    /// Neighbour of a core point of this cluster.
    Border(usize),
    /// Neither.
    Noise,
}

impl Label {
    /// The cluster; `None` for noise.
    #[must_use]
    pub const fn cluster(self) -> Option<usize> {
        match self {
            Self::Core(cluster) | Self::Border(cluster) => Some(cluster),
            Self::Noise => None,
        }
    }
}

/// Labels points. The place of a point in `points` is its rank where ties are broken.
///
/// Cost does not grow with the square of a pile of points on one spot: see `cells`.
#[must_use]
pub fn cluster(points: &[Point], neighbourhood: &Neighbourhood) -> Vec<Label> {
    cluster_on_stands(points, &[], &|_, _| true, neighbourhood)
}

/// The same where more than the coordinates parts points: points on two stands are neighbours only if these `meet`.
///
/// `stands` tells the stand of each point. Points of one stand meet. `meet` is asked for pairs whose points are near
/// enough by the coordinates, and must answer the same both ways.
#[must_use]
pub fn cluster_on_stands(
    points: &[Point],
    stands: &[u32],
    meet: &dyn Fn(u32, u32) -> bool,
    neighbourhood: &Neighbourhood,
) -> Vec<Label> {
    let cells = Cells::new(points, neighbourhood, Stands { of_point: stands, meet });
    labelled(points, &cells, neighbourhood).labels
}

/// Labels, and what they stand on.
pub(super) struct Labelled {
    pub(super) labels: Vec<Label>,
    /// Points on a border, each with its nearest core.
    pub(super) borders: Vec<(u32, u32)>,
}

pub(super) fn labelled(points: &[Point], cells: &Cells, n: &Neighbourhood) -> Labelled {
    let core = core_points(points, cells, n);
    let cores = CoreCells::new(points, cells, &core);
    let joined = join(points, cells, &cores, n);
    label(points, cells, &core, &cores, joined, n)
}

/// Which points have enough neighbours.
fn core_points(points: &[Point], cells: &Cells, n: &Neighbourhood) -> Vec<bool> {
    let mut core = vec![false; points.len()];
    let mut near = Vec::new();
    for column in 0..cells.columns.len() {
        near.clear();
        for cell in cells.columns[column].clone() {
            let own = cells.points_of(cell);
            if own.len() >= n.min_points {
                for i in own {
                    core[*i as usize] = true;
                }
                continue;
            }
            if near.is_empty() {
                cells.columns_near(column, &mut near);
            }
            for i in own {
                core[*i as usize] = has_enough(points, cells, n, &near, cell, *i as usize);
            }
        }
    }
    core
}

fn has_enough(
    points: &[Point],
    cells: &Cells,
    n: &Neighbourhood,
    near: &[usize],
    own_cell: usize,
    i: usize,
) -> bool {
    let here = Bounds::of(&points[i]);
    let mut count = cells.points_of(own_cell).len();
    for other in near.iter().flat_map(|column| cells.columns[*column].clone()) {
        if count >= n.min_points {
            break;
        }
        let bounds = &cells.list[other].bounds;
        if other == own_cell || !cells.may_touch(&here, bounds) || !cells.meet(own_cell, other) {
            continue;
        }
        let others = cells.points_of(other);
        count += if cells.must_touch(&here, bounds) {
            others.len()
        } else {
            others
                .iter()
                .filter(|j| apart(&points[i], &points[**j as usize], n.year).within(n.metric))
                .take(n.min_points - count)
                .count()
        };
    }
    count >= n.min_points
}

/// The core points of each cell, with a box round them.
struct CoreCells {
    points: Vec<u32>,
    /// Start of each cell's cores in `points`, and one more.
    starts: Vec<usize>,
    bounds: Vec<Option<Bounds>>,
}

impl CoreCells {
    fn new(points: &[Point], cells: &Cells, core: &[bool]) -> Self {
        let mut this = Self { points: Vec::new(), starts: vec![0], bounds: Vec::new() };
        for cell in 0..cells.list.len() {
            this.points.extend(cells.points_of(cell).iter().filter(|i| core[**i as usize]));
            this.starts.push(this.points.len());
            this.bounds.push(Bounds::round(this.of(cell).iter().map(|i| &points[*i as usize])));
        }
        this
    }

    fn of(&self, cell: usize) -> &[u32] {
        &self.points[self.starts[cell]..self.starts[cell + 1]]
    }
}

/// Cells whose cores belong together: a forest whose roots are clusters.
struct Forest(Vec<usize>);

impl Forest {
    fn root(&mut self, mut cell: usize) -> usize {
        while self.0[cell] != cell {
            self.0[cell] = self.0[self.0[cell]];
            cell = self.0[cell];
        }
        cell
    }
}

fn join(points: &[Point], cells: &Cells, cores: &CoreCells, n: &Neighbourhood) -> Forest {
    let mut forest = Forest((0..cells.list.len()).collect());
    let mut near = Vec::new();
    for (number, column) in cells.columns.iter().enumerate() {
        if column.clone().all(|cell| cores.bounds[cell].is_none()) {
            continue;
        }
        cells.columns_near(number, &mut near);
        for a in column.clone() {
            let Some(bounds_a) = &cores.bounds[a] else { continue };
            for b in near.iter().flat_map(|other| cells.columns[*other].clone()).filter(|b| *b > a) {
                let Some(bounds_b) = &cores.bounds[b] else { continue };
                if !cells.may_touch(bounds_a, bounds_b) {
                    continue;
                }
                let (root_a, root_b) = (forest.root(a), forest.root(b));
                if root_a != root_b
                    && cells.meet(a, b)
                    && any_pair_touches(points, cells, n, cores.of(a), cores.of(b))
                {
                    forest.0[root_a.max(root_b)] = root_a.min(root_b);
                }
            }
        }
    }
    forest
}

/// Pairs compared one by one before boxes are halved: below this the halving costs more than it saves.
const FEW_PAIRS: usize = 256;

fn any_pair_touches(points: &[Point], cells: &Cells, n: &Neighbourhood, a: &[u32], b: &[u32]) -> bool {
    if a.len() * b.len() <= FEW_PAIRS {
        return one_by_one(points, n, a, b);
    }
    halving(points, cells, n, &mut a.to_vec(), &mut b.to_vec())
}

fn one_by_one(points: &[Point], n: &Neighbourhood, a: &[u32], b: &[u32]) -> bool {
    a.iter()
        .any(|i| b.iter().any(|j| apart(&points[*i as usize], &points[*j as usize], n.year).within(n.metric)))
}

/// Halves the longer of two boxes until a pair of boxes tells, so that two great piles just out of each other's
/// reach do not cost the product of their sizes.
fn halving(points: &[Point], cells: &Cells, n: &Neighbourhood, a: &mut [u32], b: &mut [u32]) -> bool {
    let bounds = |list: &[u32]| Bounds::round(list.iter().map(|i| &points[*i as usize]));
    let (Some(box_a), Some(box_b)) = (bounds(a), bounds(b)) else { return false };
    if !cells.may_touch(&box_a, &box_b) {
        return false;
    }
    if cells.must_touch(&box_a, &box_b) {
        return true;
    }
    if a.len() * b.len() <= FEW_PAIRS {
        return one_by_one(points, n, a, b);
    }
    let ((axis_a, length_a), (axis_b, length_b)) = (box_a.longest(), box_b.longest());
    let (longer, other, axis) = if length_a >= length_b { (a, b, axis_a) } else { (b, a, axis_b) };
    let value = |i: u32| Bounds::of(&points[i as usize]).low[axis];
    let middle = longer.len() / 2;
    longer.select_nth_unstable_by(middle, |i, j| value(*i).total_cmp(&value(*j)));
    let (low, high) = longer.split_at_mut(middle);
    halving(points, cells, n, low, other) || halving(points, cells, n, high, other)
}

fn label(
    points: &[Point],
    cells: &Cells,
    core: &[bool],
    cores: &CoreCells,
    mut forest: Forest,
    n: &Neighbourhood,
) -> Labelled {
    let mut root_of = vec![0; points.len()];
    for (number, cell) in cells.list.iter().enumerate() {
        let root = forest.root(number);
        cells.order[cell.span.clone()].iter().for_each(|i| root_of[*i as usize] = root);
    }
    let mut number_of_root = vec![None; cells.list.len()];
    let mut clusters = 0;
    let mut labels = vec![Label::Noise; points.len()];
    for i in (0..points.len()).filter(|i| core[*i]) {
        let number = *number_of_root[root_of[i]].get_or_insert_with(|| {
            clusters += 1;
            clusters - 1
        });
        labels[i] = Label::Core(number);
    }
    let (mut near, mut borders) = (Vec::new(), Vec::new());
    for (number, column) in cells.columns.iter().enumerate() {
        near.clear();
        let own =
            column.clone().flat_map(|cell| cells.points_of(cell).iter().map(move |i| (cell, *i as usize)));
        for (cell, i) in own {
            if core[i] {
                continue;
            }
            if near.is_empty() {
                cells.columns_near(number, &mut near);
            }
            if let Some(nearest) = nearest_core(points, cells, cores, n, &near, cell, i)
                && let Some(cluster) = labels[nearest].cluster()
            {
                labels[i] = Label::Border(cluster);
                borders.push((i as u32, nearest as u32));
            }
        }
    }
    Labelled { labels, borders }
}

/// The nearest core point within reach; of equally near ones the first.
fn nearest_core(
    points: &[Point],
    cells: &Cells,
    cores: &CoreCells,
    n: &Neighbourhood,
    near: &[usize],
    own_cell: usize,
    i: usize,
) -> Option<usize> {
    let here = Bounds::of(&points[i]);
    let mut best: Option<(f64, usize)> = None;
    for cell in near.iter().flat_map(|column| cells.columns[*column].clone()) {
        let Some(bounds) = &cores.bounds[cell] else { continue };
        let least = cells.at_least(&here, bounds);
        if !least.within(n.metric)
            || best.is_some_and(|(nearest, _)| least.squared() > nearest)
            || !cells.meet(own_cell, cell)
        {
            continue;
        }
        for j in cores.of(cell).iter().map(|j| *j as usize) {
            let between = apart(&points[i], &points[j], n.year);
            let rank = (between.squared(), j);
            if between.within(n.metric) && best.is_none_or(|b| rank.0 < b.0 || rank.0 <= b.0 && j < b.1) {
                best = Some(rank);
            }
        }
    }
    best.map(|(_, j)| j)
}
