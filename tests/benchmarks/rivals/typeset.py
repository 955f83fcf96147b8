"""Typst, fed with JSON; symbols are handed over as SVG paths, which it draws twice as fast as curves of its own;
its plain codes are RGB black for that reason.

QR symbols come from segno (or, to see what that costs it, from `vdp`), Code 128 widths from `vdp`.  Tags are off, as
no other contestant writes any.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import typst

from tests.benchmarks.letter.design import HEIGHT, QR_SIDE, Area, Code, Design, Letter, design
from tests.benchmarks.rivals.ink import FACES, file_of
from tests.benchmarks.rivals.paths import Encoder, bars, by_segno, lend, runs
from vdp.barcode import code128

_TEMPLATE = Path(__file__).with_name("letter.typ")
_FACES = [str(file_of(face).parent) for face in FACES]
#: Modules of a Code 128 symbol of two letters and ten digits: three latches, five pairs, check and stop.
_BARS = 123


def compose(folder: Path, records: Path, count: int, out: Path) -> None:
    """Writes `count` letters with segno's QR symbols."""
    _compose(folder, records, count, out, by_segno)


def compose_lent(folder: Path, records: Path, count: int, out: Path) -> None:
    """Writes `count` letters with QR symbols by the encoder of `vdp`."""
    _compose(folder, records, count, out, lend())


def _compose(folder: Path, records: Path, count: int, out: Path, encoder: Encoder) -> None:
    plan = design()
    source = folder / "letter.typ"
    shutil.copyfile(_TEMPLATE, source)
    (folder / "job.json").write_text(json.dumps(_places(plan)), encoding="utf-8")
    said = [_said(letter, encoder) for letter in plan.letters(records, count)]
    (folder / "letters.json").write_text(json.dumps(said, ensure_ascii=False), encoding="utf-8")
    del said
    typst.compile(
        str(source), output=str(out), root=str(folder), font_paths=_FACES, ignore_system_fonts=True, pdf_tags=False
    )


def _places(plan: Design) -> dict[str, Any]:
    """Places as typst has them: x, y, width, height from the upper left corner."""

    def area(place: Area) -> list[float]:
        return [place.x, HEIGHT - place.top, place.width, place.height]

    def symbol(place: Code, modules: int) -> list[float]:
        return area(Area(place.x, place.y, modules * place.module, place.height))

    types = ("paragraph", "serial_front", "hidden_text", "address", "serial_back")
    return {
        **{name: area(getattr(plan, name).area) for name in types},
        "picture": area(plan.picture),
        "microtext": [area(line.area) for line in plan.microtext],
        "hidden_code": symbol(plan.hidden_code, QR_SIDE),
        "code": symbol(plan.code, QR_SIDE),
        "bars": symbol(plan.bars, _BARS),
    }


def _said(letter: Letter, encoder: Encoder) -> dict[str, Any]:
    hidden, code = encoder([letter.hidden_code, letter.code])
    widths = code128.encode(letter.serial).widths
    return {
        **letter._asdict(),
        "hidden_code": _svg(_modules(hidden), QR_SIDE, QR_SIDE, "#e6007e"),
        "code": _svg(_modules(code), QR_SIDE, QR_SIDE, "#000"),
        "bars": _svg((f"M{x} 0h{width}v1h-{width}z" for x, width in bars(widths)), _BARS, 1, "#000"),
    }


def _modules(symbol: tuple[int, ...]) -> Iterable[str]:
    return (f"M{column} {row}h{length}v1h-{length}z" for row, column, length in runs(symbol))


def _svg(paths: Iterable[str], width: int, height: int, colour: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}" '
        f'preserveAspectRatio="none"><path fill="{colour}" d="{"".join(paths)}"/></svg>'
    )
