"""What lies around a run: its own output among its inputs, a clock that is wrong, a reader that goes away."""
import os
import shutil
import subprocess

from fault_kinds.bench import CAUTIOUS_S, account_faults, copy, last_line, panicked, status, tree


def inside_globs(bench):
    folder = copy(bench, "inside")
    settings = (folder / "lake.toml").read_text().replace('"exports/alpha-*.gpx"', '"**/*.gpx"')
    (folder / "lake.toml").write_text(settings)
    first = bench.run("run", folder / "lake.toml", "--quiet")
    before = tree(folder / "out")
    second = bench.run("run", folder / "lake.toml", "--quiet")
    faults = status(first, {0, 1}) + status(second, {2}) + panicked(first) + panicked(second)
    faults += ["the output is not whole"] if tree(folder / "out") != before or not before else []
    bench.row("inside-globs", "the output folder lies inside the input globs; run twice", last_line(second), faults)


def clock_back(bench):
    faketime = shutil.which("faketime")
    if not faketime:
        bench.row("clock-back", "the clock stands at 2001", "not run: there is no `faketime` here")
        return
    command = [faketime, "2001-01-01 12:00:00", bench.binary, "check", "demo/lake.toml", "--json"]
    done = subprocess.run(command, capture_output=True, cwd=bench.home, timeout=CAUTIOUS_S)
    faults = status(done, {0}) + panicked(done) + account_faults(done)
    faults += [] if b"clock-future" in done.stdout else ["marks from the future are not told of"]
    bench.row("clock-back", "the clock stands at 2001", "all marks are undated and told of as from the future", faults)


def pipe(bench):
    faults = []
    for words in (["merge", "demo/lake.toml"], ["settings"], ["check", "demo/lake.toml"], ["schools", "demo/lake.toml"]):
        reader, writer = os.pipe()
        process = bench.start(*words, stdout=writer)
        os.close(writer)
        os.read(reader, 10)
        os.close(reader)
        _, errors = process.communicate()
        done = subprocess.CompletedProcess([], process.returncode, b"", errors)
        faults += status(done, {0}) + panicked(done)
    bench.row("pipe", "whoever reads standard output stops after ten bytes", "exit 0, nothing said of it", faults)
