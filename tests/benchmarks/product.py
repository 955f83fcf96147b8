"""`vdp` as a contestant, and whatever else the benchmarks ask of it: the only module here that knows `vdp.run`."""

from __future__ import annotations

from pathlib import Path

from vdp.run.intake import take_in
from vdp.run.make import book_of, make
from vdp.run.opening import open_job


def compose(folder: Path, records: Path, count: int, out: Path) -> None:
    """Everything that a run does before it verifies: both passes over the records, then both files, whole."""
    compose_with(folder, records, count, out, workers=1)


def compose_with(folder: Path, records: Path, count: int, out: Path, *, workers: int) -> None:
    """The same in any number of worker processes.  Writes pieces.pdf beside `out`, then renames it."""
    opened = open_job(folder / "job.yaml", records)
    intake = take_in(opened.plan, opened.table)
    if intake.pieces != count:
        raise ValueError(f"{count} records, {intake.pieces} accepted: {intake.refused[:3]}")
    home = out.with_suffix("")
    home.mkdir(exist_ok=True)
    book = book_of(intake.plan, opened.table, intake.pieces)
    header = opened.table.header
    make(intake.plan, intake.accepted(), book, home, workers=workers, header=header, tell=lambda _: None)
    (home / "pieces.pdf").replace(out)
