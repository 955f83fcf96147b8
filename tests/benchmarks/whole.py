"""Times of whole processes, start to exit: what a person at a terminal waits for."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks.lap import ROOT

#: A process is started so often; the shortest time counts, as nothing makes a process faster than it is.
_TIMES = 5


def whole_ratio(home: Path) -> float:
    """(a) composing 300 letters, over `vdp run`, which composes and verifies them; 0 when a run is not good."""
    records, out = home / "records-300.csv", home / "whole"
    straight = [sys.executable, "-m", "tests.benchmarks.lap", "straight", str(home), str(records), "300", f"{out}.pdf"]
    vdp = [sys.executable, "-m", "vdp.cli", "run", str(home / "job.yaml"), "--records", str(records), "--out", str(out)]
    try:
        return _seconds(straight, 1) / _seconds(vdp, 1)
    except subprocess.CalledProcessError as failed:
        sys.stderr.write(f"{failed.cmd[2]} stopped with exit code {failed.returncode}\n")
        return 0.0


def help_ratio() -> float:
    """Twice the time of importing what the command line is made of, over ``vdp --help``."""
    bare = _seconds([sys.executable, "-c", "import typer, rich"], _TIMES)
    return 2 * bare / _seconds([sys.executable, "-m", "vdp.cli", "--help"], _TIMES)


def _seconds(command: Sequence[str], times: int) -> float:
    """The shortest wall time.  Raises CalledProcessError when the command fails."""
    found = []
    for _ in range(times):
        begun = time.perf_counter()
        subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True)
        found.append(time.perf_counter() - begun)
    return min(found)
