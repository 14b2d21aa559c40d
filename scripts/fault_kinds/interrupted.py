"""Commands that are ended by a signal, or run twice at once, while they replace an output."""
import shutil
import signal
import time

from fault_kinds.bench import aside_of, status, tree


def unfinished(out):
    """What a run that is writing has beside its output."""
    return [p for p in out.parent.iterdir() if p.name.startswith(f".{out.name}.")]


def remove(paths):
    for path in paths:
        shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)


def wait_for_writing(process, out):
    """Until it writes beside its output (true), or ends."""
    while process.poll() is None:
        if unfinished(out):
            return True
        time.sleep(0.0005)
    return False


class Rewrite:
    """A command that replaces an old output by a new one that differs in it."""

    def __init__(self, bench, folder, name, old_words, new_words):
        self.bench, self.kept, self.out = bench, bench.home / folder / "kept", bench.home / folder / "here" / name
        self.kept.mkdir(parents=True)
        self.out.parent.mkdir()
        self.words, self.old_words = new_words, old_words
        self.before = bench.run(*old_words, "-o", self.out, "--quiet")
        self.old = tree(self.out)
        for path in self.out.parent.iterdir():
            copy_to(path, self.kept)
        start = time.monotonic()
        process = self.begin()
        writes = wait_for_writing(process, self.out)
        before_s = time.monotonic() - start
        process.communicate()
        self.length_s = time.monotonic() - start
        self.writing_s = self.length_s - before_s if writes else self.length_s
        self.new = tree(self.out)
        assert self.old and self.new and self.old != self.new, "the two outputs do not differ"

    def begin(self, words=None):
        return self.bench.start(*(words or self.words), "-o", self.out, "--quiet")

    def restore(self, afresh):
        """Puts the old output back, or none at all."""
        remove([p for p in (self.out, aside_of(self.out)) if p.exists()])
        for path in () if afresh else self.kept.iterdir():
            copy_to(path, self.out.parent)

    def interrupt(self, sig, turn):
        """Sends a signal at a random moment: every other turn of the whole command, on top of what the turn before left,
        else of its writing; every fifth turn without an old output. Tells which output stands then, and whether the
        program was writing."""
        at_writing, afresh = turn % 2 == 1, turn % 5 == 4
        self.restore(afresh)
        if at_writing:
            remove(unfinished(self.out))
        process = self.begin()
        within_s = self.length_s
        if at_writing and wait_for_writing(process, self.out):
            within_s = self.writing_s
        # Past the end as well: the swap is the last thing that happens.
        time.sleep(self.bench.random.uniform(0, within_s * 1.05))
        process.send_signal(sig)
        process.communicate()
        now = tree(self.out)
        stands = "old" if now == (None if afresh else self.old) else "new" if now == self.new else "mixed"
        return stands, at_writing and process.returncode != 0 and bool(unfinished(self.out))


def copy_to(path, folder):
    (shutil.copytree if path.is_dir() else shutil.copy)(path, folder / path.name)


def interrupted(bench, fault, rewrites, sig):
    """Interrupts each of some rewrites so many times."""
    stood, writing, faults = {"old": 0, "new": 0, "mixed": 0}, 0, []
    for rewrite, times in rewrites:
        for turn in range(times):
            stands, written = rewrite.interrupt(sig, turn)
            stood[stands] += 1
            writing += written
        after = rewrite.begin()
        after.communicate()
        if tree(rewrite.out) != rewrite.new:
            faults.append(f"the run after it ended with {after.returncode} and another output")
        if unfinished(rewrite.out):
            faults.append("something is left behind after the next run")
    times = sum(times for _, times in rewrites)
    if stood["mixed"]:
        faults.append(f"{stood['mixed']} times neither the old output nor the new")
    if writing < times // 10:
        faults.append(f"only {writing} fell while it was writing: this tells too little")
    came = f"{stood['old']} times the old output whole (or none where none was), {stood['new']} times the new; "
    came += f"{writing} or more fell while it was writing; the next run is sound and clears what was left"
    bench.row(fault, f"{sig.name} at {times} random moments of `{rewrite.words[0]}`", came, faults)


def runs(bench, fault, times):
    """Rewrites of `run`: a fifth of the times on the whole lake, unless it is to be quick."""
    whole = 0 if bench.quick else times // 5
    units = [["--set", "lake.units=us"], ["--set", "lake.units=metric"]]
    of = lambda lake: [["run", f"demo/{lake}.toml", *sets] for sets in units]
    rewrites = [(Rewrite(bench, f"{fault}-small", "out", *of("small")), times - whole)]
    return rewrites + ([(Rewrite(bench, f"{fault}-whole", "out", *of("lake")), whole)] if whole else [])


def kill_run(bench):
    interrupted(bench, "kill-run", runs(bench, "kill-run", bench.kills), signal.SIGKILL)


def kill_merge(bench):
    exports = sorted((bench.home / "demo/exports").iterdir())
    old, new = [["merge", *(p for p in exports if p.name.startswith(unit))] for unit in ("alpha", "bravo")]
    rewrite = Rewrite(bench, "kill-merge", "all.csv", old, new)
    interrupted(bench, "kill-merge", [(rewrite, bench.kills)], signal.SIGKILL)


def sigint(bench):
    interrupted(bench, "sigint", runs(bench, "sigint", max(10, bench.kills // 10)), signal.SIGINT)


def two_runs(bench):
    """Two runs of different settings, begun so that they write at about the same time."""
    pair = [["run", "demo/small.toml", "--set", f"lake.units={units}"] for units in ("us", "metric")]
    rewrite = Rewrite(bench, "two-runs", "out", *pair)
    times, faults, refused_times = max(5, bench.kills // 10), [], 0
    for _ in range(times):
        first = rewrite.begin(pair[0])
        time.sleep(bench.random.uniform(0, rewrite.writing_s))
        both = [first, rewrite.begin(pair[1])]
        for process in both:
            _, errors = process.communicate()
            refused_times += process.returncode == 2
            if process.returncode not in (0, 1) and (process.returncode != 2 or b"another run" not in errors):
                faults.append(f"exit {process.returncode}: {errors.decode(errors='replace').strip()[:100]}")
        if all(process.returncode == 2 for process in both):
            faults.append("both were refused")
        if tree(rewrite.out) not in (rewrite.old, rewrite.new):
            faults.append("the output is neither of the two")
        if unfinished(rewrite.out):
            faults.append("something is left behind")
    came = f"one of the two outputs whole; {refused_times} times one was refused, else one came after the other"
    bench.row("two-runs", f"two runs at once into one folder, {times} times", came, faults)
