"""Folds: how wide each panel is, so that a panel folded in lies flat inside the others.

Lives here: panel widths and fold lines from the paper's thickness, and whether they are those of the layout.
Not here: what lies too near a fold (`clearance`), what the post takes (`letter`).

Panels are counted from the piece's first edge (its head, or its left side) along `length`.  All in points; fold lines
also in whole dots, rounded as a layout's places are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Literal

from vdp.errors import CallerError, Fault
from vdp.units import dots, mm

Fold = Literal["single", "c", "z", "gate", "roll"]

#: What a panel that is folded in is short by: 1/16 in (STANDARDS §5: six printers' guides agree; common practice).
SHORT = 72 / 16
#: The least it must be short by, in thicknesses of the paper: the fold that closes over it is itself one thick on
#: either face.  Reasoned, no source; it exceeds `SHORT` only for board over 0.79 mm.
LEAST_SHORT = 2

_PANELS: dict[Fold, tuple[int, int, int]] = {  # least, usual and most panels
    "single": (2, 2, 2),
    "c": (3, 3, 3),
    "z": (3, 3, 12),
    "gate": (3, 3, 3),
    "roll": (4, 4, 8),
}


@dataclass(frozen=True, slots=True)
class Folding:
    """Panel widths in points from the first edge; `short` is what each inner panel is short of the one around it."""

    fold: Fold
    panels: tuple[float, ...]
    short: float

    @property
    def lines(self) -> tuple[float, ...]:
        """Where the folds are, in points from the first edge."""
        return tuple(accumulate(self.panels))[:-1]

    def lines_dots(self, dpi: int) -> tuple[int, ...]:
        """The same in whole dots from the first edge."""
        return tuple(dots(line, dpi) for line in self.lines)


def fold_panels(
    fold: Fold,
    length: float,
    thickness: float,
    where: str,
    *,
    panels: int | None = None,
    short: float | None = None,
    inner: Literal["first", "last"] = "last",
) -> Folding:
    """The panels of a piece `length` points long, of paper `thickness` points thick.

    - ``single``: two halves.  ``z``: equal panels, none lies inside another.
    - ``c`` (letter fold): three panels, the inner one `short`.  ``roll``: four to eight; the two outer ones are equal
      and each further one is `short` of the panel it lies in.  `inner` says at which end the innermost panel is.
    - ``gate``: two outer panels that close over the middle one, together `short` of it, so that they do not meet.

    `short` None: 1/16 in, more for thick board.  Raises CallerError with every fault.
    """
    least, usual, most = _PANELS.get(fold, (0, 0, 0))
    count = usual if panels is None else panels
    needed = LEAST_SHORT * thickness
    faults: list[str] = []
    if fold not in _PANELS:
        faults.append(f"'{fold}' is no fold: {', '.join(_PANELS)}")
    elif not least <= count <= most:
        faults.append(f"a fold '{fold}' has {least if least == most else f'{least} to {most}'} panels, not {count}")
    if inner not in ("first", "last"):
        faults.append(f"the inner panel is the first or the last, not '{inner}'")
    if not (length > 0 and thickness > 0):
        faults.append(f"length and thickness must be more than 0, not {mm(length):.2f} and {mm(thickness):.3f} mm")
    elif short is not None and short < needed and fold in ("c", "gate", "roll"):
        faults.append(
            f"the inner panel is {mm(short):.2f} mm short: paper {mm(thickness):.3f} mm thick needs {mm(needed):.2f} mm"
        )
    if faults:
        raise CallerError(Fault(where, fault) for fault in faults)
    if fold in ("single", "z"):
        return Folding(fold, (length / count,) * count, 0.0)
    less = max(SHORT, needed) if short is None else short
    widths = _gate(length, less) if fold == "gate" else _rolled(length, count, less)
    if min(widths) <= 0:
        message = f"{count} panels with {mm(less):.2f} mm between them do not go into {mm(length):.2f} mm"
        raise CallerError.one(where, message)
    return Folding(fold, widths if inner == "last" else widths[::-1], less)


def _gate(length: float, less: float) -> tuple[float, ...]:
    return ((length - less) / 4, (length + less) / 2, (length - less) / 4)


def _rolled(length: float, count: int, less: float) -> tuple[float, ...]:
    """Outer panel first: w, w, w − s, w − 2s …, together `length`."""
    outer = (length + less * (count - 1) * (count - 2) / 2) / count
    return (outer, *(outer - less * step for step in range(count - 1)))


def panel_faults(folding: Folding, drawn: Sequence[float], dpi: int, where: str) -> Iterator[Fault]:
    """What differs between the folds and the panel lines the layout was drawn with (points from the first edge).

    A line is right when it falls on the fold's dot or on the next one.
    """
    if len(drawn) != len(folding.lines):
        yield Fault(where, f"the layout has {len(drawn)} panel lines, the fold '{folding.fold}' {len(folding.lines)}")
        return
    pairs = zip(folding.lines, folding.lines_dots(dpi), drawn, strict=True)
    for number, (line, line_dots, asked) in enumerate(pairs, start=1):
        if abs(line_dots - dots(asked, dpi)) > 1:
            yield Fault(
                where,
                f"fold {number} falls at {mm(line):.2f} mm, the layout's panel line is at {mm(asked):.2f} mm",
                f"panels of {', '.join(f'{mm(panel):.2f}' for panel in folding.panels)} mm fold flat",
            )
