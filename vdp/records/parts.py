"""The parts of an XLSX package: a zip of XML files, taken as hostile.

Lives here: opening the package within size limits, parsing XML without DTDs, following names to the sheet, its
shared strings and its number formats.  Not here: cells and rows (`workbook`, `cells`).
Source: ECMA-376 part 1 (SpreadsheetML) and part 2 (packages).
"""

from __future__ import annotations

import io
import posixpath
import zipfile
import zlib
from collections.abc import Callable, Iterator
from xml.parsers import expat

from vdp.errors import CallerError
from vdp.records.cells import BUILT_IN
from vdp.records.faults import did_you_mean, quote

MEGABYTE = 1_048_576
SHEET_LIMIT = 1024 * MEGABYTE
STRINGS_LIMIT = 256 * MEGABYTE
SMALL_LIMIT = 16 * MEGABYTE
"""Unpacked bytes of the sheet (streamed), of the shared strings (kept in memory), of every other part."""
TOKEN_LIMIT = 8 * MEGABYTE
"""Bytes of one XML tag: the parser holds a tag in memory until it ends."""

_PIECE = 65_536
_RESAVE = "open the workbook in a spreadsheet program and save it again, or save the sheet as CSV"

Start = Callable[[str, dict[str, str]], None]
End = Callable[[str], None]
Text = Callable[[str], None]


