"""Composing in many processes, with the same bytes as in one.

A chunk is a run of whole groups of pieces.  Each worker builds its own plan from the same job and writes final objects;
the parent only joins, in order.  A worker that dies loses its chunks and no more: they are composed again.
Not here: workers on other machines (`cluster`).
"""

from __future__ import annotations

import marshal
import multiprocessing
import pickle
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, NamedTuple, Protocol

from vdp.compose.piece import Accepted, compose
from vdp.errors import CallerError
from vdp.job.load import load_job
from vdp.pdf.arithmetic import PIECES_IN_GROUP
from vdp.pdf.body import Chunk, ChunkWriter, Ticket
from vdp.pdf.content import Renderer
from vdp.pdf.writer import Writer
from vdp.plan.build import Plan
from vdp.run.lines import BATCH, batches, document_parts, manifest_lines, rendered
from vdp.run.opening import plan_for
from vdp.run.rest import for_good
from vdp.run.web import places_of

#: Records in a chunk given to a worker: whole groups.
CHUNK = 32 * PIECES_IN_GROUP
#: Times that a pool is begun anew before the machine itself is taken to be at fault.
MOST_DEATHS = 3


@dataclass(frozen=True, slots=True)
class Task:
    """What a worker needs to build the same plan: paths, and what the first pass found."""

    job: Path
    records: Path
    header: tuple[str, ...]
    needs: Mapping[str, int]
    pictures: Mapping[Path, tuple[int, int]]
    ticket: Ticket


class Done(NamedTuple):
    """A finished chunk: its part of the file, its manifest lines, its count of symbols."""

    chunk: Chunk
    lines: bytes
    symbols: int


class Worker:
    """What a process keeps from chunk to chunk."""

    def __init__(self, task: Task, plan: Plan | None = None) -> None:
        """`plan` where the job's was made before."""
        plan = plan or plan_for(load_job(task.job, task.records), task.header)
        self.plan: Plan = plan.sized(task.needs, task.pictures)
        self.ticket = task.ticket
        self.renderer = Renderer(task.ticket.dpi, task.ticket.names)
        self.place_of = places_of(plan.job, task.ticket.arithmetic.pieces)

    def compose(self, path: Path, records: list[Accepted]) -> Done:
        lines: list[bytes] = []
        symbols = 0
        with ChunkWriter(path, self.ticket, first_piece=records[0].nth) as writer:
            for part in batches(records, BATCH):
                pieces = compose(self.plan, part)
                contents = rendered(self.renderer, pieces)
                first, fields = part[0].nth, self.plan.job.model.part_fields
                writer.add(contents, document_parts(pieces, part, fields, self.place_of, first))
                lines.extend(manifest_lines(pieces, contents, self.ticket.dpi, self.place_of, first))
                symbols += sum(len(piece.symbols) for piece in pieces)
            return Done(writer.close(self.renderer.glyphs), b"".join(lines), symbols)


class _Hand:
    """What a worker process knows: its job's plan from the beginning, its task since it was first told."""

    plan: Plan
    worker: Worker
    told = b""


def _open(job: Path, records: Path, header: tuple[str, ...]) -> None:
    for_good()
    _Hand.plan = plan_for(load_job(job, records), header)


def _ready() -> None:
    """Asked of each process, for one is begun only when there is something to do."""


def _compose(told: bytes, path: Path, packed: bytes) -> Done:
    if told != _Hand.told:
        _Hand.worker, _Hand.told = Worker(pickle.loads(told), _Hand.plan), told  # noqa: S301  from who began this one
    return _Hand.worker.compose(path, _unpacked(packed))


def begin(workers: int, job: Path, records: Path, header: tuple[str, ...]) -> ProcessPoolExecutor:
    """Worker processes that get ready while their caller does something else."""
    # Forked from a process that has imported everything once and runs no thread; elsewhere each imports it anew.
    forked = "forkserver" in multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("forkserver" if forked else "spawn")
    if forked:
        context.set_forkserver_preload(["__main__", __name__])
    pool = ProcessPoolExecutor(workers, context, _open, (job, records, header))
    for _ in range(workers):
        pool.submit(_ready)
    return pool


#: Worker processes as soon as they are ready.
Begun = Future[ProcessPoolExecutor]


