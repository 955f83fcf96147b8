"""How pieces are laid on the web: a job's section ``web``, and that of `vdp impose`.

Lives here: keys, defaults and rules of one value.  Not here: whether it fits (`press.web`), what it gives (`press`).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from vdp.job.values import Length, PositiveLength, Turn
from vdp.records.spec import Model

MarkName = Literal["trim", "slit", "fold", "perforation", "register", "eye", "strip", "slug", "code"]
ALL_MARKS: tuple[MarkName, ...] = (
    "trim",
    "slit",
    "fold",
    "perforation",
    "register",
    "eye",
    "strip",
    "slug",
    "code",
)


class Margins(Model):
    """What is kept free for marks beyond the outermost bleed."""

    left: Annotated[Length, Field(ge=0)] = 0.0
    right: Annotated[Length, Field(ge=0)] = 0.0
    head: Annotated[Length, Field(ge=0)] = 0.0
    foot: Annotated[Length, Field(ge=0)] = 0.0


class WebModel(Model):
    """The web, what stands where on it, and which marks it gets; lengths in points."""

    width: PositiveLength
    printable: PositiveLength | None = None
    lanes: Annotated[int, Field(ge=1, le=100)]
    along: Annotated[int, Field(ge=1, le=100)] = 1
    gutter: Annotated[Length, Field(ge=0)] = 0.0
    along_gutter: Annotated[Length, Field(ge=0)] = 0.0
    frame: PositiveLength | None = None
    bleed: Annotated[Length, Field(ge=0)] = 0.0
    turn: Turn = 0
    margins: Margins = Margins()
    order: Literal["across", "lanes", "blocks"] = "across"
    height: Annotated[int, Field(ge=1)] | None = None
    stack: Literal["place", "lane"] = "place"
    roll_frames: Annotated[int, Field(ge=1)] | None = None
    rewound: bool = False
    fill: Literal["frame", "block"] = "frame"
    backs: Literal["mirrored", "as_front"] = "mirrored"
    heads: Literal["head_to_head", "head_to_foot"] = "head_to_head"
    marks: tuple[MarkName, ...] = ALL_MARKS
    code: Literal["datamatrix", "code128"] = "datamatrix"
    #: One file a roll instead of one for all.
    apart: bool = False
