"""The page tree walked by its own counts, so that a few pages of a large file cost no more than themselves.

Not here: what a page must be (`pages`).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pikepdf

from vdp.verify.doubt import Unreadable

_INHERITED = ("/Resources", "/MediaBox", "/CropBox", "/Rotate")
_DEEPEST = 40


class Leaf(NamedTuple):
    """A page and what it inherits."""

    page: pikepdf.Object
    inherited: dict[str, pikepdf.Object]

    def get(self, key: str) -> pikepdf.Object | None:
        """An entry, inherited where the page has none of its own (ISO 32000-2, 7.7.3.4)."""
        return self.page.get(key, self.inherited.get(key))


def open_pdf(path: Path) -> pikepdf.Pdf:
    """Opens a file as it is: qpdf would otherwise walk all pages and mend what it finds, such as a page used twice."""
    try:
        pdf = pikepdf.open(path, inherit_page_attributes=False)
    except pikepdf.PasswordError as error:
        raise pikepdf.PdfError("it is encrypted") from error
    if pdf.is_encrypted:
        pdf.close()
        raise pikepdf.PdfError("it is encrypted, which no press takes (ISO 15930-7)")
    return pdf


def page_count(pdf: pikepdf.Pdf) -> int:
    """What the root of the tree says.  Raises Unreadable."""
    try:
        return int(pdf.Root.Pages.Count)
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise Unreadable("the file has no page tree") from error


def pages(pdf: pikepdf.Pdf, start: int, stop: int) -> Iterator[Leaf]:
    """Pages `start` to `stop` (0-based, half open) in order.  Raises Unreadable where the tree contradicts itself."""
    try:
        yield from _walk(pdf.Root.Pages, {}, start, stop, 0)
    except (AttributeError, KeyError, TypeError, ValueError, pikepdf.PdfError) as error:
        raise Unreadable(f"the page tree cannot be read: {error}") from error


def _walk(
    node: pikepdf.Object, inherited: dict[str, pikepdf.Object], start: int, stop: int, depth: int
) -> Iterator[Leaf]:
    if depth > _DEEPEST:
        raise Unreadable("the page tree is too deep or runs in a circle")
    below = dict(inherited)
    for key in _INHERITED:
        value = node.get(key)
        if value is not None:
            below[key] = value
    place = 0
    for kid in node.Kids.as_list():
        count = int(kid.get("/Count", 1)) if "/Kids" in kid else 1
        if count < 0:
            raise Unreadable("the page tree counts backwards")
        if place < stop and place + count > start:
            if "/Kids" in kid:
                yield from _walk(kid, below, start - place, stop - place, depth + 1)
            else:
                yield Leaf(kid, below)
        place += count
    if place != int(node.Count):
        raise Unreadable(f"a node of the page tree holds {place} pages and says {int(node.Count)}")
