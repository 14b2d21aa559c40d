//! A lake as a tree of channels: a main lake with arms. Ways through it follow the channels.

use super::Shape;
use super::random::Random;
use geo::{BooleanOps, BoundingRect, Contains, Coord, Line, LineString, MultiPolygon, Point, Polygon};
use shoalwright::terms::place::PlanePoint;
use std::f64::consts::{PI, TAU};

/// The end of a channel that leads to its parent.
#[derive(Clone, Copy, Debug)]
struct Node {
    at: PlanePoint,
    /// The node that the channel leads to; its own number at the root.
    parent: usize,
    half_width_m: f64,
}

/// Channels of a lake.
#[derive(Clone, Debug)]
pub(crate) struct WaterTree {
    nodes: Vec<Node>,
    outline: MultiPolygon<f64>,
    shape: Shape,
    /// Whether schools keep off the land.
    pub(crate) afloat: bool,
}

/// A place in a channel: the node, how far towards its parent (0 to 1), and how far off the middle in half-widths.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    node: usize,
    along: f64,
    off: f64,
}

fn step(from: PlanePoint, metres: f64, bearing: f64) -> PlanePoint {
    PlanePoint {
        east_m: from.east_m + metres * bearing.sin(),
        north_m: from.north_m + metres * bearing.cos(),
    }
}

fn between(a: PlanePoint, b: PlanePoint, share: f64) -> PlanePoint {
    PlanePoint {
        east_m: a.east_m + (b.east_m - a.east_m) * share,
        north_m: a.north_m + (b.north_m - a.north_m) * share,
    }
}

impl WaterTree {
    /// A lake of a shape.
    pub(crate) fn grown(random: &mut Random, shape: Shape) -> Self {
        let nodes = match shape {
            Shape::Broad => Self::broad(random, 1.0),
            Shape::Wide => Self::broad(random, 1.8),
            Shape::Dendritic => Self::dendritic(random),
        };
        let mut tree =
            Self { nodes, outline: MultiPolygon::new(Vec::new()), shape, afloat: shape == Shape::Dendritic };
        tree.outline = tree.united();
        tree
    }

    /// A main lake of 8 to 12 km with two to five arms of 2 to 5 km, on alternate sides; all lengths times a scale.
    fn broad(random: &mut Random, scale: f64) -> Vec<Node> {
        let length_m = scale * random.even(8000.0, 12_000.0);
        let mut nodes = vec![Node {
            at: PlanePoint { east_m: 0.0, north_m: -length_m / 2.0 },
            parent: 0,
            half_width_m: scale * random.even(500.0, 900.0),
        }];
        let mut bearing = random.normal(0.15);
        for k in 0..5 {
            bearing = 0.5 * bearing + random.normal(0.25);
            let at = step(nodes[k].at, length_m / 5.0, bearing);
            nodes.push(Node { at, parent: k, half_width_m: scale * random.even(350.0, 800.0) });
        }
        let side = if random.chance(0.5) { 1.0 } else { -1.0 };
        for arm in 0..2 + random.below(4) {
            let mut parent = 1 + arm;
            let mut bearing = side * if arm % 2 == 0 { PI / 2.0 } else { -PI / 2.0 } + random.normal(0.25);
            let piece_m = scale * random.even(1000.0, 2500.0);
            for _ in 0..2 {
                let at = step(nodes[parent].at, piece_m, bearing);
                nodes.push(Node { at, parent, half_width_m: scale * random.even(150.0, 350.0) });
                parent = nodes.len() - 1;
                bearing += random.normal(0.35);
            }
        }
        nodes
    }

    /// A drowned valley: a river of 4 km, 200 to 400 m wide, and every 350 to 450 m a creek on each side, 1.2 to 2.2 km
    /// long and 100 to 180 m wide, so that 170 to 350 m of land part a creek from the next.
    fn dendritic(random: &mut Random) -> Vec<Node> {
        let mut nodes = vec![Node {
            at: PlanePoint { east_m: 0.0, north_m: -2000.0 },
            parent: 0,
            half_width_m: random.even(100.0, 200.0),
        }];
        for k in 0..10 {
            let at = step(nodes[k].at, random.even(350.0, 450.0), random.normal(0.08));
            nodes.push(Node { at, parent: k, half_width_m: random.even(100.0, 200.0) });
        }
        for side in [1.0, -1.0] {
            for mouth in 1..10 {
                let piece_m = random.even(600.0, 1100.0);
                let mut parent = mouth;
                for _ in 0..2 {
                    let at = step(nodes[parent].at, piece_m, side * PI / 2.0 + random.normal(0.04));
                    nodes.push(Node { at, parent, half_width_m: random.even(50.0, 90.0) });
                    parent = nodes.len() - 1;
                }
            }
        }
        nodes
    }

