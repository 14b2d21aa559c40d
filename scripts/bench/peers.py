#!/usr/bin/env python3
"""Merge, movement, effort, outlook and report, each against a named peer on the same data in one run.

    python3 -m venv target/bench-venv
    target/bench-venv/bin/pip install splink==5.0.0 scikit-learn==1.9.1 shapely==2.2.0 pandas==3.1.1 folium==0.20.0
    cargo bench --bench peers --no-run
    target/bench-venv/bin/python scripts/bench/peers.py BINARY [STAGE...]

BINARY is what `cargo bench --no-run` names. Each side runs in a process of its own, on one thread where it lets itself be told
so, and is timed in CPU seconds of its work alone, reading its input not counted. What it found is told beside it: a peer that
does less is quicker for it. Peers: Splink (probabilistic linkage of records, on DuckDB); scikit-learn's Gaussian mixtures, told
apart by BIC, and its kernel density; Shapely's buffers and unions; folium (pages about Leaflet).
"""
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

STAGES = ["merge", "movement", "effort", "outlook", "report"]
YEAR_DAYS = 365.25
CELL_M = 100.0


def merge(folder):
    """Splink finds out by itself how much each agreement is worth; told alike: place, time and name, and where to look."""
    import logging

    import pandas
    from splink import Linker, SettingsCreator, block_on
    import splink.comparison_library as compare
    from splink.internals.duckdb.database_api import DuckDBAPI

    logging.getLogger("splink").setLevel(logging.ERROR)
    marks = pandas.read_csv(folder / "marks.csv", dtype={"name": str, "time": str})
    marks["cell"] = (marks.lon * 2000).round().astype(int).astype(str) + " " + (marks.lat * 2000).round().astype(int).astype(str)
    marks["hour"] = marks.time.str[:13]
    began = time.process_time()
    settings = SettingsCreator(
        link_type="dedupe_only",
        comparisons=[
            compare.DistanceInKMAtThresholds("lat", "lon", [0.0012, 0.012]),
            compare.AbsoluteTimeDifferenceAtThresholds(
                "time", input_is_string=True, metrics=["second", "minute"], thresholds=[2, 1], datetime_format="%Y-%m-%dT%H:%M:%SZ"
            ),
            compare.ExactMatch("name"),
        ],
        blocking_rules_to_generate_predictions=[block_on("unit", "cell"), block_on("unit", "hour")],
    )
    linker = Linker(DuckDBAPI().register(marks), settings, log_level=logging.ERROR)
    linker.training.estimate_probability_two_random_records_match([block_on("time", "name")], recall=0.5)
    linker.training.estimate_u_using_random_sampling(max_pairs=1e7, seed=1)
    linker.training.estimate_parameters_using_expectation_maximisation(block_on("time"), record_sample_proportion=1.0)
    linker.training.estimate_parameters_using_expectation_maximisation(block_on("unit", "cell"), record_sample_proportion=1.0)
    pairs = linker.inference.predict(threshold_match_probability=0.1)
    clusters = linker.clustering.cluster_pairwise_predictions_at_threshold(pairs, threshold_match_probability=0.5)
    seconds = time.process_time() - began
    press = marks.press.loc[clusters.as_pandas_dataframe().sort_values("unique_id").unique_id]
    cluster = clusters.as_pandas_dataframe().sort_values("unique_id").cluster_id.to_numpy()

    def pairs_in(*keys):
        sizes = pandas.DataFrame(dict(enumerate(keys))).value_counts()
        return int((sizes * (sizes - 1) // 2).sum())

    right = pairs_in(press.to_numpy(), cluster)
    return seconds, {"precision": right / pairs_in(cluster), "recall": right / pairs_in(press.to_numpy())}


def movement(folder):
    import numpy as np
    import pandas
    from sklearn.mixture import GaussianMixture

    seen = pandas.read_csv(folder / "sightings.csv").dropna()
    turn = 2 * np.pi * seen.day / YEAR_DAYS
    features = np.column_stack([seen.east_m / 200, seen.north_m / 200, seen.depth_ft / 6, 3.6 * np.cos(turn), 3.6 * np.sin(turn)])
    began = time.process_time()
    fitted = [GaussianMixture(k, random_state=1).fit(features) for k in range(1, 25)]
    best = min(fitted, key=lambda mixture: mixture.bic(features))
    return time.process_time() - began, {"components by BIC": best.n_components}


def effort(folder):
    """The union of the buffers of an outing's ways, cut by the cells; ways of the boat running are left out."""
    import numpy as np
    import pandas
    import shapely

    points = pandas.read_csv(folder / "points.csv")
    looked = pandas.read_csv(folder / "looked.csv")
    began = time.process_time()
    areas = {}
    for date, outing in points.groupby("date"):
        east, north, moment = (outing[name].to_numpy() for name in ("east_m", "north_m", "time_ms"))
        segment = outing.segment.to_numpy()
        seconds = np.diff(moment) / 1000
        speed = np.hypot(np.diff(east), np.diff(north)) / np.maximum(seconds, 1e-9)
        use = (segment[1:] == segment[:-1]) & (seconds > 0) & (speed <= 9 * 1609.344 / 3600)
        ends = np.column_stack([east, north])
        swept = shapely.union_all(shapely.buffer(shapely.linestrings(np.stack([ends[:-1], ends[1:]], axis=1)[use]), 30.0))
        low_e, low_n, high_e, high_n = np.floor(np.array(shapely.bounds(swept)) / CELL_M)
        columns, rows = np.meshgrid(np.arange(low_e, high_e + 1), np.arange(low_n, high_n + 1))
        columns, rows = columns.ravel(), rows.ravel()
        cells = shapely.box(columns * CELL_M, rows * CELL_M, (columns + 1) * CELL_M, (rows + 1) * CELL_M)
        shapely.prepare(swept)
        touched = shapely.intersects(swept, cells)
        for column, row, area in zip(columns[touched], rows[touched], shapely.area(shapely.intersection(swept, cells[touched]))):
            areas[date, int(column), int(row)] = area
    seconds = time.process_time() - began
    ours = {(r.date, r.column, r.row): r.area_m2 for r in looked.itertuples()}
    keys = sorted(set(areas) | set(ours))
    mine, theirs = (np.array([side.get(key, 0.0) for key in keys]) for side in (ours, areas))
    return seconds, {
        "outings": len({key[0] for key in areas}),
        "ours over theirs, all water": mine.sum() / theirs.sum(),
        "correlation by cell": float(np.corrcoef(mine, theirs)[0, 1]),
    }


def outlook(folder):
    """Kernel density of the other seasons' sightings, with a tenth strewn evenly; where was looked, it is not told. As wide as our
    kernels, then wider ones: the best of them by hindsight is told too, and only the first is timed."""
    import pandas

    looked = pandas.read_csv(folder / "looked.csv")
    seen = pandas.read_csv(folder / "seen.csv")
    began = time.process_time()
    gains = held_out(looked, seen, 200, 16)
    seconds = time.process_time() - began
    others = [held_out(looked, seen, far_m, days).mean() for far_m in (200, 300, 400, 600) for days in (10, 16, 25, 40)]
    return seconds, {"gain over effort": gains.mean(), "of the best widths": max(others), "sightings scored": len(gains)}


def held_out(looked, seen, far_m, days):
    """Gain of each sighting, by seasons held out: log of its cell's rate over the mean rate of what was looked over that day."""
    import numpy as np
    from sklearn.neighbors import KernelDensity

    def spread(day, east_m, north_m):
        return np.column_stack([east_m / far_m, north_m / far_m, day / days])

    gains = []
    for season in sorted(seen.season.unique()):
        others = seen[seen.season != season]
        # A year before and after, so that December touches January.
        thrice = [spread(others.day + shift, others.east_m, others.north_m) for shift in (-YEAR_DAYS, 0, YEAR_DAYS)]
        density = KernelDensity(rtol=1e-3).fit(np.vstack(thrice))
        here = looked[looked.season == season].reset_index(drop=True)
        rate = np.exp(density.score_samples(spread(here.day, (here.column + 0.5) * CELL_M, (here.row + 0.5) * CELL_M)))
        rate = rate + 0.1 * np.average(rate, weights=here.area_m2)
        cells = {(r.day, r.column, r.row): at for at, r in enumerate(here.itertuples())}
        means = (rate * here.area_m2).groupby(here.day).sum() / here.area_m2.groupby(here.day).sum()
        for r in seen[seen.season == season].itertuples():
            at = cells.get((r.day, r.column, r.row))
            if at is not None:
                gains.append(np.log(rate[at] / means[r.day]))
    return np.array(gains)


def report(folder):
    """The same marks with a text each, drawn on a canvas."""
    import folium
    import pandas

    log = pandas.read_csv(folder / "log.csv")
    began = time.process_time()
    page = folium.Map(location=[log.lat.mean(), log.lon.mean()], tiles=None, prefer_canvas=True)
    for mark in log.itertuples():
        folium.CircleMarker([mark.lat, mark.lon], radius=3, tooltip=f"{mark.name} {mark.time}").add_to(page)
    page.save(str(folder / "peer.html"))
    return time.process_time() - began, {"MB": (folder / "peer.html").stat().st_size / 1e6}


def peak_mb():
    status = Path("/proc/self/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) / 1024


def call(command):
    one_thread = {"RAYON_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(command, env=os.environ | one_thread, stdout=subprocess.PIPE, check=True, text=True)
    return json.loads(done.stdout.strip().splitlines()[-1])


def words(found):
    return ", ".join(f"{name} {value:.4g}" if isinstance(value, float) else f"{name} {value}" for name, value in found.items())


def main():
    if sys.argv[1] == "--peer":
        seconds, found = globals()[sys.argv[2]](Path(sys.argv[3]))
        return print(json.dumps({"cpu_s": seconds, "peak_mb": peak_mb(), "found": found}))
    binary = sys.argv[1]
    for stage in sys.argv[2:] or STAGES:
        with tempfile.TemporaryDirectory() as folder:
            ours = call([binary, stage, folder])
            theirs = call([sys.executable, __file__, "--peer", stage, folder])
        bare = f", {ours['bare_s']:.3f} s to sort them alone" if "bare_s" in ours else ""
        print(f"{stage}, {ours['data']}: peer over ours {theirs['cpu_s'] / max(ours['cpu_s'], 0.01):.1f} x")
        print(f"  ours  {ours['cpu_s']:.2f} s CPU{bare}, peak {ours['peak_mb']:.0f} MB: {words(ours['found'])}")
        print(f"  peer  {theirs['cpu_s']:.2f} s CPU, peak {theirs['peak_mb']:.0f} MB: {words(theirs['found'])}", flush=True)


main()
