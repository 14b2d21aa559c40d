//! Which soundings of a track log are the bottom.
//!
//! Spikes by a running median (Hampel identifier: Davies and Gather 1993, doi 10.1080/01621459.1993.10476339): a
//! sounding that lies far from the median of those around it, measured by the usual departure nearby. The median runs
//! along a straight slope unbent, so a bank is no spike. Stretches that jump away and back, and values that stand still
//! while the boat moves, are found by rules of their own.

/// A point with a depth: metres along the log, metres deep.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sounded {
    pub(super) along_m: f64,
    pub(super) depth_m: f64,
}

/// What a sounding is taken for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Verdict {
    Bottom,
    Repeat,
    Spike,
    Jump,
}

/// Soundings on either side that a spike is judged by.
const SIDE: usize = 7;
/// At an end of the log one that differs from so many of the nearest is a spike.
const ALIKE: usize = 3;
/// Those farther off along the way say nothing: the bottom may be another (judgement).
const NEAR_M: f64 = 60.0;
/// A spike departs so many times as far as is usual nearby; of 10,000 normal departures fewer than one does.
const TIMES: f64 = 4.0;
/// The usual departure is taken over so many soundings.
const STRETCH: usize = 128;
/// From a median absolute deviation to the standard deviation of a normal sample.
const MAD_TO_SD: f64 = 1.4826;
/// A value that stands still over fewer soundings, or less way, is no lost bottom.
const FEWEST_REPEATS: usize = 8;
const REPEAT_M: f64 = 20.0;
/// A run of repeats is taken for a lost bottom when a log has such a run by chance less often than this.
const BY_CHANCE: f64 = 0.001;
/// A jump is a step of this share of the depth and more, within this way: a sounder's double echo is twice the depth, weed
/// or a layer of fish half of it.
const JUMP_SHARE: f64 = 0.25;
const STEP_M: f64 = 15.0;
/// A stretch longer than this between two jumps is a bottom of its own (judgement).
const JUMP_M: f64 = 150.0;

/// Judges the soundings of one log, segment by segment; all depths lie above zero.
pub(super) fn judge(segments: &[Vec<Sounded>], spike_m: f64) -> Vec<Vec<Verdict>> {
    let longest = longest_by_chance(segments);
    segments
        .iter()
        .map(|points| {
            let mut verdicts = vec![Verdict::Bottom; points.len()];
            repeats(points, longest, &mut verdicts);
            // A second round sees what the first one's spikes had covered.
            for _ in 0..2 {
                spikes(points, spike_m, &mut verdicts);
            }
            jumps(points, spike_m, &mut verdicts);
            verdicts
        })
        .collect()
}

/// The length from which a run of one value is no chance, by how often the log repeats a value at all: a unit that
/// rounds to whole feet over a flat bottom repeats itself a lot.
fn longest_by_chance(segments: &[Vec<Sounded>]) -> usize {
    let (mut pairs, mut equal) = (0_u64, 0_u64);
    for pair in segments.iter().flat_map(|points| points.windows(2)) {
        pairs += 1;
        equal += u64::from(same(pair[0], pair[1]));
    }
    if pairs == 0 {
        return FEWEST_REPEATS;
    }
    let share = (equal as f64 / pairs as f64).clamp(0.05, 0.98);
    FEWEST_REPEATS.max(((BY_CHANCE / pairs as f64).ln() / share.ln()).ceil() as usize)
}

fn same(a: Sounded, b: Sounded) -> bool {
    a.depth_m.to_bits() == b.depth_m.to_bits()
}

fn repeats(points: &[Sounded], longest: usize, verdicts: &mut [Verdict]) {
    let mut first = 0;
    for end in 1..=points.len() {
        if end < points.len() && same(points[first], points[end]) {
            continue;
        }
        let way_m = points[end - 1].along_m - points[first].along_m;
        if end - first > longest && way_m >= REPEAT_M {
            // The first of them was sounded.
            verdicts[first + 1..end].fill(Verdict::Repeat);
        }
        first = end;
    }
}

/// The soundings not yet judged away.
fn left(verdicts: &[Verdict]) -> Vec<usize> {
    (0..verdicts.len()).filter(|i| verdicts[*i] == Verdict::Bottom).collect()
}

fn spikes(points: &[Sounded], spike_m: f64, verdicts: &mut [Verdict]) {
    let left = left(verdicts);
    let departures: Vec<Option<f64>> = (0..left.len()).map(|at| departure(points, &left, at)).collect();
    for (stretch, some) in departures.chunks(STRETCH).enumerate() {
        let usual_m = MAD_TO_SD * median(&mut some.iter().flatten().map(|d| d.abs()).collect::<Vec<_>>());
        for (step, departure) in some.iter().enumerate() {
            let at = left[stretch * STRETCH + step];
            if departure.is_some_and(|d| d.abs() > spike_m.max(TIMES * usual_m)) {
                verdicts[at] = Verdict::Spike;
            }
        }
    }
}

