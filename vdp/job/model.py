"""The frozen shape of a job file, with every default and every rule that needs one value only.

Lives here: pydantic models.  Not here: reading files, line numbers (`load`), the layout's items (`items`), rules that
need other files (`plan`).
"""

from __future__ import annotations

import re
from datetime import datetime
from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from vdp.job.finishing import FoldModel, MailModel
from vdp.job.grading import GradeModel
from vdp.job.series import Series
from vdp.job.stock import PackingModel, PressModel, RollsModel, StockModel
from vdp.job.values import Name, Percent, PlateName, SeriesName
from vdp.job.web import WebModel
from vdp.records.spec import Model, Records


class Spot(Model):
    """A spot plate: how it looks on screen (percent CMYK), whether it is invisible in daylight, and how it glows under
    a UV lamp (percent red, green, blue; empty for not at all)."""

    shown_as: tuple[Percent, Percent, Percent, Percent] = (0, 100, 0, 0)
    hidden: bool = True
    glow: tuple[Percent, Percent, Percent] | None = (35, 100, 62)


class Colour(Model):
    """What happens to RGB pictures, and the press profile."""

    rgb: Literal["refuse", "convert"] = "refuse"
    profile: str | None = None
    intent: Literal["perceptual", "relative", "saturation", "absolute"] = "relative"
    transparency: Literal["refuse", "flatten"] = "refuse"

    @model_validator(mode="after")
    def _converts_to_something(self) -> Self:
        if self.rgb == "convert" and self.profile is None:
            raise ValueError("'rgb: convert' needs the 'profile' of the press that it converts to")
        return self


class Toner(Model):
    """Toner on the finished pages: percent allowed on one place, whether spot plates count to it, how many pieces are
    measured, and milligrams a square centimetre of solid (one for all plates, or by plate).

    280 % and 0.5 mg/cm² are common practice for dry toner, no source.
    """

    limit: Annotated[float, Field(gt=0, le=900)] = 280
    count_spots: bool = False
    sample: Annotated[int, Field(ge=0, le=10_000)] = 2
    solid: Annotated[float, Field(gt=0, le=20)] | dict[PlateName, Annotated[float, Field(gt=0, le=20)]] = 0.5

    def milligrams(self, plate: str) -> float:
        """Of a square centimetre of solid."""
        return self.solid.get(plate, 0.5) if isinstance(self.solid, dict) else self.solid


class LampModel(Model):
    """How pieces are shown under UV light: percent of visible light left, and whether the stock glows itself."""

    dim: Percent = 16
    bright_stock: bool = True


class Artwork(Model):
    """What artwork must be like: pixels an inch under which a picture is refused or warned of, dots of the thinnest
    line; `accept` names complaints that the customer has agreed to."""

    ppi_least: Annotated[float, Field(ge=0, le=2400)] = 150
    ppi_good: Annotated[float, Field(ge=0, le=2400)] = 250
    line_dots: Annotated[int, Field(ge=0, le=20)] = 2
    accept: tuple[Annotated[str, Field(pattern=r"^art-[a-z0-9-]+$")], ...] = ()


class JobModel(Model):
    """A job file.  `compression` small gives smaller files, and takes longer."""

    job: Annotated[str, Field(min_length=1, max_length=80)]
    layout: str
    records: Records
    set_aside: Literal["stop", "continue"] = "stop"
    resolution: Annotated[int, Field(ge=300, le=4800)] = 1200
    spots: dict[PlateName, Spot] = Field(default_factory=lambda: {"Clear": Spot()})
    series: dict[SeriesName, Series] = Field(default_factory=dict)
    #: Where the numbers given are written down: a SQLite file, relative to the job file, or a PostgreSQL URL.
    ledger: Annotated[str, Field(min_length=1, max_length=500)] | None = None
    #: What becomes of a spoiled piece's number: it is printed again, or voided and replaced by the next one.
    spoiled: Literal["same_number", "replacement_series"] = "same_number"
    locales: dict[str, str] = Field(default_factory=dict)
    faces: dict[Name, str] = Field(default_factory=dict)
    colour: Colour = Colour()
    artwork: Artwork = Artwork()
    toner: Toner = Toner()
    grade: GradeModel = GradeModel()
    lamp: LampModel = LampModel()
    compression: Literal["fast", "small"] = "fast"
    #: Fields of the records that the finished PDF names in each record's metadata; they may be personal data.
    part_fields: tuple[str, ...] = ()
    web: WebModel | None = None
    stock: StockModel | None = None
    rolls: RollsModel | None = None
    press: PressModel | None = None
    #: Presses that share the run, by name; each prints whole blocks, and they end together.
    presses: Annotated[dict[Name, PressModel], Field(max_length=20)] = Field(default_factory=dict)
    packing: PackingModel | None = None
    fold: FoldModel | None = None
    mail: MailModel | None = None
    #: The day the files are dated, for the same bytes every time: 2026-03-09, or 2026-03-09T08:00:00Z.
    date: str | None = None

    @field_validator("date")
    @classmethod
    def _is_a_day(cls, value: str | None) -> str | None:
        if value is None:
            return None
        formed = re.fullmatch(r"\d{4}-\d{2}-\d{2}(?:T\d{2}:\d{2}:\d{2}Z)?", value, re.ASCII)
        try:
            datetime.fromisoformat(value if formed else "")
        except ValueError as error:
            raise ValueError(f"'{value}' is not a date such as 2026-03-09 or 2026-03-09T08:00:00Z") from error
        return value
