"""The first pass: can this record be set, and what size do its symbols need?

Everything the second pass will do is tried here except encoding the symbols, so that a record is refused with every
reason before anything is allotted or written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from vdp.barcode import carriers
from vdp.compose.alike import Alike, depends_on_serials, letters_hold
from vdp.compose.human import human_runs
from vdp.compose.small import SmallType
from vdp.errors import RowRefused
from vdp.job.context import Context
from vdp.job.template import Condition, Template
from vdp.marks import Stretch
from vdp.pattern.microtext import fill
from vdp.plan.build import Plan
from vdp.plan.steps import FixedStep, FormStep, ImageStep, MicroStep, SymbolStep, TextStep
from vdp.plan.symbols import box_of, extent, need_of
from vdp.text import Endless, Frame

#: Opens a picture and returns its size in pixels; raises RowRefused when it cannot be used.
Probe = Callable[[Path], tuple[int, int]]


class Fit(NamedTuple):
    """What a record that can be set asks for: the need of each symbol drawn, and the pictures it uses.

    `columns` is whether each text that may be a column is one, which saves the second pass a look.
    """

    needs: Mapping[str, int]
    pictures: Mapping[Path, tuple[int, int]]
    columns: bool = False


def fit(plan: Plan, context: Context, probe: Probe, small: SmallType | None = None) -> Fit:
    """Tries one record.  Raises RowRefused with every reason, each naming the layout item.  `small` judges small type
    where that is still to be done."""
    return Fitting(plan, probe, small).fit(context)


#: What one step asks for: a symbol's need, a picture and its size, or False where a text is no column.
_Found = int | tuple[Path, tuple[int, int]] | bool | None
#: Tries one step with one record.
_Try = Callable[[Context], _Found]


class Fitting:
    """What tries records one after the other."""

    def __init__(self, plan: Plan, probe: Probe, small: SmallType | None = None) -> None:
        self._plan, self._probe, self._small = plan, probe, small
        self._tries: list[tuple[str, Condition | None, _Try]] = []
        #: Those that a record has to be tried with although its serials are alike to others'.
        self._own: list[tuple[str, Condition | None, _Try]] = []
        self._serials_only: list[TextStep | MicroStep | SymbolStep | ImageStep | FixedStep] = []
        self._alike = Alike()
        for step in plan.steps():
            if isinstance(step, FormStep):
                continue
            attempt = (step.name, step.when, self._try_of(step))
            self._tries.append(attempt)
            if depends_on_serials(step) and not (isinstance(step, TextStep) and self._judged(step)):
                self._serials_only.append(step)
            else:
                self._own.append(attempt)

    def fit(self, context: Context) -> Fit:
        """As the function of that name."""
        alike = self._alike
        key = alike.key(context)
        proved = alike.proved(key) if self._serials_only else None
        reasons: list[str] = []
        needs: dict[str, int] = {} if proved is None else {**proved}
        pictures: dict[Path, tuple[int, int]] = {}
        columns = True
        for name, when, attempt in self._tries if proved is None else self._own:
            try:
                if when is not None and not when.holds(context):
                    continue
                found = attempt(context)
            except RowRefused as refused:
                reasons.extend(_named(name, reason) for reason in refused.reasons)
                continue
            if found is None:
                continue
            if found is False:
                columns = False
            elif isinstance(found, int):
                needs[name] = found
            else:
                pictures[found[0]] = found[1]
        if reasons:
            raise RowRefused(reasons)
        if proved is None and self._serials_only and alike.worth() and self._holds(context):
            alike.keep(key, {step.name: needs[step.name] for step in self._serials_only if step.name in needs})
        return Fit(needs, pictures, columns)

    def _holds(self, context: Context) -> bool:
        """Whether what this record's serials were tried with holds for all that differ in figures alone."""
        for step in self._serials_only:
            match step:
                case TextStep():
                    template, frame, woven = worded(self._plan, step, context)
                    if woven or not frame.check_alike(template.render(context)):
                        return False
                case MicroStep():
                    glyphs = Microtext(self._plan, step).of(context).glyphs
                    if not letters_hold(step, glyphs, self._small if self._judged(step) else None):
                        return False
                case _:
                    pass  # a symbol's need goes by the kinds of its characters
        return True

    def _judged(self, step: TextStep | MicroStep) -> bool:
        """Whether a step's type may be small enough to be judged."""
        size = step.size if isinstance(step, MicroStep) else step.style.least or step.style.size
        return self._small is not None and self._small.is_small(size)

    def _try_of(self, step: FixedStep | TextStep | SymbolStep | ImageStep | MicroStep) -> _Try:
        match step:
            case TextStep():
                return self._text(step)
            case SymbolStep():
                return self._symbol(step)
            case ImageStep():
                return self._image(step)
            case MicroStep():
                return self._micro(step)
            case FixedStep():
                return lambda _: None

    def _text(self, step: TextStep) -> _Try:
        small = self._small if self._judged(step) else None
        settled: dict[str, tuple[Template, Frame, bool]] = {}

        def attempt(context: Context) -> bool | None:
            known = settled.get(context.language) or settled.setdefault(
                context.language, worded(self._plan, step, context)
            )
            template, frame, woven = known
            column = None
            if woven:
                frame.check_filled(template.literals, template.values(context))
            elif not frame.check(template.render(context)) and frame.leads:
                column = False
            if small is not None:
                small.text(step.name, *frame.set(template.render(context)))
            return column

        return attempt

    def _symbol(self, step: SymbolStep) -> _Try:
        plan, small, dpi = self._plan, self._small, self._plan.page.dpi
        human = step.human
        if human is None and step.fixed is None and step.room is None and not step.longest:
            needing = carriers.needing(step.carrier, step.form)
            return lambda context: needing(payload(step, context))
        if human is None:
            return lambda context: need_of(step, payload(step, context), dpi)
        if small is not None and not small.is_small(human.size):
            small = None

        def attempt(context: Context) -> int:
            data = payload(step, context)
            need = need_of(step, data, dpi)
            for _, glyphs in human_runs(plan, step, data, box_of(step, *extent(step, need))):
                if small is not None:
                    small.note(step.name, glyphs, human.size)
            return need

        return attempt

    def _image(self, step: ImageStep) -> _Try:
        def attempt(context: Context) -> tuple[Path, tuple[int, int]] | None:
            path = picture(self._plan, step, context)
            return None if path is None else (path, self._probe(path))

        return attempt

    def _micro(self, step: MicroStep) -> _Try:
        microtext, small = Microtext(self._plan, step), self._small if self._judged(step) else None

        def attempt(context: Context) -> None:
            glyphs = microtext.of(context).glyphs
            if small is not None:
                small.note(step.name, glyphs, step.size)

        return attempt


