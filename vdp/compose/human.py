"""The human readable text of a symbol set beside its bars, and the guard bars that reach down between the digits.

Lives here: text and bars as marks.  Not here: which text a symbol has (`barcode.human_text`), the strip (`plan.human`).
"""

from __future__ import annotations

from collections.abc import Iterator

from vdp.barcode import carriers
from vdp.barcode.gs1 import parse
from vdp.barcode.human_text import HumanText as Reading
from vdp.barcode.human_text import human_text
from vdp.errors import RowRefused
from vdp.marks import Bars, Box, FillMark, Line, Stretch, TextMark
from vdp.plan.build import Plan
from vdp.plan.human import strip_of
from vdp.plan.page import reading_size, spot_on_page
from vdp.plan.steps import HumanText, SymbolStep

#: Symbologies whose text is what a reader reports, whatever the layout's data leave out.
_AS_READ = frozenset({"code128", "code39", "itf"})


def _reading(step: SymbolStep, data: str, across: int) -> Reading:
    """What is shown of the data, by modules; `across` is the symbol without its quiet zone."""
    carrier = step.carrier
    if carrier in _AS_READ:
        return human_text(carrier, carriers.read_back(carrier, data, step.form), across)
    return human_text(carrier, parse(data) if carrier.startswith("gs1_") else data, across)


def human_runs(plan: Plan, step: SymbolStep, data: str, box: Box) -> list[tuple[int, tuple[Stretch, ...]]]:
    """Each caption with its start in dots from the symbol's reading edge.

    Raises RowRefused for text that is wider than its place, with the size that would fit.
    """
    human = step.human
    if human is None:
        return []
    left, _, right, _ = step.quiet
    along = reading_size(box, step.turn)[0] - left - right
    found: list[tuple[int, tuple[Stretch, ...]]] = []
    em = human.size * plan.page.dpi / 72
    for caption in _reading(step, data, along // step.module).captions:
        glyphs = plan.setter.shape(caption.text, human.face, "und")
        width = sum(run.width for run in glyphs) * em / 1000
        room = (caption.right - caption.left) * step.module
        if width > room:
            least = int(human.size * room / width * 10) / 10
            said = f"'{caption.text}' in {human.face} of {human.size:g} pt is {_mm(plan, width)} mm wide"
            place = f"its place along the bars {_mm(plan, room)} mm: {least:g} pt would fit"
            raise RowRefused((f"{step.name}: {said}, {place}",))
        found.append((left + caption.left * step.module + round((room - width) / 2), glyphs))
    return found


def human_marks(plan: Plan, step: SymbolStep, data: str, box: Box) -> Iterator[TextMark]:
    """The text of a symbol that fills `box`.  Raises RowRefused as `human_runs`."""
    human = step.human
    if human is None:
        return
    strip = strip_of(step, box)
    down = human.rise if human.above else human.gap + human.rise
    lines = []
    for along, glyphs in human_runs(plan, step, data, box):
        text = "".join(run.text for run in glyphs)
        lines.append(Line(*spot_on_page(strip, step.turn, along, down), glyphs, text))
    yield TextMark(step.name, step.ink, strip, step.turn, human.size, tuple(lines))


def guard_marks(step: SymbolStep, data: str, box: Box, shape: object) -> Iterator[FillMark]:
    """What the longer bars of retail codes have more than the others."""
    human = step.human
    if human is None or not human.drop or not isinstance(shape, Bars):
        return
    guards = _reading(step, data, sum(shape.widths)).guards
    strip, left, at = strip_of(step, box), step.quiet[0], 0
    for place, width in enumerate(shape.widths):
        if place % 2 == 0 and any(first <= at and at + width <= last for first, last in guards):
            less = step.reduction[0]
            start = left + at * step.module + less // 2
            yield FillMark(step.name, step.ink, _turned(strip, step, human, start, width * step.module - less))
        at += width


def _turned(strip: Box, step: SymbolStep, human: HumanText, along: int, width: int) -> Box:
    """The page box of a bar's lower end."""
    xs, ys = zip(
        spot_on_page(strip, step.turn, along, 0), spot_on_page(strip, step.turn, along + width, human.drop), strict=True
    )
    return (min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))


def _mm(plan: Plan, n_dots: float) -> str:
    return f"{n_dots * 25.4 / plan.page.dpi:.2f}"
