"""What the caller says of a whole file before its first page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from vdp.job.model import Spot
from vdp.marks import Mark
from vdp.pdf.colouring import Colouring, ColourJob
from vdp.text.faces import FaceSource


@dataclass(frozen=True, slots=True)
class Book:
    """A file of pieces, each a front and a back of one size.

    `width`, `height` and `bleed` of the page in dots; `pieces` how many will be written; `faces` every face that may be
    used; `spots` the job's plates; `forms` runs of marks by asset; `art` asset → (PDF or picture, page); `pictures`
    asset → picture; `created` with its time zone; `identity` at least 16 bytes of a hash of all that goes in.
    """

    dpi: int
    width: int
    height: int
    bleed: int
    pieces: int
    faces: Mapping[str, FaceSource]
    spots: Mapping[str, Spot]
    title: str
    created: datetime
    identity: bytes
    creator: str
    forms: Mapping[str, Sequence[Mark]] = field(default_factory=dict)
    art: Mapping[str, tuple[Path, int]] = field(default_factory=dict)
    pictures: Mapping[str, Path] = field(default_factory=dict)
    colouring: Colouring | ColourJob = field(default_factory=Colouring)

    @property
    def media(self) -> tuple[float, ...]:
        """MediaBox and BleedBox, in points."""
        return tuple(side * 72 / self.dpi for side in (0, 0, self.width, self.height))

    @property
    def trim(self) -> tuple[float, ...]:
        """TrimBox, in points."""
        sides = (self.bleed, self.bleed, self.width - self.bleed, self.height - self.bleed)
        return tuple(side * 72 / self.dpi for side in sides)
