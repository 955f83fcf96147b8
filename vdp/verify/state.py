"""The graphics and text state of a content stream (ISO 32000-2, 8.4 and 9.3), and the matrices it needs.

Not here: operators (`rewrite`).
"""

from __future__ import annotations

import copy

from vdp.verify.fonts import SourceFont
from vdp.verify.inks import GRAY, Space

Matrix = tuple[float, float, float, float, float, float]
Area = tuple[float, float, float, float]

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

#: Stands for an area that is not known.
EVERYWHERE: Area = (-1e9, -1e9, 1e9, 1e9)


def times(m: Matrix, n: Matrix) -> Matrix:
    """The matrix that does `m` first, then `n`."""
    a, b, c, d, e, f = m
    p, q, r, s, t, u = n
    return (a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u)


def bounds(m: Matrix, box: Area) -> Area:
    """The upright area that a box covers once transformed."""
    x0, y0, x1, y1 = box
    corners = [
        (m[0] * x + m[2] * y + m[4], m[1] * x + m[3] * y + m[5]) for x, y in ((x0, y0), (x1, y0), (x0, y1), (x1, y1))
    ]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return (min(xs), min(ys), max(xs), max(ys))


def meets(one: Area, other: Area) -> bool:
    """Whether two areas touch or share points."""
    return one[0] <= other[2] and other[0] <= one[2] and one[1] <= other[3] and other[1] <= one[3]


class State:
    """What `q` saves.  Colours are (space, components); `grouped` tells of an enclosing transparency group."""

    __slots__ = (
        "ctm",
        "fill",
        "fill_space",
        "font",
        "font_name",
        "grouped",
        "leading",
        "mitre",
        "op",
        "opm",
        "raised",
        "rendering",
        "size",
        "spacing",
        "stretch",
        "stroke",
        "stroke_op",
        "stroke_space",
        "width",
        "word_spacing",
    )

    def __init__(self) -> None:
        self.ctm: Matrix = IDENTITY
        self.fill_space: Space = GRAY
        self.stroke_space: Space = GRAY
        self.fill: tuple[float, ...] | None = (0.0,)
        self.stroke: tuple[float, ...] | None = (0.0,)
        self.op = False
        self.stroke_op = False
        self.opm = 0
        self.grouped = False
        self.width = 1.0
        self.mitre = 10.0
        self.font: SourceFont | None = None
        self.font_name = b""
        self.size = 0.0
        self.spacing = 0.0
        self.word_spacing = 0.0
        self.stretch = 1.0
        self.leading = 0.0
        self.raised = 0.0
        self.rendering = 0

    def copy(self) -> State:
        return copy.copy(self)

    def key(self) -> tuple[object, ...]:
        """Everything that what is drawn under this state can depend on."""
        return (
            self.ctm,
            self.fill_space,
            self.fill,
            self.stroke_space,
            self.stroke,
            self.op,
            self.stroke_op,
            self.opm,
            self.grouped,
            self.width,
            self.mitre,
            self.font_name,
            self.size,
            self.spacing,
            self.word_spacing,
            self.stretch,
            self.leading,
            self.raised,
            self.rendering,
        )
