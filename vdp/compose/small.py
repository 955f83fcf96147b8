"""Type so small that a press's dots may lose parts of it: every glyph set is judged at its size, face and place.

Lives here: which glyphs of a run are small, what is remembered of them, what is said.  Not here: dots (`pattern`),
outlines (`text`), how type is set.

A line stands on whole dots, so a glyph is judged at the places that it may have along its line, and at the height that
its own offset gives it.  The same glyph is judged once for the whole run.
"""

from __future__ import annotations

import math
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from vdp.errors import Fault, Finding, RowRefused
from vdp.job.items import BarcodeItem, MicrotextItem, NumberItem, TextItem
from vdp.job.load import Job
from vdp.marks import Letters, Line, Mark, Spelled, Stretch, TextMark
from vdp.pattern.survival import Anatomy, anatomy, least_body, least_size, lost_along, thin
from vdp.plan.build import SIDES
from vdp.text import Faces
from vdp.text.outlines import outline

#: Type bodies of this many dots and more are not judged: 4 pt at 1200 dpi.
SMALL = 67
#: Heights of a glyph in its dot are told apart by quarters.
_HEIGHTS = 4
#: Sizes in points that are tried for the least that holds.
_LADDER = (*(tenths / 10 for tenths in range(5, 21)), *(fifths / 5 for fifths in range(11, 51)))
#: Letters named in a message.
_NAMED = 6


class Small(NamedTuple):
    """An item that may set small type: `where` is its place in the layout; where it `accepts` losses, they are warned
    of only."""

    name: str
    where: str
    reversed_out: bool
    accepts: bool


class _Case(NamedTuple):
    """A glyph as it is judged: `up` is its height in its dot, in quarters."""

    face: str
    gid: int
    size: float
    up: int
    reversed_out: bool


class _Judged(NamedTuple):
    lost: str
    thin: bool


