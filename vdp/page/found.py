"""Findings and warnings of a run, and what each is about: a piece and a side, a place on its picture, a row, a frame.

Lives here: reading that out of a finding's own words.  Not here: showing them (`screens`).
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from vdp.job.load import Job
from vdp.page.opened import Run
from vdp.page.shelf import Place, Shelf
from vdp.verify.manifest import PieceLine

SIDES = ("front", "back")
_IN_TEXT = {
    "piece": re.compile(r"\bpiece (\d+)"),
    "page": re.compile(r"\bpage (\d+)"),
    "row": re.compile(r"\brow (\d+)"),
    "frame": re.compile(r"\broll (\d+), frame (\d+)"),
    "place": re.compile(r"\broll (\d+), frame (\d+), lane (\d+), place (\d+)"),
}
_SIDE = re.compile(r"\bpiece \d+, (front|back)\b|\bplace \d+, (front|back)\b")
#: A place on a page as the verifier tells it, in points from the page's lower left.
_POINT = re.compile(r"\bpage (\d+) at (-?\d+\.\d\d), (-?\d+\.\d\d) pt")
#: What a message is about stands before its first colon: a symbol or an item of the layout.
_NAMED = re.compile(r"([^:'\"]{1,80}): ")
#: Half of a side, in points, of what is outlined around a single point.
_AROUND = 6.0

Box = tuple[float, float, float, float]


class Spot(NamedTuple):
    """A place on a side, as x, y, width, height in points: from the page's lower left where it is `paged`, else from
    the trim's upper left with y down; `name` is what lies there."""

    side: str
    box: Box
    paged: bool
    name: str

    def in_dots(self, trim: Box, dpi: int) -> tuple[int, int, int, int]:
        """The same from the trim's upper left, y down, in dots."""
        x, y, width, height = self.box
        if self.paged:
            x, y = x - trim[0], trim[3] - y - height
        left, top, across, down = (round(each * dpi / 72) for each in (x, y, width, height))
        return left, top, across, down


def findings_of(run: Run) -> list[dict[str, Any]]:
    """What was found, in the report's order, with its number from 0 and what it is about (see `about`)."""
    if not run.kept:
        told = [(kind, one) for kind in ("findings", "warnings") for one in run.shelf.told.get(kind) or ()]
        run.kept.extend(
            {"number": number, "kind": kind[:-1], **one, **about(run, str(one["where"]), str(one["message"]))}
            for number, (kind, one) in enumerate(told)
        )
    return run.kept


def about(run: Run, where: str, message: str) -> Mapping[str, Any]:
    """Where the words lead; what they do not name is None.  `spot` is a place on the piece's picture."""
    shelf, text = run.shelf, f"{where} {message}"
    found: dict[str, Any] = {"piece": None, "side": "front", "row": None, "frame": None, "spot": None}
    hit = {kind: pattern.search(text) for kind, pattern in _IN_TEXT.items()}
    if (frame := hit["frame"]) is not None:
        found["frame"] = (int(frame[1]), int(frame[2]))
    if (lies := hit["place"]) is not None:
        nth = shelf.places.get(Place(*(int(number) for number in lies.groups())))
        found["piece"] = shelf.line(nth).piece if nth is not None else None
    if (page := hit["page"]) is not None and 0 < int(page[1]) <= 2 * len(shelf):
        found["piece"] = shelf.line((int(page[1]) - 1) // 2).piece
        found["side"] = SIDES[(int(page[1]) - 1) % 2]
    if (named := hit["piece"]) is not None and shelf.nth_of(int(named[1])) is not None:
        found["piece"] = int(named[1])
    if (row := hit["row"]) is not None:
        found["row"] = int(row[1])
        nth = shelf.nth_of_row(int(row[1]))
        if found["piece"] is None and nth is not None:
            found["piece"] = shelf.line(nth).piece
    if (side := _SIDE.search(where)) is not None:
        found["side"] = side[1] or side[2]
    if found["piece"] is not None:
        found["spot"] = _spot(run, _line(shelf, found["piece"]), message)
        found["side"] = found["spot"].side if found["spot"] is not None else found["side"]
    return found


def _line(shelf: Shelf, piece: int) -> PieceLine:
    return shelf.line(shelf.nth_of(piece) or 0)


def _spot(run: Run, line: PieceLine, message: str) -> Spot | None:
    """The place that a message names on a piece: a point of a page, a symbol, or an item of the layout."""
    point = _POINT.search(message)
    if point is not None:
        x, y = float(point[2]), float(point[3])
        box = (x - _AROUND, y - _AROUND, 2 * _AROUND, 2 * _AROUND)
        return Spot(SIDES[(int(point[1]) - 1) % 2], box, paged=True, name="the place")
    named = _NAMED.match(message)
    if named is None:
        return None
    for symbol in line.symbols:
        if symbol.name == named[1]:
            x0, y0, x1, y1 = symbol.box
            return Spot(SIDES[(symbol.page - 1) % 2], (x0, y0, x1 - x0, y1 - y0), paged=True, name=symbol.name)
    return _item(run, named[1])


def _item(run: Run, name: str) -> Spot | None:
    """An item of the layout, where that is still the one that the run was made of."""
    job = run.job
    if job is None or not _same_layout(run, job):
        return None
    for side, items in (("front", job.layout.front), ("back", job.layout.back)):
        for index, item in enumerate(items):
            box = getattr(item, "box", None)
            if box is not None and item.called(side, index) == name:
                return Spot(side, box, paged=False, name=name)
    return None


def _same_layout(run: Run, job: Job) -> bool:
    told = run.shelf.report.inputs.get("layout") or {}
    try:
        return bool(told.get("sha256") == hashlib.sha256(job.layout_path.read_bytes()).hexdigest())
    except OSError:
        return False
