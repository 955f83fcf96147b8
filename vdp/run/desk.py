"""Who makes a run, by which clock, and where its ledger and its keys are told.

Not here: what is written into the ledger (`allot`, `reprint`).
"""

from __future__ import annotations

import getpass
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime

from vdp.errors import CallerError
from vdp.job.load import Job
from vdp.numbering.ledger import TIMEOUT, Ledger, open_ledger
from vdp.numbering.store import NoLedger, ledger_place

OPERATOR = "VDP_OPERATOR"
EPOCH = "SOURCE_DATE_EPOCH"


@dataclass(frozen=True, slots=True)
class Desk:
    """`operator` and the aware time that `now` gives go into the ledger; `environ` may hold keys and the ledger's
    place; `timeout` in seconds bounds the wait for other writers."""

    operator: str
    now: Callable[[], datetime]
    environ: Mapping[str, str]
    timeout: float = TIMEOUT


def desk_of(operator: str | None = None) -> Desk:
    """The desk of this process: the operator named, else VDP_OPERATOR, else the login name; the clock, or
    SOURCE_DATE_EPOCH where that is set."""
    said = operator or os.environ.get(OPERATOR) or _login()
    return Desk(said, _now, os.environ)


def _login() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return ""


def _now() -> datetime:
    epoch = os.environ.get(EPOCH)
    if epoch is None:
        return datetime.now(UTC)
    try:
        return datetime.fromtimestamp(int(epoch), UTC)
    except (ValueError, OverflowError, OSError) as error:
        raise CallerError.one(EPOCH, f"'{epoch}' is not a number of seconds") from error


def person(name: str) -> str:
    """Whoever is named, however the name is written."""
    return " ".join(name.split()).casefold()


@contextmanager
def ledger_of(job: Job, desk: Desk, *, write: bool = True) -> Iterator[Ledger | None]:
    """The job's ledger, open; None for a job without series, or when one that is only to be read is not there."""
    if not job.model.series:
        yield None
        return
    place = ledger_place(job.folder, job.model.ledger, desk.environ)
    try:
        ledger = open_ledger(place, operator=desk.operator, now=desk.now, write=write, timeout=desk.timeout)
    except NoLedger:
        yield None
        return
    with ledger:
        yield ledger
