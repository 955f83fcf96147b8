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
from vdp.verify.against import Expectation, Wanted
from vdp.verify.chunk import SIDES, Chunk, read_page
from vdp.verify.doubt import Unreadable
from vdp.verify.finish import Finish
from vdp.verify.grade.rules import rules_of
from vdp.verify.held import Holder
from vdp.verify.humantext import strips_due
from vdp.verify.inputs import accepted_losses, shapers
from vdp.verify.manifest import RunReport
from vdp.verify.outcome import Outcome, Task
from vdp.verify.plates import PictureStore, PlateWriter
from vdp.verify.shown import runs
from vdp.verify.smalltype import SmallType
from vdp.verify.text import PageText
from vdp.verify.tree import open_pdf, pages

#: Chunks after which the file is opened again: qpdf keeps every object that it has once read.
REOPENED = 16


class Examiner:
    """Everything a process needs to examine pieces of one run."""

    def __init__(self, path: Path, report: RunReport, job: Job | None, patterns: Mapping[str, str], seed: int) -> None:
        self.report, self.seed = report, seed
        self._path, self._done = path, 0
        self.pdf = self._opened()
        self.patterns = {name: re.compile(pattern) for name, pattern in patterns.items()}
        self.store = PictureStore()
        self.elsewhere: dict[tuple[object, ...], bool] = {}
        self._rows: dict[tuple[int, int], Wanted] = {}
        self._texts: dict[int, list[PageText]] = {}
        self.grading = rules_of(job.model.grade) if job is not None else report.grading
        self.sample = self.grading.chosen(report.pieces)
        self.expectation = Expectation(job, report.firsts) if job is not None else None
        self.finish = Finish(job) if job is not None else None
        self.with_text = strips_due(job) if job is not None else set()
        self.small = SmallType(report, report.accepted if job is None else accepted_losses(job))
        self.holder = Holder(job, shapers(report, job)) if job is not None else None

    def _opened(self) -> pikepdf.Pdf:
        try:
            return open_pdf(self._path)
        except (pikepdf.PdfError, OSError) as error:
            raise Unreadable(str(error)) from error

    def examine(self, task: Task) -> Outcome:
        """Examines a chunk."""
        self._done += 1
        if self._done % REOPENED == 0:
            self.pdf.close()
            self.pdf = self._opened()
        return Chunk(self, task).run()

    def fits(self, index: int, other: int, row: int, values: Mapping[str, str], told: Mapping[str, str]) -> bool:
        """Whether the piece at 0-based place `index` shows all words that the row of another piece gives it, whose
        number is the `other`th of the run (from 0); `told` are the other piece's serials."""
        if self.expectation is None:
            return False
        try:
            key = (other, row)
            if key not in self._rows:
                self._rows[key] = self.expectation.wanted(values, row, other, told)
            if index not in self._texts:
                self._texts[index] = self._shown(index)
        except (Unreadable, RowRefused):
            return False
        texts = self._texts[index]
        serials = set(self._rows[key].serials.values())
        # The serial is the piece's own whatever row it was made from, so texts that hold one are left out.
        due = [text for text in self._rows[key].texts if not any(serial in text.text for serial in serials)]
        return len(texts) == len(SIDES) and all(texts[text.side].shows(text) for text in due)

    def _shown(self, index: int) -> list[PageText]:
        if self.holder is None:
            return []
        writer = PlateWriter(self.pdf, self.report.spots, (), self.store)
        sides = [read_page(writer, leaf) for leaf in pages(self.pdf, 2 * index, 2 * index + 2)]
        return [PageText(runs(view.seen.shows), self.holder.shapers) for view in sides]
