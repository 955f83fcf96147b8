"""A process that takes numbers as fast as it can: `python -m tests.numbering.racer PLACE NAME RUNS`.

Waits for a line on standard input, then prints "RUN FIRST COUNT" for each allotment once it is stored.
"""

from __future__ import annotations

import sys

from .made import opened, series


def race(place: str, name: str, runs: int) -> None:
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    sys.stdin.readline()
    with opened(place) as ledger:
        for number in range(runs):
            run, count = f"{name}-{number}", 1 + number * 7 % 13
            first = ledger.allocate(series(), count, run=run, job="race")
            sys.stdout.write(f"{run} {first} {count}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    race(sys.argv[1], sys.argv[2], int(sys.argv[3]))