/// How far a sounding lies from the median of itself and as many on either side; `None` where too few are near.
fn departure(points: &[Sounded], left: &[usize], at: usize) -> Option<f64> {
    let here = points[left[at]];
    let near = |other: usize| (points[left[other]].along_m - here.along_m).abs() <= NEAR_M;
    let before = (1..=SIDE.min(at)).take_while(|step| near(at - step)).count();
    let after = (1..=SIDE.min(left.len() - 1 - at)).take_while(|step| near(at + step)).count();
    // As many on either side, or a slope would bend the median.
    let side = before.min(after);
    if side >= 2 {
        let mut window: Vec<f64> =
            left[at - side..=at + side].iter().map(|other| points[*other].depth_m).collect();
        return Some(here.depth_m - median(&mut window));
    }
    // At an end a median would lie down or up the slope: there a spike is what none of the nearest is like.
    let (before, after) = (before.min(ALIKE), after.min(ALIKE));
    let others = left[at - before..at].iter().chain(&left[at + 1..=at + after]);
    (before + after >= ALIKE)
        .then(|| others.map(|other| here.depth_m - points[*other].depth_m))?
        .min_by(|a, b| a.abs().total_cmp(&b.abs()))
}

fn jumps(points: &[Sounded], spike_m: f64, verdicts: &mut [Verdict]) {
    let left = left(verdicts);
    let depth_m = |at: usize| points[left[at]].depth_m;
    let far = |a: f64, b: f64| (a - b).abs() > spike_m.max(JUMP_SHARE * a.min(b));
    // Places after which the depth jumps.
    let steps: Vec<usize> = (1..left.len())
        .filter(|at| {
            let way_m = points[left[*at]].along_m - points[left[at - 1]].along_m;
            way_m <= STEP_M && far(depth_m(at - 1), depth_m(*at))
        })
        .collect();
    let mut done = 0;
    for pair in steps.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        if from < done {
            continue; // the way back of a stretch already taken out
        }
        let way_m = points[left[to - 1]].along_m - points[left[from]].along_m;
        if way_m <= JUMP_M && !far(depth_m(from - 1), depth_m(to)) {
            for at in from..to {
                verdicts[left[at]] = Verdict::Jump;
            }
            done = to + 1;
        }
    }
}

/// The middle value; 0 of none.
pub(super) fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    let odd = values.len() % 2 == 1;
    let (below, value, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    let value = *value;
    if odd { value } else { f64::midpoint(value, below.iter().copied().fold(f64::MIN, f64::max)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Depths of soundings 2 m apart → a letter each: `.` bottom, `r` repeat, `s` spike, `j` jump.
    #[track_caller]
    fn check(depths: &[f64], expected: &str) {
        let points: Vec<Sounded> = (0..)
            .zip(depths)
            .map(|(n, depth_m)| Sounded { along_m: 2.0 * f64::from(n), depth_m: *depth_m })
            .collect();
        let letter = |v: &Verdict| match v {
            Verdict::Bottom => '.',
            Verdict::Repeat => 'r',
            Verdict::Spike => 's',
            Verdict::Jump => 'j',
        };
        let got: String = judge(&[points], 0.9)[0].iter().map(letter).collect();
        assert_eq!(got, expected);
    }

    #[test]
    fn a_spike_is_found_on_a_steep_slope_and_the_slope_is_kept() {
        let mut depths: Vec<f64> = (0..24).map(|n| 3.0 + 0.8 * f64::from(n)).collect();
        check(&depths, &".".repeat(24));
        depths[9] = 2.0;
        depths[14] = 30.0;
        check(&depths, ".........s....s.........");
    }

    #[test]
    fn a_ledge_is_no_spike_and_a_stretch_of_double_echo_is_a_jump() {
        let ledge: Vec<f64> = (0..30).map(|n| if n < 15 { 5.0 } else { 9.0 } + 0.01 * f64::from(n)).collect();
        check(&ledge, &".".repeat(30));
        let mut echo: Vec<f64> = (0..60).map(|n| 6.0 + 0.01 * f64::from(n)).collect();
        echo[20..40].iter_mut().for_each(|d| *d *= 2.0);
        check(&echo, &(".".repeat(20) + &"j".repeat(20) + &".".repeat(20)));
    }

    #[test]
    fn a_value_that_stands_still_while_the_boat_moves_is_a_lost_bottom_but_not_in_a_log_of_whole_feet() {
        let mut lost: Vec<f64> = (0..80).map(|n| 6.0 + 0.07 * f64::from(n)).collect();
        let stuck = lost[30];
        lost[30..50].fill(stuck);
        check(&lost, &(".".repeat(31) + &"r".repeat(19) + &".".repeat(30)));
        let whole: Vec<f64> = (0..80).map(|n| f64::from(3 + n / 20)).collect();
        check(&whole, &".".repeat(80));
    }
}
