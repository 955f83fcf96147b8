"""A photograph or a scan of a code that somebody sent: bounded, and read by the product's own decoder.

Lives here: what is taken, and the process that reads it.  Not here: decoding (`vdp.verify.decode`), which piece it is
(`auditing`).

What was sent may be hostile, so the process that opens it has little memory, little time, and none of the page's
secrets; it says what the codes say, or nothing.
"""

from __future__ import annotations

import asyncio
import io
import json
import os
import resource
import struct
import sys

import numpy as np
from PIL import Image, ImageOps

from vdp.verify.decode import read_any

#: Pixels of a picture that is opened, and along a side when it is read first.
MOST_PIXELS, SIDE = 60_000_000, 2400
#: What the process may have: bytes of memory, seconds of work, seconds in all.
MEMORY, WORK, PATIENCE = 3_000_000_000, 20, 30.0
#: Codes that are told, and letters of each.
MOST, LONGEST = 12, 600
_KINDS = {b"\x89PNG\r\n\x1a\n": "PNG", b"\xff\xd8\xff": "JPEG"}


class Unfit(Exception):
    """What was sent is not read; the message says why."""


def kind_of(data: bytes) -> str:
    """PNG or JPEG, by its first bytes.  Raises Unfit for all else, whatever its name says."""
    for begin, kind in _KINDS.items():
        if data.startswith(begin):
            return kind
    raise Unfit("this is no PNG or JPEG picture")


async def read_picture(data: bytes) -> list[str]:
    """What the codes on a picture say.  Raises Unfit."""
    kind_of(data)
    environ = {key: value for key, value in os.environ.items() if not key.startswith("VDP_")}
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        "vdp.page.scan",
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
        env=environ,
    )
    try:
        told, _ = await asyncio.wait_for(process.communicate(data), PATIENCE)
    except TimeoutError:
        process.kill()
        await process.wait()
        raise Unfit("reading this picture takes too long") from None
    if process.returncode != 0:
        raise Unfit("reading this picture takes more than a page may spend")
    answer = json.loads(told)
    if isinstance(answer, str):
        raise Unfit(answer)
    return [str(text) for text in answer]


def codes_on(data: bytes) -> list[str]:
    """The same, in this process.  Raises Unfit."""
    try:
        with Image.open(io.BytesIO(data), formats=(kind_of(data),)) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise Unfit(f"{picture.width} × {picture.height} pixels are more than are read")
            picture.draft("L", (SIDE, SIDE))
            grey = picture.convert("L")
    except (
        *(OSError, SyntaxError, ValueError, EOFError, struct.error),
        *(Image.DecompressionBombError, Image.DecompressionBombWarning),
    ) as error:
        raise Unfit("this picture is broken") from error
    small = grey.copy()
    small.thumbnail((SIDE, SIDE))
    for tried in (small, ImageOps.autocontrast(small), grey, ImageOps.invert(small)):
        found = [text[:LONGEST] for text in read_any(np.asarray(tried)) if text]
        if found:
            return found[:MOST]
    return []


def main() -> None:
    """Reads a picture from standard input; writes a JSON list of texts, or a sentence that says why not."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (WORK, WORK))
    try:
        answer: list[str] | str = codes_on(sys.stdin.buffer.read())
    except Unfit as unfit:
        answer = str(unfit)
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    main()
