"""One process's means of examining pieces of a run: the open file, layout, fonts, what is kept between chunks.

Not here: the work on a chunk (`chunk`), totals and what only the whole file can show (`judge`, `tally`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import pikepdf

from vdp.errors import RowRefused
from vdp.job.load import Job
from vdp.verify.against import Expectation
from vdp.verify.chunk import Chunk, read_page
from vdp.verify.doubt import Unreadable
from vdp.verify.held import Holder
from vdp.verify.inputs import shapers
from vdp.verify.manifest import RunReport
from vdp.verify.outcome import Outcome, Task
from vdp.verify.plates import PictureStore, PlateWriter
from vdp.verify.shown import runs
from vdp.verify.text import PageText
from vdp.verify.tree import pages


class Examiner:
    """Everything a process needs to examine pieces of one run."""

    def __init__(self, path: Path, report: RunReport, job: Job | None, patterns: Mapping[str, str], seed: int) -> None:
        self.report, self.seed = report, seed
        try:
            self.pdf = pikepdf.open(path)
        except (pikepdf.PdfError, OSError) as error:
            raise Unreadable(str(error)) from error
        self.patterns = {name: re.compile(pattern) for name, pattern in patterns.items()}
        self.store = PictureStore()
        self.expectation = Expectation(job) if job is not None else None
        self.holder = Holder(job, shapers(report, job)) if job is not None else None

    def examine(self, task: Task) -> Outcome:
        """Examines a chunk."""
        return Chunk(self, task).run()

    def fits(self, index: int, row: int, values: Mapping[str, str]) -> bool:
        """Whether the piece of 0-based `index` shows all words that another row would give it."""
        if self.expectation is None or self.holder is None:
            return False
        try:
            wanted = self.expectation.wanted(values, row, index)
            writer = PlateWriter(self.pdf, self.report.spots, (), self.store)
            sides = [read_page(writer, leaf) for leaf in pages(self.pdf, 2 * index, 2 * index + 2)]
        except (Unreadable, RowRefused):
            return False
        texts = [PageText(runs(view.seen.shows), self.holder.shapers) for view in sides]
        return len(texts) == 2 and all(texts[due.side].shows(due) for due in wanted.texts)
