"""The first pass: can this record be set, and what size do its symbols need?

Everything the second pass will do is tried here except encoding the symbols, so that a record is refused with every
reason before anything is allotted or written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from vdp.compose.human import human_runs
from vdp.compose.small import SmallType
from vdp.errors import RowRefused
from vdp.job.context import Context
from vdp.job.template import Template
from vdp.marks import Stretch
from vdp.pattern.microtext import fill
from vdp.plan.build import Plan
from vdp.plan.steps import FixedStep, FormStep, ImageStep, MicroStep, Step, SymbolStep, TextStep
from vdp.plan.symbols import box_of, extent, need_of
from vdp.text import Frame

#: Opens a picture and returns its size in pixels; raises RowRefused when it cannot be used.
Probe = Callable[[Path], tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Fit:
    """What a record that can be set asks for: the need of each symbol drawn, and the pictures it uses."""

    needs: Mapping[str, int]
    pictures: Mapping[Path, tuple[int, int]]


def fit(plan: Plan, context: Context, probe: Probe, small: SmallType | None = None) -> Fit:
    """Tries one record.  Raises RowRefused with every reason, each naming the layout item.  `small` judges small type
    where that is still to be done."""
    reasons: list[str] = []
    needs: dict[str, int] = {}
    pictures: dict[Path, tuple[int, int]] = {}
    for step in plan.steps():
        if isinstance(step, FormStep):
            continue
        try:
            if step.when is not None and not step.when.holds(context):
                continue
            _try(plan, step, context, probe, small, needs, pictures)
        except RowRefused as refused:
            reasons.extend(_named(step.name, reason) for reason in refused.reasons)
    if reasons:
        raise RowRefused(reasons)
    return Fit(needs, pictures)


def _named(name: str, reason: str) -> str:
    return reason if reason.startswith(name) else f"{name}: {reason}"


def _try(
    plan: Plan,
    step: Step,
    context: Context,
    probe: Probe,
    small: SmallType | None,
    needs: dict[str, int],
    pictures: dict[Path, tuple[int, int]],
) -> None:
    match step:
        case TextStep():
            _try_text(plan, step, context, small)
        case SymbolStep():
            data = payload(step, context)
            need = needs[step.name] = need_of(step, data, plan.page.dpi)
            if step.human is not None:
                for _, glyphs in human_runs(plan, step, data, box_of(step, *extent(step, need))):
                    if small is not None and small.is_small(step.human.size):
                        small.note(step.name, glyphs, step.human.size)
        case ImageStep():
            path = picture(plan, step, context)
            if path is not None:
                pictures[path] = probe(path)
        case MicroStep():
            glyphs = micro_glyphs(plan, step, context)[0]
            if small is not None and small.is_small(step.size):
                small.note(step.name, glyphs, step.size)
        case FixedStep() | FormStep():
            pass


def _try_text(plan: Plan, step: TextStep, context: Context, small: SmallType | None) -> None:
    template, frame = wording(step, context), frame_of(plan, step, context.language)
    if template.literals:
        frame.check_filled(template.literals, template.values(context))
    else:
        frame.check(template.render(context))
    if small is not None and small.is_small(step.style.least or step.style.size):
        small.text(step.name, *frame.set(template.render(context)))


def frame_of(plan: Plan, step: TextStep, language: str) -> Frame:
    """What sets a step's text in a language."""
    frame = plan.frames.get((step.name, language))
    if frame is None:
        frame = plan.frames[step.name, language] = plan.setter.frame(step.style, language, step.box)
    return frame


def wording(step: TextStep, context: Context) -> Template:
    """The template for the record's language."""
    wordings = step.wordings
    template = wordings.get("") or wordings.get(context.language) or wordings.get("other")
    if template is None:
        raise RowRefused((f"{step.name}: no wording for language '{context.language}'",))
    return template


def payload(step: SymbolStep, context: Context) -> str:
    """What a symbol carries.  An empty payload is refused: a symbol that says nothing is a mistake."""
    data = step.template.render(context)
    if not data:
        raise RowRefused((f"{step.name}: the symbol would carry nothing",))
    return data


def picture(plan: Plan, step: ImageStep, context: Context) -> Path | None:
    """The picture's file, or None where the template gives nothing: no picture is wanted."""
    name = step.template.render(context).strip()
    return plan.job.picture(name) if name else None


class Micro(NamedTuple):
    """A line of microtext: `repeats` of `glyphs` (a space ends them), then the first `cut` stretches of one more, after
    which `left` thousandths of an em are left."""

    glyphs: tuple[Stretch, ...]
    repeats: int
    cut: int
    left: float


def micro_glyphs(plan: Plan, step: MicroStep, context: Context) -> Micro:
    """How a record's microtext fills its lines.  Raises RowRefused."""
    template = step.template
    if template.literals:
        values = template.values(context)
        text = "".join((*values, *template.literals))
        glyphs = plan.setter.endless(template.literals, values, step.face, context.language)
    else:
        text = template.render(context)
        glyphs = plan.setter.shape(text.strip() + " ", step.face, context.language)
    if not text or text.isspace():
        raise RowRefused((f"{step.name}: the microtext is empty",))
    widths = [stretch.width for stretch in glyphs]
    repeats, cut = fill(widths, step.room)
    if repeats == 0:
        em = step.size * 25.4 / 72000
        raise RowRefused(
            (f"{step.name}: the text is {sum(widths) * em:.1f} mm long, the line {step.room * em:.1f} mm",)
        )
    if step.lines == 0:
        raise RowRefused((f"{step.name}: the box is lower than one line of {step.size:g} pt",))
    return Micro(glyphs, repeats, cut, step.room - repeats * sum(widths) - sum(widths[:cut]))
