"""The content streams of the one-plate copies while they are written, all plates side by side.

Lives here: what is written to which plate, and what is taken back because nothing was painted under it.
Not here: what an operator means (`rewrite`), objects (`platefile`).

A plate on which a ``q … Q`` or ``BT … ET`` painted nothing loses it whole, so the copy of a plate holds little more
than its own marks.  Greys are set only before something is painted with them.
"""

from __future__ import annotations

from typing import NamedTuple


class _Mark(NamedTuple):
    lengths: list[int]
    painted: list[int]
    fills: list[float | None]
    strokes: list[float | None]


class Canvas:
    """One output per plate.  A grey of None is not known yet."""

    def __init__(self, count: int) -> None:
        self.outs: list[list[bytes]] = [[] for _ in range(count)]
        self.painted = [0] * count
        self.fills: list[float | None] = [None] * count
        self.strokes: list[float | None] = [None] * count
        self._frames: list[_Mark] = []
        self._text: _Mark | None = None
        self._kept: list[bytes] = []

    @property
    def in_text(self) -> bool:
        return self._text is not None

    def _mark(self) -> _Mark:
        return _Mark([len(out) for out in self.outs], self.painted[:], self.fills[:], self.strokes[:])

    def everywhere(self, token: bytes) -> None:
        """Something that every plate needs: matrices, clips, line styles."""
        for out in self.outs:
            out.append(token)

    def save(self) -> None:
        self._frames.append(self._mark())
        self.everywhere(b"q ")

    def restore(self) -> None:
        mark = self._frames.pop()
        for plate, out in enumerate(self.outs):
            if self.painted[plate] == mark.painted[plate]:
                del out[mark.lengths[plate] :]
            else:
                out.append(b"Q ")
        self.fills, self.strokes = mark.fills, mark.strokes

    def begin_text(self) -> None:
        self._text, self._kept = self._mark(), []
        self.everywhere(b"BT ")

    def text_state(self, token: bytes) -> None:
        """Something that stays in force after the text object."""
        self.everywhere(token)
        if self._text is not None:
            self._kept.append(token)

    def end_text(self) -> None:
        mark, self._text = self._text, None
        if mark is None:
            return
        for plate, out in enumerate(self.outs):
            if self.painted[plate] == mark.painted[plate]:
                del out[mark.lengths[plate] :]
                out.extend(self._kept)
            else:
                out.append(b"ET ")

    def paint(self, plate: int, token: bytes, fill: float | None, stroke: float | None) -> None:
        """Paints on one plate; `fill` and `stroke` are tints, None where the token does not use them."""
        out = self.outs[plate]
        if fill is not None and self.fills[plate] != fill:
            self.fills[plate] = fill
            out.append(b"%.5g g " % (1 - fill))
        if stroke is not None and self.strokes[plate] != stroke:
            self.strokes[plate] = stroke
            out.append(b"%.5g G " % (1 - stroke))
        self.painted[plate] += 1
        out.append(token)

    def streams(self) -> list[bytes | None]:
        """The finished streams; None for a plate on which nothing was painted."""
        while self._frames:
            self.restore()
        return [b"".join(out) if count else None for out, count in zip(self.outs, self.painted, strict=True)]
