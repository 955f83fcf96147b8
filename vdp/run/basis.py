"""What a run of a job is made of, part by part, as a customer approves it (`vdp.proof.basis` says what it holds).

Not here: the run's identity, which also keeps other numbers apart (`identity`).
"""

from __future__ import annotations

import json
from typing import Any

from vdp import __version__
from vdp.job.faces import job_faces
from vdp.job.load import Job
from vdp.proof.basis import part_hash
from vdp.run.folder import sha256_of
from vdp.run.identity import inputs_of
from vdp.run.intake import Intake
from vdp.run.opening import Opened


def basis_of(opened: Opened, intake: Intake) -> dict[str, Any]:
    """After the first pass: every input by hash, and the numbers that the run has, or would have."""
    job = opened.job
    inputs = inputs_of(job, opened.table, intake.plan, intake.plan.pictures)
    told: dict[str, Any] = {
        "vdp": __version__,
        "job": {**inputs["job"], "parts": _job_parts(job)},
        "layout": {**inputs["layout"], "parts": _layout_parts(job)},
        "records": {
            **inputs["records"],
            "rows": intake.records,
            "pieces": intake.pieces,
            "set_aside": len(intake.refused),
        },
        "art": inputs["art"],
        "images": inputs["images"],
        "faces": _faces(job),
        "series": {name: _series(name, intake) for name in opened.series},
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


def _series(name: str, intake: Intake) -> dict[str, Any]:
    """Terms, and where the numbers begin: another order in the ledger would give other numbers."""
    numbers = intake.numbers
    first, last = (serials.get(name, "") for serials in intake.ends)
    return {
        "begins": "" if name in numbers.columns else str(numbers.firsts.get(name, 0)),
        "first": first,
        "last": last,
        "terms": numbers.series[name].terms(),
    }
