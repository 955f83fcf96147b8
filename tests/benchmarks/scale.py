"""One worker against two, the same bytes from both; what joining chunks takes; how fast the file opens.

python -m tests.benchmarks.scale --records 100000
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.benchmarks.judge import judge
from tests.benchmarks.lap import ROOT
from tests.benchmarks.letter.job import make_job
from tests.benchmarks.opening import PAGES, opening
from tests.benchmarks.opening import TARGET as OPENING
from tests.benchmarks.table import megabytes, table

#: Two workers over one in the second pass, composing and joining, which is what they share; the first pass is one
#: process's, whatever the workers.
TARGET = 1.8


def measure(count: int, workers: int, home: Path) -> dict[str, Any]:
    """Raises ValueError when the files differ, or are wrong."""
    make_job(home, count)
    one, many = home / "one.pdf", home / "many.pdf"
    alone, together = _compose(home, count, one, 1), _compose(home, count, many, workers)
    if _digest(one) != _digest(many):
        raise ValueError(f"{workers} workers make other bytes than one")
    if faults := judge(one, home, home / "records.csv", count):
        raise ValueError(faults[0])
    many.unlink()
    opened = opening(one)
    return {
        "records": count,
        "workers": workers,
        "alone": alone,
        "together": together,
        "ratio": alone["second"] / together["second"],
        "both": sum(alone.values()) / sum(together.values()),
        "size": one.stat().st_size,
        "joining": _child("join", home, count, home / "joined.pdf", 1),
        "pages": opened.pages,
        "opening": opened.opened,
        "last page": opened.last,
    }


def _compose(home: Path, count: int, out: Path, workers: int) -> dict[str, float]:
    times: dict[str, float] = _child("compose", home, count, out, workers)
    return times


def _child(what: str, home: Path, count: int, out: Path, workers: int) -> Any:
    """A fresh process on as many cores as workers."""
    command = [sys.executable, "-m", "tests.benchmarks.scale", "--child", what, str(home), str(count), str(out)]
    done = subprocess.run([*command, str(workers)], cwd=ROOT, stdout=subprocess.PIPE, check=True)
    return json.loads(done.stdout)


def _in_child(what: str, home: str, count: str, out: str, workers: str) -> None:
    from tests.benchmarks.product import compose_with, join

    os.sched_setaffinity(0, set(range(int(workers))))
    folder, records = Path(home), Path(home) / "records.csv"
    if what == "join":
        answer: Any = join(folder, records, int(count), Path(out))
    else:
        answer = compose_with(folder, records, int(count), Path(out), workers=int(workers))._asdict()
    sys.stdout.write(json.dumps(answer))


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def verdicts(found: Mapping[str, Any]) -> dict[str, str]:
    """What is held against a target, where this measurement can be."""
    said = {}
    if found["workers"] == 2:
        said["ratio"] = f"{'pass' if found['ratio'] >= TARGET else 'FAIL'} (≥ {TARGET})"
    if found["pages"] >= PAGES:
        said["opening"] = f"{'pass' if found['opening'] <= OPENING else 'FAIL'} (≤ {OPENING})"
    return said


def told(found: Mapping[str, Any]) -> str:
    """The tables."""
    records, said = found["records"], verdicts(found)
    rows = [
        (
            str(workers),
            *(f"{1e6 * seconds / records:,.0f}" for seconds in times.values()),
            f"{records / sum(times.values()):,.0f}",
        )
        for workers, times in ((1, found["alone"]), (found["workers"], found["together"]))
    ]
    text = table(("workers", "first pass µs/record", "second pass µs/record", "records/s"), rows)
    text += f"\n{found['workers']} workers over one, composing and joining: {found['ratio']:.2f} ×"
    text += f" {said.get('ratio', '')}; with the first pass {found['both']:.2f} ×; the same bytes\n"
    text += f"joining {megabytes(found['size'])} MB of chunks: {found['joining']:.2f} s\n"
    text += f"opening {found['pages']:,} pages in pdfium: {found['opening']:.3f} s {said.get('opening', '')}"
    text += f", the last page besides in {found['last page']:.2f} s\n"
    return text


def main(words: Sequence[str] | None = None) -> int:
    """Returns 0 when no target was missed, else 1."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.scale", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--records", type=int, default=100_000)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--child", nargs=5, help=argparse.SUPPRESS)
    arguments = parser.parse_args(words)
    if arguments.child:
        _in_child(*arguments.child)
        return 0
    if arguments.workers > (os.cpu_count() or 1):
        parser.error(f"{arguments.workers} workers want as many cores, there are {os.cpu_count()}")
    with tempfile.TemporaryDirectory(prefix="letter-") as home:
        try:
            found = measure(arguments.records, arguments.workers, Path(home))
        except ValueError as wrong:
            sys.stderr.write(f"no time: {wrong}\n")
            return 1
    sys.stdout.write(json.dumps(found) + "\n" if arguments.json else told(found))
    return int(any(one.startswith("FAIL") for one in verdicts(found).values()))


if __name__ == "__main__":
    sys.exit(main())
