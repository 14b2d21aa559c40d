//! The mask: each place moved once, into a ring around it, by a secret that stays at home.
//!
//! A donut mask (Hampton et al. 2010, doi 10.1093/aje/kwq248): the shown place is drawn uniformly by area from the water
//! of the same zone 400 to 1,200 m away. Three things are added to the published method.
//!
//! - The draw is keyed by the secret and by the *patch* (0.002 degrees, about 220 by 180 m) that the place lies in, not
//!   by the mark. Many sightings on one hump with an offset each would average out to the hump; here they are one
//!   shown place, in every export.
//! - Each candidate gets a keyed number, and the highest wins (rendezvous hashing, Thaler & Ravishankar 1998): the
//!   choice stays when the shoreline is redrawn a little.
//! - A place is shown only where the sharpest guess of somebody who knows this method and the lake, but not the secret,
//!   is right with chance 1/k at most. `k` is worked out over all plausible places, by Bayes' rule, and not counted in
//!   the ring: at the end of an arm few patches can come out at a place, and some of them have few other ways to go.

use super::places::{Knot, Places};
use super::zones::Zones;
use crate::terms::sha256::keyed;
use std::collections::BTreeMap;

/// Knots along the side of a patch.
const PATCH: i32 = 2;

/// How far places are moved, and how many places each must be hidden among.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ring {
    /// Least metres from a mark to where it is shown.
    pub near_m: f64,
    /// Most metres.
    pub far_m: f64,
    /// Least number of equally likely places that a shown place must stand for.
    pub least_k: f64,
}

impl Default for Ring {
    /// 400 to 1,200 m, 20 places: twenty places of a hectare are water that a boat searches in half an hour, so fewer
    /// would hide nothing.
    fn default() -> Self {
        Self { near_m: 400.0, far_m: 1200.0, least_k: super::LEAST_PLACES as f64 }
    }
}

/// Where each patch of a lake may be shown. The same for everybody who has the shoreline; holds no secret.
#[derive(Clone, Debug)]
pub struct Mask {
    patches: BTreeMap<(Patch, usize), Allowed>,
    /// k of each plausible place as a shown place; below 1: nothing is shown there.
    k: Vec<f64>,
}

/// A patch by its south-west corner, in patches.
type Patch = Knot;

#[derive(Clone, Debug, Default)]
struct Allowed {
    /// Plausible places in the patch and zone.
    inside: Vec<u32>,
    /// Where they may be shown.
    shown: Vec<u32>,
}

impl Mask {
    /// Works out where the patches of a lake may be shown.
    #[must_use]
    pub fn of(places: &Places, zones: &Zones, ring: &Ring) -> Self {
        let knots = places.knots();
        let mut patches: BTreeMap<(Patch, usize), Allowed> = BTreeMap::new();
        for (number, knot) in knots.iter().enumerate() {
            patches.entry((patch_of(*knot), zones.zone(number))).or_default().inside.push(number as u32);
        }
        // A mark may lie half a diagonal away from the knot that stands for it.
        let (near_m, far_m) = (ring.near_m + places.reach_m(), ring.far_m - places.reach_m());
        let [east_m, north_m] = places.metres();
        let (columns, rows) = ((far_m / east_m).ceil() as i32, (far_m / north_m).ceil() as i32);
        for ((patch, zone), allowed) in &mut patches {
            let corner = Knot { north: patch.north * PATCH, east: patch.east * PATCH };
            for north in corner.north - rows..=corner.north + PATCH - 1 + rows {
                for east in corner.east - columns..=corner.east + PATCH - 1 + columns {
                    let to = Knot { north, east };
                    let Some(number) = places.number(to).filter(|number| zones.zone(*number) == *zone) else {
                        continue;
                    };
                    let fits = |from: &u32| {
                        (near_m..=far_m).contains(&places.metres_between(knots[*from as usize], to))
                    };
                    if allowed.inside.iter().all(fits) {
                        allowed.shown.push(number as u32);
                    }
                }
            }
        }
        let mut mask = Self { patches, k: vec![0.0; knots.len()] };
        mask.hide_what_is_guessed(ring.least_k);
        mask
    }

    /// Takes out, until nothing changes, shown places that tell too much.
    fn hide_what_is_guessed(&mut self, least_k: f64) {
        loop {
            // Of a shown place: the weight of all places that may have come there, and of the likeliest.
            let mut weights = vec![[0.0_f64; 2]; self.k.len()];
            for allowed in self.patches.values().filter(|a| !a.shown.is_empty()) {
                let each = 1.0 / allowed.shown.len() as f64;
                for shown in &allowed.shown {
                    let [all, most] = &mut weights[*shown as usize];
                    *all += each * allowed.inside.len() as f64;
                    *most = most.max(each);
                }
            }
            for (k, [all, most]) in self.k.iter_mut().zip(weights) {
                *k = if most > 0.0 { all / most } else { 0.0 };
            }
            let mut taken = false;
            for allowed in self.patches.values_mut() {
                let before = allowed.shown.len();
                // A hair, so that sums that are just enough are not undone by rounding.
                allowed.shown.retain(|shown| self.k[*shown as usize] >= least_k - 1e-9);
                taken |= allowed.shown.len() < before;
            }
            if !taken {
                return;
            }
        }
    }

    /// Where a plausible place is shown; `None`: nowhere that hides it.
    #[must_use]
    pub fn shown(&self, from: Knot, places: &Places, zones: &Zones, secret: &[u8]) -> Option<Knot> {
        let patch = patch_of(from);
        let zone = zones.zone(places.number(from)?);
        let draw = |to: &Knot| {
            let message = format!(
                "mask {} {} to {} {} by {}",
                patch.north,
                patch.east,
                to.north,
                to.east,
                places.step()
            );
            keyed(secret, message.as_bytes())
        };
        let allowed = &self.patches.get(&(patch, zone))?.shown;
        allowed.iter().map(|number| places.knots()[*number as usize]).max_by_key(draw)
    }

    /// Where a plausible place may be shown, whatever the secret.
    #[must_use]
    pub fn candidates(&self, from: Knot, places: &Places, zones: &Zones) -> Vec<Knot> {
        let zone = places.number(from).map(|number| zones.zone(number));
        let allowed = zone.and_then(|zone| self.patches.get(&(patch_of(from), zone)));
        allowed.map_or_else(Vec::new, |a| a.shown.iter().map(|n| places.knots()[*n as usize]).collect())
    }

    /// Among how many equally likely places a shown place hides what it stands for: one over the chance of the sharpest
    /// guess. Zero: nothing is ever shown there.
    #[must_use]
    pub fn k(&self, shown: usize) -> f64 {
        self.k[shown]
    }
}

/// Whether two plausible places share a patch.
pub(super) fn same_patch(a: Knot, b: Knot) -> bool {
    patch_of(a) == patch_of(b)
}

fn patch_of(knot: Knot) -> Patch {
    Knot { north: knot.north.div_euclid(PATCH), east: knot.east.div_euclid(PATCH) }
}
