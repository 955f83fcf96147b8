"""Composing and verifying on the machines of a Dask cluster, with the same bytes as on one core of this machine.

The machines must see the job's folder under the same path, and hold the same version of everything that makes bytes;
each of them proves that before it composes.  Dask gives the chunks of a machine that dies to the others.
"""

from __future__ import annotations

import hashlib
import socket
import threading
from collections.abc import Iterator, Mapping
from concurrent.futures import CancelledError, Executor, Future
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from vdp import __version__
from vdp.compose.piece import Accepted
from vdp.errors import CallerError
from vdp.job.faces import job_faces
from vdp.pdf.squeeze import COMPRESSORS
from vdp.plan.build import Plan
from vdp.run.folder import sha256_of
from vdp.run.workers import MOST_DEATHS, Done, Task, Worker
from vdp.verify.workers import Elsewhere

if TYPE_CHECKING:
    from distributed import Client

#: Seconds to wait for the scheduler, and for its first worker.
PATIENCE = 20


@dataclass(frozen=True, slots=True)
class Cluster:
    """A cluster that answered: its executor, and how many chunks it works on at a time."""

    executor: Executor
    size: int
    address: str

    def crew(self, task: Task, scratch: Path) -> FarCrew:
        """Composes the chunks of `task`; finished ones are put into `scratch`, which only this machine sees."""
        return FarCrew(self, task, scratch)

    @property
    def elsewhere(self) -> Elsewhere:
        """The same workers, for the verifier."""
        return Elsewhere(self.executor, self.size)


@contextmanager
def reached(address: str | None) -> Iterator[Cluster | None]:
    """The cluster at `address` (`tcp://host:8786`), or None for no address.

    Raises CallerError when Dask is not installed, nobody answers, or the cluster has no worker.
    """
    if address is None:
        yield None
        return
    try:
        from distributed import Client  # noqa: PLC0415  an extra: only who asks for a cluster needs it
    except ImportError as error:
        raise CallerError.one(
            "--cluster", "needs the package 'distributed', which is not installed", "pip install 'vdp[cluster]'"
        ) from error
    silent = CallerError.one(
        f"--cluster {address}", "no scheduler answers there", "is it an address such as tcp://host:8786?"
    )
    if not _answers(address):
        raise silent
    try:
        client: Client = Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError) as error:
        raise silent from error
    try:
        yield Cluster(client.get_executor(pure=False, retries=MOST_DEATHS), _size(client, address), address)
    finally:
        client.close()


def _answers(address: str) -> bool:
    """Whether anything listens there.  Asked first, for a client that never connected is only taken down whenever the
    collector comes by, and may then wait for a lock that is held by whoever woke the collector."""
    try:
        place = urlsplit(address if "://" in address else f"tcp://{address}")
        with socket.create_connection((place.hostname or "", place.port or 8786), PATIENCE):
            return True
    except (OSError, ValueError):
        return False


def _size(client: Client, address: str) -> int:
    try:
        client.wait_for_workers(1, timeout=PATIENCE)
    except TimeoutError as error:
        raise CallerError.one(
            f"--cluster {address}", "the scheduler has no worker", "start dask worker there"
        ) from error
    return sum(client.nthreads().values())


def fingerprint(plan: Plan, task: Task) -> Mapping[str, str]:
    """What must be the same wherever chunks are composed: by name, a hash or a version."""
    job = plan.job
    files = {job.path, job.layout_path, *(path for path, _ in plan.art.values())}
    told = {str(path): sha256_of(path) for path in sorted(files)}
    told |= {f"face {key}": sha256_of(face.path) for key, face in sorted(job_faces(job).items())}
    packed = COMPRESSORS[task.ticket.compression](_SAMPLE)
    # The fast compressor chooses its matches by what the processor offers, so the same version may give other bytes.
    told[f"compression {task.ticket.compression}"] = hashlib.sha256(packed).hexdigest()
    told["vdp"] = __version__
    return told


_SAMPLE = b"".join(b"BT /F%d %d Tf %d %d Td <%06x> Tj ET\n" % (n % 7, n % 13, n * n, 7 * n, n**3) for n in range(4000))


class FarCrew:
    """Chunks under way on the cluster."""

    def __init__(self, cluster: Cluster, task: Task, scratch: Path) -> None:
        self._cluster, self._task, self._scratch = cluster, task, scratch
        self._same = fingerprint(Worker(task).plan, task)
        self._waiting: dict[int, Future[tuple[Done, bytes]]] = {}

    def __len__(self) -> int:
        return len(self._waiting)

    def give(self, number: int, records: list[Accepted]) -> None:
        self._waiting[number] = self._cluster.executor.submit(_compose_far, self._task, self._same, records)

    def take(self, number: int) -> Done:
        """The chunk of that number.  Raises CallerError when the cluster is lost, or a machine of it is unlike ours."""
        try:
            done, body = self._waiting.pop(number).result()
        except (CancelledError, OSError, _killed()) as error:
            raise CallerError.one(
                f"--cluster {self._cluster.address}",
                f"a chunk could not be composed there ({type(error).__name__})",
                "see the log of its scheduler and workers; or run with --workers here",
            ) from error
        path = self._scratch / f"{number}.chunk"
        path.write_bytes(body)
        return done._replace(chunk=done.chunk._replace(path=path))

    def close(self) -> None:
        for future in self._waiting.values():
            future.cancel()
        self._waiting.clear()


def _killed() -> type[Exception]:
    """What Dask raises when every worker that tried a chunk has died."""
    from distributed.scheduler import KilledWorker  # noqa: PLC0415  see `reached`

    killed: type[Exception] = KilledWorker
    return killed


_far = threading.local()


def _compose_far(task: Task, same: Mapping[str, str], records: list[Accepted]) -> tuple[Done, bytes]:
    """In a worker of the cluster, in one of its threads: a chunk, and its bytes."""
    worker = _worker_for(task, same)
    with TemporaryDirectory(prefix="vdp-") as scratch:
        done = worker.compose(Path(scratch) / "chunk", records)
        return done, done.chunk.path.read_bytes()


def _worker_for(task: Task, same: Mapping[str, str]) -> Worker:
    known: tuple[Any, Worker] | None = getattr(_far, "known", None)
    if known is not None and known[0] == (task, same):
        return known[1]
    worker = Worker(task)
    here = fingerprint(worker.plan, task)
    unlike = sorted(name for name in {*same, *here} if same.get(name) != here.get(name))
    if unlike:
        raise CallerError.one(
            "--cluster",
            f"a machine of the cluster is unlike this one in: {', '.join(unlike)}",
            "every machine needs the same files and the same installation",
        )
    _far.known = ((task, same), worker)
    return worker