    /// A spot of the same kind in a creek beside that of another: the same way up it, give or take. `None` where the
    /// spot lies in no creek or there is none beside.
    pub(crate) fn beside(&self, random: &mut Random, spot: Spot) -> Option<Spot> {
        // A creek is two nodes, and those of a side follow one another.
        let creek = |node: usize| (node >= 11).then(|| ((node - 11) / 18, (node - 11) % 18));
        let (side, place) = creek(spot.node).filter(|_| self.shape == Shape::Dendritic)?;
        let next =
            if random.chance(0.5) { place.checked_sub(2) } else { Some(place + 2).filter(|p| *p < 18) }?;
        Some(Spot {
            node: 11 + 18 * side + next,
            along: (spot.along + random.normal(0.05)).clamp(0.0, 1.0),
            off: random.even(-0.8, 0.8),
        })
    }

    /// Whether bait keeps off the land, and the boat too. On a broad lake neither looks where the land is.
    pub(crate) fn hems_in(&self) -> bool {
        self.shape == Shape::Dendritic
    }

    /// Whether a straight line from one place to another stays in the water.
    pub(crate) fn sees(&self, from: PlanePoint, to: PlanePoint) -> bool {
        let c = |p: PlanePoint| Coord { x: p.east_m, y: p.north_m };
        self.outline.contains(&Line::new(c(from), c(to)))
    }

    /// A place scattered normally about another; where schools keep off the land, one that it sees.
    pub(crate) fn scattered(&self, random: &mut Random, about: PlanePoint, sd_m: f64) -> PlanePoint {
        for _ in 0..200 {
            let at = PlanePoint {
                east_m: about.east_m + random.normal(sd_m),
                north_m: about.north_m + random.normal(sd_m),
            };
            if !self.afloat || self.sees(about, at) {
                return at;
            }
        }
        about
    }

    /// A place drawn evenly along the channels.
    pub(crate) fn spot(&self, random: &mut Random) -> Spot {
        Spot {
            node: 1 + random.below(self.nodes.len() - 1),
            along: random.even(0.0, 1.0),
            off: random.even(-0.8, 0.8),
        }
    }

    /// Where a spot is.
    pub(crate) fn place(&self, spot: Spot) -> PlanePoint {
        let node = self.nodes[spot.node];
        let parent = self.nodes[node.parent];
        let middle = between(node.at, parent.at, spot.along);
        let bearing = (parent.at.east_m - node.at.east_m).atan2(parent.at.north_m - node.at.north_m);
        step(middle, spot.off * node.half_width_m, bearing + PI / 2.0)
    }

    /// The way from one spot to another along the channels.
    pub(crate) fn way(&self, from: Spot, to: Spot) -> Vec<PlanePoint> {
        let up = |spot: Spot| {
            let mut nodes = vec![spot.node];
            while *nodes.last().unwrap() != 0 {
                nodes.push(self.nodes[*nodes.last().unwrap()].parent);
            }
            nodes
        };
        let (mut there, mut back) = (up(from), up(to));
        let mut meeting = None;
        while there.last() == back.last() && !there.is_empty() {
            meeting = there.pop();
            back.pop();
        }
        // Both lie in one channel, or one lies in a channel that the other passes through.
        let in_one = from.node == to.node;
        let middle = there.iter().skip(1).chain(if in_one { None } else { meeting.as_ref() });
        let mut way = vec![self.place(from)];
        way.extend(middle.chain(back.iter().skip(1).rev()).map(|node| self.nodes[*node].at));
        way.push(self.place(to));
        way
    }

    /// A point drawn evenly over the area of the water.
    pub(crate) fn anywhere(&self, random: &mut Random) -> PlanePoint {
        let bounds = self.outline.bounding_rect().unwrap();
        loop {
            let east_m = random.even(bounds.min().x, bounds.max().x);
            let north_m = random.even(bounds.min().y, bounds.max().y);
            if self.outline.contains(&Point::new(east_m, north_m)) {
                return PlanePoint { east_m, north_m };
            }
        }
    }

    /// The outline: channels with round ends, united.
    pub(crate) fn outline(&self) -> MultiPolygon<f64> {
        self.outline.clone()
    }

    fn united(&self) -> MultiPolygon<f64> {
        let capsules = self.nodes.iter().skip(1).map(|node| {
            let parent = self.nodes[node.parent];
            let bearing = (parent.at.east_m - node.at.east_m).atan2(parent.at.north_m - node.at.north_m);
            let round = |middle: PlanePoint, from: f64| {
                (0..=12).map(move |k| {
                    let p = step(middle, node.half_width_m, from + f64::from(k) / 12.0 * TAU / 2.0);
                    Coord { x: p.east_m, y: p.north_m }
                })
            };
            let ring: LineString<f64> =
                round(parent.at, bearing - PI / 2.0).chain(round(node.at, bearing + PI / 2.0)).collect();
            MultiPolygon::new(vec![Polygon::new(ring, Vec::new())])
        });
        capsules.reduce(|all, next| all.union(&next)).unwrap()
    }
}
