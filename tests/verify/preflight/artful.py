"""Artwork made for tests: one page, 100 × 60 mm with 3 mm of bleed, and whatever is wrong with it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pikepdf
from pikepdf import Array, Dictionary, Name, Stream

MM = 72 / 25.4
TRIM = (100 * MM, 60 * MM)
BLEED = 3 * MM
Change = Callable[[pikepdf.Pdf, pikepdf.Page], None]


def spot(pdf: pikepdf.Pdf, name: str) -> pikepdf.Object:
    """A Separation of that name, shown in magenta."""
    tint = Dictionary(FunctionType=2, Domain=[0, 1], C0=[0, 0, 0, 0], C1=[0, 1, 0, 0], N=1)
    return pdf.make_indirect(Array([Name.Separation, Name(f"/{name}"), Name.DeviceCMYK, tint]))


def picture(pdf: pikepdf.Pdf, width: int, height: int, space: str = "/DeviceGray", bits: int = 8) -> pikepdf.Stream:
    """A plain picture of so many pixels."""
    parts = {"/DeviceGray": 1, "/DeviceRGB": 3, "/DeviceCMYK": 4}[space]
    data = bytes((width * parts * bits + 7) // 8 * height)
    return Stream(
        pdf,
        data,
        Type=Name.XObject,
        Subtype=Name.Image,
        Width=width,
        Height=height,
        ColorSpace=Name(space),
        BitsPerComponent=bits,
    )


def write_art(path: Path, content: bytes = b"", change: Change | None = None) -> Path:
    """A page with that content; `change` alters it before it is saved."""
    with pikepdf.new() as pdf:
        wide, high = TRIM[0] + 2 * BLEED, TRIM[1] + 2 * BLEED
        pdf.add_blank_page(page_size=(wide, high))
        page = pdf.pages[0]
        page.obj.TrimBox = Array([BLEED, BLEED, BLEED + TRIM[0], BLEED + TRIM[1]])
        page.obj.BleedBox = Array([0, 0, wide, high])
        page.obj.Resources = Dictionary(
            ExtGState=Dictionary(
                Over=Dictionary(OP=True, op=True, OPM=1),
                Half=Dictionary(ca=0.5, CA=0.5),
                Mix=Dictionary(BM=Name.Multiply),
            ),
            ColorSpace=Dictionary(),
            XObject=Dictionary(),
            Font=Dictionary(),
        )
        page.obj.Contents = Stream(pdf, content)
        if change is not None:
            change(pdf, page)
        pdf.save(path)
    return path
