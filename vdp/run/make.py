"""The second pass: accepted records → pieces.pdf and pieces.jsonl, in this process or in many, with the same bytes.

A chunk is a run of whole groups of pieces.  Each worker builds its own plan from the same job and writes final objects;
the parent only joins.
"""

from __future__ import annotations

import hashlib
import multiprocessing
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, BinaryIO

from vdp import __version__
from vdp.audit.manifest import SymbolLine, piece_line
from vdp.compose.piece import Accepted, Piece, compose
from vdp.errors import CallerError
from vdp.job.faces import job_faces
from vdp.job.load import load_job
from vdp.pdf.arithmetic import PIECES_IN_GROUP
from vdp.pdf.body import Chunk, ChunkWriter, Ticket
from vdp.pdf.book import Book
from vdp.pdf.content import Renderer
from vdp.pdf.writer import Writer
from vdp.plan.build import Plan
from vdp.plan.steps import FormStep
from vdp.records.table import Table
from vdp.run.identity import created_of, identity_of, inputs_of
from vdp.run.opening import plan_for
from vdp.units import points

#: Records composed at a time: enough for the batched encoders, little enough to stay in cache.
BATCH = 64
#: Groups of pieces in a chunk given to a worker.
GROUPS = 32

Tell = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Made:
    """What came out: pieces written, symbols drawn, and which PDF font is which face."""

    pieces: int
    symbols: int
    fonts: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Task:
    """What a worker needs to build the same plan: paths and what the first pass found."""

    job: Path
    records: Path
    header: tuple[str, ...]
    needs: Mapping[str, int]
    pictures: Mapping[Path, tuple[int, int]]
    ticket: Ticket


def book_of(plan: Plan, table: Table, pieces: int) -> Book:
    """What all pieces share, as the writer needs to know it."""
    job = plan.job
    inputs = inputs_of(job, table, plan, plan.pictures)
    return Book(
        dpi=plan.page.dpi,
        width=plan.page.width,
        height=plan.page.height,
        bleed=plan.page.bleed,
        pieces=pieces,
        faces=job_faces(job),
        spots=job.model.spots,
        forms={step.asset: step.marks for step in plan.steps() if isinstance(step, FormStep)},
        art=plan.art,
        pictures={f"image:{path}": path for path in sorted(plan.pictures)},
        colouring=job,
        title=job.model.job,
        created=created_of(job),
        identity=identity_of(inputs),
        creator=f"vdp {__version__}",
    )


def make(
    plan: Plan,
    records: Iterable[Accepted],
    book: Book,
    folder: Path,
    *,
    workers: int,
    header: tuple[str, ...],
    tell: Tell,
) -> Made:
    """Writes both files whole.  `records` are consumed once, in order.  Raises CallerError on a full disk."""
    part = folder / "pieces.jsonl.part"
    try:
        with ExitStack() as stack:
            lines = stack.enter_context(part.open("wb"))
            writer = stack.enter_context(Writer(folder / "pieces.pdf", book))
            if workers == 1:
                made = _alone(plan, records, book, writer, lines, tell)
            else:
                task = _Task(plan.job.path, plan.job.records_path, header, plan.needs, plan.pictures, writer.ticket)
                made = _together(task, records, writer, lines, folder, workers, tell)
        part.replace(folder / "pieces.jsonl")
    except OSError as error:
        raise CallerError.one(str(folder), f"cannot be written: {error.strerror}", "free some space") from error
    finally:
        part.unlink(missing_ok=True)
    return made


def _alone(plan: Plan, records: Iterable[Accepted], book: Book, writer: Writer, lines: BinaryIO, tell: Tell) -> Made:
    renderer = Renderer(book.dpi, writer.names)
    pieces = symbols = 0
    for batch in _batches(records, BATCH):
        composed = compose(plan, batch)
        contents = _rendered(renderer, composed)
        writer.add(contents)
        lines.write(b"".join(manifest_lines(composed, contents, book.dpi)))
        pieces += len(composed)
        symbols += sum(len(piece.symbols) for piece in composed)
        tell(pieces)
    return Made(pieces, symbols, writer.finish(renderer.glyphs).fonts)


