"""`vdp` as a contestant, and whatever else the benchmarks ask of it: the only module here that knows its rooms."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import islice
from pathlib import Path
from typing import Literal, NamedTuple

from tests.pdf.made import book as plain_book
from tests.pdf.made import parts as plain_parts
from vdp.compose.piece import Accepted
from vdp.compose.piece import compose as compose_pieces
from vdp.pdf.arithmetic import SIDES
from vdp.pdf.body import Chunk, ChunkWriter
from vdp.pdf.book import Book
from vdp.pdf.content import Renderer
from vdp.pdf.squeeze import COMPRESSORS
from vdp.pdf.writer import Writer
from vdp.run.clock import Stopwatch
from vdp.run.intake import Intake, take_in
from vdp.run.lines import BATCH, document_parts, manifest_lines
from vdp.run.make import book_of, make
from vdp.run.numbers import Numbers
from vdp.run.opening import Opened, open_job
from vdp.run.rest import collector_at_rest
from vdp.run.workers import CHUNK, at_hand


class Times(NamedTuple):
    """Seconds by the wall clock of the first pass over the records and of the second."""

    first: float
    second: float


def compose(folder: Path, records: Path, count: int, out: Path) -> None:
    """Everything that a run does before it verifies: both passes over the records, then both files, whole."""
    compose_with(folder, records, count, out, workers=1)


def compose_small(folder: Path, records: Path, count: int, out: Path) -> None:
    """The same with the smaller of the two compressions."""
    _stream(folder, records, count, out, "small")


def compose_to_nothing(folder: Path, records: Path, count: int, out: Path) -> None:
    """The same with a file that is forgotten as it is written; `out` stays empty."""
    _stream(folder, records, count, Path(os.devnull), "fast")
    out.touch()


def compose_with(folder: Path, records: Path, count: int, out: Path, *, workers: int) -> Times:
    """Composes in any number of worker processes; pieces.jsonl stays in a folder beside `out`."""
    begun = time.perf_counter()
    # As a run does it.
    with ExitStack() as stack:
        stack.enter_context(collector_at_rest())
        opened = open_job(folder / "job.yaml", records, {})
        header = opened.table.header
        hands = stack.enter_context(at_hand(workers, opened.job.path, opened.job.records_path, header))
        intake, book = _taken_in(opened, count)
        first = time.perf_counter() - begun
        home = out.with_suffix("")
        home.mkdir(exist_ok=True)
        one_by_one = intake.accepted()
        make(intake.plan, one_by_one, book, home, workers=workers, header=header, tell=lambda _: None, begun=hands)
    (home / "pieces.pdf").replace(out)
    return Times(first, time.perf_counter() - begun - first)


def join(folder: Path, records: Path, count: int, out: Path) -> float:
    """Composes chunks as workers would, one after another; returns the seconds that joining them into `out` takes."""
    intake, book = _taken_in(open_job(folder / "job.yaml", records, {}), count)
    seconds = 0.0
    with Writer(out, book) as writer:
        source = intake.accepted()
        while batch := list(islice(source, CHUNK)):
            chunk = _chunk(intake, writer, batch, out.with_suffix(".chunk"))
            begun = time.perf_counter()
            writer.append(chunk)
            seconds += time.perf_counter() - begun
        begun = time.perf_counter()
        writer.finish()
    return seconds + time.perf_counter() - begun


def write_plain(pieces: int, out: Path) -> None:
    """A file of pieces with a rectangle on each side, which nobody had to compose."""
    with Writer(out, plain_book(pieces)) as writer:
        for start in range(0, pieces, BATCH):
            numbers = range(start + 1, min(start + BATCH, pieces) + 1)
            contents = [b"0 g %d 10 9 9 re f" % number for number in numbers for _ in range(SIDES)]
            writer.add(contents, plain_parts(len(numbers), start + 1))
        writer.finish()


def stopwatch() -> Stopwatch:
    """The one of a run, by the time of the processor."""
    return Stopwatch(time.process_time)


class Stages:
    """Composes as a run with one worker does, each part under a stopwatch; gives each batch's manifest lines and
    content streams.  Parts: open, first, accepted, compose, render, manifest, write."""

    def __init__(self, folder: Path, records: Path, count: int, out: Path, watch: Stopwatch) -> None:
        self._watch, self._out = watch, out
        with watch("open"):
            opened = open_job(folder / "job.yaml", records, {})
        with watch("first"), collector_at_rest():
            self._intake = take_in(opened.plan, opened.table, Numbers(opened.job, opened.series, {}))
        if self._intake.pieces != count:
            raise ValueError(f"{count} records, {self._intake.pieces} accepted: {self._intake.refused[:3]}")
        self._book = book_of(self._intake.plan, opened.table, count, {})
        self.compress = COMPRESSORS["fast"]

    def __iter__(self) -> Iterator[tuple[list[bytes], list[bytes]]]:
        watch, dpi = self._watch, self._book.dpi
        with collector_at_rest(), Writer(self._out, self._book, "fast") as writer:
            renderer = Renderer(dpi, writer.names)
            records = self._intake.accepted()
            while True:
                with watch("accepted"):
                    batch = list(islice(records, BATCH))
                if not batch:
                    break
                with watch("compose"):
                    pieces = compose_pieces(self._intake.plan, batch)
                with watch("render"):
                    contents = renderer.render([side for piece in pieces for side in (piece.front, piece.back)])
                with watch("manifest"):
                    lines = list(manifest_lines(pieces, contents, dpi, lambda _: None, batch[0].nth))
                    parts = list(document_parts(pieces, batch, (), lambda _: None, batch[0].nth))
                with watch("write"):
                    writer.add(contents, parts)
                yield lines, contents
            with watch("write"):
                writer.finish(renderer.glyphs)


def _chunk(intake: Intake, writer: Writer, batch: list[Accepted], path: Path) -> Chunk:
    chunk, renderer = ChunkWriter(path, writer.ticket, batch[0].nth), Renderer(writer.ticket.dpi, writer.names)
    for contents, parts in _contents(intake, iter(batch), renderer):
        chunk.add(contents, parts)
    return chunk.close(renderer.glyphs)


def _taken_in(opened: Opened, count: int) -> tuple[Intake, Book]:
    intake = take_in(opened.plan, opened.table, Numbers(opened.job, opened.series, {}))
    if intake.pieces != count:
        raise ValueError(f"{count} records, {intake.pieces} accepted: {intake.refused[:3]}")
    return intake, book_of(intake.plan, opened.table, intake.pieces, {})


def _stream(folder: Path, records: Path, count: int, out: Path, compression: Literal["fast", "small"]) -> None:
    # As a run does it.
    with collector_at_rest():
        intake, book = _taken_in(open_job(folder / "job.yaml", records, {}), count)
        with Writer(out, book, compression) as writer:
            renderer = Renderer(book.dpi, writer.names)
            for contents, parts in _contents(intake, intake.accepted(), renderer):
                writer.add(contents, parts)
            writer.finish(renderer.glyphs)


def _contents(
    intake: Intake, records: Iterator[Accepted], renderer: Renderer
) -> Iterator[tuple[list[bytes], list[bytes]]]:
    """Content streams and document parts, a batch at a time; the manifest's lines are made and forgotten."""
    while batch := list(islice(records, BATCH)):
        pieces = compose_pieces(intake.plan, batch)
        contents = renderer.render([side for piece in pieces for side in (piece.front, piece.back)])
        for _ in manifest_lines(pieces, contents, intake.plan.page.dpi, lambda _: None, batch[0].nth):
            pass
        yield contents, list(document_parts(pieces, batch, (), lambda _: None, batch[0].nth))
