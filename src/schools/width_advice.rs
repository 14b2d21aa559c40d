//! What the spacing of the bait sightings suggests for the width of holding areas.

use crate::schools::{AreaSettings, Sighting};
use crate::terms::finding::{Code, Finding};
use crate::terms::mark::Kind;
use crate::terms::units::METRES_PER_FOOT;
use rstar::RTree;
use rstar::primitives::GeomWithData;

/// The advice is this many times the median distance to the fourth neighbour. Picked after seeing the simulated
/// lakes it was tried on, where it ties with a fixed 300 m: reason enough to tell it, not to apply it.
const FACTOR: f64 = 1.3;
/// Which neighbour, the sighting itself not counted.
const NEIGHBOUR: usize = 4;
/// The advice is kept within these metres.
const CLIP_M: [f64; 2] = [150.0, 900.0];
/// Fewer sightings than this have no spacing worth telling (judgement).
const LEAST_SIGHTINGS: usize = 40;
/// At most this many sightings are asked for their neighbours, evenly over the seasons: a median needs no more.
const ASKED: usize = 2000;
/// Advice nearer to the setting than this share of it is not worth telling: the score is flat there.
const WORTH_TELLING: f64 = 0.25;

/// Advises when the width that the spacing suggests differs from the setting by more than a quarter.
pub(super) fn width_advice(sightings: &[Sighting], settings: &AreaSettings) -> Option<Finding> {
    let width_m = suggested_width_m(sightings, settings)?;
    let set_m = settings.distance.metres();
    ((width_m - set_m).abs() > WORTH_TELLING * set_m).then(|| {
        let both = |m: f64| format!("`{m:.0} m` ({:.0} ft)", m / METRES_PER_FOOT);
        Finding::new(
            Code::AreaWidthAdvice,
            format!(
                "the spacing of the bait sightings suggests {}, the setting is {}",
                both(width_m),
                both(set_m)
            ),
        )
        .fix(format!("to try it, set schools.distance = \"{width_m:.0} m\""))
    })
}

/// The width in metres; `None` when there are too few bait sightings.
fn suggested_width_m(sightings: &[Sighting], settings: &AreaSettings) -> Option<f64> {
    let bait: Vec<&Sighting> = sightings.iter().filter(|s| s.kind == Kind::Bait).collect();
    if bait.len() < LEAST_SIGHTINGS {
        return None;
    }
    let tree = RTree::bulk_load(
        (0..bait.len())
            .map(|i| GeomWithData::new([bait[i].plane.east_m, bait[i].plane.north_m], i))
            .collect(),
    );
    // Beyond this the clip decides, so nobody needs to look farther.
    let farthest_m = CLIP_M[1] / FACTOR;
    let mut fourth_m: Vec<f64> = (0..bait.len())
        .step_by(bait.len().div_ceil(ASKED))
        .map(|i| {
            tree.nearest_neighbor_iter_with_distance_2(&[bait[i].plane.east_m, bait[i].plane.north_m])
                .take_while(|(_, distance_2)| *distance_2 <= farthest_m * farthest_m)
                .filter(|(near, _)| near.data != i && passes(bait[i], bait[near.data], settings))
                .nth(NEIGHBOUR - 1)
                .map_or(farthest_m, |(_, distance_2)| distance_2.sqrt())
        })
        .collect();
    fourth_m.sort_by(f64::total_cmp);
    Some((FACTOR * fourth_m[fourth_m.len() / 2]).clamp(CLIP_M[0], CLIP_M[1]))
}

/// The gates of season day and depth.
fn passes(a: &Sighting, b: &Sighting, settings: &AreaSettings) -> bool {
    let depths = a.fish_depth.zip(b.fish_depth);
    a.day.season_day.days_apart(b.day.season_day) <= settings.days
        && depths.is_none_or(|(a, b)| (a.metres() - b.metres()).abs() <= settings.depth.metres() + 1e-4)
}
