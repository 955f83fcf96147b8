"""What is printed on one frame alone: the code that finishing reads on each lane, and the slug line that people read.

Lives here: what they say and the marks of it.  Not here: where they lie (`printmarks`).

A frame code holds five fields, each of fixed length, joined by hyphens: the first eight hexadecimal digits of the run's
identity (the job, its records and everything else that went in), roll, frame, lane, and how often the frame was
printed again.  Neither says a time.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from vdp.barcode.carriers import Encoder, extent, need
from vdp.barcode.symbology import KNOWN
from vdp.errors import CallerError, RowRefused
from vdp.marks import BLACK, Bars, Box, Mark, SymbolMark, TextMark
from vdp.press.backs import Backs
from vdp.press.printmarks import FrameMarks, behind
from vdp.press.web import Web
from vdp.text.fit import Setter, Style
from vdp.units import dots, parse_length

CodeKind = Literal["datamatrix", "code128"]
#: Module of a frame code (ISO/IEC 15416 and 15415 are commonly applied at 10 mil; common practice, no source).
MODULE = parse_length("0.254 mm")
#: Height of the bars of a Code 128; common practice, no source.
BARS = parse_length("6 mm")
#: Type of the slug line: as large as it fits, at least 4 pt.
_SLUG = Style("mono", 7.0, least=4.0, one_line=True, valign="middle")


class FrameName(NamedTuple):
    """Which frame: `roll` and `frame` from 1, `reprint` how often it was printed again."""

    roll: int
    frame: int
    reprint: int = 0


def code_text(identity: bytes, name: FrameName, lane: int) -> str:
    """What the code of a lane says: ``3FA91C07-001-000123-02-00``."""
    return f"{identity[:4].hex().upper()}-{name.roll:03}-{name.frame:06}-{lane:02}-{name.reprint:02}"


class CodeSize(NamedTuple):
    """A frame code's measures in dots: `box` with the quiet zone, before turning none."""

    kind: CodeKind
    needed: int
    module: int
    quiet: tuple[int, int, int, int]
    height: int
    box: tuple[int, int]


def measure_code(kind: CodeKind, dpi: int) -> CodeSize:
    """The size that every frame's code has: it is measured with the longest there can be."""
    longest = code_text(b"\xff" * 4, FrameName(999, 999_999, 99), 99)
    module = max(3, dots(MODULE, dpi))
    needed = need(kind, longest)
    wide, high = extent(kind, needed)
    left, bottom, right, top = (zone * module for zone in KNOWN[kind].quiet)
    height = dots(BARS, dpi) if high == 0 else 0
    box = (wide * module + left + right, (height or high * module) + bottom + top)
    return CodeSize(kind, needed, module, (left, bottom, right, top), height, box)


class FrameWriter:
    """The marks that differ from frame to frame, front and back."""

    def __init__(
        self, web: Web, backs: Backs, marks: FrameMarks, size: CodeSize, setter: Setter, identity: bytes, job: str
    ) -> None:
        self._web, self._backs, self._marks, self._size = web, backs, marks, size
        self._setter, self._identity, self._job = setter, identity, job
        self._encoder = Encoder(size.kind, size.needed)

    def marks(self, name: FrameName, rolls: int, frames: int, note: str = "") -> tuple[list[Mark], list[Mark]]:
        """`frames` are those of the roll; `note` is added to the slug line (``SPECIMEN``)."""
        front: list[Mark] = []
        back: list[Mark] = []
        if self._marks.codes:
            texts = [code_text(self._identity, name, lane) for lane in range(1, self._web.lanes + 1)]
            for box, shape in zip(self._marks.codes, self._encoder.encode(texts), strict=True):
                mark = self._code(box, shape)
                front.append(mark)
                back.append(mark._replace(box=behind(box, self._web, self._backs)))
        if self._marks.slug is not None:
            said = self._said(name, rolls, frames, note)
            front.append(self._line(f"{said} · front", self._marks.slug))
            back.append(self._line(f"{said} · back", behind(self._marks.slug, self._web, self._backs)))
        return front, back

    def _code(self, box: Box, shape: object) -> SymbolMark:
        size = self._size
        if isinstance(shape, Bars):
            spare = box[2] - size.quiet[0] - size.quiet[2] - sum(shape.widths) * size.module
            box = (box[0] + spare // 2, box[1], box[2] - spare, box[3])
        return SymbolMark("code", BLACK, box, 0, size.module, size.quiet, size.height, shape)  # type: ignore[arg-type]  # the two kinds give bars or a matrix

    def _said(self, name: FrameName, rolls: int, frames: int, note: str) -> str:
        parts = [
            self._job,
            self._identity[:8].hex().upper(),
            f"roll {name.roll} of {rolls}",
            f"frame {name.frame} of {frames}",
        ]
        if name.reprint:
            parts.append(f"reprint {name.reprint}")
        return " · ".join([*parts, *([note] if note else [])])

    def _line(self, text: str, box: Box) -> TextMark:
        try:
            setting = self._setter.set(text, _SLUG, "und", box)
        except RowRefused as refused:
            mend = "shorten the job's name, or leave 'slug' out of 'marks'"
            raise CallerError.one("the slug line", "; ".join(refused.reasons), mend) from refused
        return TextMark("slug", BLACK, box, 0, setting.size, setting.lines)
