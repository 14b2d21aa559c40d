//! Time along a way that is given: at idle speed near the shore, slower yet in slow areas.

use super::Waters;
use super::polygons::{inside, rings};
use super::sight::metres;
use geo::{Coord, Line, LineString, MultiPolygon};

/// Seconds of a way, and how many of them at less than running speed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Pace {
    pub(super) seconds: f64,
    pub(super) slow_s: f64,
    pub(super) metres: f64,
}

impl Waters {
    /// Time along a way that runs inside `fast` alone and idles elsewhere.
    pub(super) fn pace(&self, way: &[Coord<f64>], fast: Option<&MultiPolygon<f64>>) -> Pace {
        let mut pace = Pace::default();
        for piece in way.windows(2) {
            let line = Line::new(piece[0], piece[1]);
            let length_m = metres(line.start, line.end);
            let mut cuts = vec![0.0, 1.0];
            let areas = self.slow.iter().map(|s| &s.area).chain(fast);
            cuts.extend(
                areas.flat_map(rings).flat_map(LineString::lines).filter_map(|edge| cut(&line, &edge)),
            );
            cuts.sort_by(f64::total_cmp);
            for part in cuts.windows(2).filter(|part| part[1] > part[0]) {
                let middle = line.start + line.delta() * f64::midpoint(part[0], part[1]);
                let speed = self.speed_at(middle, fast);
                let seconds = length_m * (part[1] - part[0]) / speed;
                pace.seconds += seconds;
                pace.slow_s += if speed < self.settings.run_m_s { seconds } else { 0.0 };
            }
            pace.metres += length_m;
        }
        pace
    }

    fn speed_at(&self, at: Coord<f64>, fast: Option<&MultiPolygon<f64>>) -> f64 {
        let runs = fast.is_some_and(|fast| inside(rings(fast), at));
        let speed = if runs { self.settings.run_m_s } else { self.settings.idle_m_s };
        let slow = self.slow.iter().filter(|s| inside(rings(&s.area), at)).map(|s| s.speed);
        slow.fold(speed.min(self.settings.run_m_s), f64::min)
    }
}

/// Where an edge crosses a line, as a share of its length; `None` where it does not, or runs along it.
fn cut(line: &Line<f64>, edge: &Line<f64>) -> Option<f64> {
    let (along, across, to) = (line.delta(), edge.delta(), edge.start - line.start);
    let turn = along.x * across.y - along.y * across.x;
    let share = (to.x * across.y - to.y * across.x) / turn;
    let of_edge = (to.x * along.y - to.y * along.x) / turn;
    ((0.0..=1.0).contains(&share) && (0.0..=1.0).contains(&of_edge)).then_some(share)
}
