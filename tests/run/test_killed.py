"""Runs killed at any moment and done again: no number twice, none lost, the files of a run that nothing disturbed.

Twenty moments on each database; `pytest -m moments` has two hundred.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.numbering.conftest import Server, postgres

__all__ = ["postgres"]

ROOT = Path(__file__).parents[2]


def killed(folder: Path, places: list[str], seed: int) -> dict[str, Any]:
    command = [sys.executable, "-m", "tests.run.killed", str(folder), str(len(places)), str(seed), *places]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def held(told: dict[str, Any]) -> None:
    assert told["wrong"] == [], told
    # Moments are spread over the whole run: some come before the numbers are taken, some after.
    assert told["reached"].get("before", 0) > 0
    assert told["reached"].get("allocated", 0) > 0


def test_twenty_moments_with_a_file(tmp_path: Path) -> None:
    held(killed(tmp_path, ["sqlite"] * 20, 11))


def test_twenty_moments_with_a_server(tmp_path: Path, postgres: Server) -> None:
    held(killed(tmp_path, [postgres.new() for _ in range(20)], 12))


@pytest.mark.moments
def test_two_hundred_moments_with_a_file(tmp_path: Path) -> None:
    held(killed(tmp_path, ["sqlite"] * 200, 13))


@pytest.mark.moments
def test_two_hundred_moments_with_a_server(tmp_path: Path, postgres: Server) -> None:
    held(killed(tmp_path, [postgres.new() for _ in range(200)], 14))
