//! Depth units: files whose recorded depths are feet taken for metres, or a table's metres taken for feet.
//!
//! One depth tells nothing: what is 30 and should be 9 is a depth like any other. A file is judged by many marks at
//! once, against the water depths typed into its own records and against what other files record at the same places.

use super::Draft;
use super::kind::{self, Rules};
use super::phrases::{self, Whose};
use super::tally::Tally;
use super::tokens::lex;
use crate::terms::export::{Export, FileId, Format, RecordedDepth};
use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Origin};
use crate::terms::place::{Place, PlanePoint};
use crate::terms::track_log::TrackLog;
use crate::terms::units::METRES_PER_FOOT;
use std::collections::BTreeMap;

/// So many pairs of depths must agree on a ratio. By chance the middle of ten ratios falls within 3 % of a wrong unit's
/// only where the depths themselves are scattered, which `AGREE_SHARE` excludes.
const FEWEST: usize = 10;
/// The middle ratio lies this near to 1 or to the foot's 3.281 (natural logarithm).
const NEAR: f64 = 0.03;
/// Of the ratios this share lies within `SPREAD` of the middle one (natural logarithm): the bottom is uneven, and the
/// pool stands at another level on another day.
const AGREE_SHARE: f64 = 0.7;
const SPREAD: f64 = 0.2;
/// Marks of two files within this stand over the same bottom: two consumer positions are good to some 7 m each.
const SAME_PLACE_M: f64 = 15.0;
/// Shallower water tells nothing: whole feet and a wave are a tenth of it.
const LEAST_M: f64 = 2.0;
/// Marks of a file that are compared, taken evenly from all.
const SAMPLE: usize = 2000;
/// Marks of one cell that are compared: a thousand at one brush pile must not take a million comparisons.
const MOST_IN_CELL: usize = 32;

/// How the recorded depths of a file stand to others of the same bottom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stands {
    Same,
    /// 3.281 times too deep: feet taken for metres.
    Deep,
    /// 3.281 times too shallow: metres taken for feet.
    Shallow,
}

/// Puts the recorded depths of files right whose unit is proved wrong, and tells of files that contradict each other
/// without proof which is right. Depths of track logs go with the marks of their file.
pub(super) fn repair(
    drafts: &mut [Draft],
    track_logs: &mut [TrackLog],
    exports: &[Export],
    lake: &Lake,
    rules: &Rules,
    findings: &mut Vec<Finding>,
    tally: &mut Tally,
) {
    let recorded = recorded_by_file(drafts, exports);
    let beside = against_other_files(&recorded, lake);
    let mut factors: BTreeMap<FileId, f64> = BTreeMap::new();
    for (file, marks) in &recorded {
        let Some(export) = exports.get(file.0 as usize) else { continue };
        let typed = against_typed(marks, drafts, export, rules);
        let of_file = || beside.iter().filter(|((own, _), _)| own == file);
        let count = |stands: Stands| of_file().filter(|(_, other)| **other == stands).count();
        let majority = |stands: Stands| count(stands) >= 2 && count(stands) > count(Stands::Same);
        // Extensions of GPX hold metres, and a unit that writes feet there is known; the unit of a table is a setting.
        let is_table = export.format == Format::Csv;
        let factor = match typed {
            Some(Stands::Deep) => Some(METRES_PER_FOOT),
            Some(Stands::Shallow) => Some(1.0 / METRES_PER_FOOT),
            None if majority(Stands::Deep) => Some(METRES_PER_FOOT),
            None if majority(Stands::Shallow) && is_table => Some(1.0 / METRES_PER_FOOT),
            Some(Stands::Same) | None => None,
        };
        if let Some(factor) = factor {
            factors.insert(*file, factor);
        }
    }
    for ((file, other), stands) in &beside {
        let settled = factors.contains_key(file) || factors.contains_key(other);
        if *stands == Stands::Deep && !settled {
            let label = |file: &FileId| exports.get(file.0 as usize).map_or("", |export| &export.label);
            let seen = format!(
                "at the same places the recorded depths are 3.28 times those of `{}`: feet taken for metres, in one of them",
                label(other)
            );
            findings.push(
                Finding::new(Code::DepthUnitDoubtful, seen)
                    .at(Origin::whole_file(*file), "")
                    .done("kept as read: nothing tells which of the two is wrong")
                    .fix("leave the wrong one's depths out, or set `depth_unit` where it is a CSV"),
            );
        }
    }
    apply(&factors, drafts, track_logs, tally);
}

fn apply(
    factors: &BTreeMap<FileId, f64>,
    drafts: &mut [Draft],
    track_logs: &mut [TrackLog],
    tally: &mut Tally,
) {
    if factors.is_empty() {
        return;
    }
    let times = |depth: &mut Option<f32>, factor: f64| {
        *depth = depth.map(|metres| (f64::from(metres) * factor) as f32);
    };
    for draft in drafts {
        let Some(factor) = factors.get(&draft.file()) else { continue };
        let fields = &mut draft.raw.fields;
        let Some(before) = fields.depth_m.or(fields.water_depth_m) else { continue };
        times(&mut fields.depth_m, *factor);
        times(&mut fields.water_depth_m, *factor);
        draft.repairs.insert(Code::DepthUnitRepaired);
        tally.count_with(Code::DepthUnitRepaired, draft.raw.origin, || {
            format!("{before:.1} m -> {:.1} m", f64::from(before) * factor)
        });
    }
    for log in track_logs {
        let Some(factor) = factors.get(&log.origin.file) else { continue };
        for point in log.segments.iter_mut().flatten() {
            times(&mut point.depth_m, *factor);
        }
    }
}

