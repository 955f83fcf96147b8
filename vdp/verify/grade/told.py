"""The grades of a run: the lowest of each symbol of the layout, the lowest of all with its picture, what is said of it.

Not here: grading (`symbol`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from vdp.verify.grade.rules import Rules
from vdp.verify.grade.scale import PREDICTION
from vdp.verify.grade.shown import Shot
from vdp.verify.grade.symbol import SymbolGrade

#: What the parameters are called where people read them.
TITLES: Mapping[str, str] = {
    "decode": "decode",
    "contrast": "symbol contrast",
    "minimum": "least reflectance as a share of the largest",
    "edge": "least edge contrast",
    "modulation": "modulation",
    "defects": "defects",
    "decodability": "decodability",
    "fixed": "fixed pattern damage",
    "axial": "axial non-uniformity",
    "grid": "grid non-uniformity",
    "unused": "unused error correction",
}


@dataclass(frozen=True, slots=True)
class Grades:
    """`lowest` has one entry for each name of a symbol, in the names' order; `shot` shows the lowest of all."""

    rules: Rules
    sampled: int
    pieces: int
    lowest: tuple[SymbolGrade, ...]
    shot: Shot | None

    @property
    def worst(self) -> SymbolGrade | None:
        return min(self.lowest, key=lambda one: one.order, default=None)

    def as_json(self) -> dict[str, Any]:
        """As report.json tells it."""
        worst = self.worst
        return {
            "what": PREDICTION,
            "sampled": self.sampled,
            "of": self.pieces,
            "lowest": None if worst is None else {"name": worst.name, "piece": worst.piece, "grade": worst.grade},
            "symbols": {one.name: _told(one) for one in self.lowest},
        }

    def sentence(self) -> str:
        """The lowest grade, in one line for the screen."""
        worst = self.worst
        if worst is None:
            return ""
        sample = f"{self.sampled:,} of {self.pieces:,} pieces graded"
        said = f"{worst.grade:.1f} at the lowest ({worst.name}, piece {worst.piece}: {decided(worst)})"
        return f"{said}; {sample}; {PREDICTION}; press: {self.rules.source}"


def decided(one: SymbolGrade) -> str:
    """What decided a grade, in words."""
    if one.only_decoded:
        return "only decoded" if one.grade else "not decoded"
    return TITLES[one.worst] if one.grade < 4 else "every parameter at its best"


def lowest(found: Iterable[SymbolGrade]) -> tuple[SymbolGrade, ...]:
    """The lowest of each name."""
    kept: dict[str, SymbolGrade] = {}
    for one in found:
        if one.name not in kept or one.order < kept[one.name].order:
            kept[one.name] = one
    return tuple(kept[name] for name in sorted(kept))


def _told(one: SymbolGrade) -> dict[str, Any]:
    return {
        "symbology": one.symbology,
        "plate": one.plate,
        "piece": one.piece,
        "x_dots": one.module,
        "grade": one.grade,
        "decided_by": one.worst,
        "only_decoded": one.only_decoded,
        "grades": {name: round(grade, 2) for name, grade in one.grades.items()},
        "values": {name: round(value, 4) for name, value in one.values.items()},
    }
