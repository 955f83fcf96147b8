"""The second pass: accepted records → pieces.pdf and pieces.jsonl, in this process or in many, with the same bytes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import ExitStack, closing
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import BinaryIO

from vdp import __version__
from vdp.compose.piece import Accepted, compose
from vdp.errors import CallerError
from vdp.job.faces import job_faces
from vdp.pdf.book import Book
from vdp.pdf.content import Renderer
from vdp.pdf.writer import Writer
from vdp.plan.build import Plan
from vdp.plan.steps import FormStep
from vdp.records.table import Table
from vdp.run.cluster import Cluster
from vdp.run.folder import owners_own
from vdp.run.identity import created_of, identity_of, inputs_of
from vdp.run.lines import BATCH, batches, document_parts, manifest_lines, rendered
from vdp.run.web import places_of
from vdp.run.workers import CHUNK, Begun, Pool, Task, join_chunks

Tell = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Made:
    """What came out: pieces written, symbols drawn, and which PDF font is which face."""

    pieces: int
    symbols: int
    fonts: Mapping[str, str]


def book_of(plan: Plan, table: Table, pieces: int, firsts: Mapping[str, int]) -> Book:
    """What all pieces share, as the writer needs to know it; `firsts` as in `identity_of`."""
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
        identity=identity_of(inputs, firsts),
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
    cluster: Cluster | None = None,
    begun: Begun | None = None,
) -> Made:
    """Writes both files whole.  `records` are consumed once, in order.  Raises CallerError on a full disk.

    A cluster takes the place of this machine's workers; `begun` are those that are ready.
    """
    part = folder / "pieces.jsonl.part"
    try:
        with ExitStack() as stack:
            lines = stack.enter_context(open(part, "wb", opener=owners_own))
            writer = stack.enter_context(Writer(folder / "pieces.pdf", book, plan.job.model.compression))
            if workers == 1 and cluster is None:
                made = _alone(plan, records, book, writer, lines, tell)
            else:
                task = Task(plan.job.path, plan.job.records_path, header, plan.needs, plan.pictures, writer.ticket)
                scratch = Path(stack.enter_context(TemporaryDirectory(prefix=".vdp-", dir=folder)))
                ahead = 2 * (workers if cluster is None else cluster.size)
                crew = Pool(task, workers, scratch, begun) if cluster is None else cluster.crew(task, scratch)
                stack.enter_context(closing(crew))
                pieces, symbols = join_chunks(crew, ahead, batches(records, CHUNK), writer, lines, tell)
                made = Made(pieces, symbols, writer.finish().fonts)
        part.replace(folder / "pieces.jsonl")
    except OSError as error:
        raise CallerError.one(str(folder), f"cannot be written: {error.strerror}", "free some space") from error
    finally:
        part.unlink(missing_ok=True)
    return made


def _alone(plan: Plan, records: Iterable[Accepted], book: Book, writer: Writer, lines: BinaryIO, tell: Tell) -> Made:
    renderer = Renderer(book.dpi, writer.names)
    place_of = places_of(plan.job, book.pieces)
    pieces = symbols = 0
    for batch in batches(records, BATCH):
        composed = compose(plan, batch)
        contents = rendered(renderer, composed)
        parts = document_parts(composed, batch, plan.job.model.part_fields, place_of, pieces)
        writer.add(contents, parts)
        lines.write(b"".join(manifest_lines(composed, contents, book.dpi, place_of, pieces)))
        pieces += len(composed)
        symbols += sum(len(piece.symbols) for piece in composed)
        tell(pieces)
    return Made(pieces, symbols, writer.finish(renderer.glyphs).fonts)
