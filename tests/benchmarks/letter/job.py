"""A folder with the whole job, ready to run: ``python -m tests.benchmarks.letter.job FOLDER RECORDS [LAYOUT]``."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from tests.benchmarks.letter.design import HOME
from tests.benchmarks.letter.draw import draw
from tests.benchmarks.letter.records import make_records


def make_job(folder: Path, count: int, layout: str = "layout") -> Path:
    """Writes job, layout, art, pictures and records.csv of `count` rows; returns the job file.

    `layout` is "layout", the letter, or "dense", which has four symbols on each page.
    """
    folder.mkdir(parents=True, exist_ok=True)
    draw(folder)
    make_records(count, folder / "records.csv")
    shutil.copyfile(HOME / "job.yaml", folder / "job.yaml")
    shutil.copyfile(HOME / f"{layout}.yaml", folder / "layout.yaml")
    return folder / "job.yaml"


if __name__ == "__main__":
    sys.stdout.write(f"{make_job(Path(sys.argv[1]), int(sys.argv[2]), *sys.argv[3:])}\n")
