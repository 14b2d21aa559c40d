//! Blocks to squares: what all tracks together sounded in each, smoothed over those around it.

use super::blocks::{Soundings, cell_of};
use super::smooth::{Sample, plane_at};
use super::surface::Vertex;
use crate::terms::lake::Lake;
use crate::terms::place::PlanePoint;
use rayon::prelude::*;

/// Sums over soundings.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Sum {
    count: f64,
    east: f64,
    north: f64,
    depth: f64,
}

impl Sum {
    fn add(&mut self, other: &Self) {
        self.count += other.count;
        self.east += other.east;
        self.north += other.north;
        self.depth += other.depth;
    }

    /// Their middle.
    pub(super) fn at(&self) -> PlanePoint {
        PlanePoint { east_m: self.east / self.count, north_m: self.north / self.count }
    }

    /// Their mean depth.
    pub(super) fn depth_m(&self) -> f64 {
        self.depth / self.count
    }

    fn from(&self, from: PlanePoint) -> Sample {
        let at = self.at();
        Sample {
            east_m: at.east_m - from.east_m,
            north_m: at.north_m - from.north_m,
            depth_m: self.depth_m(),
            count: self.count,
        }
    }
}

/// What one track sounded in one square.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Part {
    cell: (i32, i32),
    track: u32,
    sum: Sum,
}

/// The squares with soundings, in order.
#[derive(Clone, Debug)]
pub(super) struct Cells {
    pub(super) cell_m: f64,
    /// Soundings left out because their square's middle lies on land.
    pub(super) ashore: u64,
    parts: Vec<Part>,
    /// Where each square's parts begin; one more for the end.
    begins: Vec<u32>,
    total: Vec<Sum>,
    /// The most western column of squares, and where each column from there begins; one more for the end.
    west: i32,
    columns: Vec<u32>,
    /// Which square of its column each is.
    norths: Vec<i32>,
}

impl Cells {
    /// Gathers the blocks; a square whose soundings of one track lie on land in the mean is left out.
    pub(super) fn new(soundings: &Soundings, lake: &Lake, cell_m: f64) -> Self {
        let mut parts: Vec<Part> = soundings
            .logs
            .iter()
            .flat_map(|log| {
                log.blocks.iter().map(|block| Part {
                    cell: cell_of(block.at, cell_m),
                    track: log.track,
                    sum: Sum {
                        count: block.count,
                        east: block.at.east_m * block.count,
                        north: block.at.north_m * block.count,
                        depth: block.depth_m * block.count,
                    },
                })
            })
            .collect();
        // Stable: blocks of one square and track are summed in the order of the logs.
        parts.sort_by_key(|part| (part.cell, part.track));
        parts.dedup_by(|next, kept| {
            let same = (next.cell, next.track) == (kept.cell, kept.track);
            if same {
                kept.sum.add(&next.sum);
            }
            same
        });
        let afloat: Vec<bool> = parts
            .par_iter()
            .map(|part| {
                lake.water.as_ref().is_none_or(|water| water.contains(lake.plane.to_place(part.sum.at())))
            })
            .collect();
        let mut ashore = 0;
        let mut wet = afloat.iter();
        parts.retain(|part| {
            let keep = wet.next().copied().unwrap_or(true);
            if !keep {
                ashore += part.sum.count as u64;
            }
            keep
        });
        let west = parts.first().map_or(0, |part| part.cell.0);
        let (mut begins, mut total): (Vec<u32>, Vec<Sum>) = (Vec::new(), Vec::new());
        let (mut columns, mut norths): (Vec<u32>, Vec<i32>) = (Vec::new(), Vec::new());
        for (number, part) in (0..).zip(&parts) {
            if parts[..number as usize].last().is_none_or(|last| last.cell != part.cell) {
                columns.resize((part.cell.0 - west) as usize + 1, total.len() as u32);
                norths.push(part.cell.1);
                begins.push(number);
                total.push(Sum::default());
            }
            if let Some(sum) = total.last_mut() {
                sum.add(&part.sum);
            }
        }
        begins.push(parts.len() as u32);
        columns.push(total.len() as u32);
        Self { cell_m, ashore, parts, begins, total, west, columns, norths }
    }

    pub(super) fn len(&self) -> usize {
        self.total.len()
    }

    /// The middles of the squares' soundings.
    pub(super) fn vertices_at(&self) -> impl Iterator<Item = PlanePoint> {
        self.total.iter().map(Sum::at)
    }

    /// Standard deviation of the depths over the squares: the error of who knows nothing but their mean.
    pub(super) fn spread_m(&self) -> f64 {
        let count = self.total.len() as f64;
        let mean = self.total.iter().map(Sum::depth_m).sum::<f64>() / count;
        (self.total.iter().map(|s| (s.depth_m() - mean).powi(2)).sum::<f64>() / count).sqrt()
    }

