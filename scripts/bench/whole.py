#!/usr/bin/env python3
"""A whole `run` on simulated logs of growing size, stage by stage: scripts/bench/whole.py BINARY FOLDER [MARKS...]

Writes for each number of marks (default 1000 to 100000 by doublings, then 1000000) one invented lake with five seasons of GPX:
bait of four routes and clutter, a fifth of the marks gamefish and cover, and ten track points a mark with depths; then runs
`BINARY run` once and prints wall and CPU seconds, the peak memory, and the seconds of each stage as `--json` tells them. Last,
for each stage the exponent of its growth from one size to the next: 1 is in proportion, log2(1.2 x 2) = 1.26 the most that
is wanted a doubling.

Five seasons have 300 outings each at most, so with a million marks an outing has hundreds: more than anybody presses.
"""
import datetime
import json
import math
import os
import random
import subprocess
import sys
import time
from pathlib import Path

METRES_A_DEGREE = 111_195.0
LAT, LON = 36.0, -56.0
EAST = math.cos(math.radians(LAT))
LONG_M, WIDE_M = 9_000.0, 3_000.0
SIZES = [1_000, 2_000, 4_000, 8_000, 16_000, 32_000, 64_000, 100_000, 1_000_000]


def place(east_m, north_m):
    return LON + east_m / METRES_A_DEGREE / EAST, LAT + north_m / METRES_A_DEGREE


def shore_m(turn):
    """East and north of the shore: a long lake with bays."""
    bays = 1.0 + 0.18 * math.cos(7 * turn + 0.4) + 0.07 * math.sin(13 * turn)
    return WIDE_M * bays * math.cos(turn), LONG_M * bays * math.sin(turn)


def depth_m(east_m, north_m):
    out = (east_m / WIDE_M) ** 2 + (north_m / LONG_M) ** 2
    return max(0.5, 18.0 * (1.0 - out) * (1.0 + 0.15 * math.sin(east_m / 300.0)))


def route_m(route, day):
    """Where a body of bait is on a day of the year."""
    turn = math.tau * (day / 365.25 + route / 4.0)
    return 0.5 * WIDE_M * math.cos(turn + route), 0.6 * LONG_M * math.sin(turn) * (1 if route % 2 else -1)


def write(folder, marks):
    folder.mkdir(parents=True)
    random.seed(marks)
    corners = [place(*shore_m(math.tau * k / 400)) for k in range(400)]
    shore = {"type": "Polygon", "coordinates": [[[round(x, 7), round(y, 7)] for x, y in corners + corners[:1]]]}
    (folder / "shoreline.geojson").write_text(json.dumps(shore))
    outings = max(20, min(1500, marks // 7))
    for season in range(5):
        with open(folder / f"season-{season}.gpx", "w") as out:
            out.write('<?xml version="1.0"?>\n<gpx version="1.1" creator="bench" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:x">\n')
            first = season * outings // 5
            tracks = []
            for outing in range(first, (season + 1) * outings // 5):
                number = (outing + 1) * marks // outings - outing * marks // outings
                write_outing(out, tracks, season, (outing - first) * 365 * 5 // outings, number)
            out.write("".join(tracks))
            out.write("</gpx>\n")
    (folder / "lake.toml").write_text(
        '[lake]\nname = "Bench (invented)"\ntimezone = "UTC"\nshoreline = "shoreline.geojson"\n\n'
        '[[input]]\nfiles = ["season-*.gpx"]\nunit = "bow"\nrecorded_depth = "water"\n\n'
        '[outlook]\ndate = 2026-06-15\n\n[prefish]\ndate = 2026-06-16\nstart = "RAMP"\n'
    )


def write_outing(out, tracks, season, day, number):
    begun = datetime.datetime(2021 + season, 1, 1, 11) + datetime.timedelta(days=day)
    late = random.gauss(0, 6)
    at, spots = 0.0, []
    for k in range(number):
        if not spots or random.random() < 0.3:
            route = random.randrange(5)
            if route == 4:
                turn = random.uniform(0, math.tau)
                far = math.sqrt(random.random()) * 0.75
                east, north = WIDE_M * far * math.cos(turn), LONG_M * far * math.sin(turn)
            else:
                east, north = route_m(route, day + late)
                east, north = east + random.gauss(0, 180), north + random.gauss(0, 180)
            spots.append((east, north))
            at += random.uniform(700, 1500)
        east, north = spots[-1]
        east, north = east + random.gauss(0, 8), north + random.gauss(0, 8)
        at += random.uniform(3, 20)
        name = random.choices(["SHAD", "LMB", "BRUSH", "STUMP"], [80, 14, 5, 1])[0]
        if season == 0 and day == 0 and k == 0:
            name, east, north = "RAMP", 0.0, -0.62 * LONG_M
        tell(out, "wpt", east, north, begun, at, f"<name>{name} {int(8 + 20 * random.random())}FT</name>" if name == "SHAD" else f"<name>{name}</name>")
    # From spot to spot at ten points a mark, a second apart while searching about each.
    lines = ["<trk><trkseg>\n"]
    a_spot = max(2, 10 * number // max(1, len(spots)))
    second = 0.0
    for east, north in spots:
        for k in range(a_spot):
            turn = k / 30.0
            far = 4.0 * math.sqrt(k)
            e, n = east + far * math.cos(turn), north + far * math.sin(turn)
            second += 2.0
            lines.append(point("trkpt", e, n, begun, second, f"<extensions><x:depth>{depth_m(e, n) + random.uniform(-0.2, 0.2):.2f}</x:depth></extensions>"))
        second += 600.0
    lines.append("</trkseg></trk>\n")
    tracks.append("".join(lines))


def point(tag, east, north, begun, seconds, more):
    lon, lat = place(east, north)
    moment = (begun + datetime.timedelta(seconds=int(seconds) % 36000)).strftime("%Y-%m-%dT%H:%M:%SZ")
    return f'<{tag} lat="{lat:.7f}" lon="{lon:.7f}"><time>{moment}</time>{more}</{tag}>\n'


def tell(out, *words):
    out.write(point(*words))


def run(binary, folder):
    begun = time.time()
    child = subprocess.Popen([binary, "run", "lake.toml", "--json"], cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    account = json.loads(child.stdout.read())
    _, status, usage = os.wait4(child.pid, 0)
    if status:
        sys.exit(f"{folder}: exit {status}")
    stages = {stage["name"]: stage["seconds"] for stage in account["stages"]}
    wall = time.time() - begun
    stages["report, tables"] = max(0.0, wall - sum(stages.values()))
    return wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, stages


def main():
    binary, home = Path(sys.argv[1]).resolve(), Path(sys.argv[2])
    sizes = [int(word) for word in sys.argv[3:]] or SIZES
    rows = []
    for marks in sizes:
        folder = home / str(marks)
        if not folder.exists():
            write(folder, marks)
        wall, cpu, peak, stages = run(binary, folder)
        rows.append((marks, stages))
        print(f"{marks:9,} marks, {10 * marks:,} track points: {wall:.2f} s wall, {cpu:.2f} s CPU, peak {peak:.0f} MB", flush=True)
        print("          " + ", ".join(f"{name} {seconds:.2f}" for name, seconds in stages.items()), flush=True)
    print("exponent of growth from the size before, stages of a twentieth of a second or more:")
    for (few, before), (many, after) in zip(rows, rows[1:]):
        grown = [
            f"{name} {math.log(after[name] / before[name]) / math.log(many / few):.2f}"
            for name in after
            if before.get(name, 0) >= 0.05
        ]
        print(f"  {few:,} to {many:,}: " + (", ".join(grown) or "none"))


main()
