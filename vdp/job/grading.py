"""The job's section `grade`: the press that a simulated print imitates, the sample, and the floor.

Not here: the simulation and the grades (`vdp.verify.grade`).
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, ValidationInfo, field_validator

from vdp.job.values import Percent
from vdp.records.spec import Model


class GradeModel(Model):
    """`growth`: dots by which every edge of toner moves outwards (less than 0: inwards); `noise`: the standard
    deviation of that along an edge; `blur`: of the blur; `paper` and `ink`: percent of light that bare and inked paper
    send back.  `least`: a lower grade is a finding; none by default.  `sample`: pieces graded, 0 for none.  `source`
    says where the figures come from.

    The defaults are an engineering choice without a source: no press was measured.
    """

    least: Annotated[float, Field(ge=0, le=4)] | None = None
    sample: Annotated[int, Field(ge=0, le=100_000)] = 4
    seed: Annotated[int, Field(ge=0)] = 20270115
    source: Annotated[str, Field(min_length=1, max_length=120)] = "uncalibrated"
    growth: Annotated[float, Field(ge=-8, le=8)] = 1.0
    noise: Annotated[float, Field(ge=0, le=4)] = 0.4
    blur: Annotated[float, Field(ge=0, le=8)] = 0.6
    paper: Percent = 85
    ink: Percent = 5

    @field_validator("ink")
    @classmethod
    def _darker(cls, value: float, info: ValidationInfo) -> float:
        paper = info.data.get("paper")
        if paper is not None and value >= paper:
            raise ValueError(f"ink that sends back {value:g} % is not darker than paper of {paper:g} %")
        return value
