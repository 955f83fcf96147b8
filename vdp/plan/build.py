"""Compiles a layout into a Plan: steps per side, every place in dots, every template ready, every fault found at once.

Not here: sizes of symbols (they depend on the records: `symbols`), reading artwork (the caller hands in what it found).
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from vdp.errors import CallerError, Fault, Finding, RowRefused
from vdp.job.items import (
    ArtItem,
    BarcodeItem,
    BoxItem,
    ImageItem,
    Item,
    LineItem,
    MicrotextItem,
    NumberItem,
    Placed,
    TextItem,
    Typed,
)
from vdp.job.load import Job
from vdp.job.template import Condition, Template, compile_condition, compile_text
from vdp.marks import PAPER, ImageMark, Ink, Mark, TextMark
from vdp.pattern.microtext import count_lines
from vdp.plan.fine import judge_weight, microprint_faults
from vdp.plan.fixed import ArtInfo, art_mark, box_marks, ink_of, line_mark
from vdp.plan.human import human_text_of
from vdp.plan.numbering import numbering_faults
from vdp.plan.page import Page, inside, reading_size
from vdp.plan.steps import FixedStep, FormStep, ImageStep, MicroStep, Side, Step, SymbolStep, TextStep
from vdp.plan.symbolstep import symbol_step
from vdp.text import Frame, Setter, Style
from vdp.units import dots, mm

SIDES = ("front", "back")


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything about a job that no record changes.

    `needs` fixes each symbol's size once the records have been read; `pictures` are sizes in pixels of the records'
    pictures, by path, known after the first pass.
    """

    job: Job
    page: Page
    sides: tuple[Side, Side]
    setter: Setter
    warnings: tuple[Finding, ...]
    art: Mapping[str, tuple[Path, int]]
    needs: Mapping[str, int] = field(default_factory=dict)
    pictures: Mapping[Path, tuple[int, int]] = field(default_factory=dict)
    #: What sets each step's text in each language, by names; filled as records ask for it.
    frames: dict[tuple[str, str], Frame] = field(default_factory=dict, compare=False, repr=False)

    def sized(self, needs: Mapping[str, int], pictures: Mapping[Path, tuple[int, int]]) -> Plan:
        """The plan with what the first pass over the records has found."""
        return replace(self, needs=dict(needs), pictures=dict(pictures))

    def steps(self) -> Iterable[Step]:
        for side in self.sides:
            yield from side.steps


def build(job: Job, header: tuple[str, ...], setter: Setter, art: Callable[[Path, int], ArtInfo]) -> Plan:
    """Layout → Plan.  Raises CallerError with every fault found."""
    return _Builder(job, header, setter, art).build()


