//! Stitching: which chain goes on as which, by minimum-cost assignment of ends to starts.

use super::chain::{Chain, End};
use crate::terms::place::PlanePoint;
use crate::terms::season::{SeasonDay, YEAR_DAYS};
use crate::travel::WaterDistance;

/// A join that costs as much as this is left open.
const LEAVE_OPEN: f64 = 1.0;
/// Days by which a start may lie before, and after, the end it follows.
const OVERLAP_DAYS: f64 = 15.0;
const BREAK_DAYS: f64 = 60.0;
/// Way, through water where a shoreline is given, that costs as much as leaving the end open.
const FARTHEST_M: f64 = 2500.0;
/// Stands for "may not be joined".
const NEVER: f64 = 1e6;

/// Groups of chains that make one track each: numbers into `chains`, ascending; groups in order of first chain.
pub(super) fn stitch(chains: &[Chain], water: Option<&WaterDistance>) -> Vec<Vec<usize>> {
    let open: Vec<(usize, [End; 2])> =
        chains.iter().enumerate().filter_map(|(i, c)| c.ends.map(|ends| (i, ends))).collect();
    let mut group: Vec<usize> = (0..chains.len()).collect();
    let mut span: Vec<f64> = chains
        .iter()
        .map(|c| c.ends.map_or(YEAR_DAYS, |[start, end]| (end.day - start.day).rem_euclid(YEAR_DAYS)))
        .collect();
    let mut joins = joins(&open, water);
    joins.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    for (_, from, to, gap_days) in joins {
        let (a, b) = (group[from], group[to]);
        let joined = span[a] + span[b] + gap_days;
        if a == b || joined > YEAR_DAYS {
            continue;
        }
        let keep = a.min(b);
        span[keep] = joined;
        group.iter_mut().filter(|g| **g == a || **g == b).for_each(|g| *g = keep);
    }
    (0..chains.len())
        .filter(|g| group[*g] == *g)
        .map(|g| (0..chains.len()).filter(|i| group[*i] == g).collect())
        .collect()
}

/// The joins of the cheapest assignment: cost, chain that ends, chain that starts, days between.
fn joins(open: &[(usize, [End; 2])], water: Option<&WaterDistance>) -> Vec<(f64, usize, usize, f64)> {
    let n = open.len();
    // An end may stay open instead: n rows and columns for ends and starts, n of each for "open", free among themselves.
    let mut costs = vec![vec![0.0; 2 * n]; 2 * n];
    for (i, (_, [_, end])) in open.iter().enumerate() {
        for (j, (_, [start, _])) in open.iter().enumerate() {
            costs[i][j] = if i == j { NEVER } else { cost(end, start, water) };
        }
        for j in 0..n {
            costs[i][n + j] = if i == j { LEAVE_OPEN } else { NEVER };
            costs[n + j][i] = if i == j { 0.0 } else { NEVER };
        }
    }
    assignment(&costs)
        .into_iter()
        .take(n)
        .enumerate()
        .filter(|(i, j)| *j < n && costs[*i][*j] < LEAVE_OPEN)
        .map(|(i, j)| (costs[i][j], open[i].0, open[j].0, days(&open[i].1[1], &open[j].1[0])))
        .collect()
}

fn days(end: &End, start: &End) -> f64 {
    SeasonDay::from_days(end.day).days_to(SeasonDay::from_days(start.day))
}

/// Cost of going on from an end to a start. Scales by judgement, tried on simulated lakes: 2.5 km, 120 days of break,
/// 30 days of overlap or 60 ft of depth cost as much as leaving the end open.
fn cost(end: &End, start: &End, water: Option<&WaterDistance>) -> f64 {
    let days = days(end, start);
    if !(-OVERLAP_DAYS..=BREAK_DAYS).contains(&days) {
        return NEVER;
    }
    let [end_at, start_at] = [end, start].map(|e| PlanePoint { east_m: e.east_m, north_m: e.north_m });
    let metres = water
        .map_or_else(|| end_at.metres_to(start_at), |water| water.metres(end_at, start_at, FARTHEST_M))
        .min(NEVER * FARTHEST_M);
    let depth_ft = end.depth_ft.zip(start.depth_ft).map_or(0.0, |(a, b)| (a - b).abs());
    metres / FARTHEST_M + 0.5 * days.max(0.0) / 60.0 + days.min(0.0).abs() / 30.0 + depth_ft / 60.0
}