/// A mark of the sample: its place in the drafts, and the depth of the bottom that its unit recorded.
type Recorded = (usize, Place, f64);

/// A mark's file, its place and the depth recorded there in metres.
type Sounded = (FileId, PlanePoint, f64);

/// Marks with a recorded depth of the bottom, by file, at most `SAMPLE` each.
fn recorded_by_file(drafts: &[Draft], exports: &[Export]) -> BTreeMap<FileId, Vec<Recorded>> {
    let mut by_file = BTreeMap::new();
    let mut start = 0;
    for of_file in drafts.chunk_by(|a, b| a.file() == b.file()) {
        let file = of_file[0].file();
        let holds_water =
            exports.get(file.0 as usize).is_none_or(|e| e.recorded_depth == RecordedDepth::Water);
        let depth = |draft: &Draft| {
            let fields = draft.raw.fields;
            let metres = fields.water_depth_m.or(fields.depth_m.filter(|_| holds_water))?;
            Some(f64::from(metres)).filter(|metres| (LEAST_M..2000.0).contains(metres))
        };
        let step = of_file.len().div_ceil(SAMPLE).max(1);
        let sample: Vec<Recorded> = of_file
            .iter()
            .enumerate()
            .step_by(step)
            .filter_map(|(i, draft)| Some((start + i, draft.place(), depth(draft)?)))
            .collect();
        if sample.len() >= FEWEST {
            by_file.insert(file, sample);
        }
        start += of_file.len();
    }
    by_file
}

/// The recorded depths of a file against the water depths typed into the same records.
fn against_typed(marks: &[Recorded], drafts: &[Draft], export: &Export, rules: &Rules) -> Option<Stands> {
    let ratios = marks.iter().filter_map(|(number, _, recorded_m)| {
        let draft = &drafts[*number];
        let texts = draft.raw.words.in_order().map(lex);
        let spoken = kind::of(draft, &texts, rules);
        let of_ground = matches!(spoken.kind, Kind::Cover | Kind::Structure | Kind::Hazard);
        let typed = texts.iter().zip(&spoken.matches).find_map(|(tokens, matches)| {
            let said = phrases::read(tokens, matches, export.depth_unit, export.temperature_unit);
            let of_water = |whose: Whose| whose == Whose::Water || (whose == Whose::Untold && of_ground);
            said.depths.into_iter().find(|(whose, _)| of_water(*whose)).map(|(_, depth)| depth.metres())
        })?;
        (typed >= LEAST_M * METRES_PER_FOOT).then(|| (recorded_m / typed).ln())
    });
    judge(ratios.collect())
}

/// For each two files that marked the same places often enough, how the first stands to the second.
fn against_other_files(
    recorded: &BTreeMap<FileId, Vec<Recorded>>,
    lake: &Lake,
) -> BTreeMap<(FileId, FileId), Stands> {
    if recorded.len() < 2 {
        return BTreeMap::new();
    }
    let cell = |at: PlanePoint| {
        ((at.east_m / SAME_PLACE_M).floor() as i32, (at.north_m / SAME_PLACE_M).floor() as i32)
    };
    let mut cells: BTreeMap<(i32, i32), Vec<Sounded>> = BTreeMap::new();
    for (file, marks) in recorded {
        for (_, place, metres) in marks {
            let at = lake.to_plane(*place);
            cells.entry(cell(at)).or_default().push((*file, at, *metres));
        }
    }
    let mut ratios: BTreeMap<(FileId, FileId), Vec<f64>> = BTreeMap::new();
    for ((x, y), marks) in &cells {
        let around = (x - 1..=x + 1).flat_map(|x| (y - 1..=y + 1).map(move |y| (x, y)));
        for near in around.filter_map(|cell| cells.get(&cell)) {
            for (file, at, metres) in marks.iter().take(MOST_IN_CELL) {
                for (other, there, depth) in near.iter().take(MOST_IN_CELL) {
                    if file != other && at.metres_to(*there) <= SAME_PLACE_M {
                        ratios.entry((*file, *other)).or_default().push((metres / depth).ln());
                    }
                }
            }
        }
    }
    ratios.into_iter().filter_map(|(files, ratios)| Some((files, judge(ratios)?))).collect()
}

/// What the logarithms of many ratios agree on.
fn judge(mut ratios: Vec<f64>) -> Option<Stands> {
    if ratios.len() < FEWEST {
        return None;
    }
    ratios.sort_unstable_by(f64::total_cmp);
    let middle = ratios[ratios.len() / 2];
    let close = ratios.iter().filter(|ratio| (*ratio - middle).abs() <= SPREAD).count();
    if (close as f64) < AGREE_SHARE * ratios.len() as f64 {
        return None;
    }
    let foot = -METRES_PER_FOOT.ln();
    [(0.0, Stands::Same), (foot, Stands::Deep), (-foot, Stands::Shallow)]
        .into_iter()
        .find(|(wanted, _)| (middle - wanted).abs() <= NEAR)
        .map(|(_, stands)| stands)
}
