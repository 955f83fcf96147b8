"""What a row of the records must become, worked out again from job and layout, apart from the composer.

Lives here: layout items × one row → symbols, serials, texts, pictures, in page points.  Not here: looking for them
(`text`, `held`), templates (`vdp.job`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from vdp.errors import RowRefused
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
)
from vdp.job.load import Job
from vdp.job.series import varies
from vdp.job.template import Condition, Context, Template, compile_condition, compile_text
from vdp.units import dots, points
from vdp.verify.carried import carried, identifier
from vdp.verify.finelines import FINE, FineLine, middles_of, plate_of
from vdp.verify.inks import PROCESS
from vdp.verify.serials import check_holds, serial_text
from vdp.verify.state import Area
from vdp.verify.text import WantedInk, WantedText
from vdp.verify.xdim import module_of

SIDES = ("front", "back")


class WantedSymbol(NamedTuple):
    """A symbol that a side must carry; `corner` is its upper left corner with quiet zone, in page points.

    `data` and `identifier` are what a reader must report; `light`: it reads light on dark; `module` and `reduction`:
    its X-dimension and what dark stretches lose across and down, in dots; `bars`: how high bars are, in points, and 0
    for what else there is, negative where they lie on their side."""

    name: str
    side: int
    symbology: str
    plate: str
    data: str
    corner: tuple[float, float]
    identifier: str
    light: bool
    module: int
    reduction: tuple[int, int]
    bars: float = 0.0


class WantedPicture(NamedTuple):
    """A picture that a side must carry; `box` is the layout's area of it in page points."""

    name: str
    side: int
    path: Path
    box: Area


class Wanted(NamedTuple):
    """Everything a piece must carry.  `art` are the names of the artwork on each side, `lines` its fine lines."""

    language: str
    serials: Mapping[str, str]
    symbols: tuple[WantedSymbol, ...]
    texts: tuple[WantedText, ...]
    pictures: tuple[WantedPicture, ...]
    art: tuple[tuple[str, ...], tuple[str, ...]]
    lines: tuple[FineLine, ...] = ()


class _Entry(NamedTuple):
    """A layout item, compiled.  `templates` go by language; "" stands for every language."""

    name: str
    side: int
    item: Item
    when: Condition | None
    templates: Mapping[str, Template]


