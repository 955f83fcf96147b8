"""A folder with the whole job, ready to run: ``python -m tests.benchmarks.letter.job FOLDER RECORDS``."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from tests.benchmarks.letter.design import HOME
from tests.benchmarks.letter.draw import draw
from tests.benchmarks.letter.records import make_records


def make_job(folder: Path, count: int) -> Path:
    """Writes job, layout, art, pictures and records.csv of `count` rows; returns the job file."""
    folder.mkdir(parents=True, exist_ok=True)
    draw(folder)
    make_records(count, folder / "records.csv")
    for name in ("job.yaml", "layout.yaml"):
        shutil.copyfile(HOME / name, folder / name)
    return folder / "job.yaml"


if __name__ == "__main__":
    sys.stdout.write(f"{make_job(Path(sys.argv[1]), int(sys.argv[2]))}\n")
