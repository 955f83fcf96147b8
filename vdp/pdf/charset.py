"""The one thing changed in a CFF program: its charset, so that CIDs are glyph ids of the source font.

Format: Compact Font Format, Adobe Technical Note 5176, sections 4 to 7, 9 and 13.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

from vdp.errors import OurBug

_CHARSET = 15
_ROS = 0x0C1E
#: An operand written as a 4-byte integer.
_LONG = 29


def is_cid_keyed(cff: bytes) -> bool:
    """Whether the program's Top DICT has the ROS operator: then its charset holds CIDs."""
    start, end = _top_dict(cff)
    return any(operator == _ROS for operator, _ in _operators(cff, start, end))


def with_charset(cff: bytes, cids: Sequence[int]) -> bytes:
    """The program with a charset that gives glyph 0, 1, … these CIDs; `cids[0]` is 0 for .notdef.

    The charset is put at the end, and the Top DICT's offset to it is changed in place.
    """
    start, end = _top_dict(cff)
    place = next((at for operator, at in _operators(cff, start, end) if operator == _CHARSET), None)
    if place is None or cff[place] != _LONG:
        raise OurBug("the subset's charset offset is not a long integer")
    table = b"\0" + struct.pack(f">{len(cids) - 1}H", *cids[1:])
    return cff[: place + 1] + struct.pack(">i", len(cff)) + cff[place + 5 :] + table


def _top_dict(cff: bytes) -> tuple[int, int]:
    """Where the first Top DICT begins and ends."""
    _, _, after_names = _index(cff, cff[2])
    start, end, _ = _index(cff, after_names)
    return start, end


def _index(cff: bytes, at: int) -> tuple[int, int, int]:
    """An INDEX: where its first entry begins and ends, and where the INDEX ends."""
    count, size = struct.unpack_from(">HB", cff, at)
    if count == 0:
        return at + 2, at + 2, at + 2
    base = at + 3 + (count + 1) * size - 1

    def offset(place: int) -> int:
        last: int = base + int.from_bytes(cff[at + 3 + place * size : at + 3 + (place + 1) * size], "big")
        return last

    return offset(0), offset(1), offset(count)


def _operators(cff: bytes, at: int, end: int) -> list[tuple[int, int]]:
    """Operators of a DICT, each with the place of its last operand."""
    found: list[tuple[int, int]] = []
    operand = at
    while at < end:
        first = cff[at]
        if first <= 21:
            width = 2 if first == 12 else 1
            found.append((int.from_bytes(cff[at : at + width], "big"), operand))
            at += width
            continue
        operand = at
        if first == 30:
            at += 1
            while cff[at] & 0x0F != 0x0F and cff[at] >> 4 != 0x0F:
                at += 1
            at += 1
        else:
            at += {28: 3, 29: 5}.get(first, 1 if first <= 246 else 2)
    return found
