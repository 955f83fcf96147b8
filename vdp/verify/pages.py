"""What every page of the pieces file must be like: boxes, turn, content as the manifest hashed it.

Not here: the page tree (`tree`), what is on a page (`plates`).
"""

from __future__ import annotations

import hashlib
from typing import NamedTuple

import pikepdf

from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.state import Area
from vdp.verify.tree import Leaf


class Sheet(NamedTuple):
    """The edges of a page in points; trim and bleed default to the media box.  `plain` tells that it is not turned,
    scaled or cut."""

    media: Area
    trim: Area
    bleed: Area
    plain: bool


def sheet_of(leaf: Leaf) -> Sheet:
    """Raises Unreadable when a box is no box."""
    with pdf_faults():
        return _sheet(leaf)


def _sheet(leaf: Leaf) -> Sheet:
    media = _box(leaf.get("/MediaBox"), None)
    crop = _box(leaf.get("/CropBox"), media)
    turned = leaf.get("/Rotate")
    plain = (turned is None or int(turned) % 360 == 0) and float(leaf.page.get("/UserUnit", 1)) == 1
    return Sheet(
        media, _box(leaf.page.get("/TrimBox"), media), _box(leaf.page.get("/BleedBox"), media), plain and crop == media
    )


def _box(value: pikepdf.Object | None, default: Area | None) -> Area:
    if value is None:
        if default is None:
            raise Unreadable("the page has no MediaBox")
        return default
    try:
        x0, y0, x1, y1 = (round(float(edge), 3) for edge in value.as_list())
    except (TypeError, ValueError, AttributeError) as error:
        raise Unreadable("a box of the page is not four numbers") from error
    return (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))


def digest(front: bytes, back: bytes) -> str:
    """SHA-256 over the front's, then the back's uncompressed content stream, in hex."""
    hashed = hashlib.sha256(front)
    hashed.update(back)
    return hashed.hexdigest()
