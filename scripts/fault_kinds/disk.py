"""Disks without room, folders and files without leave, links that go round."""
import resource
import shutil
import signal
import subprocess

from fault_kinds.bench import account_faults, as_nobody, copy, last_line, panicked, status, tree
from fault_kinds.interrupted import Rewrite, copy_to, unfinished


def disk_full(bench):
    rewrite = Rewrite(bench, "limited", "out", *[["run", "demo/small.toml", "--set", f"lake.units={u}"] for u in ("us", "metric")])
    limits_kb = [1, 20, 200, 400]
    faults = []
    for limit_kb in limits_kb:

        def small_files():
            # A write past the limit then fails as on a full disk, rather than ending the program.
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit_kb * 1000, limit_kb * 1000))

        rewrite.restore(afresh=False)
        done = bench.run(*rewrite.words, "-o", rewrite.out, preexec_fn=small_files)
        faults += refused(done, rewrite)
    bench.row("disk-full", f"no file may have more than {limits_kb} kB (RLIMIT_FSIZE)", last_line(done), faults)
    small = bench.home / "small-disk"
    small.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=8m", "tmpfs", small], capture_output=True)
    if mounted.returncode != 0:
        bench.row("disk-full", "a disk with too little room (tmpfs)", "not run: this user may not mount one")
        return
    try:
        rewrite.restore(afresh=False)
        copy_to(rewrite.out, small)
        rewrite.out, rooms_kb, faults = small / "out", [0, 4, 100, 300, 700, 1200, 2000], []
        for room_kb in rooms_kb:
            filler = small / "filler"
            filler.unlink(missing_ok=True)
            filler.write_bytes(bytes(max(0, shutil.disk_usage(small).free - room_kb * 1024)))
            faults += refused(bench.run(*rewrite.words, "-o", rewrite.out), rewrite)
        bench.row("disk-full", f"a disk with {rooms_kb} kB left (tmpfs), an old output on it", "exit 2 each time; the old one stays, nothing is left beside it", faults)
        filler.unlink()
        done = bench.run(*rewrite.words, "-o", rewrite.out)
        faults = status(done, {0, 1}) + ([] if tree(rewrite.out) == rewrite.new else ["the new output is not whole"])
        bench.row("disk-full", "the same with room again", last_line(done), faults)
    finally:
        subprocess.run(["umount", small], check=True)


def refused(done, rewrite):
    """What is wrong with a run that could not write: it must say so, and leave the old output and nothing else."""
    faults = status(done, {2}) + panicked(done)
    faults += ["the old output is not whole"] if tree(rewrite.out) != rewrite.old else []
    return faults + (["something was left beside it"] if unfinished(rewrite.out) else [])


def read_only(bench):
    folder = bench.home / "read-only"
    folder.mkdir()
    folder.chmod(0o555)
    done = bench.run("schools", "demo/lake.toml", "-o", folder / "out", preexec_fn=as_nobody)
    bench.row("read-only", "the output's folder may not be written", last_line(done), status(done, {2}) + panicked(done))


def unreadable(bench):
    folder = copy(bench, "unreadable")
    (folder / "exports/bravo-2024.gpx").chmod(0)
    done = bench.run("check", folder / "lake.toml", "--json", preexec_fn=as_nobody)
    faults = status(done, {1}) + panicked(done) + account_faults(done)
    faults += [] if b"file-unreadable" in done.stdout else ["the file is not told of"]
    bench.row("unreadable", "an export may not be read", "exit 1; the file is told of, the rest is read", faults)


def symlink_loop(bench):
    folder = copy(bench, "loop")
    (folder / "exports/alpha-loop.gpx").symlink_to("alpha-loop.gpx")
    (folder / "exports/bravo-round.gpx").symlink_to(folder / "exports")
    done = bench.run("check", folder / "lake.toml", "--json")
    faults = status(done, {0, 1, 2}) + panicked(done)
    faults += account_faults(done) if done.returncode < 2 else []
    bench.row("symlink-loop", "an export is a link to itself, one a link to its folder", f"exit {done.returncode}", faults)
