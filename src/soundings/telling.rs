//! What is told about the bottom, and the water depth of marks that have none.

use super::{Bottom, FEWEST_CELLS, Settings, Surface, UnitOffset, UnitOffsets};
use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark};
use crate::terms::sonar::beam_width;
use crate::terms::track_log::TrackLog;
use crate::terms::units::{Depth, Units};

/// The cone of a common transducer at 200 kHz, in degrees (common practice, no source).
const USUAL_BEAM_DEG: f64 = 20.0;

/// A number of metres in the lake's units, like `1.2 ft`.
fn told(units: Units, metres: f64) -> String {
    format!("{:.1} {}", units.short_from_metres(metres), units.short_length())
}

/// No point of any track log has a depth.
pub(super) fn tell_nothing(track_logs: &[TrackLog], bottom: &mut Bottom) {
    let seen = if track_logs.is_empty() {
        "there are no track logs"
    } else {
        "no point of the track logs tells a depth"
    };
    bottom.findings.push(
        Finding::new(Code::SoundingsRefused, seen)
            .done("no bottom and no contours were drawn")
            .fix("export the track logs of a unit that stores the depth with each point"),
    );
}

/// The soundings cover too little.
pub(super) fn tell_thin(bottom: &mut Bottom, cell_m: f64) {
    let seen = format!(
        "the soundings lie in `{}` squares of {cell_m:.0} m: too thin for a bottom, which takes {FEWEST_CELLS} that do not \
         lie on one line",
        bottom.thinned
    );
    bottom.findings.push(
        Finding::new(Code::SoundingsRefused, seen)
            .done("no bottom and no contours were drawn")
            .fix("log more water with the depth stored"),
    );
}

/// The soundings say less of each other than their own mean does.
pub(super) fn tell_unfounded(bottom: &mut Bottom, lake: &Lake, spread_m: f64) {
    let Some(held_out) = &bottom.held_out else { return };
    let seen = format!(
        "tracks foretell each other's depths to `{}` (root mean square) where the depths themselves spread by {}: too thin, \
         or at odds with one another",
        told(lake.units, held_out.rmse_m),
        told(lake.units, spread_m)
    );
    bottom.findings.push(
        Finding::new(Code::SoundingsRefused, seen)
            .done("no bottom and no contours were drawn: they would be guessed")
            .fix("log more tracks; check the depth unit of each unit, and the levels"),
    );
}

/// Everything else, in the order in which it was done.
pub(super) fn tell(bottom: &mut Bottom, lake: &Lake, settings: &Settings, cell_m: f64) {
    let units = lake.units;
    let t = bottom.tally;
    let kept = format!(
        "`{}` soundings: {} kept; left out {} without a bottom (zero or impossible), {} that repeat a lost bottom, {} spikes, \
         {} in stretches that jump, {} of days without a level, {} on land, {} that stand in two exports",
        t.points, t.kept, t.zeros, t.repeats, t.spikes, t.jumps, t.no_level, t.ashore, t.copies
    );
    let thinned = format!("thinned to {} squares of {cell_m:.0} m", bottom.thinned);
    let mut findings = vec![Finding::new(Code::SoundingsCleaned, kept).done(thinned)];
    match bottom.surface {
        Surface::FullPool(_) => {}
        Surface::Highest(level_m) => findings.push(
            Finding::new(Code::SoundingsSurface, "levels are given and full pool is not")
                .done(format!("depths of the bottom are counted from the highest level, {}", told(units, level_m)))
                .fix("set lake.full_pool"),
        ),
        Surface::OfTheDay => findings.push(
            Finding::new(Code::SoundingsSurface, "no pool levels are given")
                .done("depths of the bottom are those of the days sounded; days of high and low water are mixed")
                .fix("set lake.levels and lake.full_pool"),
        ),
    }
    if lake.water.is_none() && bottom.bed.is_some() {
        findings.push(
            Finding::new(Code::SoundingsSurface, "no shoreline is given")
                .done("the bottom does not come up to the shore, and contours may cross land")
                .fix("set lake.shoreline"),
        );
    }
    findings.extend(bottom.offsets.iter().map(|offset| tell_offset(offset, units, settings.unit_offsets)));
    if let Some(c) = bottom.crossings {
        findings.push(Finding::new(
            Code::SoundingsCrossings,
            format!(
                "where tracks cross (`{}` crossings) soundings differ by `{}` in the median, and by `{}` at most in 95 of 100",
                c.count,
                told(units, c.median_m),
                told(units, c.p95_m)
            ),
        ));
    }
    if let Some(h) = &bottom.held_out {
        findings.push(Finding::new(
            Code::SoundingsHeldOut,
            format!(
                "{} of {} tracks left out in turn: the bottom by the others is off by `{}` in the median, `{}` root mean \
                 square, over {} squares",
                h.tracks,
                h.of,
                told(units, h.median_m),
                told(units, h.rmse_m),
                h.places
            ),
        ));
    }
    if bottom.bed.is_some() {
        let drawn = units.area_from_square_metres(bottom.drawn_m2);
        let beam_m = beam_width(bottom.deepest_m, USUAL_BEAM_DEG);
        let cell = if cell_m > settings.cell.metres() {
            format!("; squares were widened to {cell_m:.0} m, or the lattice would be too large")
        } else {
            String::new()
        };
        findings.push(
            Finding::new(
                Code::SoundingsDrawn,
                format!("`{}` contours over `{drawn:.0} {}` of water", bottom.contours.len(), units.area()),
            )
            .done(format!(
                "water farther than {:.0} m from every sounding is blank{cell}; no chart: between tracks the bottom is worked \
                 out, and in the deepest water a beam of {USUAL_BEAM_DEG:.0} degrees looks at {} of bottom at once",
                settings.reach.metres(),
                told(units, beam_m)
            )),
        );
    }
    bottom.findings.append(&mut findings);
}

