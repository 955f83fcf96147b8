"""Peak memory and cost of a record as the job grows; from a million records on, to a file that is forgotten at once.

python -m tests.benchmarks.memory 1000 10000 100000 1000000
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks.judge import judge
from tests.benchmarks.lap import Lap, pin, run_lap
from tests.benchmarks.letter.job import make_job
from tests.benchmarks.letter.records import make_records
from tests.benchmarks.table import megabytes, table

#: Records → the most bytes that composing them may take.
LIMITS = {100_000: 200e6, 1_000_000: 280e6}
#: From so many records on, nothing is kept.
FORGOTTEN = 1_000_000


def measure(counts: Sequence[int], home: Path) -> list[Lap]:
    """Raises ValueError for a file that is not what was asked for."""
    make_job(home, 1)
    laps = []
    for count in counts:
        records, out = home / f"records-{count}.csv", home / "vdp.pdf"
        make_records(count, records)
        sys.stderr.write(f"{count:,} records\n")
        forgotten = count >= FORGOTTEN
        lap = run_lap("vdp-to-nothing" if forgotten else "vdp", home, records, count, out)
        if not forgotten and (faults := judge(out, home, records, count)):
            raise ValueError(f"{count} records: {faults[0]}")
        out.unlink()
        records.unlink()
        laps.append(lap)
    return laps


def verdict(lap: Lap) -> str:
    limit = LIMITS.get(lap.records)
    if limit is None:
        return ""
    return f"{'pass' if lap.peak <= limit else 'FAIL'} (≤ {megabytes(limit)})"


def main(words: Sequence[str] | None = None) -> int:
    """Returns 0 when no limit was passed, else 1."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.memory", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("counts", type=int, nargs="*", default=[1_000, 10_000, 100_000])
    parser.add_argument("--core", type=int, default=0)
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args(words)
    pin(arguments.core)
    with tempfile.TemporaryDirectory(prefix="letter-") as home:
        try:
            laps = measure(arguments.counts, Path(home))
        except ValueError as wrong:
            sys.stderr.write(f"no time: {wrong}\n")
            return 1
    if arguments.json:
        rows = [lap._asdict() | {"verdict": verdict(lap)} for lap in laps]
        sys.stdout.write(json.dumps({"laps": rows}, ensure_ascii=False) + "\n")
    else:
        head = ("records", "peak MB", "records/s", "CPU µs/record", "bytes/record", "")
        sys.stdout.write(table(head, [_row(lap) for lap in laps]))
    return int(any(verdict(lap).startswith("FAIL") for lap in laps))


def _row(lap: Lap) -> tuple[str, ...]:
    return (
        f"{lap.records:,}",
        megabytes(lap.peak),
        f"{lap.rate('wall'):,.0f}",
        f"{1e6 * lap.cpu / lap.records:,.0f}",
        f"{lap.size / lap.records:,.0f}" if lap.size else "not kept",
        verdict(lap),
    )


if __name__ == "__main__":
    sys.exit(main())
