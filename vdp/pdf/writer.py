"""The file from its header to its end, written from front to back; only offsets and glyph sets are kept.

Order: what all pieces share (plates, artwork, pictures, forms, page tree), groups of pieces, then what is known last
(fonts, resources, cross-references).
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from pathlib import Path
from types import TracebackType
from typing import NamedTuple

import numpy as np

from vdp.errors import CallerError, OurBug
from vdp.pdf.arithmetic import Arithmetic
from vdp.pdf.art import ArtFile, is_pdf
from vdp.pdf.body import Body, Chunk, Ticket
from vdp.pdf.book import Book
from vdp.pdf.colour import OVERPRINT, OVERPRINT_STATE, separation
from vdp.pdf.colouring import Profile, colouring_of, read_profile
from vdp.pdf.content import Renderer
from vdp.pdf.copying import Copier, ForeignFault
from vdp.pdf.dpart import part_root, scope, scope_bytes, upper_parts
from vdp.pdf.fonts import embed
from vdp.pdf.names import Names, Uses, name_resources, uses_of
from vdp.pdf.objects import Name, Raw, Ref, Value, number_text, serialise, stream
from vdp.pdf.pictures import load_picture
from vdp.pdf.placing import Placing
from vdp.pdf.sink import Sink
from vdp.pdf.squeeze import Squeeze, pack
from vdp.pdf.standard import HEADER, boxes, catalog, identifier, information, layer, output_intent, xmp
from vdp.pdf.text import GlyphTexts, unite_glyphs
from vdp.pdf.typefaces import font_objects
from vdp.pdf.xref import pack_table
from vdp.text.faces import Faces, FaceSource

_FLATE: dict[str, Value] = {"Filter": Name("FlateDecode")}


class Finished(NamedTuple):
    """A file in its place: `size` in bytes, `fonts` BaseFont without its tag → face key."""

    path: Path
    size: int
    fonts: dict[str, str]


class Writer(Placing):
    """Writes one file.  Raises CallerError for artwork that cannot be used and for a disk that is full; whatever is
    raised inside its `with`, no half-made file stays."""

    def __init__(self, path: Path, book: Book, compression: Squeeze = "fast") -> None:
        if book.pieces < 1:
            raise OurBug("a file has at least one piece")
        self._path, self._book = path, book
        #: A device has no name to be given at the end.
        self._device = path == Path(os.devnull)
        self._sink = Sink(path if self._device else path.with_name(path.name + ".part"), path)
        self.names: Names = name_resources(book.faces, book.forms, book.art, sorted(book.pictures))
        self._renderer = Renderer(book.dpi, self.names)
        self._glyphs: GlyphTexts = {}
        self._places: dict[int, int] = {}
        self._next = 1
        self._assets: dict[str, Ref] = {}
        self._seen: dict[tuple[str, bytes], Ref] = {}
        self._layers: list[Ref] = []
        try:
            self.ticket, self._body = self._begin(compression)
        except BaseException:
            self._sink.discard()
            raise

    # -- what all pieces share ---------------------------------------------------------------------------------------

    def _begin(self, compression: Squeeze) -> tuple[Ticket, Body]:
        book = self._book
        rules = colouring_of(book.colouring)
        profile = None if rules.profile is None else read_profile(rules.profile)
        self._root, self._info, self._metadata, self._resources, self._overprint = (self._number() for _ in range(5))
        self._parts = self._number()
        self._plates = {plate: self._number() for plate in book.spots}
        self._groups = {plate: self._number() for plate in book.spots}
        self._fonts = {face: self._number() for face in book.faces}
        self._sink.write(HEADER)
        self._put(self._info, information(book, pdfx=profile is not None))
        packet: dict[str, Value] = {"Type": Name("Metadata"), "Subtype": Name("XML")}
        self._put_stream(self._metadata, packet, xmp(book, pdfx=profile is not None, parts=True))
        self._put(self._overprint, OVERPRINT_STATE)
        for plate, spot in book.spots.items():
            self._put(self._plates[plate], separation(plate, spot.shown_as))
            self._put(self._groups[plate], layer(plate))
        intent = None if profile is None else self._intent(profile)
        self._art()
        self._pictures()
        self._forms()
        layers = [*self._groups.values(), *self._layers]
        arithmetic = Arithmetic(book.pieces, self._next)
        self._next = arithmetic.tail
        self._put(self._root, catalog(Ref(arithmetic.root), self._metadata, layers, intent, self._parts))
        self._tree(arithmetic)
        ticket = Ticket(book.dpi, self.names, arithmetic, boxes(book), compression)
        return ticket, Body(self._sink, ticket, 0)

    def _intent(self, profile: Profile) -> Ref:
        data, intent = self._number(), self._number()
        self._put_stream(data, {"N": 4, **_FLATE}, pack(profile.data))
        self._put(intent, output_intent(data, profile.description))
        return intent

    def _art(self) -> None:
        """Every page of artwork once; pages of one file share what they share there."""
        files: dict[Path, tuple[ArtFile, Copier]] = {}
        for asset, (path, page) in self._book.art.items():
            if not is_pdf(path):
                self._assets[asset] = self._picture(path)
                continue
            if path not in files:
                files[path] = ArtFile.open(path), Copier(lambda: self._number().number, self._plates)
            file, copier = files[path]
            form = file.page(page).form
            ref = self._assets[asset] = self._number()
            try:
                known = self._digest(f"{asset} {page}".encode())
                for number, data in copier.copy(form, ref.number, scope_bytes(known, form=True)):
                    self._put_bytes(number, data)
            except (ForeignFault, RuntimeError, ValueError, TypeError) as error:
                where = f"{path.name}, page {page}"
                raise CallerError.one(where, f"cannot be taken over: {error}", "export it again") from error
        for _, copier in files.values():
            self._layers += copier.layers

    def _pictures(self) -> None:
        for asset in sorted(self._book.pictures):
            self._assets[asset] = self._picture(self._book.pictures[asset])

    def _picture(self, path: Path) -> Ref:
        """A picture that another file name has shown already is not written again."""
        picture = load_picture(path, self._book.colouring)
        key = (picture.digest, serialise(picture.entries))
        known = self._seen.get(key)
        if known is None:
            known = self._seen[key] = self._number()
            self._put_stream(known, {**picture.entries, **scope(picture.digest[:32], form=False)}, picture.data)
        return known

    def _forms(self) -> None:
        for asset, marks in self._book.forms.items():
            entries: dict[str, Value] = {
                "Type": Name("XObject"),
                "Subtype": Name("Form"),
                "BBox": [0, 0, self._book.width, self._book.height],
                "Resources": self._resource_entries(uses_of(marks)),
            }
            data = self._renderer.render_form(marks)
            entries |= scope(self._digest(asset.encode() + data), form=True)
            self._assets[asset] = self._number()
            self._put_stream(self._assets[asset], entries | _FLATE, pack(data))

    def _digest(self, data: bytes) -> str:
        """A name for what stands in this file under the same name for the same bytes of the same job."""
        return hashlib.sha256(self._book.identity + data).hexdigest()[:32]

    def _resource_entries(self, uses: Uses) -> dict[str, Value]:
        """A resource dictionary of just these fonts, XObjects and plates."""
        names = self.names
        entries: dict[str, Value] = {}
        fonts: dict[str, Value] = {
            names.fonts[face].removeprefix("/"): ref for face, ref in self._fonts.items() if face in uses.faces
        }
        assets: dict[str, Value] = {
            names.assets[asset].removeprefix("/"): ref for asset, ref in self._assets.items() if asset in uses.assets
        }
        plates = [plate for plate in self._book.spots if plate in uses.spots]
        if fonts:
            entries["Font"] = fonts
        if assets:
            entries["XObject"] = assets
        if plates:
            entries["ColorSpace"] = {plate: self._plates[plate] for plate in plates}
            entries["Properties"] = {plate: self._groups[plate] for plate in plates}
        if plates or uses.over:
            entries["ExtGState"] = {OVERPRINT: self._overprint}
        return entries

    def _tree(self, arithmetic: Arithmetic) -> None:
        """Page tree nodes above the leaves; the root carries what every page inherits."""
        media: list[Value] = [Raw(number_text(side, 5).encode()) for side in self._book.media]
        inherited: dict[str, Value] = {"MediaBox": media, "Resources": self._resources}
        for node in arithmetic.nodes():
            kids: list[Value] = [Ref(kid) for kid in node.kids]
            entries: dict[str, Value] = {"Type": Name("Pages"), "Count": node.pages, "Kids": kids}
            entries |= {"Parent": Ref(node.parent)} if node.parent else inherited
            self._put(Ref(node.number), entries)
        top = arithmetic.part_of_node(arithmetic.root)
        self._put(self._parts, part_root(top, arithmetic.levels))
        for number, part in upper_parts(arithmetic, self._parts.number, self._book):
            self._put(Ref(number), part)

    # -- pieces ------------------------------------------------------------------------------------------------------

    def add(self, contents: Iterable[bytes], parts: Iterable[bytes]) -> None:
        """Uncompressed content streams: front, back, front, back, …; `parts` is what each piece's DPM holds.

        Raises CallerError when the disk is full.
        """
        self._body.add(contents, parts)

    def append(self, chunk: Chunk) -> None:
        """Joins the next chunk: its bytes are copied, its offsets shifted, its glyphs united with the others'."""
        if not self._body.level or chunk.first_group != self._body.group:
            raise OurBug(f"group {self._body.group} comes next, not group {chunk.first_group}")
        start = self._sink.position
        self._sink.copy(chunk.path, chunk.size)
        shifted = np.frombuffer(chunk.offsets, np.uint64) + np.uint64(start)
        self._body.offsets.frombytes(shifted.tobytes())
        self._body.group += chunk.groups
        unite_glyphs(self._glyphs, chunk.glyphs)

    # -- what is known last ------------------------------------------------------------------------------------------

    def finish(self, glyphs: GlyphTexts | None = None) -> Finished:
        """Fonts, resources and cross-references; then the file gets its name.  `glyphs` are those of the renderer that
        drew the pages added here; chunks have brought their own."""
        arithmetic = self.ticket.arithmetic
        if not self._body.level or self._body.group != arithmetic.groups:
            raise OurBug(f"{arithmetic.pieces} pieces were announced, and not all of them came")
        for used in (self._renderer.glyphs, glyphs or {}):
            unite_glyphs(self._glyphs, used)
        fonts = self._embed()
        used_faces = frozenset(face for face, texts in self._glyphs.items() if texts)
        everything = Uses(used_faces, frozenset(self._assets), frozenset(self._book.spots), over=True)
        self._put(self._resources, self._resource_entries(everything))
        self._cross_references()
        self._sink.close(lasting=not self._device)
        size = self._sink.position
        if not self._device:
            self._sink.path.replace(self._path)
        return Finished(self._path, size, fonts)

    def _embed(self) -> dict[str, str]:
        """Every used face as one Type0 font; BaseFont without its tag → face key.  Of two font files that give
        themselves one name the later is called after its face too, so that a name leads to one file."""
        faces, sources = Faces(self._book.faces), self._book.faces
        told: dict[str, str] = {}
        for key in sorted(self._glyphs):
            texts = self._glyphs[key]
            if texts:
                face = faces.face(key)
                name = face.postscript_name
                if name in told and not _same_source(sources[told[name]], sources[key]):
                    name = f"{name}-{key}"
                file = embed(face, sources[key], texts, name)
                for number, data in font_objects(self._fonts[key].number, file, texts, lambda: self._number().number):
                    self._put_bytes(number, data)
                told.setdefault(name, key)
        return told

    def _cross_references(self) -> None:
        table_at, number = self._sink.position, self._number()
        self._places[number.number] = table_at
        table = pack_table(self.ticket.arithmetic, self._places, self._body.offsets, self._next, table_at)
        entries: dict[str, Value] = {
            "Type": Name("XRef"),
            "Size": self._next,
            "W": list(table.widths),
            "Root": self._root,
            "Info": self._info,
            "ID": identifier(self._book),
            "DecodeParms": {"Predictor": 12, "Columns": table.columns},
            **_FLATE,
        }
        self._sink.write(stream(number.number, entries, table.data))
        self._sink.write(b"startxref\n%d\n%%%%EOF\n" % table_at)

    def __enter__(self) -> Writer:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None) -> None:
        self._sink.__exit__(kind, error, tb)


def _same_source(one: FaceSource, other: FaceSource) -> bool:
    return (one.path, dict(one.axes), one.index) == (other.path, dict(other.axes), other.index)
