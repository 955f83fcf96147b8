"""ToUnicode: which text each glyph stands for (ISO 32000-1, 9.10.3; Adobe Technical Note 5014)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

#: Entries a block may have.
_MOST = 100

_HEAD = b"""/CIDInit /ProcSet findresource begin
12 dict begin
begincmap
/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def
/CMapName /Adobe-Identity-UCS def
/CMapType 2 def
1 begincodespacerange
<0000> <FFFF>
endcodespacerange
"""
_FOOT = b"""endcmap
CMapName currentdict /CMap defineresource pop
end
end
"""


def to_unicode(texts: Mapping[int, str]) -> bytes:
    """The CMap of 2-byte codes to text.  Glyphs without text have no entry."""
    singles: list[str] = []
    ranges: list[str] = []
    for first, last, text in _runs(texts):
        if first == last:
            singles.append(f"<{first:04X}> <{_utf16(text)}>")
        else:
            ranges.append(f"<{first:04X}> <{last:04X}> <{_utf16(text)}>")
    body = "".join([*_blocks("bfchar", singles), *_blocks("bfrange", ranges)])
    return _HEAD + body.encode("ascii") + _FOOT


def _utf16(text: str) -> str:
    return text.encode("utf-16-be").hex().upper()


def _runs(texts: Mapping[int, str]) -> Iterable[tuple[int, int, str]]:
    """First and last code of runs whose texts count up by one, and the first text.  In a run only the last byte of
    code and text changes, as a bfrange must have it."""
    run: tuple[int, int, str] | None = None
    for code, text in sorted(texts.items()):
        if not text:
            continue
        if run is not None:
            first, last, start = run
            step = code - first
            if (
                code == last + 1
                and code >> 8 == first >> 8
                and len(text) == len(start) == 1
                and ord(start) + step == ord(text) < 0x10000
                and ord(text) >> 8 == ord(start) >> 8
            ):
                run = (first, code, start)
                continue
            yield run
        run = (code, code, text)
    if run is not None:
        yield run


def _blocks(kind: str, entries: Sequence[str]) -> Iterable[str]:
    for at in range(0, len(entries), _MOST):
        part = entries[at : at + _MOST]
        yield f"{len(part)} begin{kind}\n" + "".join(f"{entry}\n" for entry in part) + f"end{kind}\n"
