"""The fonts of a finished file, as far as reading back needs them: names, widths, ToUnicode.

Not here: shaping (`text`), showing operators (`rewrite`).
"""

from __future__ import annotations

import re
import struct
from collections.abc import Mapping
from dataclasses import dataclass, field

import pikepdf

from vdp.verify.doubt import Unreadable

_TAG = re.compile(r"^[A-Z]{6}\+")
_BLOCK = re.compile(rb"begin(bfchar|bfrange)(.*?)endbf", re.DOTALL)
_PART = re.compile(rb"<([0-9A-Fa-f\s]*)>|(\[)|(\])")


@dataclass(frozen=True, slots=True, eq=False)
class SourceFont:
    """A font as the page names it.

    `base` is BaseFont without its subset tag; `by_glyph` tells that codes are two-byte glyph ids (Identity-H);
    `widths` are thousandths of an em by glyph id, `default` where not listed, `widest` the largest of them; `unicode`
    maps glyph ids to text.
    """

    base: str
    by_glyph: bool
    source: pikepdf.Object
    default: float = 1000.0
    widest: float = 1000.0
    widths: Mapping[int, float] = field(default_factory=dict)
    unicode: Mapping[int, str] = field(default_factory=dict)

    def width(self, gids: bytes) -> float:
        """Thousandths of an em that two-byte glyph ids advance."""
        widths, default = self.widths, self.default
        return sum([widths.get(gid, default) for gid in numbers_of(gids) if gid != 0xFFFF])

    def text(self, gids: bytes) -> str:
        """The text that ToUnicode gives to glyph ids, in shown order; a gap is a space, an unmapped glyph U+FFFD."""
        unicode = self.unicode
        return "".join([unicode.get(gid, "\ufffd") for gid in numbers_of(gids)])


def numbers_of(gids: bytes) -> tuple[int, ...]:
    """Two-byte glyph ids as whole numbers."""
    count = len(gids) // 2
    return struct.unpack_from(f">{count}H", gids)


def read_font(source: pikepdf.Object) -> SourceFont:
    """A font dictionary → SourceFont.  Raises Unreadable for Type 3 and for what is no font."""
    try:
        kind = str(source.get("/Subtype", ""))
        if kind == "/Type3":
            raise Unreadable("a Type 3 font paints with content streams of its own")
        base = _TAG.sub("", str(source.get("/BaseFont", "/"))[1:])
        if kind != "/Type0" or source.get("/Encoding") != pikepdf.Name("/Identity-H"):
            return SourceFont(base, False, source)
        descendant = source["/DescendantFonts"][0]
        default = float(descendant.get("/DW", 1000))
        widths = _widths(descendant.get("/W", pikepdf.Array()))
        cmap = source.get("/ToUnicode")
        unicode = to_unicode(cmap.read_bytes()) if isinstance(cmap, pikepdf.Stream) else {}
        widest = max((default, *widths.values()))
        unicode[0xFFFF] = " "
        return SourceFont(base, True, source, default, widest, widths, unicode)
    except (KeyError, IndexError, TypeError, ValueError, AttributeError, pikepdf.PdfError) as error:
        raise Unreadable(f"a font cannot be read: {error}") from error


def _widths(array: pikepdf.Object) -> dict[int, float]:
    """The W array of a CIDFont (ISO 32000-2, 9.7.4.3)."""
    found: dict[int, float] = {}
    items = list(array.as_list()) if isinstance(array, pikepdf.Array) else []
    i = 0
    while i < len(items):
        first, second = int(items[i]), items[i + 1]
        if isinstance(second, pikepdf.Array):
            found.update({first + k: float(width) for k, width in enumerate(second.as_list())})
            i += 2
        else:
            found.update(dict.fromkeys(range(first, min(int(second), 65535) + 1), float(items[i + 2])))
            i += 3
    return found


def to_unicode(cmap: bytes) -> dict[int, str]:
    """The bfchar and bfrange entries of a ToUnicode CMap (ISO 32000-2, 9.10.3)."""
    found: dict[int, str] = {}
    for block in _BLOCK.finditer(cmap):
        parts = [
            match[1].translate(None, b" \t\r\n") if match[1] is not None else match[0]
            for match in _PART.finditer(block[2])
        ]
        if block[1] == b"bfchar":
            for code, text in zip(parts[::2], parts[1::2], strict=True):
                found[int(code, 16)] = _utf16(text)
            continue
        i = 0
        while i + 2 < len(parts):
            first, last = int(parts[i], 16), int(parts[i + 1], 16)
            if parts[i + 2] == b"[":
                close = parts.index(b"]", i)
                for k, text in enumerate(parts[i + 3 : close]):
                    found[first + k] = _utf16(text)
                i = close + 1
            else:
                start = _utf16(parts[i + 2])
                for k in range(min(last, 65535) - first + 1):
                    found[first + k] = start[:-1] + chr(ord(start[-1]) + k)
                i += 3
    return found


def _utf16(digits: bytes) -> str:
    return bytes.fromhex(digits.decode()).decode("utf-16-be")
