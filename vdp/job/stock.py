"""Paper, printed rolls and the press, as a job may state them: what `vdp plan` reckons with.

Lives here: keys and rules of one value.  Not here: arithmetic (`press.stock`).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from vdp.job.values import Length, PositiveLength
from vdp.records.spec import Model


class StockModel(Model):
    """The paper as delivered: thickness; weight in g/m², or in pounds of a basic size; diameter and core of a roll."""

    caliper: PositiveLength
    gsm: Annotated[float, Field(gt=0, le=1000)] | None = None
    pounds: Annotated[float, Field(gt=0, le=600)] | None = None
    basis: Literal["text", "bond", "cover", "index", "tag"] | None = None
    diameter: PositiveLength
    core: PositiveLength

    @model_validator(mode="after")
    def _one_weight(self) -> StockModel:
        if (self.gsm is None) == (self.pounds is None):
            raise ValueError("state the weight as gsm, or as pounds with its basis")
        if (self.pounds is None) != (self.basis is None):
            raise ValueError("pounds mean nothing without their basis: text, bond, cover, index or tag")
        return self


class RollsModel(Model):
    """What a printed roll may be, and the web that runs before and after its good frames; `kilograms` without core.

    `face` is the front's side of the roll, `winds` as seen from the operator's side, `leads` the edge of the front that
    must come off first: it is held against the web's turn and `rewound`.  `specimen` gives values for fields of the
    specimens on leader, trailer and make-ready, where the invented ones will not do.
    """

    core: PositiveLength | None = None
    length: PositiveLength | None = None
    diameter: PositiveLength | None = None
    kilograms: Annotated[float, Field(gt=0)] | None = None
    leader: Annotated[Length, Field(ge=0)] = 0.0
    trailer: Annotated[Length, Field(ge=0)] = 0.0
    face: Literal["in", "out"] | None = None
    winds: Literal["clockwise", "counter_clockwise"] | None = None
    leads: Literal["head", "right", "foot", "left"] | None = None
    specimen: dict[str, str] = Field(default_factory=dict)


class PackingModel(Model):
    """How cut pieces are packed: pieces a band, bands a carton."""

    band: Annotated[int, Field(ge=1, le=100_000)] = 100
    carton: Annotated[int, Field(ge=1, le=10_000)] = 10


class PressModel(Model):
    """How fast the web runs, in metres or feet a minute, and the web that is spent before the first good frame.

    Of several presses, each may have `rolls` of its own instead of the job's.
    """

    metres_a_minute: Annotated[float, Field(gt=0, le=1000)] | None = None
    feet_a_minute: Annotated[float, Field(gt=0, le=3000)] | None = None
    make_ready: Annotated[Length, Field(ge=0)] = 0.0
    rolls: RollsModel | None = None

    @model_validator(mode="after")
    def _one_speed(self) -> PressModel:
        if (self.metres_a_minute is None) == (self.feet_a_minute is None):
            raise ValueError("state the speed once: metres_a_minute or feet_a_minute")
        return self

    @property
    def speed(self) -> float:
        """Metres a minute."""
        return self.metres_a_minute if self.metres_a_minute is not None else (self.feet_a_minute or 0.0) * 0.3048
