"""Are job, layout, records, art, pictures and fonts the ones that the run was made from?

A changed input is the caller's mistake, not a fault of the artefact: nothing can be held against it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from vdp.errors import CallerError, Fault
from vdp.job.faces import job_faces
from vdp.job.items import MicrotextItem, NumberItem, TextItem
from vdp.job.load import Job
from vdp.records.table import Table
from vdp.verify.manifest import RunReport
from vdp.verify.words import Shaper


def file_hash(path: Path) -> str | None:
    """SHA-256 of a file in hex; None when it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None


def accepted_losses(job: Job) -> list[tuple[float, float]]:
    """Sizes in points (least and largest) of the items whose small type may lose parts or holes."""
    found = []
    for item in (*job.layout.front, *job.layout.back):
        if isinstance(item, (TextItem, NumberItem, MicrotextItem)) and item.losses == "accept":
            least = None if isinstance(item, MicrotextItem) else item.least
            found.append((least or item.size, item.size))
    return sorted(set(found))


def check_inputs(report: RunReport, job: Job, table: Table | None) -> None:
    """Raises CallerError naming every input that is not the one in report.json."""
    faults = list(_faults(report, job, table))
    if faults:
        raise CallerError(faults)


def _faults(report: RunReport, job: Job, table: Table | None) -> Iterator[Fault]:
    mend = "verify with what the run was made from, or run the job again"
    for shown, path, wanted in _named(report.inputs, job):
        if file_hash(path) != wanted:
            yield Fault(shown, "is not the file that this run was made from", mend)
    records = report.inputs.get("records")
    if table is not None and (not isinstance(records, Mapping) or records.get("sha256") != table.sha256):
        yield Fault(table.shown, "is not the list that this run was made from", mend)
    files = job_faces(job)
    for base, face in report.faces.items():
        file = files.get(face.key)
        if file is None or file_hash(file.path) != face.sha256:
            yield Fault(f"face '{face.key}'", f"its font file is not the one that {base} was made from", mend)


def _named(inputs: Mapping[str, Any], job: Job) -> Iterator[tuple[str, Path, object]]:
    """What is shown, the file as it is now, and the hash it had."""
    for key, path in (("job", job.path), ("layout", job.layout_path)):
        entry = inputs.get(key)
        yield str(path), path, entry.get("sha256") if isinstance(entry, Mapping) else None
    for key in ("art", "images"):
        entries = inputs.get(key)
        for name, wanted in entries.items() if isinstance(entries, Mapping) else ():
            yield str(job.folder / name), job.folder / name, wanted
    profile = inputs.get("profile")
    if isinstance(profile, Mapping):
        path = job.folder / str(profile.get("name"))
        yield str(path), path, profile.get("sha256")


def shapers(report: RunReport, job: Job) -> dict[str, Shaper]:
    """The source fonts of the file by BaseFont without tag, opened for shaping."""
    files = job_faces(job)
    return {base: Shaper(files[face.key].path, face.axes, face.place) for base, face in report.faces.items()}