fn tell_offset(offset: &UnitOffset, units: Units, wish: UnitOffsets) -> Finding {
    let side = if offset.deeper_m < 0.0 { "shallower" } else { "deeper" };
    let seen = format!(
        "unit `{}` sounds `{}` {side} than unit `{}` (error {}, {} crossings)",
        offset.unit,
        told(units, offset.deeper_m.abs()),
        offset.reference,
        told(units, offset.error_m),
        offset.crossings
    );
    let finding = Finding::new(Code::SoundingsUnitOffset, seen);
    if offset.applied {
        finding
            .done(format!("its depths were set to those of `{}`", offset.reference))
            .fix("sound a place with a lead line to know which is right, and set soundings.transducer")
    } else if wish == UnitOffsets::Never {
        finding.done("nothing: soundings.unit_offsets is never")
    } else {
        finding.done("nothing: it is small, or not clear")
    }
}

/// Gives marks without a water depth that of the bottom on their day; returns what is told. An undated mark gets none
/// where levels are given, for its day's level is not known; nor does a ramp or a dock, nor a hazard: the bottom around it
/// says nothing of its top.
pub fn fill_water_depths(log: &mut [Mark], bottom: &Bottom, lake: &Lake) -> Option<Finding> {
    let bed = bottom.bed.as_ref()?;
    let (mut filled, mut blank) = (0, 0);
    for mark in
        log.iter_mut().filter(|m| m.water_depth.is_none() && !matches!(m.kind, Kind::Access | Kind::Hazard))
    {
        match bed.depth_m(lake.to_plane(mark.place), lake).and_then(|m| on_the_day(m, mark, bottom, lake)) {
            Some(depth) => {
                mark.water_depth = Some(depth);
                mark.repairs.extend([Code::WaterDepthSounded]);
                filled += 1;
            }
            None => blank += 1,
        }
    }
    let error = bottom.held_out.as_ref().map_or_else(String::new, |h| {
        format!("; at tracks left out that is off by {} in the median", told(lake.units, h.median_m))
    });
    (filled > 0).then(|| {
        Finding::new(Code::WaterDepthSounded, format!("`{filled}` marks told no water depth")).done(format!(
            "it was taken from the soundings at the level of their day{error}; {blank} more stay without one"
        ))
    })
}

fn on_the_day(below_surface_m: f64, mark: &Mark, bottom: &Bottom, lake: &Lake) -> Option<Depth> {
    let lower_m = match bottom.surface.level_m() {
        Some(level_m) => level_m - lake.level_m(mark.day?.date)?,
        None => 0.0,
    };
    Depth::from_metres(below_surface_m - lower_m)
        .filter(|depth| mark.fish_depth.is_none_or(|fish| fish <= *depth))
}
