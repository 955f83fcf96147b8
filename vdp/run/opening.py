"""From a job file's path to a plan over an open table: what `run` and `check` do first."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vdp.errors import CallerError
from vdp.job.faces import job_faces
from vdp.job.load import Job, load_job
from vdp.job.unseen import unseen
from vdp.numbering.series import Series
from vdp.pdf.art import art_info
from vdp.plan.build import Plan, build
from vdp.plan.fixed import ArtInfo
from vdp.plan.numbering import numbering_of
from vdp.records.table import Table, open_table
from vdp.text import Faces, Setter


@dataclass(frozen=True, slots=True)
class Opened:
    """`approval` is what report.json tells of the approval that a run is made under."""

    job: Job
    table: Table
    plan: Plan
    series: Mapping[str, Series]
    approval: Mapping[str, Any] | None = None


def open_job(path: Path, records: Path | None, environ: Mapping[str, str]) -> Opened:
    """Raises CallerError with every fault of job, layout, artwork, header and keys; `environ` may hold keys."""
    job = load_job(path, records)
    faults, series, table = unseen(job), None, None
    try:
        series = numbering_of(job, environ)
    except CallerError as error:
        faults.extend(error.faults)
    try:
        table = open_table(job.records_path, job.model.records, str(job.records_path))
    except CallerError as error:
        faults.extend(error.faults)
    if series is None or table is None or faults:
        raise CallerError(faults)
    return Opened(job, table, plan_for(job, table.header), series)


def plan_for(job: Job, header: tuple[str, ...]) -> Plan:
    """The plan of a job over records with that header.  Deterministic, so any process may build its own."""
    return build(job, header, Setter(Faces(job_faces(job)), job.model.resolution), _art(job))


def _art(job: Job) -> Callable[[Path, int], ArtInfo]:
    def info(path: Path, page: int) -> ArtInfo:
        size, trim = art_info(path, page, job)
        return ArtInfo(size, trim)

    return info
