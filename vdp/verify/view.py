"""What was seen on a page while it was rewritten: type, pictures, forms, faults, and what each plate's copy is.

Lives here: values only.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import pikepdf

from vdp.verify.fonts import SourceFont
from vdp.verify.inks import Space, Tints
from vdp.verify.state import Area, Matrix


class Show(NamedTuple):
    """One text-showing operation.

    `operand` is as written; `at` its origin on the page in points; `along` the step of one em in reading direction;
    `known` tells whether `at` is known; `space` and `colour` are its ink, `tints` what that puts on the plates;
    `depth` is 0 on the page itself and more in forms.
    """

    font: SourceFont
    operand: bytes
    at: tuple[float, float]
    along: tuple[float, float]
    known: bool
    space: Space
    colour: tuple[float, ...]
    tints: Tints
    depth: int


class Placed(NamedTuple):
    """A picture on the page: `matrix` takes the unit square to page points."""

    source: pikepdf.Object
    spaces: pikepdf.Object | None
    matrix: Matrix
    depth: int


class FormSeen(NamedTuple):
    """A form drawn by the page itself."""

    objgen: tuple[int, int]
    matrix: Matrix


@dataclass(slots=True)
class Seen:
    """Everything noted about a page or a form.

    `spot_areas`: where spot plates have ink, by plate; `knocked`: plates whose ink others may have painted over;
    `areas`: where the page itself, not its forms, puts ink on a plate, or paper and nothing else.
    """

    shows: list[Show] = field(default_factory=list)
    pictures: list[Placed] = field(default_factory=list)
    forms: list[FormSeen] = field(default_factory=list)
    faults: dict[tuple[str, str], None] = field(default_factory=dict)
    spot_areas: dict[int, list[Area]] = field(default_factory=dict)
    knocked: set[int] = field(default_factory=set)
    areas: dict[int, list[Area]] = field(default_factory=dict)

    def fault(self, code: str, message: str) -> None:
        self.faults[code, message] = None

    def take(self, other: Seen) -> None:
        """Adds what was seen in a form."""
        self.shows += other.shows
        self.pictures += other.pictures
        self.faults.update(other.faults)
        for plate, areas in other.spot_areas.items():
            self.spot_areas.setdefault(plate, []).extend(areas)
        self.knocked |= other.knocked


@dataclass(slots=True)
class PageView:
    """A page after rewriting: `copies` are page numbers in the plate file, None where a plate has nothing;
    `content` is the uncompressed content stream."""

    box: Area
    content: bytes
    seen: Seen
    copies: dict[str, int | None]