/// Column of each row in the cheapest one-to-one assignment of a square cost table, by shortest augmenting paths
/// (Jonker and Volgenant 1987).
fn assignment(costs: &[Vec<f64>]) -> Vec<usize> {
    let n = costs.len();
    // Row and column 0 are sentinels, as the augmenting loop needs a place to start from.
    let mut row_price = vec![0.0; n + 1];
    let mut column_price = vec![0.0; n + 1];
    let mut row_of = vec![0; n + 1];
    for row in 1..=n {
        let mut way = vec![0; n + 1];
        let mut slack = vec![f64::INFINITY; n + 1];
        let mut seen = vec![false; n + 1];
        let mut column = 0;
        row_of[0] = row;
        while row_of[column] != 0 {
            seen[column] = true;
            let from = row_of[column];
            let (mut step, mut next) = (f64::INFINITY, 0);
            for j in 1..=n {
                if seen[j] {
                    continue;
                }
                let reduced = costs[from - 1][j - 1] - row_price[from] - column_price[j];
                if reduced < slack[j] {
                    slack[j] = reduced;
                    way[j] = column;
                }
                if slack[j] < step {
                    step = slack[j];
                    next = j;
                }
            }
            for j in 0..=n {
                if seen[j] {
                    row_price[row_of[j]] += step;
                    column_price[j] -= step;
                } else {
                    slack[j] -= step;
                }
            }
            column = next;
        }
        while column != 0 {
            let before = way[column];
            row_of[column] = row_of[before];
            column = before;
        }
    }
    let mut column_of = vec![0; n];
    for j in 1..=n {
        column_of[row_of[j] - 1] = j - 1;
    }
    column_of
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cheapest total by trying all orders.
    fn cheapest(costs: &[Vec<f64>], row: usize, used: &mut [bool]) -> f64 {
        if row == costs.len() {
            return 0.0;
        }
        let mut best = f64::INFINITY;
        for column in 0..costs.len() {
            if !used[column] {
                used[column] = true;
                best = best.min(costs[row][column] + cheapest(costs, row + 1, used));
                used[column] = false;
            }
        }
        best
    }

    #[test]
    fn the_assignment_is_the_best_of_all_orders() {
        for seed in 0_u64..40 {
            let n = 1 + (seed % 6) as usize;
            let mut state = seed;
            let costs: Vec<Vec<f64>> = (0..n)
                .map(|_| {
                    (0..n)
                        .map(|_| {
                            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                            (state >> 40) as f64 / 1e6
                        })
                        .collect()
                })
                .collect();
            let total: f64 = assignment(&costs).iter().zip(&costs).map(|(j, row)| row[*j]).sum();
            assert!((total - cheapest(&costs, 0, &mut vec![false; n])).abs() < 1e-9, "seed {seed}");
        }
    }

    fn chain(start: f64, end: f64, east_m: f64) -> Chain {
        let at = |day| End { day, east_m, north_m: 0.0, depth_ft: None };
        Chain { members: Vec::new(), ends: Some([at(start), at(end)]) }
    }

    #[test]
    fn chains_join_over_new_year_but_never_past_a_year() {
        // 300..20 goes on as 30..200 at the same place; a chain 9 km off stays by itself.
        let near = [chain(300.0, 20.0, 0.0), chain(30.0, 200.0, 0.0), chain(30.0, 200.0, 9000.0)];
        assert_eq!(stitch(&near, None), [vec![0, 1], vec![2]]);
        let too_long = [chain(0.0, 200.0, 0.0), chain(210.0, 30.0, 0.0)];
        assert_eq!(stitch(&too_long, None), [vec![0], vec![1]]);
    }
}