class _Builder:
    """Gathers faults while compiling, so that all are told at once."""

    def __init__(self, job: Job, header: tuple[str, ...], setter: Setter, art: Callable[[Path, int], ArtInfo]) -> None:
        self.job, self.header, self.setter, self.art_info = job, header, setter, art
        self.page = Page.of(job.layout.trim, job.layout.bleed, job.model.resolution)
        self.faults: list[Fault] = []
        self.warnings: list[Finding] = []
        self.art: dict[str, tuple[Path, int]] = {}
        self.taken: set[str] = set()

    def build(self) -> Plan:
        self._known(self.job.model.part_fields, self.job.where("job", "part_fields"))
        sides = tuple(self._side(side) for side in SIDES)
        self.faults.extend(numbering_faults(self.job, self.header))
        if self.faults:
            raise CallerError(self.faults)
        return Plan(
            job=self.job,
            page=self.page,
            sides=(sides[0], sides[1]),
            setter=self.setter,
            warnings=tuple(self.warnings),
            art=self.art,
        )

    def _side(self, side: str) -> Side:
        items: tuple[Item, ...] = getattr(self.job.layout, side)
        steps: list[Step] = []
        for index, item in enumerate(items):
            try:
                step = self._step(side, index, item)
            except CallerError as error:
                self.faults.extend(error.faults)
                continue
            if step is not None:
                steps.append(step)
        return Side(tuple(_merge(side, steps)))

    def _step(self, side: str, index: int, item: Item) -> Step | None:  # noqa: PLR0911  one return a kind of item
        def where(*keys: str | int) -> str:
            return self.job.where("layout", side, index, *keys)

        name = self._name(side, index, item)
        when = self._condition(item, where)
        box = getattr(item, "box", None)
        if box is not None and not isinstance(item, ArtItem):
            page_box = self.page.box(box)
            if not inside(page_box, (0, 0, self.page.width, self.page.height)):
                self.faults.append(
                    Fault(
                        where("box"),
                        f"{name}: the box leaves the page and its bleed "
                        f"({mm(self.job.layout.trim[0]):g} × {mm(self.job.layout.trim[1]):g} mm "
                        f"+ {mm(self.job.layout.bleed):g} mm)",
                        "make it smaller or move it",
                    )
                )
                return None
        match item:
            case ArtItem():
                return FixedStep(name, when, (self._art(name, item, where),))
            case BoxItem():
                judge_weight(name, item, self.page.dpi, where, self.faults, self.warnings)
                return FixedStep(name, when, tuple(box_marks(self.page, name, item)))
            case LineItem():
                judge_weight(name, item, self.page.dpi, where, self.faults, self.warnings)
                return FixedStep(name, when, (line_mark(self.page, name, item),))
            case TextItem() | NumberItem():
                return self._text(name, when, item, where)
            case ImageItem():
                template = self._template(item.image, where("image"))
                return ImageStep(name, when, template, self.page.box(item.box), item.fit, item.turn)
            case BarcodeItem():
                template = self._template(item.data, where("data"))
                step = symbol_step(self.page, name, when, item, template, where, self.faults, self.warnings)
                return self._with_text(step, item, where)
            case MicrotextItem():
                return self._micro(name, when, item, where)

    def _with_text(self, step: SymbolStep, item: BarcodeItem, where: Callable[..., str]) -> SymbolStep:
        if item.human_text == "none":
            return step
        face = self.setter.faces.face(item.human_face)
        human = human_text_of(item, face, step.module, self.page.dpi, where("human_size"))
        if isinstance(human, Fault):
            self.faults.append(human)
            return step
        return replace(step, human=human)

    # -- names, conditions, templates --------------------------------------------------------------------------------

    def _name(self, side: str, index: int, item: Placed) -> str:
        name = item.called(side, index)
        if name in self.taken:
            self.faults.append(
                Fault(
                    self.job.where("layout", side, index, "name"),
                    f"the name '{name}' is used twice",
                    "give each item its own",
                )
            )
        self.taken.add(name)
        return name

    def _condition(self, item: Placed, where: Callable[..., str]) -> Condition | None:
        if item.when is None:
            return None
        condition = compile_condition(item.when, where("when"))
        self._known(condition.names, where("when"))
        return condition

    def _template(self, text: str, where: str) -> Template:
        template = compile_text(text, where)
        self._known(template.names, where)
        for series in sorted(template.series - set(self.job.model.series)):
            self.faults.append(Fault(where, f"no series is called '{series}'", _like(series, self.job.model.series)))
        return template

    def _known(self, names: Iterable[str], where: str) -> None:
        for name in sorted(set(names) - set(self.header)):
            self.faults.append(Fault(where, f"the records have no field '{name}'", _like(name, self.header)))

    def _art(self, name: str, item: ArtItem, where: Callable[..., str]) -> ImageMark:
        path = self.job.file(item.art, where("art"))
        asset = f"art:{item.art}#{item.page}"
        self.art[asset] = (path, item.page)
        info = self.art_info(path, item.page)
        return art_mark(self.page, self.job.layout.trim, name, item, asset, info, where("art"))

    # -- items that records change -----------------------------------------------------------------------------------

    def _text(
        self, name: str, when: Condition | None, item: TextItem | NumberItem, where: Callable[..., str]
    ) -> Step | None:
        if isinstance(item, NumberItem):
            wordings = {"": self._template("{{ series." + item.number + " }}", where("number"))}
        elif isinstance(item.text, str):
            wordings = {"": self._template(item.text, where("text"))}
        else:
            wordings = {language: self._template(text, where("text", language)) for language, text in item.text.items()}
        step = TextStep(name, when, wordings, self.page.box(item.box), _style(item), ink_of(item))
        return self._settled(step, where) if self._same_everywhere(step) else step

    def _same_everywhere(self, step: TextStep) -> bool:
        """One wording without fields, in letters that no language draws otherwise: it can be set now."""
        if set(step.wordings) != {""}:
            return False
        template = step.wordings[""]
        return not template.names and not template.series and template.constant is not None

    def _settled(self, step: TextStep, where: Callable[..., str]) -> Step | None:
        text = step.wordings[""].constant or ""
        if self.job.model.records.language is not None and not text.isascii():
            return step
        try:
            setting = self.setter.set(text, step.style, "und", step.box)
        except RowRefused as refused:
            self.faults.extend(Fault(where("text"), f"{step.name}: {reason}") for reason in refused.reasons)
            return None
        mark = TextMark(step.name, step.ink, step.box, step.style.turn, setting.size, setting.lines)
        return FixedStep(step.name, step.when, (mark,))

    def _micro(self, name: str, when: Condition | None, item: MicrotextItem, where: Callable[..., str]) -> MicroStep:
        self.faults.extend(microprint_faults(name, item, self.setter.faces.face(item.face), where))
        size_dots = item.size * self.page.dpi / 72
        leading = dots(item.leading, self.page.dpi) if item.leading else max(1, math.ceil(size_dots * 1.2))
        box, body = self.page.box(item.box), math.ceil(size_dots)
        along, across = reading_size(box, item.turn)
        return MicroStep(
            name=name,
            when=when,
            template=self._template(item.microtext, where("microtext")),
            box=box,
            face=item.face,
            size=item.size,
            body=body,
            leading=leading,
            room=along / size_dots * 1000,
            lines=count_lines(across, leading, body),
            rise=round(size_dots * 0.8),
            ink=ink_of(item),
            reversed=item.reversed,
            turn=item.turn,
        )


def _style(item: Typed) -> Style:
    return Style(
        face=item.face,
        size=item.size,
        least=item.least if item.least is not None else item.size,
        leading=item.leading if item.leading is not None else item.size * 1.2,
        align=item.align,
        valign=item.valign,
        one_line=item.one_line,
        turn=item.turn,
    )


def _merge(side: str, steps: list[Step]) -> Iterable[Step]:
    """Neighbouring unconditional fixed steps become one form, so that each piece names it once."""
    run: list[Mark] = []
    forms = 0
    for step in steps:
        if isinstance(step, FixedStep) and step.when is None:
            run.extend(step.marks)
            continue
        if run:
            forms += 1
            yield FormStep(f"form:{side}-{forms}", tuple(run))
            run = []
        yield step
    if run:
        yield FormStep(f"form:{side}-{forms + 1}", tuple(run))


def _like(name: str, known: Iterable[str]) -> str:
    close = difflib.get_close_matches(name, list(known), 1, 0.6)
    return f"did you mean '{close[0]}'?" if close else ""


def paper_ink(step: MicroStep) -> Ink:
    """What reversed-out microtext is set in: no ink on the plate that the area around it is printed with."""
    return Ink(step.ink.spot, 0.0, PAPER.cmyk) if step.ink.spot else PAPER
