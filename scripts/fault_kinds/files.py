"""Files that change while they are read, that are many, and that have odd names."""
import csv
import json
import os
import subprocess
import time
from pathlib import Path

from fault_kinds.bench import CAUTIOUS_S, account_faults, last_line, panicked, status, tree


BIG = 400_000


def big_export(folder):
    """An export that takes a while to read, with a record to be set aside at its begin and its end."""
    path = folder / "big.gpx"
    with open(path, "w") as file:
        aside = '<wpt lat="95" lon="-56.0"><name>ASIDE</name></wpt>\n'
        file.write('<gpx version="1.1">\n' + aside)
        for number in range(BIG):
            file.write(f'<wpt lat="36.{number:06}" lon="-56.0"><name>BAIT {number}</name></wpt>\n')
        file.write(aside + "</gpx>\n")
    return path


def changing(bench, fault, what, change):
    """Changes a file while the program reads it, as the system tells (/proc), or after that and before it writes."""
    if not Path("/proc/self/fdinfo").is_dir():
        bench.row(fault, what, "not run: this system does not tell how far a file was read")
        return
    folder = bench.home / fault
    folder.mkdir()
    faults, told, midway, after = [], {}, 0, 0
    for turn in range(6 if bench.quick else 24):
        path, aside = big_export(folder), folder / "all.set-aside.csv"
        aside.unlink(missing_ok=True)
        merging = turn % 2 == 1
        words = ["merge", path, "-o", folder / "all.csv", "--quiet"] if merging else ["check", path, "--json"]
        process = bench.start(*words, stdout=subprocess.PIPE)
        read = wait_for_reading(process, path, bench.random.uniform(0.05, 1.4 if merging else 0.9))
        midway, after = midway + (read == "midway"), after + (read == "after")
        change(path)
        out, errors = process.communicate()
        done = subprocess.CompletedProcess([], process.returncode, out, errors)
        faults += panicked(done) + status(done, {0, 2} if merging else {0, 1})
        if not merging:
            faults += account_faults(done)
            came = "`check` ended, its account adds up"
        elif done.returncode == 2:
            came = "`merge` refused: the file was changed while it ran"
            faults += [] if b"was changed while the run was at it" in errors else ["it does not say why"]
        else:
            came = "`merge` wrote"
            faults += aside_faults(aside)
        told[came] = told.get(came, 0) + 1
    faults += [] if midway else ["no change fell midway"]
    came = ", ".join(f"{count} times {text}" for text, count in sorted(told.items()))
    bench.row(fault, f"{what} ({midway} times midway, {after} times before it wrote)", came, faults)


def wait_for_reading(process, path, share):
    """Until a share of a file is read; of more than one: until it is closed. Tells where the reading stood then."""
    size, opened = path.stat().st_size, False
    while process.poll() is None:
        read = read_so_far(process, path)
        opened = opened or read >= 0
        if opened and read < 0:
            return "after" if share >= 1 else "missed"
        if share < 1 and share * size <= read < size:
            return "midway"
    return "missed"


def read_so_far(process, path):
    """Bytes of a file that a process has read; -1: it has not opened it, or closed it."""
    try:
        for handle in Path(f"/proc/{process.pid}/fd").iterdir():
            if handle.readlink() == path:
                info = Path(f"/proc/{process.pid}/fdinfo/{handle.name}").read_text()
                return int(info.split("pos:")[1].split()[0])
    except (OSError, IndexError):
        pass
    return -1


def aside_faults(path):
    """What is wrong with a set-aside file: each row must hold its record whole."""
    with open(path, newline="") as file:
        rows = list(csv.DictReader(file))
    whole = rows and all("<name>ASIDE</name>" in row["record"] for row in rows)
    return [] if whole else ["a record set aside is not told whole"]


def vanishing(bench):
    changing(bench, "vanishing", "an export is deleted while it is read", lambda path: path.unlink())


def growing(bench):
    def grow(path):
        with open(path, "ab") as file:
            file.write(b'<wpt lat="36.0" lon="-56.0"><name>LATE</name></wpt>' * 2000)

    changing(bench, "growing", "2,000 marks are appended to an export while it is read", grow)


def shrinking(bench):
    changing(bench, "shrinking", "an export is cut to a tenth while it is read", lambda path: os.truncate(path, path.stat().st_size // 10))


def many_files(bench):
    folder = bench.home / "many"
    folder.mkdir()
    for number in range(10_000):
        lon = -56 + number * 1e-5
        (folder / f"{number:05}.gpx").write_text(
            f'<gpx version="1.1"><wpt lat="36.0" lon="{lon:.5f}"><name>BAIT {number}</name></wpt></gpx>'
        )
    (folder / "lake.toml").write_text('[[input]]\nfiles = ["*.gpx"]\n')
    start = time.monotonic()
    done = bench.run("check", folder / "lake.toml", "--json")
    seconds = time.monotonic() - start
    faults = status(done, {0}) + panicked(done) + account_faults(done)
    if not faults and json.loads(done.stdout)["records"]["read"] != 10_000:
        faults.append("not all 10,000 marks were read")
    bench.row("many-files", "10,000 exports of one mark", f"exit {done.returncode} after {seconds:.1f} s", faults)


def odd_names(bench):
    folder = bench.home / "odd"
    folder.mkdir()
    text = b'<gpx version="1.1"><wpt lat="36.0" lon="-56.0%d"><name>BAIT</name></wpt></gpx>'
    names = [b"new\nline.gpx", b"\xff\xfe.gpx", b"\x1b[31mred.gpx", "\u202egpx.gpx".encode(), b" .gpx"]
    for number, name in enumerate(names):
        with open(os.fsencode(folder) + b"/" + name, "wb") as file:
            file.write(text % number)
    words = [os.fsencode(folder) + b"/" + name for name in names]
    command = [os.fsencode(bench.binary), b"merge", *words, b"-o", os.fsencode(folder) + b"/all.csv", b"--json"]
    done = subprocess.run(command, capture_output=True, timeout=CAUTIOUS_S)
    faults = status(done, {0}) + panicked(done) + account_faults(done)
    if not faults and json.loads(done.stdout)["records"]["read"] != len(names):
        faults.append("not all were read")
    if b"\x1b" in done.stderr or "\u202e".encode() in done.stderr:
        faults.append("a name reached the terminal as it stands")
    bench.row("odd-names", "names with a line end, no UTF-8, an escape, a turned direction", last_line(done), faults)
