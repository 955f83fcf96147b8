"""Finished pieces laid on sheets: each side of a piece is a form whose bytes come from its file as they are.

A sheet's page holds one matrix, one clip and one `Do` a place, then the printer's marks; all numbers in it are whole
dots.  Fonts, pictures, forms and plates of the pieces are carried over once.  What is written is forgotten, but for
offsets.

    with SheetWriter(folder / "sheets.pdf", book, source) as writer:
        for frame in frames:
            writer.add(Side(places, marks), Side(places, marks))        # front, back
        writer.finish()

Not here: which piece goes where, and what marks there are (`press`); where pieces come from (`carried`).
"""

from __future__ import annotations

from array import array
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import NamedTuple

from vdp.errors import OurBug
from vdp.marks import Box, Mark, PieceMark
from vdp.pdf.body import object_stream
from vdp.pdf.book import Book
from vdp.pdf.carried import Source
from vdp.pdf.content import Renderer
from vdp.pdf.fonts import embed
from vdp.pdf.frames import Frames, entries
from vdp.pdf.names import Names, uses_of
from vdp.pdf.objects import Name, Raw, Ref, Value, number_text, serialise, stream
from vdp.pdf.placing import Placing
from vdp.pdf.sink import Sink
from vdp.pdf.squeeze import COMPRESSORS, Squeeze, pack
from vdp.pdf.standard import HEADER, catalog, identifier, information, xmp
from vdp.pdf.text import GlyphTexts, unite_glyphs
from vdp.pdf.typefaces import font_objects
from vdp.pdf.xref import pack_rows
from vdp.text.faces import Faces, FaceSource

_FLATE: dict[str, Value] = {"Filter": Name("FlateDecode")}


class Side(NamedTuple):
    """One page: places, drawn in this order, then marks."""

    places: Sequence[PieceMark]
    marks: Sequence[Mark]


@dataclass(frozen=True, slots=True)
class SheetBook:
    """What is said of a sheet file before its first frame; sizes and boxes in dots, `trim` and `bleed` front then back.

    `piece` is the size of a piece's own page.  `static` are marks that every front and every back has; `forms` what
    stands where no finished piece does, by key.  `names` as the pieces' own, so that a form may draw what they draw.
    """

    dpi: int
    width: int
    height: int
    trim: tuple[Box, Box]
    bleed: tuple[Box, Box]
    piece: tuple[int, int]
    frames: int
    faces: Mapping[str, FaceSource]
    names: Names
    title: str
    created: datetime
    identity: bytes
    creator: str
    static: tuple[Sequence[Mark], Sequence[Mark]] = ((), ())
    forms: Mapping[str, Sequence[Mark]] = field(default_factory=dict)


