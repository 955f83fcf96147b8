"""What is done to a printed piece: folds, perforations, counterfoils, glue, an envelope's window; and posting it.

Lives here: keys and rules of one value.  Not here: whether anything is in the way (`run.finishing`).
Places are measured from the trim's upper left corner, y downwards, in points.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from vdp.job.values import Length, Name, PositiveLength, SeriesName
from vdp.records.spec import Model

Area = tuple[Length, Length, PositiveLength, PositiveLength]
Side = Literal["front", "back"]


class Perforation(Model):
    """A line through the whole piece, `at` a distance from its upper (or left) edge."""

    at: PositiveLength
    direction: Literal["across", "down"] = "across"


class Counterfoil(Model):
    """Parts of the front that are torn from one another; each carries the serial."""

    series: SeriesName
    parts: Annotated[tuple[Area, ...], Field(min_length=2)]


class Glue(Model):
    """An area that stays bare paper on every plate."""

    side: Side
    area: Area


class Window(Model):
    """An envelope's window over the piece: `shows` is the item that must be seen, and nothing else may be."""

    side: Side = "front"
    area: Area
    shows: Name


class FinishModel(Model):
    """A layout's own lines and zones; `panels` are the distances of its panel lines from the upper edge."""

    panels: tuple[PositiveLength, ...] = ()
    perforations: tuple[Perforation, ...] = ()
    counterfoils: tuple[Counterfoil, ...] = ()
    glue: tuple[Glue, ...] = ()
    window: Window | None = None


class FoldModel(Model):
    """How the job folds a piece, from its upper edge down; `short` of the inner panel (1/16 in unless stated)."""

    kind: Literal["single", "c", "z", "gate", "roll"]
    panels: Annotated[int, Field(ge=2, le=8)] | None = None
    short: PositiveLength | None = None
    inner: Literal["first", "last"] = "last"


class MailModel(Model):
    """How a piece is posted: sizes closed, as handed over, where the trim and the fold do not give them.

    `address` is the side that bears the address; its barcode clear zone stays free.
    """

    kind: Literal["letter", "card", "self_mailer"] = "letter"
    length: PositiveLength | None = None
    height: PositiveLength | None = None
    thickness: PositiveLength
    ounces: Annotated[float, Field(gt=0)] | None = None
    last_fold: Literal["bottom", "top", "left", "right"] = "bottom"
    address: Side = "front"
