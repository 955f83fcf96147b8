"""What goes to a worker and what comes back: tasks, findings with their place, evidence for the whole file.

Lives here: values only.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from vdp.verify.grade.shown import Shot
from vdp.verify.grade.symbol import SymbolGrade
from vdp.verify.manifest import PieceLine
from vdp.verify.pages import Sheet
from vdp.verify.smalltype import Thinnest
from vdp.verify.view import FormSeen


class Found(NamedTuple):
    """A finding of a piece (0: of the file); `side` is 0, 1, or -1 for the piece as a whole."""

    piece: int
    side: int
    code: str
    where: str
    message: str


class Stranger(NamedTuple):
    """A side that says another piece's things: what its symbols say instead, by name, and foreign serials.  `own` tells
    that it shows a serial of the piece's own; `right` is what those of its symbols say that say what they must, which
    other pieces' symbols may say too."""

    piece: int
    side: int
    said: Mapping[str, str]
    serials: tuple[str, ...]
    own: bool
    right: tuple[str, ...] = ()


class Task(NamedTuple):
    """Pieces that stand one after another in the file, with their rows (number, values) where known."""

    first: int
    pieces: tuple[PieceLine, ...]
    rows: tuple[tuple[int, Mapping[str, str]] | None, ...]


@dataclass(slots=True)
class Outcome:
    """What a chunk came to."""

    found: list[Found] = field(default_factory=list)
    pages: int = 0
    expected: int = 0
    decoded: int = 0
    serials: int = 0
    objects: list[tuple[int, int]] = field(default_factory=list)
    sheets: dict[Sheet, int] = field(default_factory=dict)
    separations: dict[str, dict[str, int]] = field(default_factory=dict)
    strangers: list[Stranger] = field(default_factory=list)
    art: dict[tuple[int, tuple[str, ...]], dict[tuple[FormSeen, ...], list[int]]] = field(default_factory=dict)
    unlike: list[int] = field(default_factory=list)
    glyphs: set[tuple[object, ...]] = field(default_factory=set)
    thinnest: Thinnest | None = None
    lines: int = 0
    graded: list[SymbolGrade] = field(default_factory=list)
    shot: Shot | None = None
