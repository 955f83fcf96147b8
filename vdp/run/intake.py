"""The first pass: every row is read, judged and tried; what is refused is set aside with every reason.

Nothing is composed, allotted or written here.  Input = accepted + set aside, always.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from vdp.compose.fit import Fitting
from vdp.compose.piece import Accepted
from vdp.compose.small import SmallType
from vdp.errors import CallerError, Finding, OurBug, RowRefused
from vdp.job.load import Job
from vdp.pdf.pictures import load_picture
from vdp.plan.build import Plan
from vdp.plan.neighbours import check_symbols
from vdp.plan.steps import FixedStep, FormStep
from vdp.plan.symbols import low_bars
from vdp.records.rules import RowRules
from vdp.records.table import Row, Table
from vdp.run.numbers import Numbers

#: Told after each row: rows read so far.
Progress = Callable[[int], None]


@dataclass(slots=True)
class Intake:
    """What the first pass found.  `plan` is sized; `refused` keeps the rows verbatim with their reasons."""

    plan: Plan
    table: Table
    numbers: Numbers
    records: int = 0
    pieces: int = 0
    refused: list[tuple[Row, list[str]]] = field(default_factory=list)
    warnings: list[Finding] = field(default_factory=list)
    languages: Counter[str] = field(default_factory=Counter)
    #: By place, whether each text that may be a column is one (see `Accepted`).
    columns: bytearray = field(default_factory=bytearray)
    #: The accepted rows of a small list, which is not read again.
    kept: list[Row] = field(default_factory=list)
    #: Serials of the first and the last accepted record.
    ends: tuple[dict[str, str], dict[str, str]] = ({}, {})

    def accept(self, row: Row, serials: dict[str, str], language: str, *, columns: bool) -> None:
        """One more piece."""
        self.pieces += 1
        self.columns.append(columns)
        if self.table.few:
            self.kept.append(row)
        self.ends = (self.ends[0] or serials, serials)
        self.languages[language] += 1

    def accepted(self) -> Iterator[Accepted]:
        """The accepted records with their numbers, in the list's own order; a large one is read again."""
        numbers, index = self.numbers, 0
        for row in self.kept if self.table.few else self._read_again():
            serials = numbers.of(index, row.values, row.row)
            yield Accepted(index, row.row, row.values, serials, bool(self.columns[index]))
            index += 1
        if index != self.pieces:
            raise OurBug(f"the second reading gave {index} records, the first {self.pieces}")

    def _read_again(self) -> Iterator[Row]:
        refused = {row.row for row, _ in self.refused}
        return (row for row in self.table.rows() if row.row not in refused)


def take_in(
    plan: Plan,
    table: Table,
    numbers: Numbers,
    progress: Progress | None = None,
    refused_now: Callable[[Finding], None] | None = None,
) -> Intake:
    """Reads and tries every row, with the serials that `numbers` gives it; `refused_now` is told of refusals at once.

    Raises CallerError for what no row can help: a changed file, an exhausted series, a symbol that cannot be placed.
    """
    job, intake = plan.job, Intake(plan, table, numbers)
    rules = RowRules(job.model.records, table.header, table.shown)
    probe, small = _probe(job), SmallType(job, plan.setter.faces)
    faults = [
        fault for step in plan.steps() if isinstance(step, (FixedStep, FormStep)) for fault in small.fixed(step.marks)
    ]
    if faults:
        raise CallerError(faults)
    fitting = Fitting(plan, probe, small)
    needs: dict[str, int] = {}
    met: Mapping[str, int] = {}
    pictures: dict[Path, tuple[int, int]] = {}
    for row in table.rows():
        intake.records += 1
        refusals, warnings = rules.judge(row)
        intake.warnings += [Finding("recipient-repeated", f"row {row.row}", warning) for warning in warnings]
        if not refusals:
            try:
                serials = numbers.judge(intake.pieces, row.values, row.row)
                try:
                    context = job.context(row.values, serials, row.row)
                    found = fitting.fit(context)
                except RowRefused:
                    numbers.refuse()
                    raise
            except RowRefused as refused:
                refusals = list(refused.reasons)
        if refusals:
            intake.refused.append((row, refusals))
            if refused_now is not None:
                refused_now(Finding("rows-refused", f"row {row.row}", "; ".join(refusals)))
        else:
            intake.accept(row, serials, context.language, columns=found.columns)
            if found.needs != met:
                met = found.needs
                needs.update({name: max(need, needs.get(name, 0)) for name, need in met.items()})
            pictures.update(found.pictures)
        if progress is not None:
            progress(intake.records)
    if intake.records != intake.pieces + len(intake.refused):
        raise OurBug(f"{intake.records} rows read, {intake.pieces} accepted, {len(intake.refused)} set aside")
    if intake.records == 0:
        raise CallerError.one(table.shown, "the file has a header and no rows", "give it at least one record")
    intake.plan = plan.sized(needs, pictures)
    check_symbols(intake.plan)
    intake.warnings[:0] = [
        *plan.warnings,
        *low_bars(intake.plan),
        *small.warnings(),
        *(Finding("list-noted", table.shown, note) for note in table.warnings),
    ]
    return intake


def _probe(job: Job) -> Callable[[Path], tuple[int, int]]:
    """Opens each picture once; an unusable one refuses every record that asks for it, with the same reason."""
    known: dict[Path, tuple[int, int] | RowRefused] = {}

    def probe(path: Path) -> tuple[int, int]:
        size = known.get(path)
        if size is None:
            try:
                loaded = load_picture(path, job)
                size = (loaded.width, loaded.height)
            except CallerError as error:
                size = RowRefused(map(str, error.faults))
            known[path] = size
        if isinstance(size, RowRefused):
            raise RowRefused(size.reasons)
        return size

    return probe
