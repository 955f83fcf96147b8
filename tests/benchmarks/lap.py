"""One contestant's run in a process of its own, on the core of whoever starts it, and its figures.

The clock starts when everything is imported and stops when the file is closed.  Peak memory is the process's own high
water mark, which counts the imports.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from pathlib import Path
from typing import Literal, NamedTuple

from tests.benchmarks.contestants import CONTESTANTS

Clock = Literal["wall", "cpu"]
ROOT = Path(__file__).parent.parent.parent


class Lap(NamedTuple):
    """`wall` and `cpu` seconds, `peak` and `size` in bytes."""

    name: str
    records: int
    wall: float
    cpu: float
    peak: int
    size: int

    def rate(self, clock: Clock) -> float:
        """Records a second."""
        return self.records / (self.wall if clock == "wall" else self.cpu)


def pin(core: int) -> None:
    """Ties this process, and those that it starts from now on, to one core."""
    os.sched_setaffinity(0, {core})


def run_lap(name: str, folder: Path, records: Path, count: int, out: Path) -> Lap:
    """Runs a contestant.  Raises CalledProcessError when it fails."""
    command = [sys.executable, "-m", "tests.benchmarks.lap", name, str(folder), str(records), str(count), str(out)]
    done = subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, check=True)
    return Lap(**json.loads(done.stdout))


def peak_memory() -> int:
    """This process's largest resident set in bytes (Linux; getrusage would count the parent's before exec)."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    found = re.search(r"^VmHWM:\s+(\d+) kB", status, re.M)
    if found is None:
        raise OSError("/proc/self/status has no VmHWM")
    return int(found[1]) * 1024


def _main(name: str, folder: str, records: str, count: str, out: str) -> None:
    compose = CONTESTANTS[name].compose()
    wall, cpu = time.perf_counter(), time.process_time()
    compose(Path(folder), Path(records), int(count), Path(out))
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    lap = Lap(name, int(count), wall, cpu, peak_memory(), Path(out).stat().st_size)
    sys.stdout.write(json.dumps(lap._asdict()))


if __name__ == "__main__":
    _main(*sys.argv[1:])
