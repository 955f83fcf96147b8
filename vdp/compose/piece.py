"""The second pass: Plan + accepted records → the marks of both sides of each piece, and what its symbols say.

A batch at a time, because the QR encoder works on many payloads at once.  Composing a record alone or in any batch
gives the same marks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import accumulate
from pathlib import Path
from typing import NamedTuple

from vdp.barcode import carriers
from vdp.compose.fit import Microtext, payload, picture, worded
from vdp.compose.human import guard_marks, human_marks
from vdp.errors import OurBug, RowRefused
from vdp.job.context import Context
from vdp.job.template import Template
from vdp.marks import (
    Box,
    Column,
    FillMark,
    FormMark,
    ImageMark,
    Ink,
    Mark,
    Refrain,
    Spelled,
    Stretch,
    symbol_mark,
    text_mark,
)
from vdp.plan.build import Plan, paper_ink
from vdp.plan.page import spot_on_page
from vdp.plan.steps import FixedStep, FormStep, ImageStep, MicroStep, Step, SymbolStep, TextStep
from vdp.plan.symbols import box_of, extent
from vdp.text import Frame


class Accepted(NamedTuple):
    """A record that has its number: `nth` counts pieces from 0, `row` is its record number in the input.

    `columns` as the first pass has found it; what is composed does not depend on it.
    """

    nth: int
    row: int
    values: Mapping[str, str]
    serials: Mapping[str, str]
    columns: bool = False


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


#: A record at work on one side: what its templates see, where the side's marks go, the piece, and `columns` as in
#: Accepted.
_Job = tuple[Context, list[Mark], Piece, bool]


def compose(plan: Plan, batch: Sequence[Accepted]) -> list[Piece]:
    """Composes records that the first pass has accepted.  Raises OurBug if one of them cannot be set after all."""
    try:
        return _compose(plan, batch)
    except RowRefused as refused:
        if len(batch) > 1:
            return [piece for record in batch for piece in compose(plan, [record])]
        raise OurBug(f"row {batch[0].row} was accepted and then refused: {refused}") from refused


def _compose(plan: Plan, batch: Sequence[Accepted]) -> list[Piece]:
    """A step at a time for all records: what a step knows of itself is looked at once."""
    pieces: list[Piece] = []
    fronts: list[_Job] = []
    backs: list[_Job] = []
    for record in batch:
        context = plan.job.context(record.values, record.serials, record.row)
        piece = Piece(record.nth, record.row, context.language, record.serials, [], [], [])
        pieces.append(piece)
        fronts.append((context, piece.front, piece, record.columns))
        backs.append((context, piece.back, piece, record.columns))
    for side, jobs in enumerate((fronts, backs)):
        for step in plan.sides[side].steps:
            _add(plan, step, side, jobs)
    return pieces


def _add(plan: Plan, step: Step, side: int, jobs: list[_Job]) -> None:
    if isinstance(step, FormStep):
        form = FormMark(step.asset, step.asset)
        for _, marks, _, _ in jobs:
            marks.append(form)
        return
    if step.when is not None:
        jobs = [job for job in jobs if step.when.holds(job[0])]
    match step:
        case TextStep():
            _texts(plan, step, jobs)
        case SymbolStep():
            _symbols(plan, step, side, jobs)
        case ImageStep():
            _images(plan, step, jobs)
        case MicroStep():
            _micros(plan, step, jobs)
        case FixedStep():
            for _, marks, _, _ in jobs:
                marks.extend(step.marks)


def _texts(plan: Plan, step: TextStep, jobs: list[_Job]) -> None:
    name, ink, box, turn = step.name, step.ink, step.box, step.style.turn
    settled: dict[str, tuple[Template, Frame, bool]] = {}
    for context, marks, _, columns in jobs:
        language = context.language
        if language in settled:
            template, frame, known = settled[language]
        else:
            template, frame, known = settled[language] = worded(plan, step, context)
        if known:
            setting = frame.fill(template.literals, template.values(context))
        elif columns and frame.leads:
            setting = frame.assumed(template.render(context))
        else:
            setting = frame.set(template.render(context))
        size, lines = setting
        # A column is never empty, and is not asked.
        if type(lines) is Column or lines:
            marks.append(text_mark((name, ink, box, turn, size, lines)))


def _symbols(plan: Plan, step: SymbolStep, side: int, jobs: list[_Job]) -> None:
    """Encodes the payloads of one step for the whole batch."""
    carrier, form, ink = step.carrier, step.form, step.ink
    need = step.fixed or plan.needs[step.name]
    plate = ink.spot or "Black"
    # Matrices have one size for the job; a linear code is as long as its own payload makes it.
    boxes = {need: box_of(step, *extent(step, need))}
    every = [payload(step, context) for context, _, _, _ in jobs]
    identifier = carriers.plainly_told(carrier, form)
    name, symbology, turn, module, quiet = step.name, step.symbology, step.turn, step.module, step.quiet
    height, state, reduction, human = step.height, step.state, step.reduction, step.human
    for (_, marks, piece, _), data, shape in zip(jobs, every, _encoder(carrier, need, form).encode(every), strict=True):
        own = carriers.need_of(shape) or need
        box = boxes.get(own)
        if box is None:
            box = boxes[own] = box_of(step, *extent(step, own))
        marks.append(symbol_mark((name, ink, box, turn, module, quiet, height, shape, state, reduction)))
        if human is not None:
            marks.extend(human_marks(plan, step, data, box))
            marks.extend(guard_marks(step, data, box, shape))
        if identifier is None:
            told = carriers.read_back(carrier, data, form)
            symbol = Symbol(name, symbology, carriers.identifier_of(carrier, told), plate, side, box, told)
        else:
            symbol = Symbol(name, symbology, identifier, plate, side, box, data)
        piece.symbols.append(symbol)


@lru_cache(maxsize=64)
def _encoder(carrier: str, need: int, form: carriers.Form) -> carriers.Encoder:
    return carriers.Encoder(carrier, need, form)


def _images(plan: Plan, step: ImageStep, jobs: list[_Job]) -> None:
    known: dict[Path, ImageMark] = {}
    for context, marks, _, _ in jobs:
        path = picture(plan, step, context)
        if path is not None:
            if path not in known:
                known[path] = _image(step, f"image:{path}", plan.pictures[path])
            marks.append(known[path])


def _image(step: ImageStep, asset: str, pixels: tuple[int, int]) -> ImageMark:
    """Scales a picture into its box: `fill` covers it and is cut at its edges, `inside` is centred whole."""
    x, y, width, height = step.box
    across, down = pixels if step.turn in (0, 180) else (pixels[1], pixels[0])
    ratios = (width / across, height / down)
    scale = max(ratios) if step.fit == "fill" else min(ratios)
    drawn = (max(1, round(across * scale)), max(1, round(down * scale)))
    box = (x + (width - drawn[0]) // 2, y + (height - drawn[1]) // 2, drawn[0], drawn[1])
    return ImageMark(step.name, asset, box, step.turn, step.box if step.fit == "fill" and box != step.box else None)


def _micros(plan: Plan, step: MicroStep, jobs: list[_Job]) -> None:
    name, box, turn, size = step.name, step.box, step.turn, step.size
    spots = [spot_on_page(box, turn, 0, step.rise + n * step.leading) for n in range(step.lines)]
    ground = FillMark(name, step.ink, box) if step.reversed else None
    ink: Ink = paper_ink(step) if step.reversed else step.ink
    microtext = Microtext(plan, step)
    for context, marks, _, _ in jobs:
        glyphs, repeats, cut, left = microtext.of(context)
        rest = glyphs[:cut]
        if left > 0:
            rest += _begun(glyphs[cut % len(glyphs)], left)
        if ground is not None:
            marks.append(ground)
        marks.append(text_mark((name, ink, box, turn, size, Refrain(spots, glyphs, repeats, rest))))


def _begun(part: Stretch, left: float) -> tuple[Stretch, ...]:
    """The first glyphs of a stretch, as many as `left` thousandths of an em hold; a cluster is never split."""
    if part.rtl or (isinstance(part, Spelled) and part.letters.place(part.text[:2])[1] > left):
        return ()
    return _first(part, left)


@lru_cache(maxsize=1024)
def _first(part: Stretch, left: float) -> tuple[Stretch, ...]:
    """The same, where it is not plain at first sight that there are none."""
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
