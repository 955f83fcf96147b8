"""A finished run opened again, to make pieces of it once more: its report, job and records, unchanged since.

Not here: choosing pieces (`spoiled`), making them (`reprint`).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vdp import __version__
from vdp.errors import CallerError
from vdp.job.load import Job, load_job
from vdp.job.replacing import replacing
from vdp.numbering.series import Series
from vdp.pdf.pictures import load_picture
from vdp.plan.build import Plan
from vdp.plan.numbering import numbering_of
from vdp.records.table import Table, open_table
from vdp.run.folder import sha256_of
from vdp.run.opening import plan_for
from vdp.verify.doubt import Unreadable
from vdp.verify.inputs import check_inputs
from vdp.verify.manifest import read_report


@dataclass(frozen=True, slots=True)
class Source:
    """`run` is the copy's own name in the ledger, `origin` that of the first printing, `copy` counts from 1."""

    folder: Path
    report: Mapping[str, Any]
    job: Job
    table: Table
    plan: Plan
    series: Mapping[str, Series]

    @property
    def run(self) -> str:
        return str(self.report["run"])

    @property
    def origin(self) -> str:
        return origin_of(self.report)

    @property
    def copy(self) -> int:
        earlier = self.report["reprint"]
        return int(earlier["copy"]) if earlier else 1

    def index(self, name: str, line: Mapping[str, Any], position: int) -> int:
        """The 0-based index in its series of a piece's number; it stands `position`th (from 0) in the folder."""
        return index_of(self.report, self.series, name, line["piece"], line["serials"][name], position)


def origin_of(report: Mapping[str, Any]) -> str:
    """The run that was given a folder's numbers."""
    earlier = report["reprint"]
    return str(earlier["origin"] if earlier else report["run"])


def kept_as_of(report: Mapping[str, Any], name: str) -> str:
    """What the ledger calls a series of the report."""
    return str(report["ledger"]["series"][name].get("kept_as", name))


def index_of(
    report: Mapping[str, Any], series: Mapping[str, Series], name: str, piece: int, serial: str, position: int
) -> int:
    """The 0-based index in series `name` of a piece's number; it stands `position`th (from 0) in the folder.  `series`
    are needed for those that come from a column."""
    given = report["ledger"]["series"][name]
    if given["column"]:
        return series[name].parse(serial)
    earlier = report["reprint"]
    # A reprint under replacement numbers had them counted out for it alone.
    by_position = bool(earlier) and earlier["numbers"] == "replaced"
    return int(given["first"]) + (position if by_position else piece - 1)


def open_source(folder: Path, job: Path | None, records: Path | None, environ: Mapping[str, str]) -> Source:
    """Raises CallerError when the run is not whole and good, or when something that went in has changed since."""
    path = folder / "report.json"
    try:
        told = read_report(path)
        report = json.loads(path.read_bytes())
        good = report["verified"] is True and report["ok"] is True and report["composed"] is True
        sizes = {str(name): int(size) for name, size in report["sizes"].items()}
        report["reprint"], report["ledger"]
    except (Unreadable, OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise CallerError.one(str(path), "is not the report of a run", "name the folder of a run") from error
    if not good:
        raise CallerError.one(str(path), "this run did not come to a good end; its pieces were not to be printed")
    if not (folder / "pieces.jsonl").is_file() or told.files.get("pieces.jsonl") != sha256_of(folder / "pieces.jsonl"):
        raise CallerError.one(str(folder / "pieces.jsonl"), "is not the file that report.json names")
    if report["vdp"] != __version__:
        message = f"the run was made by vdp {report['vdp']}, this is {__version__}"
        raise CallerError.one(str(path), message, "make reprints with the version that made the run")
    opened = load_job(job if job is not None else job_beside(folder, told.inputs), records)
    opened = replacing(opened) if told.replaced else opened
    table = open_table(opened.records_path, opened.model.records, str(opened.records_path))
    check_inputs(told, opened, table)
    pictures: dict[Path, tuple[int, int]] = {}
    for name in told.inputs.get("images", {}):
        picture = (opened.folder / name).resolve()
        loaded = load_picture(picture, opened)
        pictures[picture] = (loaded.width, loaded.height)
    if not opened.model.series:
        message = "the job has no series: its pieces have no numbers by which a reprint could be counted"
        raise CallerError.one(str(opened.path), message)
    plan = plan_for(opened, table.header).sized(sizes, pictures)
    return Source(folder, report, opened, table, plan, numbering_of(opened, environ))


def job_beside(folder: Path, inputs: Mapping[str, Any]) -> Path:
    """The job file of the report's name, one or two folders up: where `out/` is made by default."""
    entry = inputs.get("job")
    name = str(entry.get("name")) if isinstance(entry, Mapping) else "job.yaml"
    for home in (folder.absolute().parent, folder.absolute().parent.parent):
        if (home / name).is_file():
            return home / name
    raise CallerError.one(str(folder), f"its job file, {name}, is not near it", "name it with --job")