class Package:
    """An open XLSX file.  Every method raises CallerError naming the file as `shown`."""

    def __init__(self, handle: io.BufferedReader, shown: str) -> None:
        self.shown = shown
        try:
            self._zip = zipfile.ZipFile(handle)
        except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
            raise self.damaged(str(error)) from error
        self._names = {name.casefold(): name for name in self._zip.namelist()}

    def damaged(self, why: str) -> CallerError:
        return CallerError.one(self.shown, f"the workbook cannot be read: {why}", _RESAVE)

    def parse(
        self, part: str, limit: int, start: Start, end: End | None = None, text: Text | None = None
    ) -> Iterator[None]:
        """Run the handlers over a part, yielding after every piece; element names come without the root's prefix."""
        parser = expat.ParserCreate()
        parser.buffer_text = True

        def root(name: str, attributes: dict[str, str]) -> None:
            # Most parts use no prefix, and then the handlers are called without a detour.
            prefix = name.rpartition(":")[0]
            parser.StartElementHandler, parser.EndElementHandler = start, end
            if prefix:
                parser.StartElementHandler = lambda name, attributes: start(name.removeprefix(f"{prefix}:"), attributes)
                parser.EndElementHandler = end and (lambda name: end(name.removeprefix(f"{prefix}:")))
            parser.StartElementHandler(name, attributes)

        def refuse_dtd(*_: object) -> None:
            raise self.damaged(f"{part} declares a DTD")

        parser.StartElementHandler = root
        parser.CharacterDataHandler = text
        parser.StartDoctypeDeclHandler = refuse_dtd
        fed = 0
        try:
            for piece in self._pieces(part, limit):
                parser.Parse(piece, False)
                fed += len(piece)
                if fed - parser.CurrentByteIndex > TOKEN_LIMIT:
                    raise self.damaged(f"{part} has a tag of more than {TOKEN_LIMIT:,} bytes")
                yield
            parser.Parse(b"", True)
        except (expat.ExpatError, LookupError, ValueError) as error:
            # The latter two: the part names an encoding that XML readers need not know.
            raise self.damaged(f"{part}: {error}") from error
        yield

    def has(self, part: str) -> bool:
        return part.casefold() in self._names

    def _pieces(self, part: str, limit: int) -> Iterator[bytes]:
        name = self._names.get(part.casefold())
        if name is None:
            raise self.damaged(f"it lacks its part {part}" if part else "it is no XLSX workbook")
        size = self._zip.getinfo(name).file_size
        if size > limit:
            raise self.damaged(f"{part} unpacks to {size:,} bytes, more than the {limit:,} that are read")
        try:
            with self._zip.open(name) as stream:
                while piece := stream.read(_PIECE):
                    yield piece
        except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, OSError) as error:
            # RuntimeError: the part is encrypted, or packed in a way that nothing here knows.
            raise self.damaged(f"{part}: {error}") from error

    def _elements(self, part: str) -> list[tuple[str, dict[str, str]]]:
        found: list[tuple[str, dict[str, str]]] = []
        for _ in self.parse(part, SMALL_LIMIT, lambda name, attributes: found.append((name, attributes))):
            pass
        return found

    def relations(self, part: str) -> dict[str, tuple[str, str]]:
        """By id: (last word of the relation's type, name of the part it leads to)."""
        folder, name = posixpath.split(part)
        found = {}
        rels = posixpath.join(folder, "_rels", f"{name}.rels")
        for element, attributes in self._elements(rels) if self.has(rels) else ():
            if element == "Relationship" and attributes.get("TargetMode") != "External":
                target = posixpath.normpath(posixpath.join("/", folder, attributes.get("Target", "")))
                kind = attributes.get("Type", "").rpartition("/")[2]
                found[attributes.get("Id", "")] = (kind, target.lstrip("/"))
        return found

    def find_sheet(self, wanted: str | None) -> tuple[str, str, str, bool]:
        """Of the sheet `wanted`, or the only one: workbook part, sheet part, name, whether dates count from 1904."""
        main = next((part for kind, part in self.relations("").values() if kind == "officeDocument"), "")
        relations = self.relations(main)
        sheets: dict[str, str] = {}
        epoch_1904 = False
        for element, attributes in self._elements(main):
            if element == "workbookPr":
                epoch_1904 = attributes.get("date1904", "0") in {"1", "true"}
            elif element == "sheet":
                ids = [value for key, value in attributes.items() if key.rpartition(":")[2] == "id"]
                kind, part = relations.get(ids[0] if ids else "", ("", ""))
                if kind == "worksheet":
                    sheets[attributes.get("name", "")] = part
        names = ", ".join(quote(name) for name in sheets)
        if wanted is not None and wanted not in sheets:
            mend = did_you_mean(wanted, sheets) or "correct the job's records.sheet"
            raise CallerError.one(self.shown, f"no sheet is called {quote(wanted)}; there are: {names or 'none'}", mend)
        if wanted is None and len(sheets) != 1:
            message = f"the workbook has {len(sheets)} sheets: {names}" if sheets else "the workbook has no sheet"
            raise CallerError.one(self.shown, message, "say which in the job's records.sheet")
        name = wanted if wanted is not None else next(iter(sheets))
        return main, sheets[name], name, epoch_1904

    def strings(self, main: str) -> list[str]:
        """The shared strings in order: runs joined, phonetic readings left out, escapes kept."""
        part = next((part for kind, part in self.relations(main).values() if kind == "sharedStrings"), None)
        found: list[str] = []
        runs: list[str] = []
        state = {"on": False, "phonetic": False}

        def start(name: str, _: dict[str, str]) -> None:
            if name == "si":
                runs.clear()
            elif name == "rPh":
                state["phonetic"] = True
            elif name == "t":
                state["on"] = not state["phonetic"]

        def end(name: str) -> None:
            if name == "si":
                found.append("".join(runs))
            elif name == "rPh":
                state["phonetic"] = False
            elif name == "t":
                state["on"] = False

        def text(piece: str) -> None:
            if state["on"]:
                runs.append(piece)

        for _ in self.parse(part, STRINGS_LIMIT, start, end, text) if part else ():
            pass
        return found

    def formats(self, main: str) -> list[str]:
        """The number format code of every cell style, by the style's index."""
        part = next((part for kind, part in self.relations(main).values() if kind == "styles"), None)
        codes = {str(number): code for number, code in BUILT_IN.items()}
        found: list[str] = []
        inside = ""
        for element, attributes in self._elements(part) if part else ():
            if element in {"numFmts", "cellXfs", "cellStyleXfs", "dxfs", "cellStyles"}:
                inside = element
            elif element == "numFmt" and inside == "numFmts":
                codes[attributes.get("numFmtId", "")] = attributes.get("formatCode", "General")
            elif element == "xf" and inside == "cellXfs":
                found.append(codes.get(attributes.get("numFmtId", "0"), "General"))
        return found or ["General"]
