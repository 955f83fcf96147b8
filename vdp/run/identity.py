"""What a run is made of: the hash of every input, and the one hash of them all."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from vdp import __version__
from vdp.errors import CallerError
from vdp.job.faces import job_faces
from vdp.job.load import Job
from vdp.plan.build import Plan
from vdp.records.table import Table
from vdp.run.folder import sha256_of


def inputs_of(job: Job, table: Table, plan: Plan, pictures: Iterable[Path]) -> dict[str, Any]:
    """Name and SHA-256 of job, layout, records, art, pictures and profile, names relative to the job's folder."""
    named: dict[str, Any] = {
        "job": {"name": job.path.name, "sha256": sha256_of(job.path)},
        "layout": {"name": _relative(job.layout_path, job.folder), "sha256": sha256_of(job.layout_path)},
        "records": {"name": table.path.name, "sha256": table.sha256},
        "art": _hashes(sorted({path for path, _ in plan.art.values()}), job.folder),
        "images": _hashes(sorted(set(pictures)), job.folder),
    }
    if job.model.colour.profile is not None:
        profile = job.file(job.model.colour.profile, job.where("job", "colour", "profile"))
        named["profile"] = {"name": _relative(profile, job.folder), "sha256": sha256_of(profile)}
    return named


def faces_of(job: Job, fonts: Mapping[str, str]) -> dict[str, Any]:
    """The source of every font in the file, by its BaseFont without the subset tag."""
    files = job_faces(job)
    told: dict[str, Any] = {}
    for base_font, key in sorted(fonts.items()):
        face = files[key]
        told[base_font] = {
            "face": key,
            "file": face.path.name,
            "axes": dict(face.axes),
            "index": face.index,
            "sha256": sha256_of(face.path),
        }
    return told


def identity_of(inputs: Mapping[str, Any], firsts: Mapping[str, int] | None = None) -> bytes:
    """One hash of everything that went in, and of the program's version: the run's.

    With the index of the first number of each series it is the file's: another ledger may give other numbers.
    """
    said = [__version__, inputs] if firsts is None else [__version__, inputs, dict(firsts)]
    text = json.dumps(said, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).digest()


def created_of(job: Job) -> datetime:
    """The run's date: SOURCE_DATE_EPOCH, else the job's `date`, else the start of 2000; never the clock's."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH")
    if epoch is not None:
        try:
            return datetime.fromtimestamp(int(epoch), UTC)
        except (ValueError, OverflowError, OSError) as error:
            raise CallerError.one("SOURCE_DATE_EPOCH", f"'{epoch}' is not a number of seconds") from error
    if job.model.date is not None:
        day = date.fromisoformat(job.model.date)
        return datetime(day.year, day.month, day.day, tzinfo=UTC)
    return datetime(2000, 1, 1, tzinfo=UTC)


def _hashes(paths: Iterable[Path], folder: Path) -> dict[str, str]:
    return {_relative(path, folder): sha256_of(path) for path in paths}


def _relative(path: Path, folder: Path) -> str:
    try:
        return path.resolve().relative_to(folder.resolve()).as_posix()
    except ValueError:
        return path.name