@contextmanager
def at_hand(workers: int, job: Path, records: Path, header: tuple[str, ...]) -> Iterator[Begun | None]:
    """The same for more than one worker, without a wait; they are sent home in the end."""
    if workers == 1:
        yield None
        return
    with ThreadPoolExecutor(1) as waiting:
        begun = waiting.submit(begin, workers, job, records, header)
        try:
            yield begun
        finally:
            begun.result().shutdown(wait=True, cancel_futures=True)


def _packed(records: list[Accepted]) -> bytes:
    """Records on their way to a process of the same Python: a third of the time that pickling takes."""
    first = records[0]
    rows = [
        (nth, row, [*values.values()], [*serials.values()], columns) for nth, row, values, serials, columns in records
    ]
    return marshal.dumps(([*first.values], [*first.serials], rows))


def _unpacked(packed: bytes) -> list[Accepted]:
    names, series, rows = marshal.loads(packed)  # noqa: S302  packed by the process that began this one
    return [
        Accepted(
            nth, row, dict(zip(names, values, strict=True)), dict(zip(series, serials, strict=True)), columns=columns
        )
        for nth, row, values, serials, columns in rows
    ]


class Crew(Protocol):
    """Whoever composes chunks.  `len` is how many it holds."""

    def __len__(self) -> int: ...

    def give(self, number: int, records: list[Accepted]) -> None: ...

    def take(self, number: int) -> Done:
        """The finished chunk of that number.  Raises CallerError when nobody can make it."""

    def close(self) -> None: ...


class Pool:
    """A process pool of this machine that is begun anew when a worker dies, with everything that was under way."""

    def __init__(self, task: Task, workers: int, scratch: Path, begun: Begun | None = None) -> None:
        """`begun` are workers of the same job that are ready."""
        self._task, self._workers, self._scratch = task, workers, scratch
        self._told = pickle.dumps(task)
        self._given: dict[int, bytes] = {}
        self._waiting: dict[int, Future[Done]] = {}
        self._deaths = 0
        self._pool = self._begin() if begun is None else begun.result()

    def _begin(self) -> ProcessPoolExecutor:
        return begin(self._workers, self._task.job, self._task.records, self._task.header)

    def __len__(self) -> int:
        return len(self._given)

    def give(self, number: int, records: list[Accepted]) -> None:
        packed = self._given[number] = _packed(records)
        try:
            self._hand_out(number, packed)
        except BrokenProcessPool:
            self._again()

    def take(self, number: int) -> Done:
        """The chunk of that number, composed again if its worker died.  Raises CallerError when workers keep dying."""
        while True:
            try:
                done = self._waiting[number].result()
            except BrokenProcessPool:
                self._again()
                continue
            del self._given[number], self._waiting[number]
            return done

    def _hand_out(self, number: int, packed: bytes) -> None:
        path = self._scratch / f"{number}.chunk"
        self._waiting[number] = self._pool.submit(_compose, self._told, path, packed)

    def _again(self) -> None:
        self._deaths += 1
        if self._deaths > MOST_DEATHS:
            raise CallerError.one(
                "workers", f"worker processes died {self._deaths} times", "is memory short? run with fewer --workers"
            )
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._pool = self._begin()
        for number, packed in self._given.items():
            self._hand_out(number, packed)

    def close(self) -> None:
        self._pool.shutdown(wait=True, cancel_futures=True)


def join_chunks(
    crew: Crew,
    ahead: int,
    chunks: Iterable[list[Accepted]],
    writer: Writer,
    lines: BinaryIO,
    tell: Callable[[int], None],
) -> tuple[int, int]:
    """Hands out chunks, at most `ahead` at a time, and joins them in order; returns pieces and symbols."""
    pieces = symbols = following = 0
    source = enumerate(chunks)
    exhausted = False
    while len(crew) or not exhausted:
        while not exhausted and len(crew) < ahead:
            number, records = next(source, (-1, []))
            if records:
                crew.give(number, records)
            else:
                exhausted = True
        if len(crew):
            done = crew.take(following)
            writer.append(done.chunk)
            done.chunk.path.unlink(missing_ok=True)
            lines.write(done.lines)
            following += 1
            pieces += done.lines.count(b"\n")
            symbols += done.symbols
            tell(pieces)
    return pieces, symbols
