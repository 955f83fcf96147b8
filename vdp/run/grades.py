"""Grades of simulated prints as report.pdf shows them: a table of the lowest of each symbol, and the lowest of all.

Not here: grading (`vdp.verify.grade`).
"""

from __future__ import annotations

from vdp.audit.report import Graded, Shown, View
from vdp.verify.grade.scale import PREDICTION
from vdp.verify.grade.symbol import SymbolGrade
from vdp.verify.grade.told import TITLES, Grades, decided
from vdp.verify.verdict import Verdict

CAPITAL = PREDICTION[0].upper() + PREDICTION[1:]


def graded_table(grades: Grades | None) -> Graded | None:
    """None for a run of which nothing was graded."""
    if grades is None or not grades.lowest:
        return None
    press, rules = grades.rules.press, grades.rules
    floor = "no floor is set" if rules.least is None else f"the job asks for {rules.least:.1f}"
    note = (
        f"{CAPITAL}. Symbols of {grades.sampled:,} of {grades.pieces:,} pieces (the first, the last and others by the "
        f"seed {rules.seed}) were taken from the finished file dot for dot, printed by simulation with edges grown by "
        f"{press.growth:g}, ragged by {press.noise:g} and blurred by {press.blur:g} dots, decoded, and graded by the "
        f"formulas of ISO/IEC 15416 and 15415. Where these figures of the press come from: {rules.source}. The lowest "
        f"of each symbol; {floor}."
    )
    rows = tuple(
        (
            one.name,
            f"{one.symbology}, X {one.module:g} dots" if one.module else one.symbology,
            _grade(one),
            f"piece {one.piece}: {decided(one)}",
        )
        for one in grades.lowest
    )
    return Graded(note, rows)


def graded_shown(grades: Grades | None) -> tuple[Shown, ...]:
    """The lowest of all, with its parameters."""
    if grades is None or grades.shot is None:
        return ()
    one = grades.shot.graded
    figures = "; ".join(
        f"{TITLES[name]} {one.values[name]:.0%} (grade {grade:g})"
        if name not in ("axial", "grid")
        else f"{TITLES[name]} {one.values[name]:.2f} (grade {grade:g})"
        for name, grade in one.grades.items()
    )
    title = f"Lowest grade of the run: {one.name} of piece {one.piece}, {_grade(one)}. {figures}."
    return (Shown(f"{title} {CAPITAL}.", tuple(View(*view) for view in grades.shot.views)),)


def grades_told(verdict: Verdict) -> list[tuple[str, str]]:
    """The line of the summary on the screen."""
    said = verdict.grades.sentence() if verdict.grades is not None else ""
    return [("grades", said)] if said else []


def _grade(one: SymbolGrade) -> str:
    if one.only_decoded:
        return "can be read" if one.grade else "cannot be read"
    return f"grade {one.grade:.1f}"
