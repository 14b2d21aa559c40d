//! Depths: of the fish and of the water, kept apart.
//!
//! A depth typed beside a bait or gamefish word is the fish's; beside cover, structure or a hazard it is the water's;
//! a depth that the unit recorded is what the user says that it records. Unknown stays unknown.

use super::Draft;
use super::kind::Rules;
use super::phrases::{Said, Whose};
use super::tokens::{Token, lex};
use crate::terms::export::{FileId, RecordedDepth};
use crate::terms::finding::{Code, Finding};
use crate::terms::mark::Kind;
use crate::terms::units::{Depth, METRES_PER_FOOT};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Two depths told of the same thing agree within a foot or a tenth: typed depths are rounded, sounder and eye differ.
const AGREE_M: f64 = METRES_PER_FOOT;
const AGREE_SHARE: f64 = 0.1;
/// A fish may read this far below the bottom: both depths are rounded, and a wide cone reads a fish at its edge deeper.
const BELOW_BOTTOM_M: f64 = METRES_PER_FOOT;
/// A typed depth this near to the recorded one is the same number: extensions hold metres to two decimals.
const COPIED_M: f64 = 0.01;
/// Numbers that devices and tables write for `unknown`, in feet or metres (common practice, no source). Zero is one:
/// a mark has water under it.
const SENTINELS: [f64; 13] =
    [0.0, -1.0, 999.0, -999.0, 999.9, -999.9, 9999.0, -9999.0, 32767.0, -32768.0, 65535.0, 6553.5, 655.35];

/// Files and words whose bare numbers count the marks: `Bait 1`, `Bait 2`, and so on.
pub(super) type NumberedStems = BTreeSet<(FileId, String)>;

/// Finds names that count: the same words in one file, followed by numbers that are all different and leave few out.
pub(super) fn numbered_stems(drafts: &[Draft], rules: &Rules) -> NumberedStems {
    const FEWEST: usize = 8;
    let by_block: Vec<BTreeMap<(FileId, String), Vec<u64>>> = drafts
        .par_chunks(1 << 14)
        .map(|block| {
            let mut numbers: BTreeMap<_, Vec<u64>> = BTreeMap::new();
            for draft in block {
                if let Some((stem, number)) = counting_name(draft.raw.words.name(), rules) {
                    numbers.entry((draft.file(), stem)).or_default().push(number);
                }
            }
            numbers
        })
        .collect();
    let mut numbers: BTreeMap<(FileId, String), Vec<u64>> = BTreeMap::new();
    for (key, mut some) in by_block.into_iter().flatten() {
        numbers.entry(key).or_default().append(&mut some);
    }
    numbers
        .into_iter()
        .filter(|(_, numbers)| {
            let distinct: BTreeSet<u64> = numbers.iter().copied().collect();
            let span = distinct.last().zip(distinct.first()).map_or(0, |(last, first)| last - first + 1);
            numbers.len() >= FEWEST && distinct.len() == numbers.len() && 4 * span <= 5 * numbers.len() as u64
        })
        .map(|(key, _)| key)
        .collect()
}

/// The words and the number of a name that may count marks of a kind.
fn counting_name(name: &str, rules: &Rules) -> Option<(String, u64)> {
    if !name.ends_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let tokens = lex(name);
    stem_and_number(&tokens).filter(|_| !rules.matches(&tokens).is_empty())
}

/// `Bait 12` → (`bait`, 12).
fn stem_and_number(tokens: &[Token]) -> Option<(String, u64)> {
    let (Token::Number { value, .. }, words) = tokens.split_last()? else { return None };
    let stem: Vec<&str> = words.iter().filter_map(Token::word).collect();
    (value.fract() == 0.0 && words.iter().all(|t| !matches!(t, Token::Number { .. })))
        .then(|| (stem.join(" "), *value as u64))
}

/// What a mark's record tells of depth.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Depths {
    pub(super) fish: Option<Depth>,
    pub(super) water: Option<Depth>,
    /// Whether the fish depth is a typed one that does not say whose it is, beside a recorded bottom.
    pub(super) beside_bottom: bool,
    /// Whether that is the bottom's very number.
    pub(super) copied_bottom: bool,
}

