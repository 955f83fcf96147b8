"""What a verification came to."""

from __future__ import annotations

from dataclasses import dataclass, field

from vdp.errors import Finding
from vdp.verify.grade.told import Grades
from vdp.verify.smalltype import Thinnest


@dataclass(frozen=True, slots=True)
class CheckDone:
    """One thing that was checked: what, how, how many times (as text), and whether nothing was found."""

    what: str
    how: str
    count: str
    good: bool


@dataclass(frozen=True, slots=True)
class Verdict:
    """Counts, findings and what was checked.

    `serials` counts the serials that were read back off the pages, `serials_unique` the different ones of the
    manifest; `worst` are 1-based piece numbers, those with the most findings first; `grades` those of simulated prints;
    `thinnest` is the letter of small type with the least stroke.
    """

    pieces: int = 0
    set_aside: int = 0
    pages: int = 0
    symbols_expected: int = 0
    symbols_decoded: int = 0
    serials: int = 0
    serials_unique: int = 0
    findings: list[Finding] = field(default_factory=list)
    checks: tuple[CheckDone, ...] = ()
    worst: tuple[int, ...] = ()
    grades: Grades | None = None
    thinnest: Thinnest | None = None
    seconds: float = 0.0

    @property
    def ok(self) -> bool:
        return not self.findings
