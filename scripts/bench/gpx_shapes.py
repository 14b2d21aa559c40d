#!/usr/bin/env python3
"""Peak memory over GPX files of one size and many shapes: scripts/bench/gpx_shapes.py [--mb 330] [--binary PATH] [SHAPE...]

Writes each shape into a folder of its own, runs `check` and `merge -o` on it, and prints what the system says of them
(wait4): peak memory, CPU, records. Each file ends with one good mark, which must be read.
"""
import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
from datetime import datetime, timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
GOOD = b'\n<wpt lat="35.1" lon="-94.1"><name>BAIT 27FT</name></wpt></gpx>\n'
MOST_MB = 400
FIRST = datetime(2003, 5, 1)
USUAL = (
    '<wpt lat="35.{a:06}" lon="-94.{b:06}"><time>{t:%Y-%m-%dT%H:%M:%SZ}</time><ele>-12.3</ele><name>BAIT {i} 27FT'
    "</name><cmt>marked on the second pass, {i} of many</cmt><desc>exported by the bow unit</desc><sym>Fish</sym>"
    "<type>user</type><extensions><depth>1{d:02}.5</depth><temp>14.1</temp></extensions></wpt>"
)


def filled(head, unit, tail):
    """One thing that is as long as the file."""

    def write(out, size):
        out.write(head)
        block = unit * ((1 << 20) // len(unit))
        for _ in range(size // len(block)):
            out.write(block)
        out.write(tail)

    return write


def records(form, apart, most):
    """Records after one another, at most so many."""

    def write(out, size):
        out.write(b"<gpx>")
        number = written = 0
        while written < size and number < most:
            # A boat that goes round, 11 minutes and some 10 m from mark to mark.
            at = number / 500
            text = form.format(
                i=number, a=int(5e5 + 5e4 * math.sin(at)), b=int(5e5 + 5e4 * math.cos(at)) if form is USUAL else number * 104729 % 10**6,
                t=FIRST + timedelta(seconds=667 * number), d=number // 11 % 24
            )
            written += out.write(text.encode() + apart)
            number += 1

    return write


MARK = b'<gpx><wpt lat="35" lon="-94">'
SHAPES = {
    "a name": filled(MARK + b"<name>", b"0123456789abcdef", b"</name></wpt>"),
    "a comment": filled(b"<gpx><!--", b"0123456789abcdef ", b"-->"),
    "a CDATA section": filled(MARK + b"<desc><![CDATA[", b"0123456789abcdef ", b"]]></desc></wpt>"),
    "text without a tag": filled(b"<gpx>", b"0123456789", b""),
    "attributes of a mark": filled(b"<gpx><wpt ", b'abc="0123456789" ', b'lat="35" lon="-94"/>'),
    "elements in one another": filled(b"<gpx>", b"<a>", b""),
    "the same in a mark": filled(MARK + b"<extensions>", b"<a>", b"</extensions></wpt>"),
    "names of a mark": filled(MARK, b"<name>x</name>", b"</wpt>"),
    "usual marks": records(USUAL, b"\n", 10**9),
    "usual marks on one line": records(USUAL, b"", 10**9),
    "a million tiny marks": records('<wpt lat="35.{i:06}" lon="-94.{b:06}"/>', b"\n", 10**6),
    "a million marks to be set aside": records('<wpt lat="95.{i:06}" lon="-94"/>', b"\n", 10**6),
    "marks without an end": filled(b"<gpx>", b'<wpt lat="35" lon="-94">', b""),
    "a comment full of marks": filled(b"<gpx><!--", b'<wpt lat="35" lon="-94">', b"-->"),
}


def measured(command, folder):
    with open(folder / "stdout", "wb") as out:
        process = subprocess.Popen(command, cwd=folder, stdout=out, stderr=subprocess.PIPE)
        process.stderr.read()
        _, status, usage = os.wait4(process.pid, 0)
    return os.waitstatus_to_exitcode(status), usage.ru_maxrss / 1024, usage.ru_utime + usage.ru_stime


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("shapes", nargs="*", metavar="SHAPE", help="; ".join(SHAPES))
    parser.add_argument("--mb", type=int, default=330)
    parser.add_argument("--binary", type=Path, default=ROOT / "target/release/shoalwright")
    given = parser.parse_args()
    over = False
    print("| one file of | MB | read | set aside | `check`: peak MB, CPU s | `merge -o`: peak MB, CPU s |\n|---|---|---|---|---|---|")
    for name in given.shapes or SHAPES:
        with tempfile.TemporaryDirectory(dir=given.binary.parent) as home:
            folder = Path(home)
            with open(folder / "shape.gpx", "wb") as file:
                SHAPES[name](file, given.mb * 10**6)
                file.write(GOOD)
            size_mb = (folder / "shape.gpx").stat().st_size / 1e6
            told = []
            for words in (["check", "shape.gpx", "--json", "--quiet"], ["merge", "shape.gpx", "-o", "all.gpx", "--quiet"]):
                status, peak_mb, cpu_s = measured([given.binary.resolve(), *words], folder)
                assert status == 0, f"{name}: exit {status}"
                over = over or peak_mb > MOST_MB
                told.append(f"{peak_mb:.0f}, {cpu_s:.1f}")
                if words[0] == "check":
                    counts = json.loads((folder / "stdout").read_text())["records"]
                    assert counts["kept"] + counts["merged_away"] >= 1, f"{name}: the good mark is not read"
            print(f"| {name} | {size_mb:.0f} | {counts['read']:,} | {counts['set_aside']:,} | {told[0]} | {told[1]} |", flush=True)
    return int(over)


if __name__ == "__main__":
    sys.exit(main())
