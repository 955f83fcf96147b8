"""A finished piece looked at for its proof: pictures of front, back and spot plates, small type, and what codes say.

Everything comes from the finished pages, rastered plate by plate; layout and marks only say where to look.
Not here: what is burned into the pictures (`specimen`), the document (`document`).
"""

from __future__ import annotations

import io
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pikepdf
from PIL import Image

from vdp.compose.piece import Piece
from vdp.errors import Finding
from vdp.job.items import BarcodeItem
from vdp.job.load import Job
from vdp.marks import Box, FillMark, FormMark, ImageMark, Mark, StrokeMark, SymbolMark, TextMark
from vdp.plan.build import Plan
from vdp.plan.steps import FormStep, MicroStep
from vdp.proof.comments import Comment
from vdp.proof.loupe import across_dots, dots, picture
from vdp.proof.specimen import Edges, Place, as_specimen, pinned, places_only
from vdp.verify.coverage import Tints, leaf_tints
from vdp.verify.doubt import pdf_faults
from vdp.verify.inks import PROCESS
from vdp.verify.manifest import PieceLine, SymbolLine
from vdp.verify.pages import digest, sheet_of
from vdp.verify.plates import PlateWriter, page_content
from vdp.verify.png import png
from vdp.verify.raster import Raster
from vdp.verify.symbols import Reader
from vdp.verify.tree import Leaf, pages
from vdp.verify.views import Pixels, plate_alone, printed

SIDES = ("front", "back")
#: Offsets of the renderings from which codes are read come from this.
SEED = 20270302
#: Pixels of the longer side of a picture.
LONGER = 1000
#: Ink of a plate, 0 … 1, that counts as print where nothing was laid out.
_INK = 0.02
#: A box in points from the page's lower left → pixels of its picture.
Edged = Callable[[tuple[float, float, float, float]], Edges]


class View(NamedTuple):
    """A picture: what it shows, and its bytes (JPEG or PNG)."""

    label: str
    data: bytes


class Said(NamedTuple):
    """What a code says when it is read off its own plate; `text` is None where that is left out, `good` whether it says
    what it must, and on no other plate."""

    name: str
    symbology: str
    plate: str
    side: str
    text: str | None
    good: bool


class Looked(NamedTuple):
    """A piece as it is shown."""

    views: tuple[View, ...]
    loupes: tuple[View, ...]
    codes: tuple[Said, ...]
    findings: tuple[Finding, ...]


