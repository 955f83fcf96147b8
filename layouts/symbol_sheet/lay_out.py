"""Writes layout.yaml: every symbology at its least, usual and largest X-dimension, in rows, on Black and on
Clear, each under its caption.

Run it in the project's folder: python layouts/symbol_sheet/lay_out.py.  Sizes of codes with a stated use are the range
of that use (vdp/barcode/sizes.py); the others go from the least number of dots that a layout may ask for to 1 mm.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from vdp.barcode import carriers
from vdp.barcode.least import least_dots
from vdp.barcode.sizes import SIZES, STATES, snap
from vdp.barcode.symbology import KNOWN

FOLDER = Path(__file__).parent
RECORDS = FOLDER.parent.parent / "demo_records" / "symbol_sheet.csv"
DPI = 1200
SHEET, GAP, EDGE = 600.0, 4.0, 12.0
#: Width that a caption needs at least, its height with what parts it from its symbol, and its size.
CAPTION, ABOVE, TYPE = 25.0, 6.0, "5.5 pt"
#: Keys of what is printed on Clear, and of the codes among that: they shine, and are read light on dark.
CLEAR, LIGHT = ", plate: Clear", ", reads_as: light"
#: Largest X of codes whose standard leaves it to the application, in mm: own choice, no source.
LARGEST = 1.016
#: Type body of the text under codes of bars, and how deep it makes them, in X: six digits of EAN fill 42 X.
TEXT_EMS, TEXT_DEEP = 8.5, 9.5
#: Field of the record → what it says.  GTINs and the S10 are invented within documentation's and test ranges.  The SSCC
#: is one of the GS1 General Specifications: a longer GS1-128 would be over 165.10 mm at its largest X.
PAYLOADS = {
    "code128": "FP-000123",
    "gs1-128": "(00)395011015300000011",
    "s10": "RA12345678ZZ",
    "code39": "FP-0123",
    "itf": "12345678",
    "itf14": "15400141288763",
    "ean13": "4006381333931",
    "ean8": "96385074",
    "upca": "036000291452",
    "upce": "01234565",
    "qr": "Ζωή 点茗 FP-000123",
    "gs1-qr": "(01)09506000134352(10)AB-1(21)7",
    "micro-qr": "FP-1234",
    "datamatrix": "FP-000123",
    "gs1-datamatrix": "(01)09506000134352(10)AB-1(21)7",
    "pdf417": "FP-000123 and more of it",
    "aztec": "FP-000123 and more of it",
    "imb": "0123456709498765432101234",
    "rm4scc": "SN34RD1A",
    "kix": "2500GG30250",
}
USES = {
    "ean13": "retail",
    "ean8": "retail",
    "upca": "retail",
    "upce": "retail",
    "itf14": "distribution",
    "gs1-128": "logistics",
    "gs1-qr": "retail",
    "gs1-datamatrix": "retail",
}


class Drawn(NamedTuple):
    """A symbol: its keys beside name, data and place, its size in millimetres with quiet zone, and its caption."""

    kind: str
    size: str
    keys: str
    width: float
    height: float
    caption: str


def symbols() -> Iterator[Drawn]:
    """Every symbology at its three sizes; postal codes have one."""
    per_mm = DPI / 25.4
    for kind, text in PAYLOADS.items():
        carrier = kind.replace("-", "_")
        need = carriers.need(carrier, text)
        if carrier in STATES:
            state, (left, bottom, right, top) = STATES[carrier].dots(DPI), STATES[carrier].clear_dots(DPI)
            width, height = state.width(need) + left + right, state.full + bottom + top
            caption = f"{kind}\\nbar {state.bar}, pitch {state.pitch} dots"
            yield Drawn(kind, "post", "", width / per_mm, height / per_mm, caption)
            continue
        known, size = KNOWN[carrier], SIZES.get((carrier, USES.get(kind, "")))
        least = least_dots(kind, DPI) / per_mm
        sizes = size.x_mm if size else (least, 0.508, LARGEST)
        for title, asked in zip(("least", "usual", "largest"), sizes, strict=True):
            dots = snap(asked, DPI, size).dots
            x = dots / per_mm
            left, bottom, right, top = known.quiet
            across, up = carriers.extent(carrier, need)
            keys, height = f", x: {asked:.4f} mm", (up + bottom + top) * x
            if known.linear:
                bars = size.least_height_mm(x) if size else max(5.0, 0.15 * across * x)
                height = round(bars + 0.01, 2)
                keys += f", height: {height} mm"
                if title == "usual":
                    keys += f", human_text: below, human_size: {TEXT_EMS * x / 25.4 * 72:.1f} pt"
                    height += TEXT_DEEP * x
            if size:
                keys += f", use: {size.use}"
            caption = f"{kind}, {title}\\nX {dots} dots, {x:.3f} mm"
            yield Drawn(kind, title, keys, (across + left + right) * x, height, caption)


def layout() -> str:
    """The layout file."""
    x = y = EDGE
    tallest = 0.0
    front, back = [], []
    for drawn in symbols():
        wide = max(drawn.width, CAPTION)
        if x + wide > SHEET - EDGE:
            x, y, tallest = EDGE, y + tallest + GAP, 0.0
        caption = (
            f'text: "{drawn.caption}", box: [{x:.2f} mm, {y:.2f} mm, {wide:.2f} mm, {ABOVE - 1:.2f} mm], size: {TYPE}'
        )
        below = y + ABOVE
        name, field = f"{drawn.kind}-{drawn.size}", drawn.kind.replace("-", "_")
        for side, plate, light, items in (("front", "", "", front), ("back", CLEAR, LIGHT, back)):
            place = f"at: [{x:.2f} mm, {below:.2f} mm]"
            said = f"barcode: {drawn.kind}, data: '{{{{ {field} }}}}', {place}{drawn.keys}{plate}{light}"
            items.append(f"  - {{{caption}{plate}}}\n")
            items.append(f"  - {{name: {side}-{name}, {said}}}\n")
        x, tallest = x + wide + GAP, max(tallest, ABOVE + drawn.height)
    trim = f"trim: [{SHEET:g} mm, {y + tallest + EDGE:.0f} mm]\nbleed: 0 mm\n"
    return f"# Written by lay_out.py.\n{trim}front:\n{''.join(front)}back:\n{''.join(back)}"


def records() -> str:
    """One record: a field a symbology."""
    fields = ",".join(kind.replace("-", "_") for kind in PAYLOADS)
    return f"{fields}\n{','.join(PAYLOADS.values())}\n"


if __name__ == "__main__":
    (FOLDER / "layout.yaml").write_text(layout(), encoding="utf-8")
    RECORDS.write_text(records(), encoding="utf-8")
