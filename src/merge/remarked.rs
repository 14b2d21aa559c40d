//! Cover and structure marked again on other days: one brush pile seen nine times is one object.
//!
//! Bait and gamefish stay as they are, each mark a sighting. So do hazards: two stumps 20 m apart must never become one.

use super::Settings;
use super::names::bare_name;
use super::one_of_many::fill;
use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark, Origin};
use crate::terms::place::PlanePoint;
use crate::terms::units::METRES_PER_FOOT;
use std::collections::BTreeMap;

/// Depths of one object told on two days agree within this where the pool's level of both days is known, and within
/// `SAME_DEPTH_M` where it is not: then the pool itself may have moved (our own choice).
const SAME_ELEVATION_M: f64 = 4.0 * METRES_PER_FOOT;
const SAME_DEPTH_M: f64 = 12.0 * METRES_PER_FOOT;
/// Within this, levels explain the depths of an object.
const EXPLAINED_M: f64 = 2.0 * METRES_PER_FOOT;

/// Depth of an object below the surface of its day, and the level of that day.
type Sounded = (f64, Option<f64>);

/// An object: the first mark on it, and the later ones.
struct Object {
    first: usize,
    at: PlanePoint,
    later: Vec<usize>,
}

/// Makes one mark of the marks on one piece of cover or structure. `marks` are in log order; the first mark of an object
/// stays, takes what it lacks from the later ones and lists their records. Gives the log, where the others stood, and
/// what is told.
pub(super) fn unite(
    mut marks: Vec<Mark>,
    lake: &Lake,
    settings: &Settings,
) -> (Vec<Mark>, Vec<Origin>, Vec<Finding>) {
    let reach_m = settings.same_cover.metres();
    let is_object = |mark: &Mark| matches!(mark.kind, Kind::Cover | Kind::Structure) && mark.day.is_some();
    if reach_m <= 0.0 || !marks.iter().any(is_object) {
        return (marks, Vec::new(), Vec::new());
    }
    let cell = |at: PlanePoint| ((at.east_m / reach_m).floor() as i64, (at.north_m / reach_m).floor() as i64);
    let mut objects: Vec<Object> = Vec::new();
    let mut cells: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    for (number, mark) in marks.iter().enumerate().filter(|(_, mark)| is_object(mark)) {
        let at = lake.to_plane(mark.place);
        let (column, row) = cell(at);
        // Only the first mark of an object is asked: then the log of a log is that log again.
        let nearest = (column - 1..=column + 1)
            .flat_map(|x| (row - 1..=row + 1).map(move |y| (x, y)))
            .filter_map(|cell| cells.get(&cell))
            .flatten()
            .map(|object| (objects[*object].at.metres_to(at), *object))
            .filter(|(metres, object)| {
                *metres <= reach_m && are_one(&marks[objects[*object].first], mark, lake)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        if let Some((_, object)) = nearest {
            objects[object].later.push(number);
        } else {
            cells.entry((column, row)).or_default().push(objects.len());
            objects.push(Object { first: number, at, later: Vec::new() });
        }
    }
    objects.retain(|object| !object.later.is_empty());
    let mut findings: Vec<Finding> = objects.iter().map(|object| told(object, &marks)).collect();
    findings.extend(levels_explain(&objects, &marks, lake));
    let mut slots: Vec<Option<Mark>> = marks.drain(..).map(Some).collect();
    let mut merged_away = Vec::new();
    for object in objects {
        let later: Vec<Mark> = object.later.iter().filter_map(|number| slots[*number].take()).collect();
        merged_away.extend(later.iter().map(Mark::origin));
        slots[object.first] = slots[object.first].take().map(|first| fill(first, later.into_iter()));
    }
    (slots.into_iter().flatten().collect(), merged_away, findings)
}

/// Whether two marks of different days within reach of each other are on one object: of one kind, with texts that do not
/// gainsay each other and depths that agree.
fn are_one(first: &Mark, later: &Mark, lake: &Lake) -> bool {
    let day = |mark: &Mark| mark.day.map(|day| day.date);
    let agree = |a: &str, b: &str| a.is_empty() || b.is_empty() || a == b;
    let texts =
        |mark: &Mark| [mark.words.cmt().to_owned(), mark.words.desc().to_owned(), mark.note.to_string()];
    let (a, b) = (words_of(first.words.name()), words_of(later.words.name()));
    first.kind == later.kind
        && day(first) != day(later)
        && (a.starts_with(&b) || b.starts_with(&a))
        && texts(first).iter().zip(&texts(later)).all(|(a, b)| agree(a, b))
        && depths_agree(sounded(first, lake), sounded(later, lake))
}

/// A name without its numbers and the units behind them, which are depths and the unit's counting, in bare letters: so
/// `BRUSH 22FT` begins `brush pile 16 ft`.
fn words_of(name: &str) -> String {
    let mut words = String::new();
    for run in name.split(|c: char| !c.is_alphanumeric()) {
        let end = run.find(|c: char| c.is_ascii_digit()).unwrap_or(run.len());
        let is_unit = end == run.len()
            && ["ft", "feet", "m", "fathom", "fathoms"].contains(&run.to_lowercase().as_str());
        if !is_unit {
            words.push_str(&bare_name(&run[..end]));
        }
    }
    words
}

fn sounded(mark: &Mark, lake: &Lake) -> Option<Sounded> {
    Some((mark.water_depth?.metres(), mark.day.and_then(|day| lake.level_m(day.date))))
}

fn depths_agree(first: Option<Sounded>, later: Option<Sounded>) -> bool {
    let (Some((a, level_a)), Some((b, level_b))) = (first, later) else { return true };
    match (level_a, level_b) {
        (Some(level_a), Some(level_b)) => ((level_a - a) - (level_b - b)).abs() <= SAME_ELEVATION_M,
        _ => (a - b).abs() <= SAME_DEPTH_M,
    }
}

fn told(object: &Object, marks: &[Mark]) -> Finding {
    let first = &marks[object.first];
    let days = |number: &usize| marks[*number].day.map(|day| day.date);
    let last = object.later.iter().filter_map(days).max();
    let date = |day: Option<jiff::civil::Date>| day.map_or_else(String::new, |day| day.to_string());
    let seen = format!(
        "{} marks from `{}` to `{}` are on one piece of {}",
        object.later.len() + 1,
        date(days(&object.first)),
        date(last),
        first.kind.word()
    );
    Finding::new(Code::CoverRemarked, seen)
        .at(first.origin(), first.words.name())
        .done("one mark with all their records")
        .fix("set `merge.same_cover = \"0 m\"` to keep each")
}

/// How many depths told of one object on two days agree by the pool's levels, and how many without.
fn levels_explain(objects: &[Object], marks: &[Mark], lake: &Lake) -> Option<Finding> {
    let (mut pairs, mut by_level, mut as_told) = (0, 0, 0);
    for object in objects {
        let Some((a, Some(level_a))) = sounded(&marks[object.first], lake) else { continue };
        for later in &object.later {
            let Some((b, Some(level_b))) = sounded(&marks[*later], lake) else { continue };
            pairs += 1;
            by_level += usize::from(((level_a - a) - (level_b - b)).abs() <= EXPLAINED_M);
            as_told += usize::from((a - b).abs() <= EXPLAINED_M);
        }
    }
    (pairs > 0).then(|| {
        let seen = format!(
            "of {pairs} depths of cover and structure told again on another day, {by_level} agree within 2 ft when the level of the day is taken off, {as_told} as they stand"
        );
        Finding::new(Code::CoverRemarked, seen)
    })
}
