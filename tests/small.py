"""A small job in a folder of its own, for tests that need a whole one: an invented theatre's vouchers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from vdp.job.faces import job_faces
from vdp.job.load import Job, load_job
from vdp.plan.build import Plan, build
from vdp.plan.fixed import ArtInfo
from vdp.records.table import Table, open_table
from vdp.text import Faces, Setter

JOB = """\
job: Small
layout: layout.yaml
records:
  file: list.csv
  language: lang
  recipient: [name]
series:
  voucher: {prefix: V, start: 7, width: 4, check: damm}
"""

FRONT = """\
trim: [60 mm, 40 mm]
bleed: 2 mm
front:
  - {box: [-2 mm, -2 mm, 64 mm, 6 mm], colour: [40, 0, 10, 0]}
  - name: hello
    text: {en: "Dear {{ name }}", el: "Αγαπητέ {{ name }}"}
    box: [4 mm, 6 mm, 30 mm, 8 mm]
    size: 9 pt
    least: 6 pt
  - {name: number, number: voucher, box: [4 mm, 16 mm, 30 mm, 5 mm], face: mono, size: 9 pt}
  - {name: bars, barcode: code128, data: "{{ series.voucher }}", at: [3 mm, 22 mm], x: 0.254 mm, height: 6 mm}
  - {name: square, barcode: qr, data: "{{ series.voucher }}/{{ name }}", at: [38 mm, 6 mm], x: 0.508 mm}
"""

BACK = """\
back:
  - {name: fine, microtext: "{{ name }} {{ series.voucher }}", box: [4 mm, 4 mm, 50 mm, 1 mm], size: 1 pt}
  - {name: secret, text: "GENUINE {{ series.voucher }}", plate: Clear, box: [4 mm, 20 mm, 40 mm, 6 mm], size: 10 pt}
  - {name: hidden, barcode: datamatrix, data: "{{ series.voucher }}", at: [44 mm, 14 mm], x: 0.508 mm, plate: Clear}
"""

LIST = "name,lang\nAnna,en\nΝίκος,el\nBo,en\n"


def write_job(folder: Path, *, job: str = JOB, layout: str = FRONT + BACK, records: str = LIST) -> Path:
    """Writes the files and returns the job file's path."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.yaml").write_text(job, encoding="utf-8")
    (folder / "layout.yaml").write_text(layout, encoding="utf-8")
    (folder / "list.csv").write_text(records, encoding="utf-8", newline="")
    return folder / "job.yaml"


def no_art(path: Path, page: int) -> ArtInfo:
    raise AssertionError(f"{path}, page {page}: this job has no art")


def plan_of(path: Path, art: Callable[[Path, int], ArtInfo] = no_art) -> tuple[Job, Table, Plan]:
    """The plan of a job file, not yet sized."""
    job = load_job(path)
    table = open_table(job.records_path, job.model.records, "list.csv")
    return job, table, build(job, table.header, Setter(Faces(job_faces(job)), job.model.resolution), art)
