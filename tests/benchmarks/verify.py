"""Pages and symbols that `vdp` verifies a second on one core: the letter, and pages of four symbols on two plates.

    python -m tests.benchmarks.verify --records 300

Each job is run, which holds every piece against its own row, then verified once more from the files alone, both without
grades; and run again with the four pieces graded that a job has graded if it says nothing, however long its list.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from tests.benchmarks.lap import ROOT, pin
from tests.benchmarks.letter.job import make_job
from tests.benchmarks.table import table

#: Pages a second and core, of two plates and four symbols each.
TARGET = 100
JOBS = {"layout": "two-sided letter", "dense": "four symbols a page"}


class Verification(NamedTuple):
    """`how` is "with the records", "files alone" or "four pieces graded too"."""

    job: str
    how: str
    pages: int
    symbols: int
    seconds: float

    @property
    def verdict(self) -> str:
        """Of the pages that the target speaks of, with everything that a run checks."""
        if self.job != "dense" or self.how != "with the records":
            return ""
        return f"{'pass' if self.pages / self.seconds >= TARGET else 'FAIL'} (≥ {TARGET})"


def measure(layout: str, count: int, home: Path) -> list[Verification]:
    """Raises ValueError when a verification finds anything, or not as many pieces as there are."""
    job, out = make_job(home, count, layout), home / "out"
    graded = _vdp("run", str(job), "--out", str(home / "graded"))
    with job.open("a", encoding="utf-8") as file:
        file.write("\ngrade: {sample: 0}\n")
    ran = _vdp("run", str(job), "--out", str(out))
    again = _vdp("verify", str(out))
    found = []
    for how, answer in (("with the records", ran), ("files alone", again), ("four pieces graded too", graded)):
        if not answer["ok"] or answer["pieces"] != count or answer["symbols_decoded"] != answer["symbols_expected"]:
            raise ValueError(f"{JOBS[layout]}, {how}: {answer['pieces']} pieces, findings {answer['findings'][:3]}")
        seconds = answer["seconds"]["verify"]
        found.append(Verification(layout, how, 2 * count, answer["symbols_decoded"], seconds))
    return found


def _vdp(*words: str) -> dict[str, Any]:
    command = [sys.executable, "-m", "vdp.cli", *words, "--json"]
    done = subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, check=False)
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def main(words: Sequence[str] | None = None) -> int:
    """Returns 0 when the target was reached, else 1."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.verify", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--records", type=int, default=300)
    parser.add_argument("--core", type=int, default=0)
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args(words)
    pin(arguments.core)
    with tempfile.TemporaryDirectory(prefix="letter-") as home:
        try:
            found = [one for layout in JOBS for one in measure(layout, arguments.records, Path(home) / layout)]
        except ValueError as wrong:
            sys.stderr.write(f"no time: {wrong}\n")
            return 1
    if arguments.json:
        rows = [one._asdict() | {"verdict": one.verdict} for one in found]
        sys.stdout.write(json.dumps({"verifications": rows}, ensure_ascii=False) + "\n")
    else:
        head = ("job", "how", "pages", "pages/s", "symbols/s", "ms/page", "")
        sys.stdout.write(table(head, [_row(one) for one in found]))
    return int(any(one.verdict.startswith("FAIL") for one in found))


def _row(one: Verification) -> tuple[str, ...]:
    return (
        JOBS[one.job],
        one.how,
        f"{one.pages:,}",
        f"{one.pages / one.seconds:,.0f}",
        f"{one.symbols / one.seconds:,.0f}",
        f"{1000 * one.seconds / one.pages:,.1f}",
        one.verdict,
    )


if __name__ == "__main__":
    sys.exit(main())
