#!/usr/bin/env python3
"""The bottom of simulated lakes against scipy's linear interpolation of the same soundings.

    python3 -m venv target/bench-venv && target/bench-venv/bin/pip install scipy==1.17.1
    cargo bench --bench soundings --no-run
    target/bench-venv/bin/python scripts/bench/soundings.py BINARY [SEED...]

BINARY is what `cargo bench --no-run` names. scipy is given what nothing was wrong with but its noise: the simulator knows
which soundings it spoilt, so the peer's cleaning is perfect and ours is our own. It gets the shore as places of no depth as
well. Both are judged on the same lattice, where ours answers at all. CPU seconds are of the whole of each side.
"""
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from scipy.interpolate import LinearNDInterpolator

FOOT = 0.3048


def cpu_of_children():
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def rmse(errors):
    return float(np.sqrt(np.mean(errors**2)))


def shore(radius=900.0, corners=720):
    """The rings of the simulator: the lake's and the island's."""
    turn = np.arange(corners) * 2 * np.pi / corners
    out = radius * (1 + 0.22 * np.cos(3 * turn + 0.4) + 0.08 * np.sin(5 * turn))
    ring = np.column_stack([out * np.cos(turn), out * np.sin(turn)])
    island = np.array([0.38, 0.22]) * radius + 0.12 * radius * np.column_stack([np.cos(turn), np.sin(turn)])
    return np.vstack([ring, island])


def main():
    binary, seeds = sys.argv[1], [int(s) for s in sys.argv[2:]] or [1, 2, 3]
    worst = 0.0
    for seed in seeds:
        with tempfile.TemporaryDirectory() as folder:
            before = cpu_of_children()
            subprocess.run([binary, "skill", folder, str(seed)], check=True, stdout=subprocess.DEVNULL)
            ours_s = cpu_of_children() - before
            read = lambda name: np.fromfile(Path(folder) / name, "<f8")
            sound, lattice, answers = read("sound").reshape(-1, 3), read("lattice").reshape(-1, 3), read("answers")
        rings = shore()
        places = np.vstack([sound[:, :2], rings])
        depths = np.concatenate([sound[:, 2], np.zeros(len(rings))])
        start = time.process_time()
        peer = LinearNDInterpolator(places, depths)(lattice[:, :2])
        peer_s = time.process_time() - start
        both = np.isfinite(answers) & np.isfinite(peer)
        ours, theirs = (rmse((a - lattice[:, 2])[both]) / FOOT for a in (answers, peer))
        worst = max(worst, ours / theirs)
        print(f"seed {seed}: {len(sound)} sound soundings, {both.sum()} of {len(lattice)} places; "
              f"RMSE ours {ours:.3f} ft, scipy linear {theirs:.3f} ft, ratio {ours / theirs:.2f}; "
              f"CPU ours {ours_s:.1f} s (simulating and leave-one-out included), scipy {peer_s:.1f} s")
    print(f"worst ratio {worst:.2f} (wanted at most 1.2)")
    sys.exit(worst > 1.2)


if __name__ == "__main__":
    main()