def _named(name: str, reason: str) -> str:
    return reason if reason.startswith(f"{name}:") else f"{name}: {reason}"


def worded(plan: Plan, step: TextStep, context: Context) -> tuple[Template, Frame, bool]:
    """What sets a step's text in the record's language, and whether its words between the fields are known
    beforehand.  Raises RowRefused."""
    template, frame = wording(step, context), frame_of(plan, step, context.language)
    return template, frame, frame.knows(template.literals)


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


class Microtext:
    """What fills the lines of a step with one record's microtext after another's."""

    def __init__(self, plan: Plan, step: MicroStep) -> None:
        self._setter, self._step = plan.setter, step
        self._endless: dict[str, Endless] = {}

    def of(self, context: Context) -> Micro:
        """How a record's microtext fills its lines.  Raises RowRefused."""
        step, template = self._step, self._step.template
        if template.literals:
            values = template.values(context)
            blank = template.wordless and not "".join(values).strip()
            endless = self._endless.get(context.language)
            if endless is None:
                endless = self._setter.endless(template.literals, step.face, context.language)
                self._endless[context.language] = endless
            glyphs = endless.glyphs(values)
        else:
            text = template.render(context).strip()
            blank = not text
            glyphs = self._setter.shape(text + " ", step.face, context.language)
        if blank:
            raise RowRefused((f"{step.name}: the microtext is empty",))
        widths = tuple([stretch.width for stretch in glyphs])
        repeats, cut, left = _filled(widths, step.room)
        if repeats == 0:
            em = step.size * 25.4 / 72000
            raise RowRefused(
                (f"{step.name}: the text is {sum(widths) * em:.1f} mm long, the line {step.room * em:.1f} mm",)
            )
        if step.lines == 0:
            raise RowRefused((f"{step.name}: the box is lower than one line of {step.size:g} pt",))
        return Micro(glyphs, repeats, cut, left)


#: Figures are of one width in most faces, so that record after record has the same.
_filled = lru_cache(maxsize=1024)(fill)
