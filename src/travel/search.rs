//! Shortest times over the graph of nodes (Dijkstra 1959), and the ways that take them.

use super::mesh::{Edge, Mesh, NONE};
use super::sight::{Eye, metres};
use geo::Coord;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// A place in the water with what it sees.
#[derive(Clone, Debug)]
pub(super) struct Spot {
    pub(super) at: Coord<f64>,
    pub(super) triangles: Vec<u32>,
    pub(super) seen: Box<[Edge]>,
}

impl Spot {
    /// `None` when the place lies in no open water. Nodes further than `reach_m` are not looked for.
    pub(super) fn new(mesh: &Mesh, at: Coord<f64>, reach_m: f64) -> Option<Self> {
        let triangles = mesh.triangles_at(at);
        if triangles.is_empty() {
            return None;
        }
        let seen = mesh.look(&Eye { at, triangles: &triangles, shore: None }, reach_m);
        Some(Self { at, triangles, seen })
    }

    pub(super) fn eye(&self) -> Eye<'_> {
        Eye { at: self.at, triangles: &self.triangles, shore: None }
    }
}

/// What a way takes so far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Label {
    pub(super) seconds: f64,
    pub(super) metres: f64,
    /// Seconds in slow water, within `seconds`.
    pub(super) slow_s: f64,
    /// By how much a way that may cross edges of slow water anywhere could be quicker, at most.
    pub(super) slack_s: f64,
    /// The node before; [`NONE`]: the start.
    before: u32,
    class: u16,
}

impl Label {
    pub(super) const START: Self =
        Self { seconds: 0.0, metres: 0.0, slow_s: 0.0, slack_s: 0.0, before: NONE, class: u16::MAX };

    fn onward(&self, mesh: &Mesh, length_m: f64, class: u16, before: u32, step_m: f64) -> Self {
        let speed = mesh.speed(class);
        let seconds = length_m / speed;
        let crossed = self.class != u16::MAX && self.class != class;
        // Half a step aside on an edge costs at most that length in both waters.
        let slack = if crossed { step_m / 2.0 * (1.0 / speed + 1.0 / mesh.speed(self.class)) } else { 0.0 };
        Self {
            seconds: self.seconds + seconds,
            metres: self.metres + length_m,
            slow_s: self.slow_s + if class > 1 { seconds } else { 0.0 },
            slack_s: self.slack_s + slack,
            before,
            class,
        }
    }
}

/// A node to go on from, the nearest first; of two equally near the lower number.
struct Open {
    seconds: f64,
    node: u32,
}

impl PartialEq for Open {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}
impl Eq for Open {}
impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Open {
    fn cmp(&self, other: &Self) -> Ordering {
        other.seconds.total_cmp(&self.seconds).then(other.node.cmp(&self.node))
    }
}

/// Shortest ways from one spot, found node by node.
pub(super) struct Ways<'a> {
    mesh: &'a Mesh,
    from: &'a Spot,
    /// Greatest distance between places where a way may cross an edge of slow water.
    step_m: f64,
    labels: Vec<Option<Label>>,
    settled: Vec<bool>,
    heap: BinaryHeap<Open>,
}

impl<'a> Ways<'a> {
    pub(super) fn new(mesh: &'a Mesh, from: &'a Spot, step_m: f64) -> Self {
        let count = mesh.nodes().len();
        let mut ways = Self {
            mesh,
            from,
            step_m,
            labels: vec![None; count],
            settled: vec![false; count],
            heap: BinaryHeap::new(),
        };
        for edge in &from.seen {
            ways.relax(&Label::START, from.at, NONE, *edge);
        }
        ways
    }

    fn relax(&mut self, label: &Label, at: Coord<f64>, node: u32, edge: Edge) {
        let length_m = metres(at, self.mesh.nodes()[edge.to as usize].at);
        let new = label.onward(self.mesh, length_m, edge.class, node, self.step_m);
        let old = &mut self.labels[edge.to as usize];
        if old.is_none_or(|old| new.seconds < old.seconds) {
            *old = Some(new);
            self.heap.push(Open { seconds: new.seconds, node: edge.to });
        }
    }

    /// Seconds to the nearest node that was not gone on from.
    fn frontier_s(&self) -> Option<f64> {
        self.heap.peek().map(|open| open.seconds)
    }

    /// Goes on from the nearest node: its number and label. `None` when all that can be reached were. Looks no
    /// further than `reach_m` from a node whose surroundings are not known yet, when they are not kept.
    pub(super) fn settle(&mut self) -> Option<(u32, Label)> {
        while let Some(Open { node, .. }) = self.heap.pop() {
            let Some(label) = self.labels[node as usize] else { continue };
            if std::mem::replace(&mut self.settled[node as usize], true) {
                continue;
            }
            let mesh = self.mesh;
            let at = mesh.nodes()[node as usize].at;
            for edge in mesh.seen(node, || mesh.look(&mesh.eye(node), f64::INFINITY)) {
                if !self.settled[edge.to as usize] {
                    self.relax(&label, at, node, *edge);
                }
            }
            return Some((node, label));
        }
        None
    }

    /// What the quickest way to each of some spots takes, with the node before it; `None`: no way leads there.
    pub(super) fn to(&mut self, spots: &[&Spot]) -> Vec<Option<Label>> {
        let mut best: Vec<Option<Label>> = spots
            .iter()
            .map(|spot| {
                let class = self.mesh.sees(&self.from.eye(), spot.at)?;
                let length_m = metres(self.from.at, spot.at);
                Some(Label::START.onward(self.mesh, length_m, class, NONE, self.step_m))
            })
            .collect();
        let mut seen_by: Vec<(u32, u16, u32)> = (0..)
            .zip(spots)
            .flat_map(|(number, spot)| spot.seen.iter().map(move |e| (e.to, e.class, number)))
            .collect();
        seen_by.sort_unstable();
        loop {
            let worst = best.iter().map(|b| b.map_or(f64::INFINITY, |l| l.seconds)).fold(0.0, f64::max);
            if self.frontier_s().is_none_or(|seconds| seconds >= worst) {
                return best;
            }
            let Some((node, label)) = self.settle() else { return best };
            let first = seen_by.partition_point(|(n, ..)| *n < node);
            for (_, class, number) in seen_by[first..].iter().take_while(|(n, ..)| *n == node) {
                let spot = spots[*number as usize];
                let length_m = metres(self.mesh.nodes()[node as usize].at, spot.at);
                let new = label.onward(self.mesh, length_m, *class, node, self.step_m);
                let old = &mut best[*number as usize];
                if old.is_none_or(|old| new.seconds < old.seconds) {
                    *old = Some(new);
                }
            }
        }
    }

    /// The bends of a way that ends with a label, from the start on; without the start and the end.
    pub(super) fn bends(&self, end: &Label) -> Vec<Coord<f64>> {
        let mut bends = Vec::new();
        let mut node = end.before;
        while node != NONE {
            bends.push(self.mesh.nodes()[node as usize].at);
            node = self.labels[node as usize].map_or(NONE, |label| label.before);
        }
        bends.reverse();
        bends
    }

    /// The bends on the way to a node and the node itself.
    pub(super) fn bends_to(&self, node: u32) -> Vec<Coord<f64>> {
        let mut bends = self.labels[node as usize].map_or_else(Vec::new, |label| self.bends(&label));
        bends.push(self.mesh.nodes()[node as usize].at);
        bends
    }
}
