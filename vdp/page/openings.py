"""What `vdp proof --serve` and `vdp audit --serve` open: the folders of runs, judged or with their job.

Not here: serving (`serve`), options (`vdp.cli`).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from vdp.errors import CallerError
from vdp.job.load import load_job
from vdp.page.house import Auditing
from vdp.page.opened import Slot
from vdp.page.serve import serve
from vdp.page.signing import Signing
from vdp.run.audit import audit_runs
from vdp.run.desk import Desk
from vdp.run.reconcile import reconcile_run
from vdp.run.screen import Screen


class Where(NamedTuple):
    """Where a page is served: the host and port to bind to, and the file that holds the password."""

    host: str = "127.0.0.1"
    port: int = 0
    password: Path | None = None


def serve_proof(
    path: Path,
    *,
    records: Path | None,
    run: Path | None,
    where: Where,
    desk: Desk,
    key: Path | None = None,
    name: str = "",
    approval: Path | None = None,
) -> None:
    """The page of a job.  Its run may still be to come.  With `key` it is signed off there, in the name of `name`."""
    job = load_job(path)
    folder = run if run is not None else job.folder / "out"
    signing = Signing(path, records, folder, desk, key, name, approval)
    slots = [Slot(1, folder, job, records)]
    serve(slots, host=where.host, port=where.port, password=where.password, signing=signing)


def serve_audit(
    folders: Sequence[Path],
    *,
    key: Path | None,
    ledgers: Sequence[str],
    reads: Path | None,
    decode: bool,
    workers: int,
    out: Path | None,
    where: Where,
    screen: Screen,
    desk: Desk,
) -> None:
    """The page of an auditor.  Everything is judged first, as `vdp audit` does, and then shown."""
    if reads is not None and len(folders) != 1:
        raise CallerError.one("--reads", "belong to one run", "name one folder")
    audit = audit_runs(
        folders, key=key, ledgers=ledgers, decode=decode, workers=workers, out=out, screen=screen, desk=desk
    )
    told = () if reads is None else (reconcile_run(folders[0], reads, out=None, finished=True, screen=screen),)
    slots = [Slot(number, folder) for number, folder in enumerate(folders, 1)]
    auditing = Auditing(audit, tuple(ledgers), told)
    serve(slots, host=where.host, port=where.port, password=where.password, auditing=auditing)