class SheetWriter(Placing):
    """Writes one file of sheets.  Raises CallerError for a full disk and for pieces that are not what they were; no
    half-made file stays."""

    def __init__(self, path: Path, book: SheetBook, source: Source, compression: Squeeze = "fast") -> None:
        if book.frames < 1:
            raise OurBug("a file has at least one frame")
        self._path, self._book, self._source = path, book, source
        self._sink = Sink(path.with_name(path.name + ".part"), path)
        self._compress = COMPRESSORS[compression]
        self._renderer = Renderer(book.dpi, book.names)
        self._places: dict[int, int] = {}
        self._next = 1
        self._groups, self._forms = array("Q"), array("Q")
        self._contents: list[bytes] = []
        self._entries: list[bytes] = []
        self._group = 0
        try:
            self._begin()
        except BaseException:
            self._sink.discard()
            raise

    # -- what all sheets share ----------------------------------------------------------------------------------------

    def _begin(self) -> None:
        book = self._book
        self._root, self._info, metadata = (self._number() for _ in range(3))
        self._fonts = {face: self._number() for face in book.faces}
        self._font_names = self._number()
        self._sink.write(HEADER)
        copier = self._source.copier(lambda: self._number().number)
        self._carried = carried = self._source.carry(copier)
        for number, data in copier.rest():
            self._put_bytes(number, data)
        told, pdfx = _as_book(book), carried.intent is not None
        self._put(self._info, information(told, pdfx=pdfx))
        packet: dict[str, Value] = {"Type": Name("Metadata"), "Subtype": Name("XML")}
        self._put_stream(metadata, packet, xmp(told, pdfx=pdfx))
        self._specials = {key: self._form(marks, book.piece) for key, marks in book.forms.items()}
        self._static = [self._form(marks, (book.width, book.height)) for marks in book.static]
        self._boxes = [self._page_boxes(side) for side in (0, 1)]
        self._frames = frames = Frames(book.frames, self._next)
        self._next = frames.tail
        self._put(self._root, catalog(Ref(frames.root), metadata, carried.layers, carried.intent))
        media: list[Value] = [self._points(side) for side in (0, 0, book.width, book.height)]
        for node in frames.nodes():
            kids: list[Value] = [Ref(kid) for kid in node.kids]
            node_entries: dict[str, Value] = {"Type": Name("Pages"), "Count": node.pages, "Kids": kids}
            node_entries |= {"Parent": Ref(node.parent)} if node.parent else {"MediaBox": media}
            self._put(Ref(node.number), node_entries)

    def _points(self, dots: int) -> Raw:
        return Raw(number_text(dots * 72 / self._book.dpi, 5).encode())

    def _page_boxes(self, side: int) -> bytes:
        found = b""
        for name, box in ((b"BleedBox", self._book.bleed[side]), (b"TrimBox", self._book.trim[side])):
            x, y, width, height = box
            edges = b" ".join(self._points(edge) for edge in (x, y, x + width, y + height))
            found += b"/%b[%b]" % (name, edges)
        return found

    def _form(self, marks: Sequence[Mark], size: tuple[int, int]) -> Ref:
        """A form of ours; its space is whole dots."""
        uses, book, carried = uses_of(marks), self._book, self._carried.resources
        fonts = {book.names.fonts[face].removeprefix("/"): self._fonts[face] for face in sorted(uses.faces)}
        resources: dict[str, Value] = {"Font": fonts} if fonts else {}
        assets = [book.names.assets[asset].removeprefix("/") for asset in sorted(uses.assets)]
        if assets:
            resources["XObject"] = {name: carried["XObject"][name] for name in assets}
        if uses.spots:
            for kind in ("ColorSpace", "Properties"):
                resources[kind] = {spot: carried[kind][spot] for spot in sorted(uses.spots)}
        if uses.spots or uses.over:
            resources["ExtGState"] = dict(carried["ExtGState"])
        form: dict[str, Value] = {
            "Type": Name("XObject"),
            "Subtype": Name("Form"),
            "BBox": [0, 0, *size],
            "Resources": resources,
        }
        ref = self._number()
        self._put_stream(ref, form | _FLATE, pack(self._renderer.render_form(marks)))
        return ref

    # -- frames -------------------------------------------------------------------------------------------------------

    def add(self, front: Side, back: Side) -> None:
        """The next frame."""
        if self._group >= self._frames.groups:
            raise OurBug(f"more than the {self._frames.frames} frames that were announced")
        what = [place.what for side in (front, back) for place in side.places if isinstance(place.what, int)]
        numbers: dict[int, int] = {}
        for one, (form_entries, data) in zip(what, self._source.forms(what), strict=True):
            number = numbers[one] = self._frames.tail + len(self._forms)
            self._forms.append(self._sink.position)
            self._sink.write(
                b"%d 0 obj\n<</Type/XObject/Subtype/Form%b/Length %d>>stream\n%b\nendstream\nendobj\n"
                % (number, form_entries, len(data), data)
            )
        marks = self._renderer.render([front.marks, back.marks])
        for side_at, (side, drawn) in enumerate(zip((front, back), marks, strict=True)):
            named = {f"P{at}": self._reference(place.what, numbers) for at, place in enumerate(side.places, 1)}
            named["M"] = self._static[side_at]
            resources = serialise({"XObject": named, "Font": self._font_names})
            self._entries.append(self._boxes[side_at] + b"/Resources" + resources)
            self._contents.append(self._compress(_content(side.places, drawn)))
        if len(self._contents) == 2 * self._frames.size(self._group):
            self._write_group()

    def _reference(self, what: int | str, numbers: Mapping[int, int]) -> Ref:
        return self._specials[what] if isinstance(what, str) else Ref(numbers[what])

    def _write_group(self) -> None:
        frames, group, sink = self._frames, self._group, self._sink
        for number, data in zip(frames.contents(group), self._contents, strict=True):
            self._groups.append(sink.position)
            sink.write(stream(number, _FLATE, data))
        self._groups.append(sink.position)
        numbers, bodies = frames.dictionaries(group, self._entries)
        sink.write(object_stream(frames.stream(group), numbers, bodies, self._compress))
        self._contents, self._entries = [], []
        self._group += 1

    # -- what is known last -------------------------------------------------------------------------------------------

    def finish(self) -> int:
        """Fonts and cross-references; then the file gets its name.  → its size in bytes."""
        if self._contents or self._group != self._frames.groups:
            raise OurBug(f"{self._frames.frames} frames were announced, and not all of them came")
        self._next = self._frames.tail + len(self._forms)
        glyphs: GlyphTexts = {}
        unite_glyphs(glyphs, self._renderer.glyphs)
        self._embed(glyphs)
        at, number = self._sink.position, self._number()
        self._places[number.number] = at
        table = pack_rows(entries(self._frames, self._places, self._groups, self._forms, self._next), self._next, at)
        trailer: dict[str, Value] = {
            "Type": Name("XRef"),
            "Size": self._next,
            "W": list(table.widths),
            "Root": self._root,
            "Info": self._info,
            "ID": identifier(_as_book(self._book)),
            "DecodeParms": {"Predictor": 12, "Columns": table.columns},
            **_FLATE,
        }
        self._sink.write(stream(number.number, trailer, table.data))
        self._sink.write(b"startxref\n%d\n%%%%EOF\n" % at)
        self._sink.close(lasting=True)
        self._sink.path.replace(self._path)
        return self._sink.position

    def _embed(self, glyphs: GlyphTexts) -> None:
        """Fonts of marks and of forms of ours; a face that nothing uses leaves a null behind."""
        faces, named = Faces(self._book.faces), {}
        for key, source in self._book.faces.items():
            ref, texts = self._fonts[key], glyphs.get(key, {})
            if not texts:
                self._put(ref, None)
                continue
            face = faces.face(key)
            file = embed(face, source, texts, f"{face.postscript_name}-{key}")
            for number, data in font_objects(ref.number, file, texts, lambda: self._number().number):
                self._put_bytes(number, data)
            named[self._book.names.fonts[key].removeprefix("/")] = ref
        self._put(self._font_names, named)

    def __enter__(self) -> SheetWriter:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None) -> None:
        self._sink.__exit__(kind, error, tb)


_CM = {0: (1, 0, 0, 1), 90: (0, 1, -1, 0), 180: (-1, 0, 0, -1), 270: (0, -1, 1, 0)}


def _content(places: Sequence[PieceMark], drawn: bytes) -> bytes:
    """A page: the scale to dots, places, marks of every sheet, its own marks.  `drawn` begins with the scale."""
    scale, _, marks = drawn.partition(b"\n")
    parts = [scale, b"\n"]
    for at, place in enumerate(places, 1):
        matrix = b"%d %d %d %d %d %d" % (*_CM[place.turn], *place.at)
        parts.append(b"q %b cm %d %d %d %d re W n /P%d Do Q\n" % (matrix, *place.shown, at))
    return b"".join([*parts, b"/M Do\n", marks])


def _as_book(book: SheetBook) -> Book:
    """The file as the standard's packet and dictionaries speak of one."""
    return Book(
        dpi=book.dpi,
        width=book.width,
        height=book.height,
        bleed=0,
        pieces=book.frames,
        faces=book.faces,
        spots={},
        title=book.title,
        created=book.created,
        identity=book.identity,
        creator=book.creator,
    )
