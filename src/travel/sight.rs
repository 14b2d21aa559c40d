//! Lines of sight through the triangles: which nodes a place sees, and whether it sees another place.
//!
//! From the place a cone is followed from triangle to triangle; each corner in it is seen and splits it. A line of
//! sight ends at the shore and where the speed changes.

use super::mesh::{CLOSED, Edge, Mesh, NONE, Node, side};
use geo::Coord;

/// A place in the water from which one looks.
#[derive(Clone, Debug)]
pub(super) struct Eye<'a> {
    pub(super) at: Coord<f64>,
    /// The open triangles that hold it.
    pub(super) triangles: &'a [u32],
    /// For a corner of the shore, its neighbours ([`Node::shore`]).
    pub(super) shore: Option<[Coord<f64>; 2]>,
}

/// A cone that enters a triangle through its edge `from`.
struct Step {
    triangle: u32,
    from: usize,
    right: Coord<f64>,
    left: Coord<f64>,
}

impl Mesh {
    /// The eye of a node.
    pub(super) fn eye(&self, node: u32) -> Eye<'_> {
        let Node { at, shore, .. } = &self.nodes()[node as usize];
        Eye { at: *at, triangles: self.star(node), shore: *shore }
    }

    /// The nodes seen from a place within `reach_m` that a shortest way may go on to, each with the class of the
    /// water between: a way that goes on from there touches the shore at both ends.
    pub(super) fn look(&self, eye: &Eye<'_>, reach_m: f64) -> Box<[Edge]> {
        let mut seen: Vec<Edge> = Vec::new();
        let mut steps: Vec<Step> = Vec::new();
        for &t in eye.triangles {
            let (corners, class) = (self.corners(t), self.class(t));
            for (corner, node) in corners.iter().zip(self.corner_nodes(t)) {
                self.note(eye, *corner, node, class, reach_m, &mut seen);
            }
            for k in 0..3 {
                let (right, left) = (corners[k], corners[(k + 1) % 3]);
                if side(eye.at, right, left) <= 0 {
                    continue;
                }
                for (right, left) in useful(eye, right, left).into_iter().flatten() {
                    self.enter(t, k, right, left, eye.at, reach_m, &mut steps);
                    while let Some(step) = steps.pop() {
                        self.advance(eye, &step, class, reach_m, &mut steps, &mut seen);
                    }
                }
            }
        }
        seen.sort_unstable_by_key(|e| (e.to, e.class));
        seen.dedup();
        seen.into()
    }

    fn advance(
        &self,
        eye: &Eye<'_>,
        step: &Step,
        class: u16,
        reach_m: f64,
        steps: &mut Vec<Step>,
        seen: &mut Vec<Edge>,
    ) {
        let Step { triangle, from, right, left } = *step;
        let apex_at = (from + 2) % 3;
        let apex = self.corners(triangle)[apex_at];
        let (of_right, of_left) = (side(eye.at, right, apex), side(eye.at, left, apex));
        // The edge on the right of the apex goes from the end of the entered edge to the apex.
        let (right_edge, left_edge) = ((from + 1) % 3, apex_at);
        if of_right < 0 {
            self.enter(triangle, left_edge, right, left, eye.at, reach_m, steps);
        } else if of_left > 0 {
            self.enter(triangle, right_edge, right, left, eye.at, reach_m, steps);
        } else {
            self.note(eye, apex, self.corner_nodes(triangle)[apex_at], class, reach_m, seen);
            if of_right > 0 {
                self.enter(triangle, right_edge, right, apex, eye.at, reach_m, steps);
            }
            if of_left < 0 {
                self.enter(triangle, left_edge, apex, left, eye.at, reach_m, steps);
            }
        }
    }

    /// Follows a cone across an edge, when water of the same class within reach goes on there.
    #[expect(
        clippy::too_many_arguments,
        reason = "an edge, a cone and how far: nothing that belongs together"
    )]
    fn enter(
        &self,
        triangle: u32,
        edge: usize,
        right: Coord<f64>,
        left: Coord<f64>,
        eye: Coord<f64>,
        reach_m: f64,
        steps: &mut Vec<Step>,
    ) {
        let next = self.across(triangle)[edge];
        if next == NONE {
            return;
        }
        if reach_m.is_finite() {
            let corners = self.corners(triangle);
            if metres_to_piece(eye, corners[edge], corners[(edge + 1) % 3]) > reach_m {
                return;
            }
        }
        if let Some(from) = self.across(next).iter().position(|t| *t == triangle) {
            steps.push(Step { triangle: next, from, right, left });
        }
    }

    fn note(&self, eye: &Eye<'_>, at: Coord<f64>, node: u32, class: u16, reach_m: f64, seen: &mut Vec<Edge>) {
        if node == NONE || at == eye.at || metres(eye.at, at) > reach_m {
            return;
        }
        let touches = |from: Coord<f64>, to: Coord<f64>, shore: Option<[Coord<f64>; 2]>| {
            shore.is_none_or(|[a, b]| side(from, to, a) * side(from, to, b) >= 0)
        };
        let there = self.nodes()[node as usize].shore;
        if touches(eye.at, at, there) && touches(at, eye.at, eye.shore) {
            seen.push(Edge { to: node, class });
        }
    }

    /// Whether a straight line in water of one class joins an eye and a place; its class, the fastest of several.
    pub(super) fn sees(&self, eye: &Eye<'_>, to: Coord<f64>) -> Option<u16> {
        let mut best = None;
        for &t in eye.triangles {
            let class = self.class(t);
            if best.is_none_or(|b| self.speed(class) > self.speed(b)) && self.ray_reaches(eye, t, to) {
                best = Some(class);
            }
        }
        best.filter(|class| *class != CLOSED)
    }

    fn ray_reaches(&self, eye: &Eye<'_>, start: u32, to: Coord<f64>) -> bool {
        if self.holds(start, to) {
            return true;
        }
        let corners = self.corners(start);
        let mut open: Vec<(u32, usize)> = Vec::new();
        let push = |open: &mut Vec<(u32, usize)>, t: u32, edge: usize| {
            let next = self.across(t)[edge];
            if next != NONE {
                open.extend(self.across(next).iter().position(|n| *n == t).map(|from| (next, from)));
            }
        };
        for k in 0..3 {
            let (right, left) = (corners[k], corners[(k + 1) % 3]);
            let ahead = side(eye.at, right, left) > 0;
            if ahead && side(eye.at, right, to) >= 0 && side(eye.at, left, to) <= 0 {
                push(&mut open, start, k);
            }
        }
        while let Some((t, from)) = open.pop() {
            if self.holds(t, to) {
                return true;
            }
            let corners = self.corners(t);
            if side(corners[from], corners[(from + 1) % 3], to) <= 0 {
                continue; // the place lies this side of the entered edge: the ray has passed it
            }
            let apex_at = (from + 2) % 3;
            let of_apex = side(eye.at, corners[apex_at], to);
            if of_apex >= 0 {
                push(&mut open, t, apex_at);
            }
            if of_apex <= 0 {
                push(&mut open, t, (from + 1) % 3);
            }
        }
        false
    }

    fn holds(&self, triangle: u32, at: Coord<f64>) -> bool {
        let [a, b, c] = self.corners(triangle);
        side(a, b, at) >= 0 && side(b, c, at) >= 0 && side(c, a, at) >= 0
    }
}