class Looker:
    """Looks at pieces of one open file.  `secrets` shows what hidden plates say."""

    def __init__(self, pdf: pikepdf.Pdf, plan: Plan, *, secrets: bool) -> None:
        self.pdf, self.plan, self.secrets = pdf, plan, secrets
        spots = plan.job.model.spots
        self.spots = tuple(spots)
        self.hidden = frozenset(name for name, spot in spots.items() if spot.hidden)
        self.forms: Mapping[str, Sequence[Mark]] = {
            step.asset: step.marks for step in plan.steps() if isinstance(step, FormStep)
        }
        self.micro = frozenset(step.name for step in plan.steps() if isinstance(step, MicroStep))
        self.light = _light(plan.job)
        self.modules: dict[str, int] = {}
        self.elsewhere: dict[tuple[object, ...], bool] = {}

    def look(self, place: int, line: PieceLine, piece: Piece, pins: Sequence[tuple[int, Comment]] = ()) -> Looked:
        """The piece that stands `place`th (from 0) in the file, `line` of its manifest, composed again as `piece`;
        `pins` are comments with the number that is pinned to their place.

        Raises Unreadable for pages that cannot be judged.
        """
        leaves = list(pages(self.pdf, 2 * place, 2 * place + 2))
        views: list[tuple[int, View]] = []
        loupes: list[View] = []
        codes: list[Said] = []
        findings = list(self._changed(line, leaves))
        for side, leaf in enumerate(leaves):
            marks = list(self._flat((piece.front, piece.back)[side]))
            symbols = [
                symbol._replace(light=symbol.name in self.light)
                for symbol in line.symbols
                if symbol.page == 2 * place + side + 1
            ]
            views += self._views(leaf, side, marks, symbols, pins)
            loupes += self._loupes(leaf, side, marks)
            for said, found in self._codes(leaf, side, line.piece, symbols):
                codes.append(said)
                findings += found
        ordered = sorted(views, key=lambda view: view[0])
        return Looked(tuple(view for _, view in ordered), tuple(loupes), tuple(codes), tuple(findings))

    def _changed(self, line: PieceLine, leaves: Sequence[Leaf]) -> Iterator[Finding]:
        with pdf_faults():
            front, back = (page_content(leaf.page) for leaf in leaves)
        if digest(front, back) != line.sha256:
            message = "its content streams are not those that pieces.jsonl hashed"
            yield Finding("content-changed", f"piece {line.piece}", message)

    def _flat(self, marks: Sequence[Mark]) -> Iterator[Mark]:
        for mark in marks:
            if isinstance(mark, FormMark):
                yield from self.forms[mark.asset]
            else:
                yield mark

    # -- pictures -----------------------------------------------------------------------------------------------------

    def _views(
        self,
        leaf: Leaf,
        side: int,
        marks: Sequence[Mark],
        symbols: Sequence[SymbolLine],
        pins: Sequence[tuple[int, Comment]],
    ) -> Iterator[tuple[int, View]]:
        page = self.plan.page
        dpi = LONGER * page.dpi / max(page.trim[2], page.trim[3])
        tints, trim = leaf_tints(self.pdf, leaf, self.spots, dpi)
        scale = dpi / 72

        def edges(box: tuple[float, float, float, float]) -> Edges:
            """Of points from the page's lower left corner."""
            left, right = (box[0] - trim[0]) * scale, (box[2] - trim[0]) * scale
            top, bottom = (trim[3] - box[3]) * scale, (trim[3] - box[1]) * scale
            return (round(left), round(top), round(right), round(bottom))

        seen = [symbol for symbol in symbols if symbol.plate not in self.hidden]
        together = self._together(tints)
        drawn = as_specimen(together, [edges(symbol.box) for symbol in seen])
        placed = [
            (number, round(pin.at[0] / 25.4 * dpi), round(pin.at[1] / 25.4 * dpi))
            for number, pin in pins
            if pin.at is not None and pin.side == SIDES[side]
        ]
        yield side, View(SIDES[side], _jpeg(pinned(drawn, placed)))
        for spot in self.spots:
            if not float(tints[spot].max()) > _INK:
                continue
            label = f"{spot} plate, {SIDES[side]}"
            if spot in self.hidden and not self.secrets:
                size = (together.shape[1], together.shape[0])
                places = [*self._places(spot, marks, page.dpi, edges)]
                places += _strangers(tints[spot], places)
                yield 2 + side, View(f"{label}: only where it prints", png(places_only(size, places)))
            else:
                own = [edges(symbol.box) for symbol in symbols if symbol.plate == spot]
                yield 2 + side, View(label, png(as_specimen(plate_alone(tints[spot]), own)))

    def _together(self, tints: Mapping[str, Tints]) -> Pixels:
        """What is seen in daylight: process plates, and spots that are not hidden."""
        light = printed(tints).astype(np.float32) / 255
        for spot in self.spots:
            if spot not in self.hidden:
                cyan, magenta, yellow, black = (part / 100 for part in self.plan.job.model.spots[spot].shown_as)
                colour = np.array([1 - cyan, 1 - magenta, 1 - yellow], np.float32) * np.float32(1 - black)
                light *= 1 - tints[spot][..., None] * (1 - colour)
        found: Pixels = np.rint(light * 255).astype(np.uint8)
        return found

    def _places(self, spot: str, marks: Sequence[Mark], dpi: int, edges: Edged) -> Iterator[Place]:
        for mark in marks:
            if isinstance(mark, (FormMark, ImageMark)) or mark.ink.spot != spot:
                continue
            x, y, width, height = _extent(mark)
            points = 72 / dpi
            box = edges((x * points, y * points, (x + width) * points, (y + height) * points))
            yield Place(box, "microtext" if mark.name in self.micro else _KINDS[type(mark)])

    # -- small type ---------------------------------------------------------------------------------------------------

    def _loupes(self, leaf: Leaf, side: int, marks: Sequence[Mark]) -> Iterator[View]:
        """A circle at the beginning of each microtext."""
        wanted = [mark for mark in marks if isinstance(mark, TextMark) and mark.name in self.micro and mark.lines]
        wanted = [mark for mark in wanted if self.secrets or mark.ink.spot not in self.hidden]
        if not wanted:
            return
        dpi = self.plan.page.dpi
        writer = PlateWriter(self.pdf, self.spots, separate=True)
        view = writer.read(leaf.page, leaf.get("/Resources"), sheet_of(leaf).media)
        with Raster(writer.finish()) as raster:
            for mark in wanted:
                for plate in _plates(mark):
                    copy = view.copies.get(plate)
                    if copy is not None:
                        square = dots(raster, copy, _beginning(mark, dpi), dpi)
                        label = f"{mark.name}, {SIDES[side]}, {plate}: {mark.size:g} pt"
                        yield View(label, _encoded(picture(square), "PNG"))

    # -- codes --------------------------------------------------------------------------------------------------------

    def _codes(
        self, leaf: Leaf, side: int, piece: int, symbols: Sequence[SymbolLine]
    ) -> Iterator[tuple[Said, list[Finding]]]:
        if not symbols:
            return
        writer = PlateWriter(self.pdf, self.spots)
        view = writer.read(leaf.page, leaf.get("/Resources"), sheet_of(leaf).media)
        with Raster(writer.finish()) as raster:
            for symbol in symbols:
                chance = random.Random(f"{SEED}:{piece}:{symbol.name}")  # noqa: S311  offsets, not secrets
                judged = Reader(raster, view, chance, self.modules, self.elsewhere).judge(symbol)
                secret = symbol.plate in self.hidden and not self.secrets
                text = symbol.data if judged.read else judged.said or ""
                good = judged.read and not judged.faults
                said = Said(symbol.name, symbol.symbology, symbol.plate, SIDES[side], None if secret else text, good)
                where = f"piece {piece}, {SIDES[side]}"
                yield said, [Finding(code, where, f"{symbol.name}: {message}") for code, message in judged.faults]


