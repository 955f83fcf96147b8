"""The processes that examine pieces, and the order in which their outcomes come.

Not here: what a process needs to examine (`examine`), which pieces there are (`judge`).
"""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import CancelledError, Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any, NamedTuple, Protocol, TypeVar

from vdp.job.load import Job, load_job
from vdp.verify.examine import Examiner
from vdp.verify.manifest import RunReport

TaskT = TypeVar("TaskT")
OutcomeT = TypeVar("OutcomeT")
_TaskT_contra = TypeVar("_TaskT_contra", contravariant=True)
_OutcomeT_co = TypeVar("_OutcomeT_co", covariant=True)


class Examining(Protocol[_TaskT_contra, _OutcomeT_co]):
    """Whoever examines what a task names."""

    def examine(self, task: _TaskT_contra) -> _OutcomeT_co: ...


class Preparing(Protocol[_TaskT_contra, _OutcomeT_co]):
    """What makes an examiner in whatever process; everything can be sent there."""

    @property
    def job(self) -> tuple[Path, Path] | None: ...

    def examiner(self, job: Job | None) -> Examining[_TaskT_contra, _OutcomeT_co]: ...


class Setup(NamedTuple):
    """What a worker needs; everything can be sent to another process."""

    path: Path
    report: RunReport
    job: tuple[Path, Path] | None
    patterns: Mapping[str, str]
    seed: int

    def examiner(self, job: Job | None) -> Examiner:
        return Examiner(self.path, self.report, job, self.patterns, self.seed)


_worker: Examining[Any, Any]


def _prepare(setup: Preparing[Any, Any]) -> None:
    """A worker's first act."""
    global _worker  # noqa: PLW0603  a worker process has one run; this is how a pool hands it over
    _worker = setup.examiner(None if setup.job is None else load_job(*setup.job))


def _examine(task: Any) -> Any:
    return _worker.examine(task)


class Elsewhere(NamedTuple):
    """Workers that somebody else has started, and how many; they see this machine's files."""

    executor: Executor
    size: int


_elsewhere = threading.local()


def _examine_elsewhere(setup: Preparing[Any, Any], task: Any) -> Any:
    """In a worker of many runs: what a run needs is kept from task to task, for each thread."""
    known: tuple[object, Examining[Any, Any]] | None = getattr(_elsewhere, "known", None)
    if known is None or known[0] != setup:
        known = (setup, setup.examiner(None if setup.job is None else load_job(*setup.job)))
        _elsewhere.known = known
    return known[1].examine(task)


def outcomes(
    setup: Preparing[TaskT, OutcomeT],
    examiner: Examining[TaskT, OutcomeT],
    tasks: Iterator[TaskT],
    workers: int,
    elsewhere: Elsewhere | None = None,
) -> Iterator[OutcomeT]:
    """Outcomes in order; at most two tasks a worker are ahead."""
    if elsewhere is not None:
        far = elsewhere.executor
        yield from _in_order(
            lambda task: far.submit(_examine_elsewhere, setup, task), examiner, tasks, 2 * elsewhere.size
        )
    elif workers == 1:
        yield from map(examiner.examine, tasks)
    else:
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(workers, context, _prepare, (setup,)) as pool:
            yield from _in_order(lambda task: pool.submit(_examine, task), examiner, tasks, 2 * workers)


def _in_order(
    submit: Callable[[TaskT], Future[OutcomeT]],
    examiner: Examining[TaskT, OutcomeT],
    tasks: Iterator[TaskT],
    ahead: int,
) -> Iterator[OutcomeT]:
    waiting: list[tuple[TaskT, Future[OutcomeT] | None]] = []
    for task in tasks:
        waiting.append((task, _submitted(submit, task)))
        if len(waiting) >= ahead:
            yield _result(*waiting.pop(0), examiner)
    while waiting:
        yield _result(*waiting.pop(0), examiner)


def _submitted(submit: Callable[[TaskT], Future[OutcomeT]], task: TaskT) -> Future[OutcomeT] | None:
    """None when the pool is broken."""
    try:
        return submit(task)
    except (BrokenProcessPool, RuntimeError):
        return None


def _result(task: TaskT, future: Future[OutcomeT] | None, examiner: Examining[TaskT, OutcomeT]) -> OutcomeT:
    """A worker that dies loses nothing: its chunk is examined here."""
    try:
        return future.result() if future is not None else examiner.examine(task)
    except (BrokenProcessPool, CancelledError, OSError):
        return examiner.examine(task)
