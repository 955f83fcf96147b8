"""What `vdp impose` is told of the web: a small YAML file of its own, every fault with its line and column.

Lives here: shape and reading.  Not here: whether it fits (`press.web`), the pages (`pdf.foreign`).
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from vdp.errors import CallerError, Fault
from vdp.job.document import Document, read_document
from vdp.job.faults import faults_of, in_file_order
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


class ImposedWeb(Model):
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


class Imposing(Model):
    """The whole file.  `sides` is 2 where fronts and backs take turns, 1 where every page is a front."""

    web: ImposedWeb
    sides: Literal[1, 2] = 2
    resolution: Annotated[int, Field(ge=300, le=4800)] = 1200


class ReadImposing:
    """The file as read, and where each of its keys stands."""

    def __init__(self, path: Path) -> None:
        """Raises CallerError with every fault."""
        self.document: Document = read_document(path, str(path), frozenset())
        faults: list[Fault] = list(self.document.faults)
        found: Imposing | None = None
        if self.document.data is None:
            faults.append(Fault(self.document.where(()), "the file is empty"))
        else:
            try:
                found = Imposing.model_validate(self.document.data, strict=True)
            except ValidationError as error:
                faults.extend(faults_of(self.document, Imposing, error))
        if faults or found is None:
            raise CallerError(in_file_order(faults))
        self.model = found

    def where(self, *keys: str) -> str:
        return self.document.where(keys)


#: Sheets of foreign pages bear no date of their own making.
UNDATED = datetime(2000, 1, 1, tzinfo=UTC)
