"""The compiled program of a side: one step per layout item, in painting order, with everything worked out that does not
depend on a record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from vdp.barcode.carriers import Form
from vdp.job.template import Condition, Template
from vdp.marks import PROCESS, Box, Ink, Mark, StateDots
from vdp.text import Style


@dataclass(frozen=True, slots=True)
class FixedStep:
    """Marks that are the same on every piece where `when` holds."""

    name: str
    when: Condition | None
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class FormStep:
    """A run of unconditional fixed marks, drawn once in the file and placed by `asset` on every piece."""

    asset: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class TextStep:
    """Type: `wordings` by language; "" stands for every language, "other" for those not named."""

    name: str
    when: Condition | None
    wordings: Mapping[str, Template]
    box: Box
    style: Style
    ink: Ink


@dataclass(frozen=True, slots=True)
class ImageStep:
    name: str
    when: Condition | None
    template: Template
    box: Box
    fit: Literal["fill", "inside"]
    turn: int


class HumanText(NamedTuple):
    """A symbol's text for people: `size` in points; the clear `gap` to the bars, the `rise` of capitals, the `depth` of
    the whole strip and the `drop` of longer guard bars in dots."""

    above: bool
    face: str
    size: float
    gap: int
    rise: int
    depth: int
    drop: int


@dataclass(frozen=True, slots=True)
class SymbolStep:
    """A barcode.  `corner` is the page place of its upper left corner (quiet zone included); sizes in dots.

    `quiet` is left, bottom, right, top in dots before turning; `room` the largest width and height before turning, or
    None; `fixed` is the QR version the layout asks for; `where` its file:line:column.  `symbology` is its name in
    layouts and manifests, `carrier` the encoder's name for it.  `state` is the size of a four-state code, whose
    `module` and `height` are 0.  `asked` is the X-dimension that the layout asks for, in millimetres; `reduction` as in
    the mark; `longest` the most that its stated use allows from quiet zone to quiet zone, 0 for no limit.
    """

    name: str
    when: Condition | None
    template: Template
    symbology: str
    carrier: str
    form: Form
    corner: tuple[int, int]
    module: int
    height: int
    quiet: tuple[int, int, int, int]
    state: StateDots | None
    fixed: int | None
    room: tuple[int, int] | None
    ink: Ink
    turn: int
    where: str
    asked: float = 0.0
    reduction: tuple[int, int] = (0, 0)
    human: HumanText | None = None
    longest: int = 0


@dataclass(frozen=True, slots=True)
class MicroStep:
    """Microtext: `leading` and `rise` (top of the type body to the baseline) in dots, `size` in points.

    `room` is the length of a line in thousandths of an em, `lines` how many the box holds.
    """

    name: str
    when: Condition | None
    template: Template
    box: Box
    face: str
    size: float
    body: int
    leading: int
    rise: int
    room: float
    lines: int
    ink: Ink
    reversed: bool
    turn: int


Step = FixedStep | FormStep | TextStep | ImageStep | SymbolStep | MicroStep


@dataclass(frozen=True, slots=True)
class Side:
    """One side's steps in painting order: the first is undermost."""

    steps: tuple[Step, ...]


def plates_of(ink: Ink) -> frozenset[str]:
    """The plates that an ink changes: a spot only its own; paper white knocks out of all four process plates."""
    if ink.spot:
        return frozenset((ink.spot,))
    named = frozenset(plate for plate, part in zip(PROCESS, ink.cmyk, strict=True) if part > 0)
    return named or frozenset(PROCESS)
