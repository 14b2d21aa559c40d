//! Marks in, bait sightings out, by the `schools` stage with its default settings.

use shoalwright::schools::{AreaSettings, Sighting, SightingSettings, schools};
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark};

/// Sightings of bait, with the marks of each as places in `marks`.
pub(crate) fn bait_sightings(marks: &[Mark], lake: &Lake) -> Vec<Sighting> {
    let found = schools(marks, &[], lake, &SightingSettings::default(), &AreaSettings::default(), 1);
    found.sightings.into_iter().filter(|s| s.kind == Kind::Bait).collect()
}