/// The parts of a cone in which a line touches the shore at the eye without cutting it: between one neighbour and the
/// line on from the other. All of it where the eye is no shore corner.
fn useful(eye: &Eye<'_>, right: Coord<f64>, left: Coord<f64>) -> [Option<(Coord<f64>, Coord<f64>)>; 2] {
    let Some([first, last]) = eye.shore else { return [Some((right, left)), None] };
    let at = eye.at;
    let between = |limit: Coord<f64>| side(at, right, limit) > 0 && side(at, limit, left) > 0;
    let beyond_last = mirrored(at, last, SLACK);
    let near_first = (right == first || side(at, first, right) > 0) && side(at, right, beyond_last) > 0;
    let beyond_first = mirrored(at, first, -SLACK);
    let near_last = (left == last || side(at, left, last) > 0) && side(at, beyond_first, left) > 0;
    [
        near_first.then(|| (right, if between(beyond_last) { beyond_last } else { left })),
        near_last.then(|| (if between(beyond_first) { beyond_first } else { right }, left)),
    ]
}

/// By how much the useful part of a cone is widened, in radians, against rounding; each line is judged exactly after.
const SLACK: f64 = 1e-9;

/// The place as far behind `at` as `of` lies before it, turned by an angle.
fn mirrored(at: Coord<f64>, of: Coord<f64>, turned: f64) -> Coord<f64> {
    let back = at - of;
    Coord { x: at.x + back.x - turned * back.y, y: at.y + back.y + turned * back.x }
}

/// Straight metres between two places of the plane.
pub(super) fn metres(a: Coord<f64>, b: Coord<f64>) -> f64 {
    (b.x - a.x).hypot(b.y - a.y)
}

/// The place nearest to `at` on a straight piece.
pub(super) fn nearest_on(at: Coord<f64>, a: Coord<f64>, b: Coord<f64>) -> Coord<f64> {
    let along = b - a;
    let squares = along.x * along.x + along.y * along.y;
    if squares <= 0.0 {
        return a;
    }
    let share = ((at.x - a.x) * along.x + (at.y - a.y) * along.y) / squares;
    if share <= 0.0 {
        a
    } else if share >= 1.0 {
        b
    } else {
        a + along * share
    }
}

/// Metres from a place to a straight piece.
pub(super) fn metres_to_piece(at: Coord<f64>, a: Coord<f64>, b: Coord<f64>) -> f64 {
    metres(at, nearest_on(at, a, b))
}