    /// The tracks that sounded anything, with the squares of each.
    pub(super) fn tracks(&self) -> Vec<(u32, Vec<usize>)> {
        let mut by_track: Vec<(u32, usize)> = (0..self.total.len())
            .flat_map(|cell| self.parts_of(cell).iter().map(move |part| (part.track, cell)))
            .collect();
        by_track.sort_unstable();
        by_track
            .chunk_by(|a, b| a.0 == b.0)
            .map(|of| (of[0].0, of.iter().map(|(_, cell)| *cell).collect()))
            .collect()
    }

    fn cell(&self, cell: usize) -> (i32, i32) {
        self.parts_of(cell)[0].cell
    }

    fn parts_of(&self, cell: usize) -> &[Part] {
        &self.parts[self.begins[cell] as usize..self.begins[cell + 1] as usize]
    }

    /// What one track sounded in a square.
    pub(super) fn part(&self, cell: usize, track: u32) -> Option<Sum> {
        self.parts_of(cell).iter().find(|p| p.track == track).map(|p| p.sum)
    }

    /// The soundings of a square but those of a track; `None`: there are no others.
    fn sum(&self, cell: usize, without: Option<u32>) -> Option<Sum> {
        let Some(track) = without.filter(|track| self.part(cell, *track).is_some()) else {
            return Some(self.total[cell]);
        };
        let mut sum = Sum::default();
        let others = self.parts_of(cell).iter().filter(|p| p.track != track);
        others.for_each(|p| sum.add(&p.sum));
        (sum.count > 0.0).then_some(sum)
    }

    /// The bottom in each square by all tracks, smoothed.
    pub(super) fn vertices(&self) -> Vec<Vertex> {
        (0..self.len()).into_par_iter().filter_map(|cell| self.vertex(cell, None)).collect()
    }

    /// What is other among them without a track that sounded these squares: where each stood, and what stands there now,
    /// if anything.
    pub(super) fn without(
        &self,
        all: &[Vertex],
        track: u32,
        squares: &[usize],
    ) -> Vec<(PlanePoint, Option<Vertex>)> {
        let mut near: Vec<usize> = squares.iter().flat_map(|cell| self.around(*cell, 2)).collect();
        near.sort_unstable();
        near.dedup();
        near.into_iter().map(|cell| (all[cell].at, self.vertex(cell, Some(track)))).collect()
    }

    /// Where soundings of all tracks but one lie within reach of a place in a square: the `most` nearest, the nearest
    /// first.
    pub(super) fn nearest(
        &self,
        cell: usize,
        at: PlanePoint,
        track: u32,
        reach_m: f64,
        most: usize,
    ) -> Vec<PlanePoint> {
        let mut away = 2;
        loop {
            // What lies in farther squares is farther off than this.
            let sure_m = f64::from(away) * self.cell_m;
            let within_m = reach_m.min(sure_m);
            let mut near: Vec<(f64, PlanePoint)> = self
                .around(cell, away)
                .filter_map(|other| Some(self.sum(other, Some(track))?.at()))
                .map(|there| (there.metres_to(at), there))
                .filter(|(metres, _)| *metres <= within_m)
                .collect();
            if near.len() >= most || sure_m >= reach_m {
                near.sort_by(|a, b| a.0.total_cmp(&b.0));
                near.truncate(most);
                return near.into_iter().map(|(_, there)| there).collect();
            }
            away *= 2;
        }
    }

    fn vertex(&self, cell: usize, without: Option<u32>) -> Option<Vertex> {
        let own = self.sum(cell, without)?;
        let at = own.at();
        let samples: Vec<Sample> = self
            .around(cell, 2)
            .filter_map(|other| self.sum(other, without))
            .map(|sum| sum.from(at))
            .collect();
        let [depth_m, slope @ ..] = plane_at(&samples, self.cell_m);
        Some(Vertex { at, depth_m: depth_m.max(0.0), slope, shore: false })
    }

    /// What all tracks sounded in a square, seen from a place.
    pub(super) fn sample(&self, cell: usize, from: PlanePoint) -> Sample {
        self.total[cell].from(from)
    }

    /// The squares up to so many away, itself among them, in order.
    pub(super) fn around(&self, cell: usize, away: i32) -> impl Iterator<Item = usize> {
        let (east, north) = self.cell(cell);
        (-away..=away).flat_map(move |de| {
            let column = (east + de).checked_sub(self.west).and_then(|c| usize::try_from(c).ok());
            let column = column.filter(|c| *c + 1 < self.columns.len());
            let of = column.map_or(0..0, |c| self.columns[c] as usize..self.columns[c + 1] as usize);
            let from = of.start + self.norths[of.clone()].partition_point(|n| *n < north - away);
            let to = of.start + self.norths[of].partition_point(|n| *n <= north + away);
            from..to
        })
    }
}
