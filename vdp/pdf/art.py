"""Artwork: a page of a PDF as a Form XObject that fills the unit square, like a picture does; or a picture.

What is drawn is the page's BleedBox (its CropBox or MediaBox where it states none), so that printer's marks stay out;
/Rotate and /UserUnit are taken into the form's matrix.  Copying its objects is `copying`'s.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import NamedTuple

import pikepdf

from vdp.errors import CallerError
from vdp.job.postscript import as_pdf, is_postscript
from vdp.pdf.colouring import Colouring, ColourJob
from vdp.pdf.objects import number_text
from vdp.pdf.pictures import Picture, load_picture

__all__ = ["ArtFile", "ArtPage", "Picture", "art_info", "is_pdf", "load_picture", "open_art"]

#: Pixels an inch of pictures that do not state theirs.
_PPI = 300.0
#: Annotations that print nothing of their own.
_SILENT = frozenset({"/Link", "/Popup"})
_HIDDEN, _PRINT = 2, 4

Rectangle = tuple[float, float, float, float]


class ArtPage(NamedTuple):
    """A page of artwork, in points, as it is seen (turned by its /Rotate).

    `size`: width and height of what is drawn.  `trim`: x, y, width, height in it, from its lower left corner.
    `form`: the Form XObject, its BBox and Matrix set so that it fills the unit square.
    """

    size: tuple[float, float]
    trim: Rectangle
    form: pikepdf.Object


@dataclass(slots=True)
class ArtFile:
    """An open PDF of artwork; its pages stay usable as long as it is kept."""

    path: Path
    pdf: pikepdf.Pdf
    pages: dict[int, ArtPage] = field(default_factory=dict)

    @classmethod
    def open(cls, path: Path) -> ArtFile:
        """Raises CallerError for what is not a PDF, encrypted, or damaged."""
        try:
            pdf = pikepdf.open(as_pdf(path), suppress_warnings=True)
            pages = len(pdf.pages)
            troubles = pdf.get_warnings()
        except pikepdf.PasswordError as error:
            raise _encrypted(path) from error
        except (OSError, pikepdf.PdfError, ValueError, RuntimeError) as error:
            said = str(error).removeprefix(f"{path}: ")
            raise CallerError.one(path.name, f"is not a PDF that can be read: {said}", "export it again") from error
        if pdf.is_encrypted:
            raise _encrypted(path)
        if troubles:
            raise CallerError.one(path.name, f"is damaged: {troubles[0]}", "export it again")
        if not pages:
            raise CallerError.one(path.name, "has no pages", "export it again")
        return cls(path, pdf)

    def page(self, number: int) -> ArtPage:
        """Page `number`, the first is 1.  Raises CallerError when there is none, or it would not print as it looks."""
        known = self.pages.get(number)
        if known is not None:
            return known
        where = f"{self.path.name}, page {number}"
        if not 1 <= number <= len(self.pdf.pages):
            raise CallerError.one(where, f"the file has {len(self.pdf.pages)} pages", "name one of them")
        page = self.pdf.pages[number - 1]
        try:
            _refuse_extras(where, self.pdf, page)
            found = self.pages[number] = _read(where, page)
        except (pikepdf.PdfError, ValueError, TypeError, ArithmeticError, RuntimeError) as error:
            raise CallerError.one(where, f"cannot be read: {error}", "export it again") from error
        return found


def open_art(path: Path, page: int) -> ArtPage:
    """A page of a PDF file."""
    return ArtFile.open(path).page(page)


def is_pdf(path: Path) -> bool:
    """Whether artwork is pages, PDF or PostScript, by the ending of its name; else it is a picture."""
    return path.suffix.lower() == ".pdf" or is_postscript(path)


def art_info(path: Path, page: int, colouring: Colouring | ColourJob) -> tuple[tuple[float, float], Rectangle | None]:
    """Size of artwork in points, and its trim (x, y, width, height) in it; a picture has no trim."""
    if is_pdf(path):
        found = open_art(path, page)
        return found.size, found.trim
    if page != 1:
        raise CallerError.one(path.name, f"a picture has one page, not {page}", "name page 1")
    picture = load_picture(path, colouring)
    point = 72 / (picture.ppi or _PPI)
    return (picture.width * point, picture.height * point), None


def _encrypted(path: Path) -> CallerError:
    return CallerError.one(path.name, "is encrypted", "save it without a password or restrictions")


def _refuse_extras(where: str, pdf: pikepdf.Pdf, page: pikepdf.Page) -> None:
    """What a Form XObject would lose or show wrongly: printing annotations, hidden layers."""
    annotations = page.obj.get("/Annots")
    for note in annotations if isinstance(annotations, pikepdf.Array) else ():
        if not isinstance(note, pikepdf.Dictionary) or str(note.get("/Subtype")) in _SILENT or "/AP" not in note:
            continue
        flags = int(note.get("/F", 0))
        if flags & _PRINT and not flags & _HIDDEN:
            raise CallerError.one(where, "has annotations or form fields that print", "flatten them into the page")
    layers = pdf.Root.get("/OCProperties")
    if isinstance(layers, pikepdf.Dictionary):
        shown = layers.get("/D")
        if isinstance(shown, pikepdf.Dictionary) and (
            len(shown.get("/OFF", pikepdf.Array())) or shown.get("/BaseState", pikepdf.Name.ON) != pikepdf.Name.ON
        ):
            raise CallerError.one(where, "has hidden layers", "flatten the layers or delete the hidden ones")


def _box(box: object) -> Rectangle:
    left, bottom, right, top = (float(side) for side in box)  # type: ignore[attr-defined]  # a pikepdf array
    return min(left, right), min(bottom, top), max(left, right), max(bottom, top)


def _meet(one: Rectangle, other: Rectangle) -> Rectangle:
    return max(one[0], other[0]), max(one[1], other[1]), min(one[2], other[2]), min(one[3], other[3])


def _read(where: str, page: pikepdf.Page) -> ArtPage:
    media = _box(page.mediabox)
    drawn = _meet(_box(page.bleedbox), media)
    trim = _meet(_box(page.trimbox), drawn)
    for box in (media, drawn, trim):
        if box[2] - box[0] <= 0 or box[3] - box[1] <= 0:
            raise CallerError.one(where, "has an empty page box", "export it again")
    unit = float(page.obj.get("/UserUnit", 1))
    matrix, (width, height) = _unit_square(drawn, int(page.rotation) % 360)
    corners = [_moved(matrix, trim[0], trim[1]), _moved(matrix, trim[2], trim[3])]
    left, right = sorted(x * width * unit for x, _ in corners)
    bottom, top = sorted(y * height * unit for _, y in corners)
    form = page.as_form_xobject(handle_transformations=False)
    form.BBox = pikepdf.Array([_real(side) for side in drawn])
    form.Matrix = pikepdf.Array([_real(part) for part in matrix])
    return ArtPage((width * unit, height * unit), (left, bottom, right - left, top - bottom), form)


def _real(value: float) -> Decimal:
    """Ten places: a form as large as a sheet is then right to a thousandth of a dot."""
    return Decimal(number_text(value, 10))


def _unit_square(box: Rectangle, turn: int) -> tuple[tuple[float, ...], tuple[float, float]]:
    """The matrix that takes a box, turned clockwise, to the unit square; and its width and height once turned."""
    x0, y0, x1, y1 = box
    w, h = x1 - x0, y1 - y0
    match turn:
        case 0:
            return (1 / w, 0, 0, 1 / h, -x0 / w, -y0 / h), (w, h)
        case 90:
            return (0, -1 / w, 1 / h, 0, -y0 / h, x1 / w), (h, w)
        case 180:
            return (-1 / w, 0, 0, -1 / h, x1 / w, y1 / h), (w, h)
        case 270:
            return (0, 1 / w, -1 / h, 0, y1 / h, -x0 / w), (h, w)
    raise ValueError(f"it is turned by {turn} degrees")


def _moved(matrix: tuple[float, ...], x: float, y: float) -> tuple[float, float]:
    a, b, c, d, e, f = matrix
    return a * x + c * y + e, b * x + d * y + f