def _rendered(renderer: Renderer, pieces: Sequence[Piece]) -> list[bytes]:
    return renderer.render([side for piece in pieces for side in (piece.front, piece.back)])


def manifest_lines(pieces: Sequence[Piece], contents: Sequence[bytes], dpi: int) -> Iterator[bytes]:
    """The manifest's lines of composed pieces; `contents` are their sides' content streams, front and back in turn."""
    for at, piece in enumerate(pieces):
        digest = hashlib.sha256(contents[2 * at])
        digest.update(contents[2 * at + 1])
        symbols = []
        for symbol in piece.symbols:
            x, y, width, height = symbol.box
            edges = tuple(round(points(edge, dpi), 4) for edge in (x, y, x + width, y + height))
            page = 2 * piece.nth + symbol.side + 1
            symbols.append(
                SymbolLine(symbol.name, symbol.symbology, symbol.identifier, symbol.plate, page, edges, symbol.data)  # type: ignore[arg-type]  # four edges
            )
        yield piece_line(piece.nth + 1, piece.row, piece.language, piece.serials, symbols, digest.hexdigest())


def _batches(records: Iterable[Accepted], size: int) -> Iterator[list[Accepted]]:
    source = iter(records)
    while batch := list(islice(source, size)):
        yield batch


# -- many processes --------------------------------------------------------------------------------------------------

_plan: Plan
_renderer: Renderer
_ticket: Ticket


def _prepare(task: _Task) -> None:
    """A worker's first act: its own plan, sized as the parent's."""
    global _plan, _ticket  # noqa: PLW0603  a worker process has one job; this is how a pool hands it over
    job = load_job(task.job, task.records)
    _plan = plan_for(job, task.header).sized(task.needs, task.pictures)
    _ticket = task.ticket


def _chunk(path: Path, batch: list[Accepted]) -> tuple[Chunk, bytes, int]:
    """Composes a chunk in a worker: the chunk's file, its manifest lines, its count of symbols."""
    writer = ChunkWriter(path, _ticket, first_piece=batch[0].nth)
    renderer = Renderer(_ticket.dpi, _ticket.names)
    lines: list[bytes] = []
    symbols = 0
    for part in _batches(batch, BATCH):
        pieces = compose(_plan, part)
        contents = _rendered(renderer, pieces)
        writer.add(contents)
        lines.extend(manifest_lines(pieces, contents, _ticket.dpi))
        symbols += sum(len(piece.symbols) for piece in pieces)
    return writer.close(renderer.glyphs), b"".join(lines), symbols


def _together(
    task: _Task, records: Iterable[Accepted], writer: Writer, lines: BinaryIO, folder: Path, workers: int, tell: Tell
) -> Made:
    """Hands out chunks, at most two a worker ahead, and joins them in order."""
    context = multiprocessing.get_context("spawn")
    pieces = symbols = 0
    with (
        TemporaryDirectory(prefix=".vdp-", dir=folder) as scratch,
        ProcessPoolExecutor(workers, context, _prepare, (task,)) as pool,
    ):
        waiting: dict[int, Future[Any]] = {}
        source = enumerate(_batches(records, GROUPS * PIECES_IN_GROUP))
        following, exhausted = 0, False
        while waiting or not exhausted:
            while not exhausted and len(waiting) < 2 * workers:
                number, batch = next(source, (-1, []))
                if not batch:
                    exhausted = True
                    break
                waiting[number] = pool.submit(_chunk, Path(scratch) / f"{number}.chunk", batch)
            if following in waiting:
                wait([waiting[following]], return_when=FIRST_COMPLETED)
                chunk, part, count = waiting.pop(following).result()
                writer.append(chunk)
                chunk.path.unlink(missing_ok=True)
                lines.write(part)
                following += 1
                pieces += part.count(b"\n")
                symbols += count
                tell(pieces)
    return Made(pieces, symbols, writer.finish().fonts)