class SmallType:
    """Judges what is noted, and remembers it for the whole run."""

    def __init__(self, job: Job, faces: Faces) -> None:
        self._faces, self._dots = faces, job.model.resolution / 72
        self._items = {item.name: item for side in SIDES for item in _items(job, side)}
        self._shapes: dict[tuple[str, int], Anatomy] = {}
        self._judged: dict[_Case, _Judged] = {}
        self._leasts: dict[_Case, float | None] = {}
        #: By item and size, then by face (or letters that have a glyph each): glyphs, or letters, of which all is told.
        self._told: dict[tuple[str, float], defaultdict[str | Letters, set[str | int]]] = {}
        #: What is to be told of each step: glyphs with their text.
        self._thin: dict[Small, dict[_Case, str]] = {}
        self._accepted: dict[Small, dict[_Case, str]] = {}

    def is_small(self, size: float) -> bool:
        """Whether type of that size in points is judged."""
        return size * self._dots < SMALL

    def fixed(self, marks: Iterable[Mark]) -> list[Fault]:
        """Judges what is set in marks that no record changes; faults for losses that the layout does not accept."""
        faults: list[Fault] = []
        for mark in marks:
            if isinstance(mark, TextMark):
                try:
                    self.text(mark.name, mark.size, mark.lines)
                except RowRefused as refused:
                    faults.extend(Fault(self._items[mark.name].where, reason) for reason in refused.reasons)
        return faults

    def text(self, name: str, size: float, lines: Iterable[Line]) -> None:
        """As `note`, for set lines of any size."""
        if self.is_small(size):
            self.note(name, [run for line in lines for run in line.glyphs], size)

    def note(self, name: str, runs: Iterable[Stretch], size: float) -> None:
        """Judges glyphs that the item of that name sets.  Raises RowRefused with those that lose parts or holes, and
        the size that would hold."""
        told = self._told.get((name, size))
        if told is None:
            told = self._told[name, size] = defaultdict(set)
        step: Small | None = None
        broken: dict[_Case, str] = {}
        for run in runs:
            # What was told of this item already needs no second look: most letters come again in every record.
            spelled = isinstance(run, Spelled)
            known = told[run.letters if isinstance(run, Spelled) else run.face]
            if not run.offsets and known.issuperset(run.text if spelled else run.gids):
                continue
            step = self._items[name]
            if self._note(step, run, size, broken) or step.accepts:
                known.update(run.text if spelled else run.gids)
        if step is None or not broken:
            return
        if step.accepts:
            self._accepted.setdefault(step, {}).update(broken)
            return
        raise RowRefused((f"{step.name}: {self._said(broken, lose=True)}",))

    def knows(self, name: str, size: float, run: Stretch, more: str = "") -> bool:
        """Whether `note` would find nothing new in a run of that item; `more` letters that stand in it on others."""
        told = self._told.get((name, size))
        if told is None:
            return False
        if isinstance(run, Spelled):
            return told[run.letters].issuperset(run.text + more)
        return not run.offsets and told[run.face].issuperset(run.gids)

    def _note(self, step: Small, run: Stretch, size: float, broken: dict[_Case, str]) -> bool:
        """Whether nothing in a run is broken."""
        whole = True
        for nth, (gid, text) in enumerate(zip(run.gids, run.clusters, strict=True)):
            rise = run.offsets[nth][1] * size * self._dots / 1000 if run.offsets else 0.0
            case = _Case(run.face, gid, size, round(rise * _HEIGHTS) % _HEIGHTS, step.reversed_out)
            found = self._judged.get(case) or self._judge(case)
            if found.lost:
                broken[case] = text
                whole = False
            elif found.thin:
                self._thin.setdefault(step, {}).setdefault(case, text)
        return whole

    def warnings(self) -> list[Finding]:
        """One a step: strokes that are too thin, and losses that the layout accepts."""
        thin_ones = [Finding("microtext-small", s.where, f"{s.name}: {self._said(c)}") for s, c in self._thin.items()]
        lossy = [
            Finding("type-lossy", s.where, f"{s.name}: {self._said(c, lose=True, mend=False)}; the layout accepts it")
            for s, c in self._accepted.items()
        ]
        return lossy + thin_ones

    def _judge(self, case: _Case) -> _Judged:
        shape = self._shape(case.face, case.gid)
        gone = self._lost(shape, case, case.size)
        # What is lost is told as lost, however thin it is.
        scale = self._scale(case.face, case.size)
        found = self._judged[case] = _Judged(gone, not gone and thin(shape, scale, reversed_out=case.reversed_out))
        return found

    def _shape(self, face: str, gid: int) -> Anatomy:
        key = (face, gid)
        if key not in self._shapes:
            opened = self._faces.face(face)
            self._shapes[key] = anatomy(outline(opened, gid), opened.upem)
        return self._shapes[key]

    def _scale(self, face: str, size: float) -> float:
        """Dots a font unit."""
        return size * self._dots / self._faces.face(face).upem

    def _lost(self, shape: Anatomy, case: _Case, size: float) -> str:
        up = case.up / _HEIGHTS
        return lost_along(shape, self._scale(case.face, size), up, reversed_out=case.reversed_out)

    def _least(self, case: _Case) -> float | None:
        """The least size in points from which on a glyph loses nothing; None where that is no small type any more."""
        key = case._replace(size=0.0)
        if key not in self._leasts:
            shape = self._shape(case.face, case.gid)
            sizes = [size for size in _LADDER if self.is_small(size)]
            self._leasts[key] = least_size(lambda size: not self._lost(shape, case, size), sizes)
        return self._leasts[key]

    def _thick(self, case: _Case) -> float:
        """The least size in points, in tenths, at which no stroke is too thin."""
        body = least_body(self._shape(case.face, case.gid), reversed_out=case.reversed_out)
        return math.ceil(body / self._dots * 10) / 10

    def _said(self, cases: dict[_Case, str], *, lose: bool = False, mend: bool = True) -> str:
        """A sentence: face, size, glyphs, what is wrong with them, and from which size on they hold."""
        parts = []
        for face, size, reversed_out in dict.fromkeys((case.face, case.size, case.reversed_out) for case in cases):
            group = {case: text for case, text in cases.items() if (case.face, case.size) == (face, size)}
            ground = "reversed out" if reversed_out else "printed"
            head = f"{face} of {size:g} pt {ground} at {self._dots * 72:g} dpi"
            if lose:
                parts.append(f"{head} loses {self._losses(group)}{f'; {self._advice(group)}' if mend else ''}")
            else:
                dots = "two dots" if reversed_out else "a dot"
                named = _named(list(group.values()))
                least = max(map(self._thick, group))
                parts.append(f"{head} has strokes or joins thinner than {dots} in {named}; {least:g} pt has none")
        return "; ".join(parts)

    def _losses(self, group: dict[_Case, str]) -> str:
        whats: dict[str, list[str]] = {}
        for case, text in group.items():
            whats.setdefault(self._judged[case].lost, []).append(text)
        return ", ".join(f"{_named(texts)} ({what})" for what, texts in whats.items())

    def _advice(self, group: dict[_Case, str]) -> str:
        sizes = [self._least(case) for case in group]
        known = [size for size in sizes if size is not None]
        if len(known) < len(sizes):
            return f"it needs {SMALL / self._dots:.1f} pt or more, or another face"
        return f"{max(known):g} pt and more hold"


def _items(job: Job, side: str) -> Iterable[Small]:
    for index, item in enumerate(getattr(job.layout, side)):
        if isinstance(item, (TextItem, NumberItem, MicrotextItem)):
            white = item.colour == (0, 0, 0, 0) or item.tint == 0
            reversed_out = white or (isinstance(item, MicrotextItem) and item.reversed)
            where = job.where("layout", side, index, "size")
            yield Small(item.called(side, index), where, reversed_out, item.losses == "accept")
        elif isinstance(item, BarcodeItem) and item.human_text != "none":
            yield Small(item.called(side, index), job.where("layout", side, index, "human_size"), False, False)


def _named(texts: Sequence[str]) -> str:
    shown = [_shown(text) for text in dict.fromkeys(texts)]
    more = len(shown) - _NAMED
    return ", ".join(shown[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def _shown(text: str) -> str:
    """A glyph's text in quotes; a mark stands on a dotted circle."""
    if not text:
        return "a mark"
    return f"'\u25cc{text}'" if unicodedata.combining(text[0]) else f"'{text}'"
