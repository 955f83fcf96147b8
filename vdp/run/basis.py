"""What a run of a job is made of, part by part, as a customer approves it (`vdp.proof.basis` says what it holds).

Not here: the run's identity, which also keeps other numbers apart (`identity`).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from vdp import __version__
from vdp.errors import CallerError
from vdp.job.faces import job_faces
from vdp.job.load import Job
from vdp.proof.basis import part_hash
from vdp.run.folder import sha256_of
from vdp.run.identity import inputs_of
from vdp.run.intake import Intake
from vdp.run.numbers import Numbers
from vdp.run.opening import Opened


def basis_of(opened: Opened, intake: Intake) -> dict[str, Any]:
    """After the first pass: every input by hash, and the numbers that the run has, or would have."""
    counts = {"rows": intake.records, "pieces": intake.pieces, "set_aside": len(intake.refused)}
    series = {
        name: _series(name, intake.numbers, *(serials.get(name, "") for serials in intake.ends))
        for name in opened.series
    }
    return _basis(opened, intake.plan.pictures, counts, series)


def basis_before(opened: Opened, numbers: Numbers, approved: Mapping[str, Any]) -> dict[str, Any]:
    """Before it: the same, with what only the first pass finds (how many pieces, which pictures, numbers with parts of
    records) as it was `approved`.  Pictures that were approved and are still there are held by what they are now."""
    counts = {"rows": opened.table.count} | {name: _told(approved, "records", name) for name in ("pieces", "set_aside")}
    series = {
        name: _series(name, numbers, *_ends_before(name, numbers, _told(approved, "records", "pieces"), approved))
        for name in opened.series
    }
    basis = _basis(opened, (), counts, series)
    folder = opened.job.folder
    pictures = {name: folder / name for name in _told(approved, "images")}
    return basis | {
        "images": {
            name: sha256_of(path) if path.is_file() else _told(approved, "images", name)
            for name, path in pictures.items()
        }
    }


def _ends_before(name: str, numbers: Numbers, pieces: Any, approved: Mapping[str, Any]) -> tuple[str, str]:
    """The serials of the first and the last of as many pieces as were approved."""
    series, begins = numbers.series[name], numbers.firsts.get(name, 0)
    if name not in numbers.columns and not series.varying and not series.varying_suffix and isinstance(pieces, int):
        with suppress(CallerError):  # there are not so many: the first pass says so
            return series.text(begins), series.text(begins + pieces - 1)
    return _told(approved, "series", name, "first"), _told(approved, "series", name, "last")


def _told(approved: Mapping[str, Any], *names: str) -> Any:
    """What an approved basis tells under those names; nothing where it does not."""
    value: Any = approved
    for name in names:
        value = value.get(name, {}) if isinstance(value, Mapping) else {}
    return value


def _basis(
    opened: Opened, pictures: Iterable[Path], counts: Mapping[str, Any], series: Mapping[str, Any]
) -> dict[str, Any]:
    job = opened.job
    inputs = inputs_of(job, opened.table, opened.plan, pictures)
    told: dict[str, Any] = {
        "vdp": __version__,
        "job": {**inputs["job"], "parts": _job_parts(job)},
        "layout": {**inputs["layout"], "parts": _layout_parts(job)},
        "records": {**inputs["records"], **counts},
        "art": inputs["art"],
        "images": inputs["images"],
        "faces": _faces(job),
        "series": dict(series),
    }
    if "profile" in inputs:
        told["profile"] = inputs["profile"]
    return told


def _job_parts(job: Job) -> dict[str, str]:
    """The hash of what each key of the job file means, so that spacing and comments change none."""
    return {name: part_hash(value) for name, value in json.loads(job.model.model_dump_json()).items()}


def _layout_parts(job: Job) -> dict[str, str]:
    """The same of each item, by side and name."""
    told: dict[str, str] = {}
    for key, value in json.loads(job.layout.model_dump_json()).items():
        if key not in ("front", "back"):
            told[key] = part_hash(value)
            continue
        for place, item in enumerate(value, 1):
            told[f"{key} {item['name'] or f'{key}-{place}'}"] = part_hash([place, item])
    return told


def _faces(job: Job) -> dict[str, str]:
    hashes: dict[str, str] = {}
    told: dict[str, str] = {}
    for name, face in sorted(job_faces(job).items()):
        path = str(face.path)
        if path not in hashes:
            hashes[path] = sha256_of(face.path)
        told[name] = hashes[path]
    return told


def _series(name: str, numbers: Numbers, first: str, last: str) -> dict[str, Any]:
    """Terms, and where the numbers begin: another order in the ledger would give other numbers."""
    return {
        "begins": "" if name in numbers.columns else str(numbers.firsts.get(name, 0)),
        "first": first,
        "last": last,
        "terms": numbers.series[name].terms(),
    }
