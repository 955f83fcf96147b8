"""What is simulated and asked of a run's symbols: the press, the floor, the sample; from the job or from report.json.

Not here: the simulation (`press`), grading (`symbol`).
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from vdp.job.grading import GradeModel
from vdp.verify.grade.press import Press


class Rules(NamedTuple):
    """`least` is the lowest grade that gives no finding, None for none; `sample` the pieces that are graded, 0 for
    none; `source` says in words where the press's figures come from."""

    press: Press
    least: float | None
    sample: int
    seed: int
    source: str

    def chosen(self, pieces: int) -> frozenset[int]:
        """The 1-based places of the sample among so many pieces: the first, the last, and others by the seed."""
        if not self.sample or not pieces:
            return frozenset()
        ends = sorted({1, pieces})[: self.sample]
        rest = range(2, pieces)
        more = min(len(rest), self.sample - len(ends))
        return frozenset((*ends, *random.Random(self.seed).sample(rest, more)))  # noqa: S311  a sample, no secret

    def chance(self, piece: int, name: str) -> np.random.Generator:
        """What is random in the simulated print of a symbol: the same whenever it is printed."""
        return np.random.default_rng(list(f"{self.seed}:{piece}:{name}".encode()))

    def as_json(self) -> dict[str, Any]:
        """As report.json tells it: growth, raggedness and blur in dots, reflectances 0..1."""
        return {
            "least": self.least,
            "sample": self.sample,
            "seed": self.seed,
            "source": self.source,
            "press": self.press._asdict(),
        }


def rules_of(model: GradeModel) -> Rules:
    """The rules of a job."""
    press = Press(model.growth, model.noise, model.blur, model.paper / 100, model.ink / 100)
    return Rules(press, model.least, model.sample, model.seed, model.source)


def rules_told(value: Any) -> Rules:
    """The rules that report.json tells; the defaults where it tells none.  Raises what a value of another kind makes
    Python raise."""
    if value is None:
        return rules_of(GradeModel())
    press: Mapping[str, Any] = value["press"]
    model = GradeModel(
        least=value["least"],
        sample=value["sample"],
        seed=value["seed"],
        source=value["source"],
        growth=press["growth"],
        noise=press["noise"],
        blur=press["blur"],
        paper=100 * press["paper"],
        ink=100 * press["ink"],
    )
    return rules_of(model)
