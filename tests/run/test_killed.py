"""Runs and reprints killed at any moment and done again: no number twice, none lost, no copy counted twice, the files
and the ledger of work that nothing disturbed.

A few moments of each on each database; `pytest -m moments -s` has hundreds, and tells its figures.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.numbering.conftest import Server, postgres
from tests.run.killed import HEARS

__all__ = ["postgres"]

ROOT = Path(__file__).parents[2]


def killed(work: str, folder: Path, places: list[str], seed: int) -> dict[str, Any]:
    command = [sys.executable, "-m", "tests.run.killed", work, str(folder), str(seed), *places]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def held(work: str, told: dict[str, Any]) -> None:
    print(f"{work}: {told['seconds']:.2f} s undisturbed; killed after {told['reached']}; wrong {told['wrong']}")  # noqa: T201  shown with -s: the figures of a release
    assert told["wrong"] == [], told
    # Moments are spread over all of it: some come before the ledger hears of the work, some after.
    assert told["reached"].get("before", 0) > 0
    assert told["reached"].get(HEARS[work][0], 0) > 0


def test_twenty_moments_of_a_run_with_a_file(tmp_path: Path) -> None:
    held("run", killed("run", tmp_path, ["sqlite"] * 20, 11))


def test_twenty_moments_of_a_run_with_a_server(tmp_path: Path, postgres: Server) -> None:
    held("run", killed("run", tmp_path, [postgres.new() for _ in range(20)], 12))


@pytest.mark.parametrize("work", ["reprint", "replace"])
def test_moments_of_a_reprint_with_a_file(work: str, tmp_path: Path) -> None:
    held(work, killed(work, tmp_path, ["sqlite"] * 6, 15))


def test_moments_of_a_reprint_with_a_server(tmp_path: Path, postgres: Server) -> None:
    held("replace", killed("replace", tmp_path, [postgres.new() for _ in range(4)], 16))


@pytest.mark.moments
@pytest.mark.parametrize(("work", "count"), [("run", 200), ("reprint", 100), ("replace", 100)])
def test_very_many_moments_with_a_file(work: str, count: int, tmp_path: Path) -> None:
    held(work, killed(work, tmp_path, ["sqlite"] * count, 13))


@pytest.mark.moments
@pytest.mark.parametrize(("work", "count"), [("run", 200), ("reprint", 50), ("replace", 50)])
def test_very_many_moments_with_a_server(work: str, count: int, tmp_path: Path, postgres: Server) -> None:
    held(work, killed(work, tmp_path, [postgres.new() for _ in range(count)], 14))
