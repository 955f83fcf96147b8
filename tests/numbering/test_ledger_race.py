"""Several processes at one ledger, and processes killed in the middle of it: no number twice, none lost."""

from __future__ import annotations

import subprocess
import sys
import time
from itertools import pairwise
from pathlib import Path

import pytest

from vdp.numbering.entry import Head

from .made import opened, series

ROOT = Path(__file__).parents[2]


def start(place: str, name: str, runs: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.numbering.racer", place, name, str(runs)]
    return subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def go(racer: subprocess.Popen[str]) -> None:
    assert racer.stdout is not None
    assert racer.stdin is not None
    assert racer.stdout.readline() == "ready\n"
    racer.stdin.write("go\n")
    racer.stdin.flush()


def told(text: str) -> list[tuple[str, int, int]]:
    """Complete lines only: a killed process may have been cut off in one."""
    lines = [line.split() for line in text.split("\n")[:-1]]
    return [(run, int(first), int(count)) for run, first, count in lines]


def test_two_processes_race_for_numbers(place: str) -> None:
    """They also race for making the ledger: it is not there when they start."""
    racers = [start(place, name, 25) for name in ("one", "two")]
    for racer in racers:
        go(racer)
    given = []
    for racer in racers:
        text, _ = racer.communicate(timeout=60)
        assert racer.returncode == 0
        assert len(told(text)) == 25
        given += told(text)
    given.sort(key=lambda each: each[1])
    assert given[0][1] == 0
    assert all(first + count == following for (_, first, count), (_, following, _) in pairwise(given))
    with opened(place) as ledger:
        assert [(e.run, e.first, e.count) for e in ledger.ranges("pass")] == given
        assert ledger.verify_chain() == []


# The process needs about half a second to open the ledger: some are killed before, most in the middle of a run.
@pytest.mark.parametrize("after", [0.0, 0.021, 0.043])
def test_killed_at_any_moment(place: str, after: float) -> None:
    racer = start(place, "killed", 10_000)
    go(racer)
    assert racer.stdout is not None
    begun = racer.stdout.readline() if after else ""
    time.sleep(after)
    racer.kill()
    rest, _ = racer.communicate(timeout=60)
    seen = told(begun + rest)
    with opened(place) as ledger:
        assert ledger.verify_chain() == []
        stored = [(e.run, e.first, e.count) for e in ledger.ranges("pass")]
        # One more may be stored than was told: it is found again by its run.
        assert stored[: len(seen)] == seen
        assert len(stored) - len(seen) in {0, 1}
        head = ledger.head()
        for run, first, count in stored[-3:]:
            assert ledger.allocate(series(), count, run=run, job="race") == first
        assert ledger.head() == head
        end = sum(count for _, _, count in stored)
        assert ledger.allocate(series(), 1, run="after", job="race") == end
        assert ledger.head() > (head if stored else Head(0, ""))
