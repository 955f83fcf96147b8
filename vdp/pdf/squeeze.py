"""Two ways to compress streams, both giving FlateDecode data (RFC 1950) that depends on nothing but the input.

ISA-L at level 1 is a third quicker than libdeflate, and looks up the third byte of its input by an address of its own
instead of by the data (igzip_icf_body_h1_gr_bt.asm, `.write_first_byte`; isal 1.9.1).  What it finds there can be a
match only where one of the first three places, four bytes long, comes again: data whose third byte is nowhere else in
it, and which is short enough for places to be told apart in 16 bits, is compressed alike wherever it lies.  Everything
else is libdeflate's.  (x86-64 with SSE 4.2; ISA-L gives other bytes of the same meaning on other processors.)
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import deflate
from isal import isal_zlib

Squeeze = Literal["fast", "small"]

#: White space that a content stream begins with: its third byte is in no operator, name or hexadecimal string.
OPENING = "  \t"
_ONCE = OPENING[2:].encode()
#: Beyond that, ISA-L would take two places for one.
_LONGEST = 1 << 15


def _fast(data: bytes) -> bytes:
    if data[2:3] == _ONCE and len(data) <= _LONGEST and data.find(_ONCE, 3) < 0:
        return bytes(isal_zlib.compress(data, 1))
    return bytes(deflate.zlib_compress(data, 1))


def _small(data: bytes) -> bytes:
    return bytes(deflate.zlib_compress(data, 6))


#: `fast` is about three times as quick as `small`; `small` gives about a tenth fewer bytes.
COMPRESSORS: dict[Squeeze, Callable[[bytes], bytes]] = {"fast": _fast, "small": _small}


def pack(data: bytes) -> bytes:
    """For what is written once a file: the smallest."""
    return bytes(deflate.zlib_compress(data, 9))


def pack_picture(data: bytes) -> bytes:
    """For pictures, which may be large."""
    return bytes(deflate.zlib_compress(data, 6))
