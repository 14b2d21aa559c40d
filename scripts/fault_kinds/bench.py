"""The folder that faults are done in, the binary that they are done to, and what is wrong with what came of them."""
import json
import os
import random
import shutil
import subprocess
from pathlib import Path

NOBODY = 65534
CAUTIOUS_S = 300


class Bench:
    """A folder with the lake in it, a smaller one (one unit's exports, no plan), and the binary."""

    def __init__(self, binary, kills, quick, home):
        self.binary, self.kills, self.quick, self.home = str(binary), kills, quick, home
        self.random = random.Random(9)
        self.rows = []
        subprocess.run([self.binary, "demo", home / "demo"], check=True, capture_output=True)
        (home / "demo/small.toml").write_text(
            '[lake]\ntimezone = "America/Miquelon"\nshoreline = "shoreline.geojson"\n'
            '[[input]]\nfiles = ["exports/alpha-*.gpx"]\nunit = "alpha"\n'
        )
        # Whoever runs the faults as nobody must get in.
        for path in [home, *home.rglob("*")]:
            path.chmod(0o777 if path.is_dir() else 0o666)

    def run(self, *words, **more):
        words = [self.binary, *map(str, words)]
        return subprocess.run(words, capture_output=True, timeout=CAUTIOUS_S, cwd=self.home, **more)

    def start(self, *words, **more):
        pipes = {"stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE, **more}
        return subprocess.Popen([self.binary, *map(str, words)], cwd=self.home, **pipes)

    def row(self, fault, what, came, faults=()):
        verdict = "not run" if came.startswith("not run") else "as it must be"
        verdict = "NOT AS IT MUST BE: " + "; ".join(sorted(set(faults))) if faults else verdict
        self.rows.append((fault, what, came, verdict, bool(faults)))
        print(f"{fault:14} {what}\n{'':14}   came: {came}\n{'':14}   {verdict}", flush=True)


def tree(path):
    """Every file of an output with its bytes: those below a folder, or a log and what was set aside beside it; None:
    there is none."""
    path = Path(path)
    if path.is_dir():
        return {str(p.relative_to(path)): content(p) for p in sorted(path.rglob("*")) if p.is_file()}
    files = [p for p in (path, aside_of(path)) if p.is_file()]
    return {p.name: p.read_bytes() for p in files} or None


def aside_of(path):
    return path.with_suffix(".set-aside.csv")


def content(path):
    """The bytes of a file; of the account without the seconds, which a busy machine makes differ."""
    if path.name != "summary.json":
        return path.read_bytes()
    try:
        account = json.loads(path.read_bytes())
    except ValueError:
        return path.read_bytes()
    for stage in account["stages"]:
        del stage["seconds"]
    return json.dumps(account)


def panicked(done):
    text = (done.stderr or b"") + (done.stdout or b"")
    return ["it panicked"] if b"panicked at" in text else []


def status(done, expected):
    wrong = done.returncode not in expected
    return [f"exit status {done.returncode}, not {sorted(expected)}"] if wrong else []


def account_faults(done):
    """What is wrong with the account that --json printed."""
    try:
        account = json.loads(done.stdout)
    except ValueError:
        return ["no account was printed"]
    faults = []
    for part in [account["records"], *account["files"]]:
        if part["read"] != part["kept"] + part["merged_away"] + part["set_aside"]:
            faults.append(f"the account of {part.get('path', 'all')} does not add up")
    return faults


def as_nobody():
    if os.geteuid() == 0:
        os.setgid(NOBODY)
        os.setuid(NOBODY)


def last_line(done):
    lines = [line for line in done.stderr.decode(errors="replace").splitlines() if line.strip()]
    errors = [line for line in lines if line.startswith(("error", "  because"))]
    return f"exit {done.returncode}; " + ("; ".join(errors) or (lines[-1] if lines else "nothing was said"))


def copy(bench, name):
    """A lake of its own for a fault."""
    folder = bench.home / name
    shutil.copytree(bench.home / "demo", folder, ignore=shutil.ignore_patterns("out"))
    return folder
