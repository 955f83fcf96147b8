"""The second pass: Plan + accepted records → the marks of both sides of each piece, and what its symbols say.

A batch at a time, because the QR encoder works on many payloads at once.  Composing a record alone or in any batch
gives the same marks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import accumulate
from typing import NamedTuple

from vdp.barcode import carriers
from vdp.compose.fit import frame_of, micro_glyphs, payload, picture, wording
from vdp.compose.human import guard_marks, human_marks
from vdp.errors import OurBug, RowRefused
from vdp.job.context import Context
from vdp.marks import (
    Bars,
    Box,
    FillMark,
    FormMark,
    ImageMark,
    Ink,
    Line,
    Mark,
    Spelled,
    Stretch,
    SymbolMark,
    TextMark,
)
from vdp.plan.build import Plan, paper_ink
from vdp.plan.page import spot_on_page
from vdp.plan.steps import FixedStep, FormStep, ImageStep, MicroStep, Step, SymbolStep, TextStep
from vdp.plan.symbols import box_of, extent


class Accepted(NamedTuple):
    """A record that has its number: `nth` counts pieces from 0, `row` is its record number in the input."""

    nth: int
    row: int
    values: Mapping[str, str]
    serials: Mapping[str, str]


class Symbol(NamedTuple):
    """What a symbol on a piece says: `side` 0 front or 1 back, `box` in dots with the quiet zone."""

    name: str
    symbology: str
    identifier: str
    plate: str
    side: int
    box: Box
    data: str


class Piece(NamedTuple):
    """One finished piece: marks in painting order, per side."""

    nth: int
    row: int
    language: str
    serials: Mapping[str, str]
    front: list[Mark]
    back: list[Mark]
    symbols: list[Symbol]


class _Waiting(NamedTuple):
    """A symbol whose modules are still to be encoded, and where its mark goes."""

    marks: list[Mark]
    at: int
    step: SymbolStep
    data: str


def compose(plan: Plan, batch: Sequence[Accepted]) -> list[Piece]:
    """Composes records that the first pass has accepted.  Raises OurBug if one of them cannot be set after all."""
    pieces: list[Piece] = []
    waiting: dict[str, list[_Waiting]] = {}
    for record in batch:
        context = plan.job.context(record.values, record.serials, record.row)
        piece = Piece(record.nth, record.row, context.language, record.serials, [], [], [])
        try:
            for side, marks in enumerate((piece.front, piece.back)):
                for step in plan.sides[side].steps:
                    _add(plan, step, context, side, marks, piece.symbols, waiting)
        except RowRefused as refused:
            raise OurBug(f"row {record.row} was accepted and then refused: {refused}") from refused
        pieces.append(piece)
    for group in waiting.values():
        _encode(plan, group)
    return pieces


def _add(
    plan: Plan,
    step: Step,
    context: Context,
    side: int,
    marks: list[Mark],
    symbols: list[Symbol],
    waiting: dict[str, list[_Waiting]],
) -> None:
    if isinstance(step, FormStep):
        marks.append(FormMark(step.asset, step.asset))
        return
    if step.when is not None and not step.when.holds(context):
        return
    match step:
        case TextStep():
            template, frame = wording(step, context), frame_of(plan, step, context.language)
            if template.literals:
                setting = frame.fill(template.literals, template.values(context))
            else:
                setting = frame.set(template.render(context))
            if setting.lines:
                marks.append(TextMark(step.name, step.ink, step.box, step.style.turn, setting.size, setting.lines))
        case SymbolStep():
            data = payload(step, context)
            waiting.setdefault(step.name, []).append(_Waiting(marks, len(marks), step, data))
            box = _symbol_box(plan, step, data)
            marks.append(
                SymbolMark(
                    step.name,
                    step.ink,
                    box,
                    step.turn,
                    step.module,
                    step.quiet,
                    step.height,
                    _BLANK,
                    step.state,
                    step.reduction,
                )
            )
            marks.extend(human_marks(plan, step, data, box))
            told = carriers.read_back(step.carrier, data, step.form)
            identifier = carriers.identifier(step.carrier, data, step.form)
            plate = step.ink.spot or "Black"
            symbols.append(Symbol(step.name, step.symbology, identifier, plate, side, box, told))
        case ImageStep():
            path = picture(plan, step, context)
            if path is not None:
                marks.append(_image(step, f"image:{path}", plan.pictures[path]))
        case MicroStep():
            marks.extend(_micro(plan, step, context))
        case FixedStep():
            marks.extend(step.marks)


_BLANK = Bars(())


def _symbol_box(plan: Plan, step: SymbolStep, data: str) -> Box:
    """Matrices have one size for the job; a linear code is as long as its own payload makes it."""
    if step.height or step.state is not None:
        return box_of(step, *extent(step, carriers.need(step.carrier, data, step.form)))
    return box_of(step, *extent(step, step.fixed or plan.needs[step.name]))


@lru_cache(maxsize=64)
def _encoder(carrier: str, need: int, form: carriers.Form) -> carriers.Encoder:
    return carriers.Encoder(carrier, need, form)


def _encode(plan: Plan, group: list[_Waiting]) -> None:
    """Encodes the payloads of one step for the whole batch and puts the shapes into their marks."""
    step = group[0].step
    need = step.fixed or plan.needs[step.name]
    shapes = _encoder(step.carrier, need, step.form).encode([w.data for w in group])
    for place, shape in zip(group, shapes, strict=True):
        mark = place.marks[place.at]
        if not isinstance(mark, SymbolMark):
            raise OurBug(f"{step.name}: a symbol's place holds another mark")
        place.marks[place.at] = mark._replace(shape=shape)
        place.marks.extend(guard_marks(step, place.data, mark.box, shape))


def _image(step: ImageStep, asset: str, pixels: tuple[int, int]) -> ImageMark:
    """Scales a picture into its box: `fill` covers it and is cut at its edges, `inside` is centred whole."""
    x, y, width, height = step.box
    across, down = pixels if step.turn in (0, 180) else (pixels[1], pixels[0])
    ratios = (width / across, height / down)
    scale = max(ratios) if step.fit == "fill" else min(ratios)
    drawn = (max(1, round(across * scale)), max(1, round(down * scale)))
    box = (x + (width - drawn[0]) // 2, y + (height - drawn[1]) // 2, drawn[0], drawn[1])
    return ImageMark(step.name, asset, box, step.turn, step.box if step.fit == "fill" and box != step.box else None)


def _micro(plan: Plan, step: MicroStep, context: Context) -> list[Mark]:
    glyphs, repeats, cut, left = micro_glyphs(plan, step, context)
    run = glyphs * repeats + glyphs[:cut] + _first(glyphs[cut % len(glyphs)], left)
    text = "".join(part.text for part in run)
    lines = tuple(
        Line(*spot_on_page(step.box, step.turn, 0, step.rise + n * step.leading), run, text) for n in range(step.lines)
    )
    if not step.reversed:
        return [TextMark(step.name, step.ink, step.box, step.turn, step.size, lines)]
    ink: Ink = paper_ink(step)
    return [FillMark(step.name, step.ink, step.box), TextMark(step.name, ink, step.box, step.turn, step.size, lines)]


@lru_cache(maxsize=1024)
def _first(part: Stretch, left: float) -> tuple[Stretch, ...]:
    """The first glyphs of a stretch, as many as `left` thousandths of an em hold; a cluster is never split."""
    if part.rtl:
        return ()
    count = sum(1 for end in accumulate(part.advances) if end <= left)
    if isinstance(part, Spelled):
        return (Spelled(part.letters, part.text[:count], sum(part.advances[:count])),) if count else ()
    while count > 0 and part.clusters[count] == "":
        count -= 1
    if not count:
        return ()
    return (
        replace(
            part,
            gids=part.gids[:count],
            advances=part.advances[:count],
            natural=part.natural[:count],
            offsets=part.offsets[:count],
            clusters=part.clusters[:count],
            width=sum(part.advances[:count]),
            text="".join(part.clusters[:count]),
        ),
    )
