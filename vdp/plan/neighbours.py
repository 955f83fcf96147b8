"""A symbol must lie within the trim and touch no other mark on its plate: both are told before anything is composed.

Artwork is left out, since fixed art may well be designed around a symbol; whether it disturbs one is found by decoding
the finished file.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from vdp.errors import CallerError, Fault
from vdp.marks import PROCESS, Box, FillMark, ImageMark, Mark, StrokeMark, SymbolMark, TextMark
from vdp.plan.build import Plan
from vdp.plan.human import strip_of
from vdp.plan.page import inside, overlaps
from vdp.plan.steps import FixedStep, FormStep, ImageStep, MicroStep, Step, SymbolStep, TextStep, plates_of
from vdp.plan.symbols import box_of, extent
from vdp.units import MM_PER_INCH


class Taken(NamedTuple):
    """An area that a step prints on, and on which plates."""

    name: str
    box: Box
    plates: frozenset[str]
    conditional: bool


def check_symbols(plan: Plan) -> None:
    """Raises CallerError with every symbol that leaves the trim or shares area and plate with another mark."""
    faults: list[Fault] = []
    for steps in (side.steps for side in plan.sides):
        taken = [area for step in steps for area in _areas(plan, step)]
        for step in steps:
            if isinstance(step, SymbolStep) and step.name in plan.needs:
                faults.extend(_faults(plan, step, taken))
    if faults:
        raise CallerError(dict.fromkeys(faults))


def _faults(plan: Plan, step: SymbolStep, taken: list[Taken]) -> Iterator[Fault]:
    box = _symbol_box(plan, step)
    if not inside(box, plan.page.trim):
        yield Fault(
            step.where,
            f"{step.name}: {_mm(plan, box[2])} × {_mm(plan, box[3])} mm with its quiet zone, it leaves the trim",
            "move it, or use a smaller X-dimension or a shorter payload",
        )
    strip = strip_of(step, box)
    if step.human is not None and not inside(strip, plan.page.trim):
        yield Fault(step.where, f"{step.name}: its text leaves the trim", "move it, or set the text smaller")
    plates = plates_of(step.ink)
    for other in taken:
        over_text = step.human is not None and overlaps(strip, other.box)
        if other.name == step.name or not plates & other.plates or not (over_text or overlaps(box, other.box)):
            continue
        if step.when is not None and other.conditional:
            continue  # the two conditions may exclude each other; decoding the finished file is the proof
        what = "quiet zone" if overlaps(box, other.box) else "text"
        yield Fault(
            step.where,
            f"{step.name}: its {what} overlaps '{other.name}' on {', '.join(sorted(plates & other.plates))}",
            "move one of them",
        )


def _symbol_box(plan: Plan, step: SymbolStep) -> Box:
    return box_of(step, *extent(step, step.fixed or plan.needs[step.name]))


def printed_areas(plan: Plan, side: int) -> Iterator[Taken]:
    """Everything that a side prints, artwork apart."""
    for step in plan.sides[side].steps:
        yield from _areas(plan, step)


def _areas(plan: Plan, step: Step) -> Iterator[Taken]:
    conditional = getattr(step, "when", None) is not None
    match step:
        case FixedStep() | FormStep():
            for mark in step.marks:
                yield from _mark_areas(mark, conditional)
        case TextStep():
            yield Taken(step.name, step.box, plates_of(step.ink), conditional)
        case MicroStep():
            yield Taken(step.name, step.box, plates_of(step.ink), conditional)
        case ImageStep():
            yield Taken(step.name, step.box, frozenset(PROCESS), conditional)
        case SymbolStep():
            if step.name in plan.needs:
                yield Taken(step.name, _symbol_box(plan, step), plates_of(step.ink), conditional)
                if step.human is not None:
                    strip = strip_of(step, _symbol_box(plan, step))
                    yield Taken(step.name, strip, plates_of(step.ink), conditional)


def _mark_areas(mark: Mark, conditional: bool) -> Iterator[Taken]:
    match mark:
        case FillMark():
            if mark.ink.spot or mark.ink.cmyk[3] > 0:
                yield Taken(mark.name, mark.box, plates_of(mark.ink), conditional)
        case StrokeMark():
            (x0, y0), (x1, y1) = mark.start, mark.end
            half = mark.weight // 2 + 1
            left, bottom = min(x0, x1) - half, min(y0, y1) - half
            box = (left, bottom, abs(x1 - x0) + 2 * half, abs(y1 - y0) + 2 * half)
            yield Taken(mark.name, box, plates_of(mark.ink), conditional)
        case TextMark():
            yield Taken(mark.name, mark.box, plates_of(mark.ink), conditional)
        case ImageMark() if not mark.asset.startswith("art:"):
            yield Taken(mark.name, mark.box, frozenset(PROCESS), conditional)
        case SymbolMark():
            yield Taken(mark.name, mark.box, plates_of(mark.ink), conditional)
        case _:
            return


def _mm(plan: Plan, n_dots: int) -> str:
    return f"{float(n_dots * MM_PER_INCH / plan.page.dpi):.2f}"