/// Fish depth and water depth of a mark.
pub(super) fn decide(
    draft: &Draft,
    kind: Kind,
    said: &[Said],
    recorded: RecordedDepth,
    numbered: &NumberedStems,
    told: &mut Vec<Finding>,
) -> Depths {
    let of_fish = matches!(kind, Kind::Bait | Kind::Gamefish);
    let of_ground = matches!(kind, Kind::Cover | Kind::Structure | Kind::Hazard);
    let (mut fish, mut water) = (Vec::new(), Vec::new());
    for (whose, depth) in said.iter().flat_map(|s| &s.depths) {
        match whose {
            Whose::Fish if !of_ground => fish.push(*depth),
            Whose::Water => water.push(*depth),
            Whose::Untold if of_fish => fish.push(*depth),
            Whose::Untold if of_ground => water.push(*depth),
            Whose::Fish | Whose::Untold => {}
        }
    }
    let untold = fish
        .first()
        .copied()
        .filter(|_| said.iter().flat_map(|s| &s.depths).all(|(whose, _)| *whose == Whose::Untold));
    let fields = draft.raw.fields;
    let mut field = |metres: Option<f32>| metres.and_then(|m| checked(draft, m, told));
    fish.extend(field(fields.fish_depth_m));
    let recorded_from = water.len();
    water.extend(field(fields.water_depth_m));
    if let Some(depth) = field(fields.depth_m) {
        match recorded {
            RecordedDepth::Fish if !of_ground => fish.push(depth),
            RecordedDepth::Fish => {}
            RecordedDepth::Water => water.push(depth),
        }
    }
    for value in said.iter().flat_map(|s| &s.impossible) {
        told.push(impossible(draft, &format!("{value}")));
    }
    if of_fish && fish.is_empty() {
        let bare = said.iter().find_map(|s| s.bare.first().copied());
        let counts = || {
            !numbered.is_empty()
                && stem_and_number(&lex(draft.raw.words.name()))
                    .is_some_and(|(stem, _)| numbered.contains(&(draft.file(), stem)))
        };
        if let Some(depth) = bare.filter(|_| !counts()) {
            told.push(draft.finding(Code::DepthBare, String::new()));
            fish.push(depth);
        }
    }
    let bottom = untold.and_then(|typed| Some((typed, *water.get(recorded_from)?)));
    let mut fish = agreed(draft, "fish", &fish, told);
    let water = agreed(draft, "water", &water, told);
    if let (Some(f), Some(w)) = (fish, water)
        && f.metres() > w.metres() + BELOW_BOTTOM_M
    {
        told.push(
            draft
                .finding(Code::DepthBelowBottom, format!("fish at `{f}`, water `{w}` deep"))
                .done("the fish depth was blanked")
                .fix("write whose depth it is, like `10 over 32`"),
        );
        fish = None;
    }
    let copied = |(typed, bottom): (Depth, Depth)| (typed.metres() - bottom.metres()).abs() <= COPIED_M;
    Depths {
        fish,
        water,
        beside_bottom: fish.is_some() && bottom.is_some(),
        copied_bottom: fish.is_some() && bottom.is_some_and(copied),
    }
}

/// The marks whose fish depth is the bottom's, of the file whose marks with a typed depth beside a recorded bottom these
/// are, given with whether both are one number. A unit that puts the depth of the bottom into each name does so in all of
/// them; an angler after fish on the bottom types whole feet, and the unit records the bottom finer than that.
pub(super) fn named_by_bottom(beside_bottom: &[(u32, bool)]) -> Vec<u32> {
    const FEWEST: usize = 8;
    const SHARE: f64 = 0.8;
    let copied: Vec<u32> =
        beside_bottom.iter().filter(|(_, copied)| *copied).map(|(mark, _)| *mark).collect();
    let all = copied.len() >= FEWEST && copied.len() as f64 >= SHARE * beside_bottom.len() as f64;
    if all { copied } else { Vec::new() }
}

/// A depth from a field: sentinels and impossible numbers are told and blanked.
fn checked(draft: &Draft, field_m: f32, told: &mut Vec<Finding>) -> Option<Depth> {
    let metres = f64::from(field_m);
    // The reader may have turned feet into metres; a field holds a 32-bit number.
    let means_unknown = |number: f64| SENTINELS.iter().any(|s| (number - s).abs() <= 1e-6 * s.abs().max(1.0));
    if metres.is_nan() || means_unknown(metres) || means_unknown(metres / METRES_PER_FOOT) {
        told.push(
            draft
                .finding(Code::DepthSentinel, format!("the depth field holds `{metres:.1}` m"))
                .done("read as not told"),
        );
        return None;
    }
    let depth = Depth::from_metres(metres);
    if depth.is_none() {
        // As people write it: the 32-bit number prints as `71.6`, its 64-bit value as `71.5999984741211`.
        told.push(impossible(draft, &format!("{field_m} m")));
    }
    depth
}

fn impossible(draft: &Draft, value: &str) -> Finding {
    draft
        .finding(Code::DepthImpossible, format!("a depth of `{value}`"))
        .done("blanked")
        .fix("write the depth again, with its unit")
}

/// The first of the depths told of one thing when all agree.
fn agreed(draft: &Draft, what: &str, depths: &[Depth], told: &mut Vec<Finding>) -> Option<Depth> {
    let first = *depths.first()?;
    let differs = |other: &&Depth| {
        let apart = (other.metres() - first.metres()).abs();
        apart > AGREE_M + 1e-4 && apart > AGREE_SHARE * first.metres().max(other.metres())
    };
    if let Some(other) = depths.iter().find(differs) {
        told.push(
            draft
                .finding(
                    Code::DepthContradiction,
                    format!("{what} depth is told as `{first}` and as `{other}`"),
                )
                .done("neither is used")
                .fix("write whose depth each is, like `10 over 32`"),
        );
        return None;
    }
    Some(first)
}
