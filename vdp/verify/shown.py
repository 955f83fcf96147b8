"""What a page shows as type, put back together: glyphs by line, and text through ToUnicode.

Not here: which words should be there (`words`, `text`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from vdp.verify import lex
from vdp.verify.fonts import SourceFont
from vdp.verify.inks import Space, Tints
from vdp.verify.view import Show

#: A step along the line, in ems, from which two shows are no longer one word.
_APART = 0.22
#: From here on they are not even one line.
_FAR = 8.0


class Run(NamedTuple):
    """Glyphs in one font: `gids` two bytes each; `joined` tells that it continues the run before it on its line."""

    font: SourceFont
    gids: bytes
    at: tuple[float, float]
    along: tuple[float, float]
    space: Space
    colour: tuple[float, ...]
    tints: Tints
    depth: int
    joined: bool
    spaced: bool

    @property
    def text(self) -> str:
        return self.font.text(self.gids)


def runs(shows: Iterable[Show]) -> list[Run]:
    """The shows of a page in painting order, each with whether it goes on where the one before it ended.

    Text in fonts that are not addressed by glyph id is not ours, and is left out.
    """
    found: list[Run] = []
    last: Show | None = None
    passed = b""
    for show in shows:
        if not show.font.by_glyph:
            last = None
            continue
        gids = lex.measured(show.operand).gids
        step = None
        if last is not None and show.known and last.known and show.depth == last.depth:
            step = _step(last, passed, show)
        joined = step is not None and abs(step) < _FAR
        run = Run(
            show.font,
            gids,
            show.at,
            show.along,
            show.space,
            show.colour,
            show.tints,
            show.depth,
            joined,
            joined and step is not None and step > _APART,
        )
        if joined and not run.spaced and _alike(run, found[-1]):
            found[-1] = found[-1]._replace(gids=found[-1].gids + gids)
        else:
            found.append(run)
        last, passed = show, gids
    return found


def _alike(one: Run, other: Run) -> bool:
    """Whether two runs are in one font, size and ink: a rise or a break in the operators may part a word."""
    return (one.font, one.along, one.space, one.colour) == (other.font, other.along, other.space, other.colour)


def _step(last: Show, gids: bytes, show: Show) -> float | None:
    """The space between two shows in ems; None when they do not stand on one line."""
    ax, ay = last.along
    em = math.hypot(ax, ay)
    if em == 0 or abs(show.along[0] * ay - show.along[1] * ax) > 1e-3 * em * em:
        return None
    dx, dy = show.at[0] - last.at[0], show.at[1] - last.at[1]
    if abs(dx * ay - dy * ax) / em > 0.05 * em:
        return None
    passed = (last.font.width(gids) - lex.measured(last.operand).adjustment) / 1000
    return (dx * ax + dy * ay) / (em * em) - passed


def text_of(page: Sequence[Run]) -> str:
    """The text of a page's runs: lines parted by line feeds, words far apart by spaces."""
    parts: list[str] = []
    for run in page:
        parts.append("" if not parts else "\n" if not run.joined else " " if run.spaced else "")
        parts.append(run.text)
    return "".join(parts)


def within(run: Run, box: tuple[float, float, float, float], slack: float) -> bool:
    """Whether a run begins in a box."""
    x, y = run.at
    return box[0] - slack <= x <= box[2] + slack and box[1] - slack <= y <= box[3] + slack
