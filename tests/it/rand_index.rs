//! The adjusted index of Hubert & Arabie (1985, J. Classification 2: 193-218): 1 for equal partitions, 0 by chance.

use std::collections::BTreeMap;

/// Agreement of two labelings of the same things.
pub(crate) fn adjusted_rand_index<A: Ord + Copy, B: Ord + Copy>(pairs: &[(A, B)]) -> f64 {
    let pairs_in = |counts: &mut dyn Iterator<Item = usize>| -> f64 {
        counts.map(|n| (n * n.saturating_sub(1)) as f64 / 2.0).sum()
    };
    let (mut both, mut first, mut second) = (BTreeMap::new(), BTreeMap::new(), BTreeMap::new());
    for (a, b) in pairs {
        *both.entry((*a, *b)).or_insert(0_usize) += 1;
        *first.entry(*a).or_insert(0_usize) += 1;
        *second.entry(*b).or_insert(0_usize) += 1;
    }
    let index = pairs_in(&mut both.values().copied());
    let (a, b) = (pairs_in(&mut first.values().copied()), pairs_in(&mut second.values().copied()));
    let expected = a * b / pairs_in(&mut std::iter::once(pairs.len()));
    let most = f64::midpoint(a, b);
    // Both labelings put all together or all apart: equal by definition.
    if most - expected == 0.0 { 1.0 } else { (index - expected) / (most - expected) }
}

#[test]
fn the_index_matches_the_published_examples() {
    // scikit-learn's documentation of adjusted_rand_score: 0.57 to two places; a permuted labeling 1; all together against all apart 0.
    let zip = |a: [u8; 4], b: [u8; 4]| -> Vec<(u8, u8)> { a.into_iter().zip(b).collect() };
    let index = |a, b| adjusted_rand_index(&zip(a, b));
    assert!((index([0, 0, 1, 2], [0, 0, 1, 1]) - 4.0 / 7.0).abs() < 1e-12);
    assert!((index([0, 0, 1, 1], [0, 0, 1, 2]) - 4.0 / 7.0).abs() < 1e-12);
    assert!((index([0, 0, 1, 1], [1, 1, 0, 0]) - 1.0).abs() < 1e-12);
    assert!(index([0, 0, 0, 0], [0, 1, 2, 3]).abs() < 1e-12);
}
