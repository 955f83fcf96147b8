"""Paths: built, then filled, stroked or made a clip, on every plate's copy (ISO 32000-2, 8.5).

Not here: what a colour puts on a plate (`rewrite`).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from operator import add

from vdp.verify.doubt import Unreadable
from vdp.verify.rewrite import Handler, Walk
from vdp.verify.state import Area, bounds

_FILLS = {b"f": b"f ", b"F": b"f ", b"f*": b"f* "}
_STROKES = {b"S": b"S ", b"s": b"s "}
_BOTH = {b"B": (b"f ", b"S "), b"B*": (b"f* ", b"S "), b"b": (b"f ", b"s "), b"b*": (b"f* ", b"s ")}
_OTHER_STEPS = re.compile(rb"[mlcvyh]")


def _area(walk: Walk, path: bytes, operator: bytes) -> Callable[[], Area]:
    """The area of a path on the page, worked out only when asked for, and then once."""
    state = walk.state
    known: list[Area] = []

    def area() -> Area:
        if not known:
            x0, y0, x1, y1 = _extent(path)
            # A stroke reaches half its width beyond the path, and up to the mitre limit times that at corners.
            edge = 0.0 if operator in _FILLS else state.width / 2 * max(1.0, state.mitre)
            known.append(bounds(state.ctm, (x0 - edge, y0 - edge, x1 + edge, y1 + edge)))
        return known[0]

    return area


def _paint(walk: Walk, operator: bytes) -> None:
    path, clip = b" ".join(walk.path) + b" ", walk.clip
    walk.path.clear()
    walk.clip = b""
    fills = strokes = None
    if operator in _FILLS:
        fills, token = walk.ink(fill=True), _FILLS[operator]
    elif operator in _STROKES:
        strokes, token = walk.ink(fill=False), _STROKES[operator]
    elif operator in _BOTH:
        if walk.state.op or walk.state.stroke_op:
            raise Unreadable("one operator fills and strokes while overprinting")
        fills, strokes, token = walk.ink(fill=True), walk.ink(fill=False), operator + b" "
    else:
        token = b"n "
    area = _area(walk, path, operator)
    # Artwork is read once for many pages: what lies outside all areas of interest is worth leaving out.
    far = walk.depth > 0 and operator != b"n" and walk.writer.far(area)
    if fills is not None:
        fills = walk.note(fills, walk.state.fill_space, area)
    if strokes is not None:
        strokes = walk.note(strokes, walk.state.stroke_space, area)
    canvas = walk.canvas
    for plate in range(len(walk.inked)):
        fill = fills[plate] if fills is not None else None
        stroke = strokes[plate] if strokes is not None else None
        if not far and (fill is not None or stroke is not None):
            half = operator in _BOTH and (fill is None or stroke is None)
            canvas.paint(plate, path + clip + (_BOTH[operator][fill is None] if half else token), fill, stroke)
        elif clip:
            canvas.outs[plate].append(path + clip + b"n ")


def _extent(path: bytes) -> Area:
    """The area of a path run before transforming; control points count."""
    if not _OTHER_STEPS.search(path):
        held = list(map(float, path.replace(b"re", b"").split()))
        xs, ys = held[::4], held[1::4]
        xs += map(add, xs, held[2::4])
        ys += map(add, ys, held[3::4])
    else:
        xs, ys = _corners(path)
    return (min(xs), min(ys), max(xs), max(ys)) if xs else (0.0, 0.0, 0.0, 0.0)


def _corners(path: bytes) -> tuple[list[float], list[float]]:
    xs: list[float] = []
    ys: list[float] = []
    held: list[float] = []
    for token in path.split():
        if token == b"re":
            x, y, width, height = held
            xs += [x, x + width]
            ys += [y, y + height]
        elif token.isalpha():
            xs += held[::2]
            ys += held[1::2]
        else:
            held.append(float(token))
            continue
        held = []
    return xs, ys


def _path_piece(operator: bytes) -> Handler:
    return lambda walk, operands: walk.path.append(operands + operator)


def _clip(operator: bytes) -> Handler:
    def handle(walk: Walk, _: bytes) -> None:
        walk.clip = operator + b" "

    return handle


def _painter(operator: bytes) -> Handler:
    return lambda walk, _: _paint(walk, operator)


PATHS: dict[bytes, Handler] = {
    b"W": _clip(b"W"),
    b"W*": _clip(b"W*"),
    **{operator: _path_piece(operator) for operator in (b"m", b"l", b"c", b"v", b"y", b"re", b"h")},
    **{operator: _painter(operator) for operator in (*_FILLS, *_STROKES, *_BOTH, b"n")},
}
