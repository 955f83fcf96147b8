"""Where the text of symbols stands, as report.json tells the verifier.

Not here: setting it (`compose.human`), holding it against its symbol (`verify.humantext`).
"""

from __future__ import annotations

from typing import Any

from vdp.plan.build import Plan
from vdp.plan.steps import SymbolStep
from vdp.units import points


def strips_of_run(plan: Plan) -> dict[str, Any]:
    """By symbol: above its bars or below them, its turn in degrees, how deep the strip is in points."""
    return {
        step.name: {
            "above": step.human.above,
            "turn": step.turn,
            "depth": round(points(step.human.depth, plan.page.dpi), 4),
        }
        for step in plan.steps()
        if isinstance(step, SymbolStep) and step.human is not None
    }
