"""How long pdfium takes to open a file of many pages, and to reach its first page and its last.

Each time in a process of its own, as a reader begins, the best of five; the file's bytes are in memory.  In a process
that has just worked on as large a file, the first opening pays for the memory that was given back, up to four times as
much.

python -m tests.benchmarks.opening --records 100000
python -m tests.benchmarks.opening --file out/pieces.pdf
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import pypdfium2 as pdfium

from tests.benchmarks.lap import ROOT
from tests.benchmarks.table import megabytes, table

#: Seconds in which pdfium is to open so many pages.
TARGET, PAGES = 0.2, 200_000
_TIMES = 5


class Opening(NamedTuple):
    """Seconds by the wall clock, `cpu` by the processor's: the file with its number of pages (`opened`), then the first
    page besides, then the last."""

    pages: int
    opened: float
    cpu: float
    first: float
    last: float


def opening(path: Path) -> Opening:
    """Raises CalledProcessError for a file that cannot be opened."""
    command = [sys.executable, "-m", "tests.benchmarks.opening", "--child", str(path)]
    found = [
        Opening(**json.loads(subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, check=True).stdout))
        for _ in range(_TIMES)
    ]
    return Opening(*(min(column) for column in zip(*found, strict=True)))


def _in_child(path: str) -> None:
    wall, cpu = time.perf_counter(), time.process_time()
    document = pdfium.PdfDocument(path)
    pages = len(document)
    opened, cpu = time.perf_counter() - wall, time.process_time() - cpu
    reached = []
    for page in (0, pages - 1):
        begun = time.perf_counter()
        document[page].close()
        reached.append(time.perf_counter() - begun)
    document.close()
    sys.stdout.write(json.dumps(Opening(pages, opened, cpu, *reached)._asdict()))


def verdict(found: Opening) -> str:
    """What is held against the target, where the file is of its size."""
    if found.pages < PAGES:
        return ""
    return f"{'pass' if found.opened <= TARGET else 'FAIL'} (≤ {TARGET})"


def main(words: Sequence[str] | None = None) -> int:
    """Returns 0 when the target was not missed, else 1."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.opening", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--records", type=int, default=PAGES // 2, help="pieces, almost empty, that are made for it")
    parser.add_argument("--file", type=Path, help="a finished file in their place")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--child", help=argparse.SUPPRESS)
    arguments = parser.parse_args(words)
    if arguments.child:
        _in_child(arguments.child)
        return 0
    with tempfile.TemporaryDirectory(prefix="opening-") as home:
        path = arguments.file or _made(Path(home), arguments.records)
        found, size = opening(path.absolute()), path.stat().st_size
    said = verdict(found)
    if arguments.json:
        sys.stdout.write(json.dumps(found._asdict() | {"size": size, "verdict": said}) + "\n")
    else:
        head = ("pages", "MB", "open, s", "of a processor", "first page besides, s", "last page besides, s", "")
        times = [f"{seconds:.4f}" for seconds in found[1:]]
        sys.stdout.write(table(head, [(f"{found.pages:,}", megabytes(size), *times, said)]))
    return int(said.startswith("FAIL"))


def _made(home: Path, pieces: int) -> Path:
    from tests.benchmarks.product import write_plain

    path = home / "plain.pdf"
    write_plain(pieces, path)
    return path


if __name__ == "__main__":
    sys.exit(main())