class Expectation:
    """The layout of a job, ready to say what each row must become."""

    def __init__(self, job: Job, firsts: Mapping[str, int]) -> None:
        """`firsts` are the 0-based indexes of the run's first numbers, by series."""
        self.job, self._firsts = job, firsts
        self._affixes = {
            (name, key): compile_text(text, job.where("job", "series", name, key))
            for name, series in job.model.series.items()
            for key, text in (("prefix", series.prefix), ("suffix", series.suffix))
            if varies(text)
        }
        self._dpi = job.model.resolution
        edge = dots(job.layout.bleed, self._dpi)
        self._edge = edge
        self._height = dots(job.layout.trim[1], self._dpi) + 2 * edge
        self._width = dots(job.layout.trim[0], self._dpi) + 2 * edge
        self._entries = [
            self._compiled(side, index, item)
            for side, title in enumerate(SIDES)
            for index, item in enumerate(getattr(job.layout, title))
        ]

    @property
    def media(self) -> Area:
        """The page: trim and bleed, in points."""
        return (0.0, 0.0, points(self._width, self._dpi), points(self._height, self._dpi))

    @property
    def trim(self) -> Area:
        edge = points(self._edge, self._dpi)
        return (edge, edge, self.media[2] - edge, self.media[3] - edge)

    def serials(self, values: Mapping[str, str], row: int, index: int, told: Mapping[str, str]) -> dict[str, str]:
        """The serials that the piece of 0-based `index` must have, by series.

        Of a series with a key only the form can be known: the serial that the manifest has (`told`) stands if it has
        the series' form and check characters, else there is none ("").  Raises RowRefused.
        """
        context = self.job.context(values, {}, row)
        due: dict[str, str] = {}
        for name, series in self.job.model.series.items():
            prefix, suffix = (
                template.render(context) if (template := self._affixes.get((name, key))) is not None else None
                for key in ("prefix", "suffix")
            )
            if series.column is not None:
                due[name] = values.get(series.column, "")
            elif series.keyed:
                text = told.get(name, "")
                due[name] = text if check_holds(series, text, prefix, suffix) else ""
            else:
                due[name] = serial_text(series, self._firsts.get(name, 0) + index, prefix, suffix)
        return due

    def wanted(self, values: Mapping[str, str], row: int, index: int, told: Mapping[str, str]) -> Wanted:
        """What the piece of 0-based `index` must carry; `told` are the manifest's serials.  Raises RowRefused when the
        row cannot be set at all."""
        job = self.job
        serials = self.serials(values, row, index, told)
        context = job.context(values, serials, row)
        symbols: list[WantedSymbol] = []
        texts: list[WantedText] = []
        pictures: list[WantedPicture] = []
        art: tuple[list[str], list[str]] = ([], [])
        lines: list[FineLine] = []
        for entry in self._entries:
            if entry.when is not None and not entry.when.holds(context):
                continue
            item = entry.item
            if isinstance(item, ArtItem):
                art[entry.side].append(entry.name)
            elif isinstance(item, BarcodeItem):
                symbols.append(self._symbol(entry, item, _chosen(entry, context).render(context)))
            elif isinstance(item, ImageItem):
                name = _chosen(entry, context).render(context).strip()
                if name:
                    pictures.append(WantedPicture(entry.name, entry.side, job.picture(name), self._box(item.box)))
            elif isinstance(item, (LineItem, BoxItem)):
                lines += self._lines(entry, item)
            elif isinstance(item, (TextItem, NumberItem, MicrotextItem)):
                texts += self._text(entry, item, context)
        found = tuple(symbols), tuple(texts), tuple(pictures), (tuple(art[0]), tuple(art[1])), tuple(lines)
        return Wanted(context.language, serials, *found)

    def _symbol(self, entry: _Entry, item: BarcodeItem, text: str) -> WantedSymbol:
        kind, data = item.barcode, carried(item, text)
        plate, corner, light = item.plate or "Black", self._point(*item.at), item.reads_as == "light"
        high = points(dots(item.height, self._dpi), self._dpi) if item.height is not None else 0.0
        size = module_of(item, self._dpi), item.reduce, -high if item.turn in (90, 270) else high
        return WantedSymbol(entry.name, entry.side, kind, plate, data, corner, identifier(kind, data), light, *size)

    def _lines(self, entry: _Entry, item: LineItem | BoxItem) -> Iterator[FineLine]:
        """The fine lines of an item."""
        ink = wanted_ink(item)
        plate = plate_of(ink.spot, ink.cmyk)
        left_out = not plate or bool(ink.spot and not ink.tint)
        if isinstance(item, LineItem):
            corners = self._point(*item.start), self._point(*item.end)
        else:
            left, low, right, high = self._box(item.box)
            corners = (left, high), (right, low)
        for start, end, thick in middles_of(item, corners, self._dpi):
            if thick < FINE:
                yield FineLine(entry.name, entry.side, plate, left_out, start, end, thick)

    def sizes(self) -> dict[str, tuple[int, tuple[int, int]]]:
        """X-dimension and reduction of every symbol that has an X-dimension, by name, in dots."""
        items = ((entry.name, entry.item) for entry in self._entries)
        found = {name: (module_of(one, self._dpi), one.reduce) for name, one in items if isinstance(one, BarcodeItem)}
        return {name: size for name, size in found.items() if size[0]}

    def _text(
        self, entry: _Entry, item: TextItem | NumberItem | MicrotextItem, context: Context
    ) -> Iterator[WantedText]:
        if isinstance(item, NumberItem):
            text = context.serials[item.number]
        else:
            text = _chosen(entry, context).render(context).strip()
        if not text:
            return
        kind = "number" if isinstance(item, NumberItem) else "microtext" if isinstance(item, MicrotextItem) else "text"
        ink = wanted_ink(item)
        if isinstance(item, MicrotextItem) and item.reversed:
            ink = WantedInk(ink.spot, 0.0, (0.0, 0.0, 0.0, 0.0))
        yield WantedText(entry.name, entry.side, kind, self._box(item.box), text, context.language, ink)

    def _compiled(self, side: int, index: int, item: Item) -> _Entry:
        def where(*keys: str | int) -> str:
            return self.job.where("layout", SIDES[side], index, *keys)

        when = compile_condition(item.when, where("when")) if item.when is not None else None
        templates: dict[str, Template] = {}
        if isinstance(item, TextItem) and not isinstance(item.text, str):
            templates = {language: compile_text(text, where("text", language)) for language, text in item.text.items()}
        else:
            source = _source_text(item)
            if source is not None:
                templates = {"": compile_text(source[1], where(source[0]))}
        return _Entry(item.called(SIDES[side], index), side, item, when, templates)

    def _point(self, x: float, y: float) -> tuple[float, float]:
        """A place of the layout (from the trim's upper left, y down) in page points."""
        dpi = self._dpi
        return points(self._edge + dots(x, dpi), dpi), points(self._height - self._edge - dots(y, dpi), dpi)

    def _box(self, box: tuple[float, float, float, float]) -> Area:
        left, top = self._point(box[0], box[1])
        right, bottom = self._point(box[0] + box[2], box[1] + box[3])
        return (left, bottom, right, top)


def _source_text(item: Item) -> tuple[str, str] | None:
    """The key and the template text of an item that has one for every language."""
    match item:
        case TextItem():
            return "text", str(item.text)
        case BarcodeItem():
            return "data", item.data
        case ImageItem():
            return "image", item.image
        case MicrotextItem():
            return "microtext", item.microtext
        case _:
            return None


def _chosen(entry: _Entry, context: Context) -> Template:
    templates = entry.templates
    found = templates.get("") or templates.get(context.language) or templates.get("other")
    if found is None:
        raise RowRefused((f"{entry.name}: there is no text for language '{context.language}'",))
    return found


def wanted_ink(item: Placed) -> WantedInk:
    """The ink of an item: black unless it states a plate or a colour."""
    tint = item.tint / 100
    if item.colour is not None:
        c, m, y, k = (part / 100 for part in item.colour)
        return WantedInk("", 0.0, (c, m, y, k))
    if item.plate is None or item.plate in PROCESS:
        c, m, y, k = (tint if plate == (item.plate or "Black") else 0.0 for plate in PROCESS)
        return WantedInk("", 0.0, (c, m, y, k))
    return WantedInk(item.plate, tint, (0.0, 0.0, 0.0, 0.0))
