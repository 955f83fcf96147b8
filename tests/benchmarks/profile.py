"""Where a record's microseconds go while the reference letter is composed, and what each part cannot do without.

    python -m tests.benchmarks.profile --records 10000

A part's floor is what is left of it when everything is known beforehand: the same bytes read by the csv module, put
together from ready pieces, hashed, compressed and written.  Processor time of one core.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import json
import os
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from tests.benchmarks import product
from tests.benchmarks.lap import pin
from tests.benchmarks.letter.job import make_job
from tests.benchmarks.table import table


class Part(NamedTuple):
    """`taken` and `floor` in microseconds a record; `floor_is` says what the floor was measured by."""

    name: str
    taken: float
    floor: float
    floor_is: str


def profile(folder: Path, records: Path, count: int, out: Path) -> list[Part]:
    """Composes once, as a run does, and does the floors' work beside it.  The collector of cycles rests."""
    watch, floors = product.stopwatch(), product.stopwatch()
    with floors("read"):
        rows = sum(1 for _ in csv.DictReader(io.StringIO(records.read_text(encoding="utf-8"))))
    stages = product.Stages(folder, records, count, out, watch)
    for _, contents in stages:
        with floors("hash"):
            for front, back in zip(contents[::2], contents[1::2], strict=True):
                digest = hashlib.sha256(front)
                digest.update(back)
        # A content stream is put together from some thirty fragments.
        cuts = [_cut(content, 30) for content in contents]
        with floors("join"):
            for cut in cuts:
                b"".join(cut)
        with floors("squeeze"):
            packed = [stages.compress(content) for content in contents]
        with floors("write"), Path(os.devnull).open("wb") as nothing:
            for data in packed:
                nothing.write(data)
    if rows != count:
        raise ValueError(f"{rows} rows, not {count}")

    def part(name: str, keys: Sequence[str], floor: Sequence[str], floor_is: str) -> Part:
        taken = sum(watch.seconds[key] for key in keys) / count * 1e6
        return Part(name, taken, sum(floors.seconds[key] for key in floor) / count * 1e6, floor_is)

    return [
        part("opening job, layout, artwork, once a run", ("open",), (), "none: less a record the longer the list"),
        part("first pass: reading, rules, every item tried", ("first",), ("read",), "the list read by the csv module"),
        part("reading again, numbers", ("accepted",), ("read",), "the list read by the csv module"),
        part("marks: texts set, symbols encoded", ("compose",), (), "none"),
        part("operators of both pages", ("render",), ("join",), "the same bytes joined from thirty pieces a page"),
        part("manifest and document parts", ("manifest",), ("hash",), "SHA-256 of the same bytes"),
        part("compressing and writing", ("write",), ("squeeze", "write"), "the same bytes compressed and written"),
    ]


def _cut(data: bytes, pieces: int) -> list[bytes]:
    step = max(1, len(data) // pieces)
    return [data[at : at + step] for at in range(0, len(data), step)]


def told(parts: Sequence[Part]) -> str:
    rows = [(one.name, f"{one.taken:.0f}", f"{one.floor:.0f}", one.floor_is) for one in parts]
    rows.append(("together", f"{sum(p.taken for p in parts):.0f}", f"{sum(p.floor for p in parts):.0f}", ""))
    return table(("part", "µs a record", "floor", "what the floor is"), rows)


def main(arguments: Sequence[str], write: Callable[[str], object] = sys.stdout.write) -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=int, default=10_000)
    parser.add_argument("--core", type=int, default=0, help="the core that everything runs on")
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args(arguments)
    pin(asked.core)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_job(folder, asked.records)
        parts = profile(folder, folder / "records.csv", asked.records, folder / "out.pdf")
    write(json.dumps([part._asdict() for part in parts]) + "\n" if asked.json else told(parts))


if __name__ == "__main__":
    main(sys.argv[1:])
