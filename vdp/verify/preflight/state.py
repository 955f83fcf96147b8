"""The graphics state of a content stream, as far as artwork is judged by it (ISO 32000-2, 8.4)."""

from __future__ import annotations

from dataclasses import dataclass

from vdp.verify.preflight.spaces import GRAY, Shade
from vdp.verify.state import IDENTITY, Matrix


@dataclass(frozen=True, slots=True)
class State:
    ctm: Matrix = IDENTITY
    fill: Shade = GRAY
    stroke: Shade = GRAY
    fill_colour: tuple[float, ...] = (0.0,)
    stroke_colour: tuple[float, ...] = (0.0,)
    weight: float = 1.0
    fill_over: bool = False
    stroke_over: bool = False
    mode: int = 0
    fill_alpha: float = 1.0
    stroke_alpha: float = 1.0
    blend: str = "/Normal"
    masked: bool = False
    font: str = ""
    size: float = 0.0
    leading: float = 0.0
    render: int = 0
    rise: float = 0.0
