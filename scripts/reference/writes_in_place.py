#!/usr/bin/env python3
"""A program that writes as none should: it lets the real one (in SHOALWRIGHT) write elsewhere, and copies file after file,
in no order, over the old output. `scripts/faults --on-a-bad-one` must find fault with it."""
import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

words = sys.argv[1:]
real = os.environ["SHOALWRIGHT"]
if "-o" not in words:
    os.execv(real, [real, *words])
at = words.index("-o") + 1
target = Path(words[at])
with tempfile.TemporaryDirectory() as home:
    built = Path(home) / target.name
    done = subprocess.run([real, *words[:at], built, *words[at + 1 :]])
    if done.returncode >= 2:
        sys.exit(done.returncode)
    built = sorted(Path(home).rglob("*"))
    for folder in (path for path in built if path.is_dir()):
        (target.parent / folder.relative_to(home)).mkdir(exist_ok=True)
    files = [path for path in built if path.is_file()]
    random.shuffle(files)
    for path in files:
        with open(path, "rb") as source, open(target.parent / path.relative_to(home), "wb") as copy:
            while block := source.read(1 << 14):
                copy.write(block)
                time.sleep(0.001)
    sys.exit(done.returncode)
