"""The X-dimension of every symbol of a layout, as asked for and as printed: what report.json tells and verifiers hold
symbols against.

Not here: how it comes about (`vdp.plan.symbolstep`).
"""

from __future__ import annotations

from typing import Any

from vdp.plan.build import Plan
from vdp.plan.steps import SymbolStep
from vdp.units import MM_PER_INCH


def symbol_sizes(plan: Plan) -> dict[str, dict[str, Any]]:
    """By name; codes of four kinds of bars, which have no X-dimension, are left out."""
    dpi = plan.job.model.resolution
    steps = [step for side in plan.sides for step in side.steps if isinstance(step, SymbolStep) and step.module]
    return {
        step.name: {
            "symbology": step.symbology,
            "x_asked_mm": round(step.asked, 4),
            "x_dots": step.module,
            "x_mm": round(step.module * float(MM_PER_INCH) / dpi, 4),
            "reduce_dots": list(step.reduction),
        }
        for step in sorted(steps, key=lambda step: step.name)
    }
