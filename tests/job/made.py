"""A small job and layout that are right, and what a changed one is told."""

from __future__ import annotations

import re
from pathlib import Path

from vdp.errors import CallerError
from vdp.job.load import Job, load_job

JOB = """\
job: Test
layout: layout.yaml
records:
  file: people.csv
  language: lang
  fields:
    lang: {one_of: [en, de, el]}
    travel: {date: "%d.%m.%Y"}
series:
  main: {prefix: A-, width: 6, check: mod97_10}
"""

LAYOUT = """\
trim: [152 mm, 297 mm]
bleed: 3 mm
front:
  - text: "Dear {{ name }}"
    box: [10 mm, 10 mm, 50 mm, 20 mm]
    size: 11 pt
back:
  - number: main
    box: [10 mm, 10 mm, 50 mm, 20 mm]
"""

#: A place for an item.
BOX = "box: [0, 0, 9 mm, 9 mm]"


def put(folder: Path, job: str = JOB, layout: str = LAYOUT) -> Path:
    """Writes both files; the path of the job."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.yaml").write_text(job, encoding="utf-8")
    (folder / "layout.yaml").write_text(layout, encoding="utf-8")
    return folder / "job.yaml"


def load(folder: Path, job: str = JOB, layout: str = LAYOUT) -> Job:
    return load_job(put(folder, job, layout))


def told(folder: Path, job: str = JOB, layout: str = LAYOUT) -> list[str]:
    """Every fault as ``file:line:column: message (mend)``, without the folder; none when the job is right."""
    try:
        load(folder, job, layout)
    except CallerError as error:
        return [re.sub(re.escape(f"{folder}/"), "", str(fault)) for fault in error.faults]
    return []


def item(text: str) -> str:
    """A layout whose front holds the given item: its first key stands at line 3, column 5."""
    lines = text.strip("\n").splitlines()
    body = "\n".join(("  - " if n == 0 else "    ") + line for n, line in enumerate(lines))
    return f"trim: [152 mm, 297 mm]\nfront:\n{body}\nback: []\n"
