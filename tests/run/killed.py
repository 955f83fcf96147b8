"""Kills runs at moments of their life, does them again, and tells what came of it as one JSON object.

`python -m tests.run.killed FOLDER MOMENTS SEED PLACE…`: each moment has a ledger of its own, PLACE by PLACE; "sqlite"
stands for a file beside the job.  A child is forked for each run, so that only the run itself is killed.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import random
import shutil
import signal
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.small import write_job
from vdp.numbering.ledger import open_ledger
from vdp.run import run_job
from vdp.run.desk import Desk
from vdp.run.screen import Screen

PIECES = 40
RECORDS = "name,lang\n" + "".join(f"Guest{n},en\n" for n in range(PIECES))
NOW = datetime(2026, 3, 1, 12, 30, tzinfo=UTC)


def child(job: Path, place: str) -> int:
    """Starts a run in a process of its own and gives its id."""
    if pid := os.fork():
        return pid
    desk = Desk("anna", lambda: NOW, {"VDP_LEDGER": place})
    ok = run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO()), desk=desk).ok
    os._exit(0 if ok else 1)


def whole(job: Path, place: str) -> float:
    """A run that nothing disturbs; the seconds that it took."""
    begun = time.monotonic()
    _, status = os.waitpid(child(job, place), 0)
    if status:
        raise RuntimeError(f"a run ended with {status}")
    return time.monotonic() - begun


def files(job: Path) -> dict[str, str]:
    out = job.parent / "out"
    return {str(p.relative_to(out)): hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(out.rglob("*"))}


def told(place: str) -> tuple[list[str], list[tuple[int, int]], list[str]]:
    """Kinds of the entries, ranges allotted, and everything wrong with the chain."""
    if "://" not in place and not Path(place).exists():
        return [], [], []
    with open_ledger(place, operator="anna", now=lambda: NOW) as ledger:
        kinds = [entry.kind for entry in ledger.entries()]
        ranges = [(entry.first, entry.last) for entry in ledger.ranges("voucher")]
        return kinds, ranges, [finding.message for finding in ledger.verify_chain()]


def moments(folder: Path, count: int, seed: int, places: list[str]) -> dict[str, Any]:
    chance = random.Random(seed)
    job = write_job(folder / "whole", records=RECORDS)
    lasts = max(whole(job, str(folder / "whole/ledger.sqlite")) for _ in range(2))
    wanted, reached, wrong = files(job), [], []
    for number in range(count):
        home = folder / "killed"
        shutil.rmtree(home, ignore_errors=True)
        job = write_job(home, records=RECORDS)
        place = places[number] if places[number] != "sqlite" else str(home / "ledger.sqlite")
        after = (number + chance.random()) / count * lasts
        pid = child(job, place)
        time.sleep(after)
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        seen = told(place)[0]
        reached.append("issued" if "issued" in seen else "allocated" if "allocated" in seen else "before")
        whole(job, place)
        kinds, ranges, faults = told(place)
        due = ["started", "allocated", *(["recovered"] if reached[-1] == "allocated" else []), "issued"]
        if faults or ranges != [(0, PIECES - 1)] or kinds != due or files(job) != wanted:
            wrong.append({"after": after, "faults": faults, "ranges": ranges, "kinds": kinds})
    return {"seconds": lasts, "reached": {each: reached.count(each) for each in sorted(set(reached))}, "wrong": wrong}


if __name__ == "__main__":
    result = moments(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), sys.argv[4:])
    sys.stdout.write(json.dumps(result) + "\n")
