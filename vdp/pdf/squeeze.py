"""Two ways to compress streams, both giving FlateDecode data (RFC 1950) that depends on nothing but the input.

ISA-L's level 0 is more than twice as quick as whatever else was tried, for a quarter more bytes.  Its levels 1 and 2
look up one place of their input by an address of their own (isal 1.9.1, igzip_icf_body_h1_gr_bt.asm,
`.write_first_byte`), so that some streams come out otherwise in another process; level 0 does not (igzip_body.asm).
On processors other than x86-64 with SSE 4.2 it gives other bytes of the same meaning.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import deflate
from isal import isal_zlib

Squeeze = Literal["fast", "small"]


def _fast(data: bytes) -> bytes:
    return bytes(isal_zlib.compress(data, 0))


def _small(data: bytes) -> bytes:
    return bytes(deflate.zlib_compress(data, 6))


#: `fast` is some six times as quick as `small`; `small` gives about a quarter fewer bytes.
COMPRESSORS: dict[Squeeze, Callable[[bytes], bytes]] = {"fast": _fast, "small": _small}


def pack(data: bytes) -> bytes:
    """For what is written once a file: the smallest."""
    return bytes(deflate.zlib_compress(data, 9))


def pack_picture(data: bytes) -> bytes:
    """For pictures, which may be large."""
    return bytes(deflate.zlib_compress(data, 6))
