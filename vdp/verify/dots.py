"""What a press's dots leave of a drawn shape: parts, holes and strokes, from bitmaps of the finished file.

Lives here: pixels in, words out; `FINE` pixels each way are a dot.  Not here: rendering (`raster`), where letters are
(`smalltype`).

A dot is inked where its middle is; that lies between four pixels, so a shape counts as lost only if it is lost
whichever of them is taken.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

Mask = npt.NDArray[np.bool_]
Labels = npt.NDArray[np.int32]

#: Pixels a dot.
FINE = 8
#: Pixels from which a hole counts: an eighth of a dot; dots from which a hole that was not there counts.
_HOLE, _NEW = FINE * FINE // 8, 2
#: Shares of a squared em under which holes are slits or tips of notches.
_SLIT, _NOTCH = 0.001, 0.008
_MIDDLES = [(FINE // 2 + down, FINE // 2 + right) for down in (0, -1) for right in (0, -1)]


def label(mask: Mask, *, diagonal: bool) -> tuple[Labels, int]:
    """Connected pieces numbered from 1, 0 elsewhere, and how many there are.  Runs along rows are united with those of
    the next row: of two numbers that meet, the larger follows the smaller."""
    height, width = mask.shape
    edged = np.zeros((height, width + 1), bool)
    edged[:, 1:] = mask
    starts = edged[:, 1:] & ~edged[:, :-1]
    runs = np.where(mask, np.cumsum(starts, dtype=np.int32).reshape(height, width), 0)
    upper, lower = runs[:-1], runs[1:]
    pairs = [(upper, lower)]
    if diagonal:
        pairs += [(upper[:, :-1], lower[:, 1:]), (upper[:, 1:], lower[:, :-1])]
    joined = [np.stack((one[both], other[both])) for one, other in pairs if (both := (one > 0) & (other > 0)).any()]
    number = np.arange(int(starts.sum()) + 1, dtype=np.int32)
    if joined:
        one, other = np.concatenate(joined, axis=1)
        while True:
            first, second = number[one], number[other]
            apart = first != second
            if not apart.any():
                break
            np.minimum.at(number, np.maximum(first, second)[apart], np.minimum(first, second)[apart])
            while not np.array_equal(number, number[number]):
                number = number[number]
    kept, packed = np.unique(number, return_inverse=True)
    return packed.astype(np.int32)[runs], len(kept) - 1


def lost(shape: Mask, em: float, *, reversed_out: bool) -> str:
    """What a shape of `FINE` pixels a dot loses; `em` is its type body in dots; "" when nothing.

    The shape's upper left pixel is a dot's.
    """
    parts, holes = label(shape, diagonal=True)[1], _holes(shape)
    body = (em * FINE) ** 2
    due = sum(area > max(_HOLE, _SLIT * body) for area in holes)
    room = sum(area > _HOLE for area in holes)
    new = max(_NEW, _NOTCH * em * em)
    if not parts or not _difference(shape, (parts, parts), due, room, new, reversed_out=reversed_out):
        return ""
    # Gaps and bridges of a pixel may be there or not: nobody sees those in type.
    wide, lean = _grown(shape), ~_grown(~shape)
    apart = (min(parts, label(wide, diagonal=True)[1]), max(parts, label(lean, diagonal=True)[1]))
    due = min(due, sum(area > max(_HOLE, _SLIT * body) for area in _holes(lean)))
    room = max(room, sum(area > _HOLE for area in _holes(wide)))
    return _difference(shape, apart, due, room, new, reversed_out=reversed_out)


def _difference(shape: Mask, apart: tuple[int, int], due: int, room: int, new: float, *, reversed_out: bool) -> str:
    """What the dots lose whichever pixel is taken for their middles."""
    said = ""
    for down, right in _MIDDLES:
        said = _differs(shape[down::FINE, right::FINE], apart, due, room, new, reversed_out=reversed_out)
        if not said:
            break
    return said


def _differs(dots: Mask, apart: tuple[int, int], due: int, room: int, new: float, *, reversed_out: bool) -> str:
    count = label(dots, diagonal=not reversed_out)[1]
    holes = _holes(dots, diagonal=reversed_out)
    if len(holes) < due:
        return "a hole closes"
    if count > apart[1]:
        return "it falls apart"
    if count < apart[0]:
        return "parts of it run together or vanish"
    return "an opening closes" if sum(area > new for area in holes) > room else ""


def stroke(shape: Mask, most: float) -> float:
    """The least stroke in dots, to a quarter: how often a pixel can be taken off all round before a part breaks.  More
    than `most` is not measured, and given as infinite."""
    parts = label(shape, diagonal=True)[1]
    taken = 0
    while shape.any():
        shape = ~_grown(~shape)
        if label(shape, diagonal=True)[1] != parts:
            break
        taken += 1
        if 2 * taken + 1 > most * FINE:
            return math.inf
    return (2 * taken + 1) / FINE


def _holes(shape: Mask, *, diagonal: bool = False) -> list[int]:
    """Areas of holes."""
    labels, count = label(np.pad(~shape, 1, constant_values=True), diagonal=diagonal)
    areas = np.bincount(labels.ravel(), minlength=count + 1)
    return [int(area) for number, area in enumerate(areas) if number not in (0, labels[0, 0])]


def _grown(shape: Mask) -> Mask:
    padded = np.pad(shape, 1)
    across = padded[:, :-2] | padded[:, 1:-1] | padded[:, 2:]
    grown: Mask = across[:-2] | across[1:-1] | across[2:]
    return grown
