#!/usr/bin/env python3
"""Times density clusters against scikit-learn's DBSCAN and compares the core partitions.

    python3 -m venv target/bench-venv && target/bench-venv/bin/pip install scikit-learn==1.9.1
    cargo bench --bench clusters --no-run
    target/bench-venv/bin/python scripts/bench/clusters.py BINARY [COUNT...]

BINARY is what `cargo bench --no-run` names. Both sides get the same points in memory; each runs on one thread and is
timed in CPU seconds of the process; ours are those of the whole program, reading and writing the files included.
"""
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from sklearn.cluster import DBSCAN
from sklearn.neighbors import NearestNeighbors

MIN_POINTS = 4


def season_points(count, rng):
    """Sightings in gate units: 60 % in holding areas drawn out in place, season and depth, the rest strewn."""
    areas = count // 250
    side = 3.0 * np.sqrt(areas)
    centres = rng.uniform([0, 0, 0, 0], [side, side, 17, 8], (areas, 4))
    inside = centres[rng.integers(0, areas, int(count * 0.6))]
    inside = inside + rng.normal(0, [0.5, 0.5, 0.8, 0.5], inside.shape)
    strewn = rng.uniform([0, 0, 0, 0], [side, side, 17, 8], (count - len(inside), 4))
    return rng.permutation(np.vstack([inside, strewn]))


def ours(binary, points, metric):
    with tempfile.TemporaryDirectory() as folder:
        data, labels = Path(folder) / "points", Path(folder) / "labels"
        points.astype("<f8").tofile(data)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([binary, data, labels, metric, str(MIN_POINTS)], check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return np.fromfile(labels, "<i8"), after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def theirs(points):
    start = time.process_time()
    found = DBSCAN(eps=1.0, min_samples=MIN_POINTS, n_jobs=1).fit(points)
    seconds = time.process_time() - start
    core = np.zeros(len(points), bool)
    core[found.core_sample_indices_] = True
    return found.labels_, core, seconds


def theirs_three_gates(points):
    """Place, day and depth each within 1. DBSCAN knows no such metric: pairs within 1 on each axis come from its tree
    (maximum metric), those too far apart in place are taken out, and DBSCAN gets what is left. A metric of our own in
    Python would take hours."""
    start = time.process_time()
    near = NearestNeighbors(radius=1.0, metric="chebyshev", algorithm="kd_tree", n_jobs=1).fit(points)
    graph = near.radius_neighbors_graph(points, mode="distance").tocoo()
    apart = np.hypot(points[graph.row, 0] - points[graph.col, 0], points[graph.row, 1] - points[graph.col, 1])
    graph.data = np.where(apart <= 1.0, 0.5, 2.0)  # within reach, or beyond it
    found = DBSCAN(eps=1.0, min_samples=MIN_POINTS, metric="precomputed").fit(graph.tocsr())
    seconds = time.process_time() - start
    core = np.zeros(len(points), bool)
    core[found.core_sample_indices_] = True
    return found.labels_, core, seconds


def same_partition(labels, their_labels, their_core):
    """Cores equal and grouped alike, noise equal."""
    core = labels >= 0
    if not (core == their_core).all() or not ((labels == -1) == (their_labels == -1)).all():
        return False
    pairs = np.unique(np.stack([labels[core], their_labels[core]]), axis=1)
    return len(np.unique(pairs[0])) == pairs.shape[1] == len(np.unique(pairs[1]))


def main():
    binary = sys.argv[1]
    counts = [int(c) for c in sys.argv[2:]] or [100_000, 300_000, 1_000_000]
    rng = np.random.default_rng(20261125)
    print("points  metric  clusters  ours s  scikit-learn s  ratio  same")
    for count in counts:
        points = season_points(count, rng)
        flat = points.copy()
        flat[:, 2:] = 0  # the gates and the sum are the same neighbourhood
        flat[:, :2] *= 6
        place = np.ascontiguousarray(flat[:, :2])
        for name, metric, data, other in [
            ("euclid", "euclid", points, lambda: theirs(points)),
            ("place alone", "gates", flat, lambda: theirs(place)),
            ("three gates", "gates", points, lambda: theirs_three_gates(points)),
        ]:
            labels, seconds = ours(binary, data, metric)
            their_labels, their_core, their_seconds = other()
            same = same_partition(labels, their_labels, their_core)
            print(f"{count}  {name}  {labels.max() + 1}  {seconds:.2f}  {their_seconds:.2f}  "
                  f"{their_seconds / seconds:.1f}  {same}", flush=True)
    # Piles: the same points, then with 100,000 more on one spot; scikit-learn would keep 10^10 neighbours.
    points = season_points(100_000, rng)
    spot = np.tile(points[:1], (100_000, 1))
    noisy = spot + rng.normal(0, 0.02, spot.shape)
    missing = spot.copy()
    missing[rng.random(len(spot)) < 0.3, 3] = np.nan
    for name, data in [("no pile", points), ("exact pile", np.vstack([points, spot])),
                       ("pile of 2 % scatter", np.vstack([points, noisy])),
                       ("pile, 30 % without depth", np.vstack([points, missing]))]:
        print(f"{name}: {len(data)} points, gates, {ours(binary, data, 'gates')[1]:.2f} s", flush=True)


if __name__ == "__main__":
    main()
