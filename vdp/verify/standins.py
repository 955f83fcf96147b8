"""What stands where no piece does: blanks of a block that is not full, specimens of make-ready, leader and trailer.

Lives here: whether they say what they must and nothing that a live piece says.  Not here: the frame (`frames`).
"""

from __future__ import annotations

import hashlib
import random
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import pikepdf

from vdp.verify import serials
from vdp.verify.decode import read_any
from vdp.verify.doubt import pdf_faults
from vdp.verify.frameside import Side, on_sheet, text_in
from vdp.verify.raster import Raster
from vdp.verify.sheetplan import Cell, SheetPlan, SpecimenLine
from vdp.verify.symbols import Reader

BLANK, SPECIMEN = "BLANK", "SPECIMEN"
#: Resolution at which specimens are searched for symbols, in dpi.
_ANY_DPI = 400


class Wrong(NamedTuple):
    """A finding without its place: side, code, message."""

    side: int
    code: str
    message: str


def said(text: str) -> int:
    """A short hash of something that a piece says."""
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), "big")


class StandIns:
    """Judges them.  `live` are hashes of everything that live pieces say (`said`); `modules` as `Reader` keeps them."""

    def __init__(
        self,
        plan: SheetPlan,
        patterns: Mapping[str, re.Pattern[str]],
        live: frozenset[int],
        modules: dict[str, int],
        seed: int,
    ) -> None:
        self._plan, self._patterns, self._live, self._modules, self._seed = plan, patterns, live, modules, seed
        #: What was found on specimens whose forms were read already, by the forms' objects, front and back.
        self._known: dict[tuple[object, ...], list[Wrong]] = {}

    def forget(self) -> None:
        """The file was opened again: its objects are others."""
        self._known.clear()

    def judge(self, where: str, word: str, cell: Cell, sides: Sequence[Side], raster: Raster) -> list[Wrong]:
        """`word` is what it must say on both sides; a blank nothing else, a specimen nothing of a live piece."""
        texts = [text_in(self._plan, page, cell, side) for side, page in enumerate(sides)]
        found: list[Wrong] = []
        for side, text in enumerate(texts):
            shown = text.strip().replace("\n", " ")[:60]
            if word not in text or (word == BLANK and text.strip() != BLANK):
                code = "blank-printed" if word == BLANK else "specimen-live"
                found.append(Wrong(side, code, f"it must say {word}; it shows '{shown}'"))
            elif word == SPECIMEN:
                says = [serial for pattern in self._patterns.values() for serial in pattern.findall(text)]
                found += [self._lives(side, one) for one in says if said(one) in self._live][:1]
        if word == BLANK or found:
            return found
        at = self._plan.cells.index(cell)
        forms = [page.forms[at] for page in sides]
        key = tuple(form.objgen if form is not None else None for form in forms)
        if key not in self._known:  # marks of the sheet that lie over it are found as such
            found = [*self._codes(cell, sides, raster)]
            told = self._plan.specimen
            if not found and told is not None:
                found = [*self._told(told, where, cell, sides, texts, raster), *_same(told, forms)]
            self._known[key] = found
        return self._known[key]

    def _lives(self, side: int, text: str) -> Wrong:
        return Wrong(side, "specimen-live", f"it shows '{text}', which a live piece says")

    def _codes(self, cell: Cell, sides: Sequence[Side], raster: Raster) -> Iterator[Wrong]:
        """What symbols on any plate say that live pieces say."""
        for side, page in enumerate(sides):
            area = self._plan.area(self._plan.side(cell.area, side))
            copies = [number for number in page.view.copies.values() if number is not None]
            texts = (text for number in copies for text in read_any(raster.region(number, area, _ANY_DPI)))
            live = next((text for text in texts if said(text) in self._live), None)
            if live is not None:
                yield self._lives(side, live)

    def _told(
        self,
        told: SpecimenLine,
        where: str,
        cell: Cell,
        sides: Sequence[Side],
        texts: Sequence[str],
        raster: Raster,
    ) -> Iterator[Wrong]:
        """Whether its numbers and test payloads can be read, each code on its own plate."""
        for name, serial in told.serials.items():
            if not serials.shows("\n".join(texts), serial):
                yield Wrong(0, "specimen-wrong", f"{name}: '{serial}' cannot be read there")
        for symbol in told.symbols:
            side = 1 - symbol.page % 2
            chance = random.Random(f"{self._seed}:{where}:{symbol.name}")  # noqa: S311  offsets, not secrets
            there = on_sheet(self._plan, symbol, cell, side)
            judged = Reader(raster, sides[side].view, chance, self._modules, {}).judge(there, alone=True)
            for _, message in judged.faults:
                yield Wrong(side, "specimen-wrong", f"{symbol.name}: {message}")


def _same(told: SpecimenLine, forms: Sequence[pikepdf.Object | None]) -> Iterator[Wrong]:
    """Whether it is the very specimen that report.json tells of."""
    hashed = hashlib.sha256()
    for form in forms:
        with pdf_faults():
            hashed.update(form.read_bytes() if form is not None else b"")
    if hashed.hexdigest() != told.sha256:
        yield Wrong(0, "specimen-wrong", "it is not the specimen that report.json tells of, byte for byte")
