"""A finished PDF from elsewhere as a source of sheets: its pages become forms that stand where pieces' pages would.

All pages must be alike: one trim size, and as much bleed as the web prints.  What a form would lose or show wrongly is
refused as for artwork (`art`); boxes, /Rotate and /UserUnit are taken into the form's matrix.
Not here: the sheets (`sheets`), pieces of our own (`carried`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pikepdf

from vdp.errors import CallerError, Fault
from vdp.marks import PROCESS
from vdp.pdf.art import ArtFile, ArtPage
from vdp.pdf.carried import Carried
from vdp.pdf.colour import OVERPRINT
from vdp.pdf.copying import Copier, ForeignFault
from vdp.pdf.objects import Ref, Value, number_text
from vdp.pdf.squeeze import pack_picture
from vdp.units import MM_PER_INCH, POINTS_PER_INCH, dots

#: Points by which trims of pages may differ: a fifth of a dot at 1200 dpi.
_ALIKE = 0.012
#: Faults of pages that are told one by one.
_MOST = 20


class ForeignPages:
    """An open PDF whose pages are laid on sheets.  Raises CallerError with every page that cannot be."""

    def __init__(self, path: Path, dpi: int) -> None:
        self._file, self._dpi = ArtFile.open(path), dpi
        self._path = path
        self._entries: list[bytes] = []
        faults: list[Fault] = []
        self._pages: list[ArtPage] = []
        for number in range(1, len(self._file.pdf.pages) + 1):
            try:
                self._pages.append(self._file.page(number))
            except CallerError as error:
                faults += error.faults
        if not faults:
            faults = list(self._unlike())
        if faults:
            more = [Fault(path.name, f"and {len(faults) - _MOST} more pages")] if len(faults) > _MOST else []
            raise CallerError(faults[:_MOST] + more)
        self.spots = tuple(self._separations())

    @property
    def count(self) -> int:
        """Pages."""
        return len(self._pages)

    @property
    def trim(self) -> tuple[float, float]:
        """Width and height of every page's trim, in points."""
        return self._pages[0].trim[2:]

    @property
    def bleed(self) -> float:
        """How much every page has to show beyond its trim on every side, in points."""
        return min(min(_margins(page)) for page in self._pages)

    def _unlike(self) -> Iterator[Fault]:
        first = self._pages[0].trim
        for number, page in enumerate(self._pages, 1):
            if any(abs(a - b) > _ALIKE for a, b in zip(page.trim[2:], first[2:], strict=True)):
                yield Fault(
                    f"{self._path.name}, page {number}",
                    f"its trim is {_size(page.trim)}, and that of page 1 is {_size(first)}",
                    "all pages of one web have one size: impose each size by itself",
                )

    def bleed_faults(self, wanted: float) -> Iterator[Fault]:
        """Pages that have less than `wanted` points beyond their trim."""
        for number, page in enumerate(self._pages, 1):
            has = min(_margins(page))
            if has < wanted - _ALIKE:
                yield Fault(
                    f"{self._path.name}, page {number}",
                    f"it has {_mm(max(0.0, has))} mm of bleed, and the web prints {_mm(wanted)} mm",
                    "export it with its bleed, or print less of it",
                )

    def _separations(self) -> dict[str, pikepdf.Object]:
        """Spot plates of the file, by name: Separations that are no process plate."""
        found: dict[str, pikepdf.Object] = {}
        for value in self._file.pdf.objects:
            spaces = [value]
            if isinstance(value, pikepdf.Dictionary):
                named = value.get("/ColorSpace")
                spaces += list(named.values()) if isinstance(named, pikepdf.Dictionary) else []
            for space in spaces:
                if isinstance(space, pikepdf.Array) and len(space) == 4 and space[0] == pikepdf.Name.Separation:
                    name = str(space[1]).removeprefix("/")
                    if name not in {*PROCESS, "All", "None"}:
                        found.setdefault(name, space)
        return dict(sorted(found.items()))

    def anew(self) -> ForeignPages:
        """The same pages as a source for another file."""
        self._entries = []
        return self

    # -- as a source --------------------------------------------------------------------------------------------------

    def copier(self, allot: Callable[[], int]) -> Copier:
        return Copier(allot, {})

    def carry(self, copier: Copier) -> Carried:
        pdf = self._file.pdf
        try:
            for page in self._pages:
                self._entries.append(self._form(page, copier))
        except (ForeignFault, pikepdf.PdfError, RuntimeError, ValueError, TypeError) as error:
            raise CallerError.one(self._path.name, f"cannot be taken over: {error}", "export it again") from error
        intent = self._intent(copier)
        spots = self._separations()
        state = pdf.make_indirect(pikepdf.Dictionary(Type=pikepdf.Name.ExtGState, OP=True, op=True, OPM=1))
        spaces: dict[str, Value] = {}
        layers: dict[str, Value] = {}
        for name, space in spots.items():
            spaces[name] = copier.refer(space if space.is_indirect else pdf.make_indirect(space))
            layers[name] = copier.refer(
                pdf.make_indirect(pikepdf.Dictionary(Type=pikepdf.Name.OCG, Name=pikepdf.String(name)))
            )
        overprint: dict[str, Value] = {OVERPRINT: copier.refer(state)}
        resources = {"XObject": {}, "ColorSpace": spaces, "Properties": layers, "ExtGState": overprint}
        # The list grows as groups are met while everything is copied.
        return Carried(copier.layers, intent, resources)

    def _intent(self, copier: Copier) -> Ref | None:
        """The output intent of a file that says it is PDF/X-4; sheets of any other do not say so either."""
        packet = self._file.pdf.Root.get("/Metadata")
        if not isinstance(packet, pikepdf.Stream) or b"PDF/X-4" not in packet.read_bytes():
            return None
        intents = self._file.pdf.Root.get("/OutputIntents")
        for intent in intents.as_list() if isinstance(intents, pikepdf.Array) else ():
            if intent.get("/S") == pikepdf.Name.GTS_PDFX and "/DestOutputProfile" in intent:
                return copier.refer(intent if intent.is_indirect else self._file.pdf.make_indirect(intent))
        return None

    def _form(self, page: ArtPage, copier: Copier) -> bytes:
        """Entries of a page's form: its space is dots from where a piece's page would begin."""
        form = page.form
        scale = self._dpi / POINTS_PER_INCH
        wide, high = page.size[0] * scale, page.size[1] * scale
        left, low = page.trim[0] * scale, page.trim[1] * scale
        a, b, c, d, e, f = (float(part) for part in form.Matrix.as_list())
        edge = dots(self.bleed, self._dpi)
        matrix = (a * wide, b * high, c * wide, d * high, e * wide + edge - left, f * high + edge - low)
        numbers = b" ".join(number_text(part, 8).encode() for part in matrix)
        box = b" ".join(number_text(float(edge)).encode() for edge in form.BBox.as_list())
        entries = b"/Matrix[%b]/BBox[%b]" % (numbers, box)
        for key in ("/Resources", "/Group"):
            value = form.get(key)
            if value is not None:
                ref = copier.refer(value if value.is_indirect else self._file.pdf.make_indirect(value))
                entries += b"%b %d 0 R" % (key.encode(), ref.number)
        return entries

    def forms(self, what: Sequence[int]) -> Iterator[tuple[bytes, bytes]]:
        for number in what:
            form = self._pages[number].form
            yield self._entries[number] + b"/Filter/FlateDecode", pack_picture(form.read_bytes())

    def piece_bleed(self) -> int:
        """Dots of bleed that a form is placed with."""
        return dots(self.bleed, self._dpi)


def _margins(page: ArtPage) -> tuple[float, float, float, float]:
    left, low, width, height = page.trim
    return (left, low, page.size[0] - left - width, page.size[1] - low - height)


def _size(trim: tuple[float, float, float, float]) -> str:
    return f"{_mm(trim[2])} × {_mm(trim[3])} mm"


def _mm(length: float) -> str:
    return f"{length * float(MM_PER_INCH) / POINTS_PER_INCH:.2f}"
