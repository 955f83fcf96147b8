"""Kills work at moments of its life, does it again, and tells what came of it as one JSON object.

`python -m tests.run.killed WORK FOLDER SEED PLACE…`: WORK is `run`, `reprint` (the same numbers again) or `replace` (a
reprint under replacement numbers); each moment has a ledger of its own, PLACE by PLACE; "sqlite" stands for a file
beside the job.  All of it is sealed.  A child is forked for each, so that only the work itself is killed.
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
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.small import JOB, write_job
from vdp.numbering.entry import Entry
from vdp.numbering.ledger import open_ledger
from vdp.run import run_job
from vdp.run.desk import Desk
from vdp.run.reprint import reprint
from vdp.run.screen import Screen
from vdp.run.sealing import make_key, seal_run
from vdp.run.spoiled import Wish

PIECES, AGAIN = 40, 12
RECORDS = "name,lang\n" + "".join(f"Guest{n},en\n" for n in range(PIECES))
NOW = datetime(2026, 3, 1, 12, 30, tzinfo=UTC)
#: The kind of entry with which the ledger first hears of the work, and that which tells of its end.
#: Of reprints it hears early, so that most of their moments are early too.
HEARS = {"run": ("allocated", "issued"), "reprint": ("again", "made_good"), "replace": ("again", "replaced")}
Act = Callable[[Path, str], bool]


def run(job: Path, place: str) -> bool:
    desk = Desk("anna", lambda: NOW, {"VDP_LEDGER": place})
    made = run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO()), desk=desk)
    seal_run(job.parent / "out", job.parent / "press.key")
    return made.ok


def again(job: Path, place: str) -> bool:
    """Every third piece once more."""
    home, desk = job.parent, Desk("anna", lambda: NOW, {"VDP_LEDGER": place})
    lines = (home / "out/pieces.jsonl").read_text("utf-8").splitlines()
    wish = Wish(tuple(json.loads(line)["serials"]["voucher"] for line in lines[1 : 3 * AGAIN : 3]))
    made = reprint(
        home / "out",
        wish,
        second="Bo",
        out=home / "again",
        job=None,
        records=None,
        desk=desk,
        screen=Screen(io.StringIO()),
    )
    seal_run(home / "again", home / "press.key")
    return made.ok


def child(act: Act, job: Path, place: str) -> int:
    """Starts work in a process of its own and gives its id."""
    if pid := os.fork():
        return pid
    os._exit(0 if act(job, place) else 1)


def whole(act: Act, job: Path, place: str) -> float:
    """Work that nothing disturbs; the seconds that it took."""
    begun = time.monotonic()
    _, status = os.waitpid(child(act, job, place), 0)
    if status:
        raise RuntimeError(f"the work ended with {status}")
    return time.monotonic() - begun


def files(home: Path) -> dict[str, str]:
    """Everything in the folders that runs and reprints make, hidden files too."""
    made = [path for name in ("out", "again") for path in sorted((home / name).rglob("*"))]
    return {str(path.relative_to(home)): hashlib.sha256(path.read_bytes()).hexdigest() for path in made}


def entries_of(place: str) -> tuple[list[Entry], list[str]]:
    """The ledger's entries, and everything wrong with the chain."""
    if "://" not in place and not Path(place).exists():
        return [], []
    with open_ledger(place, operator="anna", now=lambda: NOW) as ledger:
        return list(ledger.entries()), [finding.message for finding in ledger.verify_chain()]


def told(entries: list[Entry]) -> list[tuple[str, int, int, str, str]]:
    """What the ledger says, recovery aside."""
    return [(e.kind, e.first, e.last, e.run, e.detail) for e in entries if e.kind != "recovered"]


class Work:
    """A job and its key in a folder, the work that is killed, and what it comes to when nothing disturbs it."""

    def __init__(self, what: str, home: Path) -> None:
        self.home, self.job = home, JOB + ("spoiled: replacement_series\n" if what == "replace" else "")
        self.act: Act = run if what == "run" else again
        self.before: Act | None = None if what == "run" else run
        self.hears, self.ends = HEARS[what]
        path = write_job(home, job=self.job, records=RECORDS)
        make_key(home / "press.key")
        self.place = str(home / "ledger.sqlite")
        if self.before is not None:
            whole(self.before, path, self.place)
        shutil.copytree(home, home.with_name("ready"))
        self.seconds = max(whole(self.act, path, self.place) for _ in range(2))
        self.files, self.told = files(home), told(entries_of(self.place)[0])

    def ready(self, home: Path, place: str) -> tuple[Path, str]:
        """Everything up to the work in a new folder: its job, and the ledger's place."""
        shutil.rmtree(home, ignore_errors=True)
        shutil.copytree(self.home.with_name("ready"), home)
        job = home / "job.yaml"
        if place == "sqlite":
            return job, str(home / "ledger.sqlite")
        if self.before is not None:
            whole(self.before, job, place)
        return job, place

    def reached(self, entries: list[Entry]) -> str:
        kinds = {entry.kind for entry in entries}
        return self.ends if self.ends in kinds else self.hears if self.hears in kinds else "before"

    def wrong(self, home: Path, place: str, reached: str) -> dict[str, Any]:
        """What is not as it should be when the work was done again."""
        entries, faults = entries_of(place)
        recovered = sum(entry.kind == "recovered" for entry in entries)
        due = int(reached == "allocated")
        if not faults and recovered == due and told(entries) == self.told and files(home) == self.files:
            return {}
        unlike = sorted(name for name, digest in files(home).items() ^ self.files.items())
        return {"faults": faults, "kinds": [entry.kind for entry in entries], "files": unlike}


def moments(what: str, folder: Path, seed: int, places: list[str]) -> dict[str, Any]:
    chance = random.Random(seed)
    work, reached, wrong = Work(what, folder / "whole"), [], []
    for number, said in enumerate(places):
        home = folder / "killed"
        job, place = work.ready(home, said)
        after = ((number + chance.random()) / len(places)) ** (1 if what == "run" else 2) * work.seconds
        pid = child(work.act, job, place)
        time.sleep(after)
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        reached.append(work.reached(entries_of(place)[0]))
        whole(work.act, job, place)
        if found := work.wrong(home, place, reached[-1]):
            wrong.append({"after": after, "reached": reached[-1], **found})
    return {
        "seconds": work.seconds,
        "reached": {each: reached.count(each) for each in sorted(set(reached))},
        "wrong": wrong,
    }


if __name__ == "__main__":
    result = moments(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]), sys.argv[4:])
    sys.stdout.write(json.dumps(result) + "\n")