_KINDS: Mapping[type, str] = {TextMark: "text", SymbolMark: "code", FillMark: "area", StrokeMark: "line"}


def _light(job: Job) -> frozenset[str]:
    """The codes that are to be read light on dark."""
    return frozenset(
        name for name, item in job.layout.named() if isinstance(item, BarcodeItem) and item.reads_as == "light"
    )


def _extent(mark: TextMark | SymbolMark | FillMark | StrokeMark) -> Box:
    if not isinstance(mark, StrokeMark):
        return mark.box
    half = mark.weight
    left, right = sorted((mark.start[0], mark.end[0]))
    bottom, top = sorted((mark.start[1], mark.end[1]))
    return (left - half, bottom - half, right - left + 2 * half, top - bottom + 2 * half)


def _strangers(tint: Tints, places: Sequence[Place]) -> list[Place]:
    """One place around all that prints where nothing was laid out: artwork's own share of a hidden plate."""
    rest = tint > _INK
    for left, top, right, bottom in (place.edges for place in places):
        rest[max(0, top - 2) : bottom + 2, max(0, left - 2) : right + 2] = False
    if not rest.any():
        return []
    down, across = np.flatnonzero(rest.any(axis=1)), np.flatnonzero(rest.any(axis=0))
    return [Place((int(across[0]), int(down[0]), int(across[-1]), int(down[-1])), "artwork")]


def _plates(mark: TextMark) -> tuple[str, ...]:
    """The plates that the type is on; reversed-out type is a hole in each that the area around it prints."""
    if mark.ink.spot:
        return (mark.ink.spot,)
    inked = tuple(plate for plate, part in zip(PROCESS, mark.ink.cmyk, strict=True) if part > 0)
    return inked or PROCESS


def _beginning(mark: TextMark, dpi: int) -> tuple[int, int]:
    """The middle of a circle that has the beginning of the first line near its edge."""
    reach = round(across_dots(dpi) * 0.42)
    line = mark.lines[0]
    rise = round(mark.size * dpi / 72 * 0.25)
    along = {0: (1, 0), 90: (0, 1), 180: (-1, 0), 270: (0, -1)}[mark.turn]
    return line.x + along[0] * reach - along[1] * rise, line.y + along[1] * reach + along[0] * rise


def _jpeg(pixels: Pixels) -> bytes:
    return _encoded(Image.fromarray(pixels), "JPEG")


def _encoded(image: Image.Image, form: str) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **({"quality": 88} if form == "JPEG" else {}))
    return out.getvalue()
