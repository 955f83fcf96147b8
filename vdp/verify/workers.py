"""The processes that examine pieces, and the order in which their outcomes come.

Not here: what a process needs to examine (`examine`), which pieces there are (`judge`).
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator, Mapping
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import NamedTuple

from vdp.job.load import Job, load_job
from vdp.verify.examine import Examiner
from vdp.verify.manifest import RunReport
from vdp.verify.outcome import Outcome, Task


class Setup(NamedTuple):
    """What a worker needs; everything can be sent to another process."""

    path: Path
    report: RunReport
    job: tuple[Path, Path] | None
    patterns: Mapping[str, str]
    seed: int

    def examiner(self, job: Job | None) -> Examiner:
        return Examiner(self.path, self.report, job, self.patterns, self.seed)


_worker: Examiner


def _prepare(setup: Setup) -> None:
    """A worker's first act."""
    global _worker  # noqa: PLW0603  a worker process has one run; this is how a pool hands it over
    _worker = setup.examiner(None if setup.job is None else load_job(*setup.job))


def _examine(task: Task) -> Outcome:
    return _worker.examine(task)


def outcomes(setup: Setup, examiner: Examiner, tasks: Iterator[Task], workers: int) -> Iterator[Outcome]:
    """Outcomes in order; at most two tasks a worker are ahead."""
    if workers == 1:
        yield from map(examiner.examine, tasks)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, context, _prepare, (setup,)) as pool:
        waiting: list[tuple[Task, Future[Outcome] | None]] = []
        for task in tasks:
            waiting.append((task, _submitted(pool, task)))
            if len(waiting) >= 2 * workers:
                yield _result(*waiting.pop(0), examiner)
        while waiting:
            yield _result(*waiting.pop(0), examiner)


def _submitted(pool: ProcessPoolExecutor, task: Task) -> Future[Outcome] | None:
    """None when the pool is broken."""
    try:
        return pool.submit(_examine, task)
    except BrokenProcessPool:
        return None


def _result(task: Task, future: Future[Outcome] | None, examiner: Examiner) -> Outcome:
    """A worker that dies loses nothing: its chunk is examined here."""
    try:
        return future.result() if future is not None else examiner.examine(task)
    except BrokenProcessPool:
        return examiner.examine(task)
