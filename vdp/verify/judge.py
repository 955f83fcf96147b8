"""A run folder judged from its finished files and, with job and records at hand, each piece against its own row.

Lives here: the order of work over the whole folder.  Not here: a single judgement (`chunk`, `tally`), the processes
(`workers`).

Trust goes in one direction: the hashes of report.json say that files are whole; pieces.jsonl says what each piece
should be; the job and the records, where given, say it again apart from the composer; the pages are believed nothing.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice
from pathlib import Path

import pikepdf

from vdp.errors import CallerError, Finding
from vdp.job.items import ArtItem
from vdp.job.load import Job
from vdp.job.postscript import ENDINGS
from vdp.job.replacing import replacing
from vdp.records.table import Row, Table
from vdp.verify.against import Expectation
from vdp.verify.checks import checks_done
from vdp.verify.conformance.judge import MOST_PAGES, PDFVT, PDFX, judge_standard
from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.examine import Examiner
from vdp.verify.finish import finish_done
from vdp.verify.grade.rules import rules_of
from vdp.verify.grade.told import Grades, lowest
from vdp.verify.inputs import check_inputs, file_hash
from vdp.verify.manifest import LINES, PUBLIC, PieceLine, RunReport, read_pieces, read_report
from vdp.verify.outcome import Task
from vdp.verify.pages import Sheet
from vdp.verify.plates import page_content
from vdp.verify.rolls import misplaced, roll_differences
from vdp.verify.rows import paired, read_set_aside
from vdp.verify.second import second_look
from vdp.verify.serials import shape
from vdp.verify.sheetplan import SheetPlan, read_sheet_plan
from vdp.verify.sheets import verify_sheets
from vdp.verify.stacks import differences
from vdp.verify.tally import Tally
from vdp.verify.tree import page_count, pages
from vdp.verify.verdict import CheckDone, Verdict
from vdp.verify.workers import Elsewhere, Setup, outcomes

#: Pieces examined together: their plate copies are one file in memory.
BATCH = 64
#: Sub-pixel offsets of the renderings, and the sample of the second reader, come from this.
SEED = 20240229
_PDF, _ASIDE = "pieces.pdf", "set_aside.csv"

Progress = Callable[[int], None]


def verify_folder(
    folder: Path,
    job: Job | None = None,
    table: Table | None = None,
    workers: int = 1,
    progress: Progress | None = None,
    elsewhere: Elsewhere | None = None,
    found: Callable[[Finding], None] | None = None,
    *,
    public: bool = False,
) -> Verdict:
    """Judges a run folder.  `progress` is told how many pages are done, `found` of findings as they come.  `elsewhere`
    works instead of `workers`.  `public` holds the pages to the public lines of a sealed run, whose data was removed.

    Raises CallerError when the folder is no run folder, or when job, layout, art, fonts or records are not those that
    report.json names.  Everything wrong with the artefact is a finding.
    """
    begun = time.monotonic()
    folder = Path(folder)
    if not (folder / "report.json").is_file():
        raise CallerError.one(str(folder), "is not a run folder: it has no report.json", "name the folder of a run")
    tally = Tally(found)
    try:
        report = read_report(folder / "report.json")
    except Unreadable as doubt:
        return Verdict(findings=[Finding("file-unreadable", "report.json", str(doubt))])
    if job is not None:
        check_inputs(report, job, table)
        job = replacing(job) if report.replaced else job
    judge = _Judge(folder, report, job, table, tally, PUBLIC if public else LINES)
    judge.files()
    if judge.readable:
        judge.pieces(workers, progress, elsewhere)
    if judge.readable and report.sheets is not None:
        judge.sheets(workers, progress, elsewhere)
    elif job is not None and job.model.web is not None:
        judge.without_sheets()
    return judge.verdict(time.monotonic() - begun)


class _Judge:
    """One judgement in the making."""

    def __init__(
        self, folder: Path, report: RunReport, job: Job | None, table: Table | None, tally: Tally, lines: str
    ) -> None:
        self.folder, self.report, self.job, self.table, self.tally = folder, report, job, table, tally
        self.lines = folder / lines
        self.readable = True
        self.count = 0
        self.sheets_done: tuple[CheckDone, ...] = ()
        self.set_aside: Mapping[int, tuple[str, ...]] = {}

    # -- files --------------------------------------------------------------------------------------------------------

    def files(self) -> None:
        """Presence and hashes; then whether the rows set aside can be read."""
        gone = {LINES} if self.lines.name == PUBLIC else set()  # whether public lines are whole, the seal tells
        for name in [n for n in dict.fromkeys((_PDF, LINES, _ASIDE, *self.report.files)) if n not in gone]:
            found = file_hash(self.folder / name) if "/" not in name and "\\" not in name else None
            if found is None:
                self._file("file-missing", name, "it is not there, or cannot be read")
            elif name not in self.report.files:
                self._file("file-changed", name, "report.json does not name its hash")
            elif found != self.report.files[name]:
                self._file("file-changed", name, "its SHA-256 is not the one in report.json")
        self.readable = (self.folder / _PDF).is_file() and self.lines.is_file()
        try:
            if (self.folder / _ASIDE).is_file():
                self.set_aside = read_set_aside(self.folder / _ASIDE)
        except Unreadable as doubt:
            self._file("file-unreadable", _ASIDE, str(doubt))

    def _file(self, code: str, name: str, message: str) -> None:
        self.tally.tell(0, code, name, message)

    # -- pieces -------------------------------------------------------------------------------------------------------

    def pieces(self, workers: int, progress: Progress | None, elsewhere: Elsewhere | None) -> None:
        """Every piece, then what only the whole file shows."""
        tell = progress if progress is not None else _nobody
        try:
            setup = Setup(self.folder / _PDF, self.report, self._job_paths(), self._patterns(), SEED)
            examiner = setup.examiner(self.job)
            for outcome in outcomes(setup, examiner, self._tasks(), workers, elsewhere):
                self.tally.take(outcome)
                tell(self.tally.total.pages)
            self._page_count(examiner.pdf)
            self._standard()
        except Unreadable as doubt:
            self._file("file-unreadable", _PDF, str(doubt))
            return
        self._counts()
        self._sizes()
        try:
            self.tally.whole(self.lines, self._sheet(), self._has_art)
            self.tally.swaps(self.lines)
            self._rows(examiner)
        except Unreadable as doubt:
            self._file("file-unreadable", self.lines.name, str(doubt))

    def sheets(self, workers: int, progress: Progress | None, elsewhere: Elsewhere | None) -> None:
        """The sheets, where the run has any."""
        try:
            plan = read_sheet_plan(self.report.sheets, self.report.resolution)
        except Unreadable as doubt:
            self._file("file-unreadable", "report.json", str(doubt))
            return
        tell, before = progress if progress is not None else _nobody, self.tally.total.pages
        missing = [name for name in plan.files() if name not in self.report.files]
        for name in missing:
            self._file("file-changed", name, "report.json does not name its hash")
        try:
            sheets = verify_sheets(
                self.lines,
                plan,
                self.report.spots,
                self._patterns(),
                SEED,
                lambda frames: tell(before + 2 * frames),
                workers,
                elsewhere,
            )
        except Unreadable as doubt:
            self._file("file-unreadable", self.lines.name, str(doubt))
            return
        self._against_web(plan)
        self.sheets_done = sheets.checks
        for finding in sheets.findings:
            self.tally.tell(0, finding.code, finding.where, finding.message)

    def without_sheets(self) -> None:
        """The job has a web, and the run tells of no sheets."""
        self._file("web-differs", "report.json", "the job has a web, and the run has no sheets")

    def _against_web(self, plan: SheetPlan) -> None:
        """With the job at hand: places and order as its section web asks."""
        if self.job is None:
            return
        for message in differences(self.job, plan):
            self._file("web-differs", "report.json", message)
        web = self.job.model.web
        if web is not None:
            for message in roll_differences(self.job, web, plan, self.report.pieces):
                self._file("web-differs", "report.json", message)
            for piece, message in misplaced(self.job, web, plan, self._lines()):
                self.tally.tell(piece, "place-order", f"piece {piece}", message)

    def _job_paths(self) -> tuple[Path, Path] | None:
        return None if self.job is None else (self.job.path, self.job.records_path)

    def _patterns(self) -> dict[str, str]:
        """What serials look like, from the first and the last piece."""
        first = last = None
        for piece in self._lines():
            first = first or piece
            last = piece
        if first is None or last is None:
            return {}
        return {
            name: shape(text, last.serials[name]).pattern
            for name, text in first.serials.items()
            if name in last.serials
        }

    def _lines(self) -> Iterator[PieceLine]:
        """The manifest's lines; the first that cannot be read ends it, with a finding."""
        try:
            yield from read_pieces(self.lines)
        except Unreadable as doubt:
            self._file("file-unreadable", self.lines.name, str(doubt))

    def _counted(self) -> Iterator[PieceLine]:
        for piece in self._lines():
            self.count += 1
            if piece.piece != self._due(self.count):
                message = f"line {self.count} of the manifest is of piece {piece.piece}"
                self.tally.tell(self.count, "count-differs", f"piece {self.count}", message)
            self.tally.piece(piece)
            yield piece

    def _due(self, place: int) -> int:
        """The piece that must stand at the 1-based place; 0 where a reprint has none."""
        reprinted = self.report.reprinted
        if reprinted is None:
            return place
        return reprinted[place - 1] if place <= len(reprinted) else 0

    def _tasks(self) -> Iterator[Task]:
        pairs: Iterable[tuple[PieceLine, Row | None]]
        if self.job is not None and self.table is not None:
            whole = self.report.reprinted is None
            pairs = paired(self._counted(), self.table, self.set_aside, self.tally.tell, whole=whole)
        else:
            pairs = ((piece, None) for piece in self._counted())
        pairs, first = iter(pairs), 0
        while batch := list(islice(pairs, BATCH)):
            rows = tuple((row.row, row.values) if row is not None else None for _, row in batch)
            yield Task(first, tuple(piece for piece, _ in batch), rows)
            first += len(batch)

    # -- the whole ----------------------------------------------------------------------------------------------------

    def _page_count(self, pdf: pikepdf.Pdf) -> None:
        count, due = page_count(pdf), 2 * self.count
        if count < due:
            self._file("page-missing", _PDF, f"it has {count} pages; {self.count} pieces need {due}")
        elif count > due:
            self._file("page-extra", _PDF, f"it has {count} pages; {self.count} pieces need {due}")
        try:
            seen, digests = second_look(self.folder / _PDF, count, SEED)
        except Unreadable as doubt:
            self._file("reader-differs", _PDF, str(doubt))
            return
        if seen != count:
            self._file("reader-differs", _PDF, f"the second reader counts {seen} pages, qpdf {count}")
            return
        for number, digest in digests.items():
            if _content_hash(pdf, number) != digest:
                self._file("reader-differs", f"page {number + 1}", "pypdf reads other content than qpdf")

    def _standard(self) -> None:
        """The standard that report.json names, rule by rule; with the job, that it names the right one."""
        claimed = self.report.standard
        if self.job is not None:
            due = PDFVT if self.job.model.colour.profile is not None else ""
            if claimed != due:
                self._file("standard-claim", "report.json", f"it names {claimed or 'no standard'}, the job gives {due}")
        if claimed and 2 * self.count <= MOST_PAGES:
            sheets = [name for name in sorted(self.report.files) if name.startswith("sheets") and name.endswith(".pdf")]
            for name, standard in ((_PDF, claimed), *((name, PDFX) for name in sheets)):
                if (self.folder / name).is_file():
                    for broken in judge_standard(self.folder / name, standard, SEED):
                        self._file(*broken)

    def _counts(self) -> None:
        report, aside = self.report, len(self.set_aside)
        if (
            self.count != report.pieces
            or report.records != report.pieces + report.set_aside
            or aside != report.set_aside
        ):
            message = (
                f"report.json: {report.records} records, {report.pieces} pieces, {report.set_aside} set aside; "
                f"the files: {self.count} pieces, {aside} set aside"
            )
            self._file("count-differs", "report.json", message)
        if self.table is not None and report.reprinted is None and self.table.count != report.records:
            message = f"the records have {self.table.count} rows, report.json says {report.records}"
            self._file("count-differs", self.table.shown, message)

    def _sizes(self) -> None:
        """The X-dimensions that report.json tells against the layout's."""
        if self.job is None:
            return
        for name, due in Expectation(self.job, self.report.firsts).sizes().items():
            told = self.report.symbols.get(name)
            if told != due:
                what = "no X-dimension" if told is None else f"X of {told[0]} dots, reduced by {told[1]}"
                message = f"{name}: it tells {what}; the layout gives X of {due[0]} dots, reduced by {due[1]}"
                self._file("symbol-size", "report.json", message)

    def _sheet(self) -> Sheet | None:
        if self.job is None:
            return None
        expectation = Expectation(self.job, self.report.firsts)
        return Sheet(expectation.media, expectation.trim, expectation.media, plain=True)

    def _has_art(self, name: str) -> bool:
        """Whether an item places a page of a PDF."""
        if self.job is None:
            return False
        return any(
            called == name and isinstance(item, ArtItem) and item.art.lower().endswith((".pdf", *ENDINGS))
            for called, item in self.job.layout.named()
        )

    def _rows(self, examiner: Examiner) -> None:
        """Pieces unlike their rows are compared with each other's rows."""
        unlike = set(self.tally.total.unlike)
        if len(unlike) < 2 or self.table is None:
            return
        pieces = {place: piece for place, piece in enumerate(self._lines(), 1) if place in unlike}
        wanted = {piece.row for piece in pieces.values()}
        values = {row.row: row.values for row in self.table.rows() if row.row in wanted}

        def fits(piece: int, other: int) -> bool:
            line = pieces.get(other)
            if line is None or line.row not in values:
                return False
            return examiner.fits(
                piece - 1, self.report.nth(other, line.piece), line.row, values[line.row], line.serials
            )

        self.tally.rows(fits)

    def verdict(self, seconds: float) -> Verdict:
        """The end of it."""
        total, findings = self.tally.total, self.tally.findings()
        rules = rules_of(self.job.model.grade) if self.job is not None else self.report.grading
        sampled = sum(place <= self.count for place in rules.chosen(self.report.pieces))
        grades = Grades(rules, sampled, self.count, lowest(total.graded), total.shot) if sampled else None
        return Verdict(
            pieces=self.count,
            set_aside=len(self.set_aside),
            pages=total.pages,
            symbols_expected=total.expected,
            symbols_decoded=total.decoded,
            serials=total.serials,
            serials_unique=self.tally.unique,
            findings=findings,
            checks=checks_done(
                total,
                self.count,
                findings,
                with_rows=self.table is not None and self.job is not None,
                standard=self.report.standard,
                grades=grades,
            )
            + (finish_done(self.job, self.count, findings) if self.job is not None else ())
            + self.sheets_done,
            worst=self.tally.worst(),
            grades=grades,
            thinnest=total.thinnest,
            seconds=seconds,
        )


def _content_hash(pdf: pikepdf.Pdf, number: int) -> str | None:
    """SHA-256 of a page's content as qpdf reads it; None when it cannot."""
    try:
        with pdf_faults():
            leaf = next(pages(pdf, number, number + 1))
            return hashlib.sha256(page_content(leaf.page)).hexdigest()
    except (Unreadable, StopIteration):
        return None


def _nobody(_: int) -> None:
    return None
