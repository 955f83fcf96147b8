"""The specimen that leader, trailer and make-ready carry: the job's own layout with test values, marked as one.

Its numbers are none that a piece of the series can have, its values are the job's (`rolls: {specimen: …}`), plain words
or invented ones, never a record's; so its codes carry test payloads.  Not here: which frames carry it (`press.parts`),
the word across it (`press.standins`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from vdp.audit.manifest import SymbolLine
from vdp.compose.fit import fit
from vdp.compose.piece import Accepted, Symbol, compose
from vdp.errors import CallerError, RowRefused
from vdp.job.load import Job
from vdp.marks import Mark
from vdp.plan.build import Plan
from vdp.press.standins import specimen_marks
from vdp.records.faults import did_you_mean
from vdp.records.spec import FieldRule
from vdp.run.intake import Intake
from vdp.run.numbers import Numbers
from vdp.run.rolls import rolls_said
from vdp.run.web import Laid
from vdp.units import points

WORD = "SPECIMEN"
#: Invented records that are tried, where plain words cannot be set.
TRIES = 50
_DAY = datetime(2000, 1, 1)  # noqa: DTZ001  a day to be printed, no clock


class Specimen(NamedTuple):
    """Marks of both sides, and what the manifest would say of it."""

    front: tuple[Mark, ...]
    back: tuple[Mark, ...]
    serials: Mapping[str, str]
    symbols: tuple[Symbol, ...]

    def as_json(self, dpi: int, sha256: str) -> dict[str, Any]:
        """For report.json, its symbols as those of a piece whose front is page 1."""
        symbols = []
        for symbol in self.symbols:
            x, y, width, height = symbol.box
            edges = tuple(round(points(edge, dpi), 4) for edge in (x, y, x + width, y + height))
            told = (symbol.name, symbol.symbology, symbol.identifier, symbol.plate, symbol.side + 1, edges, symbol.data)
            symbols.append(SymbolLine(*told))  # type: ignore[arg-type]  # four edges
        return {"serials": dict(self.serials), "symbols": [symbol._asdict() for symbol in symbols], "sha256": sha256}


def specimen_for(intake: Intake, laid: Laid | None) -> Specimen | None:
    """That of a run which has leader, trailer or make-ready; None for any other."""
    if laid is None or not laid.run.specimens:
        return None
    (language, _) = (intake.languages.most_common(1) or [("", 0)])[0]
    return specimen_of(intake.plan, intake.numbers, intake.table.header, language)


def specimen_of(plan: Plan, numbers: Numbers, header: tuple[str, ...], language: str) -> Specimen:
    """Composes it.  `plan` is sized for the run; `language` is one that its records have.

    Raises CallerError when a series leaves no number for it, or no values can be set in the space that the run's pieces
    have, with what was in the way.
    """
    job, refused = plan.job, RowRefused(())
    strange = sorted({field for press in ("", *job.model.presses) for field in _stated(job, press)} - set(header))
    if strange:
        message = f"the records have no field '{strange[0]}' that a specimen could have a value for"
        raise CallerError.one(job.where("job", "rolls"), message, did_you_mean(strange[0], header))
    for values in _tried(job, header, language):
        try:
            serials = numbers.outside(values)
            values |= {column: serials[name] for name, column in _columns(job)}
            context = job.context(values, serials, 0)
            found = fit(plan, context, lambda path: _known(plan, path))
            _no_larger(plan, found.needs)
        except RowRefused as error:
            refused = refused if refused.reasons else error
            continue
        (piece,) = compose(plan, [Accepted(0, 0, values, serials)])
        sides = []
        for side, marks in enumerate((piece.front, piece.back)):
            taken = [symbol.box for symbol in piece.symbols if symbol.side == side]
            sides.append((*marks, *specimen_marks(plan.page.trim, plan.setter, taken)))
        return Specimen(sides[0], sides[1], serials, tuple(piece.symbols))
    message = f"no specimen can be set for leader, trailer or make-ready: {'; '.join(refused.reasons)}"
    mend = "give its fields values that can be set: rolls: {specimen: {FIELD: VALUE}}"
    raise CallerError.one(job.where("job", "rolls"), message, mend)


def _no_larger(plan: Plan, needs: Mapping[str, int]) -> None:
    """Symbols have the size that the run's pieces need.  Raises RowRefused for one that would need more."""
    large = [name for name, need in needs.items() if need > plan.needs.get(name, 0)]
    if large:
        raise RowRefused(f"'{name}' would be larger than on any piece" for name in large)


def _known(plan: Plan, path: Path) -> tuple[int, int]:
    if path not in plan.pictures:
        raise RowRefused((f"the picture {path.name} is on no piece of the run",))
    return plan.pictures[path]


def _columns(job: Job) -> Iterator[tuple[str, str]]:
    """Series whose numbers the records bring along, and the field that has them."""
    for name, spec in job.model.series.items():
        if spec.column is not None:
            yield name, spec.column


def _tried(job: Job, header: tuple[str, ...], language: str) -> Iterator[dict[str, str]]:
    """Values to try, one set after the other; what the job states stands in all of them."""
    rules = job.model.records.fields
    own = {field: text for press in ("", *job.model.presses) for field, text in _stated(job, press).items()}
    if job.model.records.language is not None:
        own = {job.model.records.language: language, **own}
    plain = {field: _plain(rules.get(field, FieldRule())) for field in header}
    yield {**plain, **own}
    hinted = {field: rule for field, rule in rules.items() if rule.fake is not None}
    if not hinted:
        return
    from vdp.fake import fake_rows  # noqa: PLC0415  it loads every locale's words, and is rarely needed

    spoken = job.model.records.language
    kept = {"fields": hinted, "recipient": (), "seeds": None, "language": spoken if spoken in hinted else None}
    spec = job.model.records.model_copy(update=kept)
    for row in fake_rows(spec, TRIES, "specimen", job.model.locales):
        yield {**plain, **row, **own}


def _stated(job: Job, press: str) -> Mapping[str, str]:
    rolls = rolls_said(job, press)
    return rolls.specimen if rolls is not None else {}


def _plain(rule: FieldRule) -> str:
    """A value that a person sees to be none."""
    if rule.one_of is not None:
        return rule.one_of[0]
    if rule.date is not None:
        return _DAY.strftime(rule.date)
    least, most = rule.length if rule.length is not None else (0, len(WORD))
    return (WORD * (1 + least // len(WORD)))[: max(least, min(most, len(WORD)))]
