"""Finished sheets cut apart as a knife would: rendered, cropped at every place, piled, and read again.

It knows paper only: where the cuts are, that the back of a place lies mirrored behind it, and in which order frames
come off a roll.  It asks nothing of the code that laid the pieces out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pypdfium2
import zxingcpp

from vdp.press.parts import Arranged, Run, whole
from vdp.press.web import Web

Picture = npt.NDArray[np.uint8]
_DPI = 300
_NUMBER = re.compile(r"V(\d{4})")


class Cut(NamedTuple):
    """A piece in a pile: the number read on its front and on its back, None where nothing can be read, and how the
    codes of both sides are turned, degrees clockwise."""

    front: int | None
    back: int | None
    turned: tuple[int, int]


def piles(folder: Path, web: Web, order: Arranged, *, as_front: bool = False, apart: bool = False) -> list[list[Cut]]:
    """The piles of all rolls, in the order in which they are put together; specimens are torn off and laid aside."""
    run = order if isinstance(order, Run) else whole(order)
    found: list[list[Cut]] = []
    before = 0
    for roll in range(1, run.rolls + 1):
        frames = run.frames_on(roll)
        file = folder / (f"sheets-{roll:03}.pdf" if apart else "sheets.pdf")
        start = (0 if apart else before) + run.lead(roll)
        cut = _cutter(file, web, start, as_front=as_front)
        before += run.lead(roll) + frames + run.tail(roll)
        printed = list(range(frames))
        along = list(range(web.along))
        if order.rewound:
            printed.reverse()
            along.reverse()
        step = order.height if order.kind == "blocks" else frames
        for first in range(0, frames, step):
            block = printed[first : first + step]
            for lane in range(web.lanes):
                if order.stack == "lane":
                    found.append([cut(frame, lane, place) for frame in block for place in along])
                else:
                    found += [[cut(frame, lane, place) for frame in block] for place in along]
    return found


def _cutter(file: Path, web: Web, start: int, *, as_front: bool) -> Callable[[int, int, int], Cut]:
    document = pypdfium2.PdfDocument(file)
    known: dict[int, Picture] = {}

    def page(number: int) -> Picture:
        if number not in known:
            bitmap = document[number].render(scale=_DPI / 72, grayscale=True)
            known[number] = bitmap.to_numpy().reshape(bitmap.height, bitmap.width).copy()
        return known[number]

    def cut(frame: int, lane: int, place: int) -> Cut:
        left = web.left + lane * (web.piece[0] + web.gutters[0])
        top = web.frame - web.top + place * (web.piece[1] + web.gutters[1])
        behind = left if as_front else web.width - left - web.piece[0]
        front = _crop(page(2 * (start + frame)), left, top, web)
        back = _crop(page(2 * (start + frame) + 1), behind, top, web)
        number, turned = _read(front, zxingcpp.BarcodeFormat.Code128)
        behind_it, turned_there = _read(back, zxingcpp.BarcodeFormat.DataMatrix)
        return Cut(number, behind_it, (turned, turned_there))

    return cut


def _crop(page: Picture, left: int, top: int, web: Web) -> Picture:
    scale = _DPI / web.dpi
    rows = slice(round(top * scale), round((top + web.piece[1]) * scale))
    columns = slice(round(left * scale), round((left + web.piece[0]) * scale))
    return np.ascontiguousarray(page[rows, columns])


def _read(picture: Picture, kind: object) -> tuple[int | None, int]:
    """The number of a voucher, and how its code is turned."""
    found = zxingcpp.read_barcodes(picture, formats=kind, try_downscale=False)  # type: ignore[arg-type]  # a format
    texts = [one for one in found if _NUMBER.match(one.text)]
    if len(texts) != 1:
        return None, 0
    match = _NUMBER.match(texts[0].text)
    assert match is not None
    return int(match[1]), texts[0].orientation % 360


def numbers(pile: list[Cut]) -> Iterator[int | None]:
    """The numbers of a pile from the top; front and back must agree."""
    for cut in pile:
        assert cut.front == cut.back, cut
        yield cut.front
