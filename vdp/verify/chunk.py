"""A run of pieces: pages rewritten, symbols read, text, serials and pictures compared, in that order.

Not here: what a process keeps between chunks (`examine`), what only the whole file can show (`judge`, `tally`).
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from vdp.errors import RowRefused
from vdp.job.series import varies
from vdp.verify import serials
from vdp.verify.against import Wanted
from vdp.verify.doubt import Unreadable
from vdp.verify.finelines import thin_lines
from vdp.verify.grade.scale import PREDICTION
from vdp.verify.grade.shown import shoot
from vdp.verify.grade.symbol import SymbolGrade, grade_symbol
from vdp.verify.grade.told import TITLES, lowest
from vdp.verify.held import OnSide, match_symbols
from vdp.verify.holes import has_hole
from vdp.verify.humantext import judge_text
from vdp.verify.manifest import PieceLine, SymbolLine
from vdp.verify.outcome import Found, Outcome, Stranger, Task
from vdp.verify.pages import digest, sheet_of
from vdp.verify.plates import PlateWriter
from vdp.verify.raster import Raster
from vdp.verify.serials import check_holds
from vdp.verify.shown import Run, runs, text_of
from vdp.verify.state import Area
from vdp.verify.symbols import Reader, copy_name
from vdp.verify.text import PageText
from vdp.verify.tree import Leaf, pages
from vdp.verify.view import PageView

if TYPE_CHECKING:
    from vdp.verify.examine import Examiner

SIDES = ("front", "back")
#: Points around symbols within which marks are kept in the copies.
_MARGIN = 3.0
#: Type in process inks that are all at least this strong looks black, and is not black.
_LOOKS_BLACK = 0.5
#: Dots by which an X-dimension measured on the unprinted plate may be off.
_OFF = 0.26


def read_page(writer: PlateWriter, leaf: Leaf) -> PageView:
    """A page of the tree, rewritten.  Raises Unreadable."""
    return writer.read(leaf.page, leaf.get("/Resources"), sheet_of(leaf).media)


class Chunk:
    """The work on one task."""

    def __init__(self, examiner: Examiner, task: Task) -> None:
        self.by, self.task, self.out = examiner, task, Outcome()
        self.writer = PlateWriter(examiner.pdf, examiner.report.spots, self._interest(), examiner.store)
        self.look: list[list[SymbolLine]] = []
        self.views: list[list[PageView | None]] = []
        self.modules: dict[str, int] = {}
        #: Piece and side of pages that show the piece's own serial.
        self.own: set[tuple[int, int]] = set()

    def _interest(self) -> list[Area]:
        """Where symbols are, one area for all of a name and side."""
        areas: dict[tuple[str, int], Area] = {}
        for piece in self.task.pieces:
            for symbol in piece.symbols:
                key = (symbol.name, symbol.page & 1)
                x0, y0, x1, y1 = symbol.box
                old = areas.get(key, symbol.box)
                areas[key] = (min(x0, old[0]), min(y0, old[1]), max(x1, old[2]), max(y1, old[3]))
        zones = [zone.area for zone in self.by.finish.glue] if self.by.finish is not None else []
        return zones + [(a[0] - _MARGIN, a[1] - _MARGIN, a[2] + _MARGIN, a[3] + _MARGIN) for a in areas.values()]

    def find(self, piece: int, side: int, code: str, message: str) -> None:
        page = 2 * (piece - 1) + side + 1 if side >= 0 else 0
        where = f"piece {piece}, {SIDES[side]} (page {page})" if side >= 0 else f"piece {piece}"
        self.out.found.append(Found(piece, side, code, where, message))

    def run(self) -> Outcome:
        first = 2 * self.task.first
        leaves = pages(self.by.pdf, first, first + 2 * len(self.task.pieces))
        for place, piece in enumerate(self.task.pieces):
            self._piece(place, piece, [next(leaves, None), next(leaves, None)])
        self._symbols()
        for spot, signatures in self.writer.shared.separations.items():
            if signatures:
                self.out.separations[spot] = dict.fromkeys(signatures, first + 1)
        self.out.glyphs, self.out.thinnest = self.by.small.looked_at(), self.by.small.thinnest
        return self.out

    # -- reading ------------------------------------------------------------------------------------------------------

    def _piece(self, place: int, piece: PieceLine, leaves: Sequence[Leaf | None]) -> None:
        number = self.task.first + place + 1
        views: list[PageView | None] = []
        for side, leaf in enumerate(leaves):
            views.append(self._view(number, side, leaf) if leaf is not None else None)
        self.views.append(views)
        front, back = views
        if front is not None and back is not None and digest(front.content, back.content) != piece.sha256:
            self.find(number, -1, "content-changed", "its content streams are not those that pieces.jsonl hashed")
        shown = [runs(view.seen.shows) if view is not None else [] for view in views]
        wanted = self._wanted(place, number)
        self._serials(number, piece, wanted, shown)
        if self.by.finish is not None and front is not None:
            for wrong in self.by.finish.counterfoils(piece, shown[0]):
                self.find(number, *wrong)
        look = [self._sized(symbol) for symbol in piece.symbols]
        if wanted is not None and self.by.holder is not None:
            look, found = match_symbols(piece, wanted, 2 * number - 1)
            found += self._held(number, wanted, shown, views)
            for side, code, message in found:
                self.find(number, side, code, message)
            if number in self.by.sample and wanted.lines:
                self._fine_lines(number, wanted, leaves)
        elif wanted is None:
            self._looks_black(number, shown)
        self._human_text(number, look, shown, views)
        self.look.append(look)
        self.out.expected += len(wanted.symbols) if wanted is not None else len(look)

    def _sized(self, symbol: SymbolLine) -> SymbolLine:
        """With the X-dimension that report.json tells."""
        module, reduction = self.by.report.symbols.get(symbol.name, (0, (0, 0)))
        return symbol._replace(module=module, reduction=reduction)

    def _human_text(
        self,
        number: int,
        look: Sequence[SymbolLine],
        shown: Sequence[list[Run]],
        views: Sequence[PageView | None],
    ) -> None:
        """What symbols say for people, where they must say anything."""
        told, due = self.by.report.strips, self.by.with_text
        for symbol in look:
            side = symbol.page - (2 * number - 1)
            if not symbol.told:
                continue
            if side in (0, 1) and views[side] is not None and (symbol.name in told or symbol.name in due):
                for message in judge_text(symbol, told.get(symbol.name), shown[side]):
                    self.find(number, side, "human-text-wrong", f"{symbol.name}: {message}")

    def _fine_lines(self, number: int, wanted: Wanted, leaves: Sequence[Leaf | None]) -> None:
        """Lines of a piece of the sample, on whole copies of its pages."""
        for side, leaf in enumerate(leaves):
            lines = [line for line in wanted.lines if line.side == side]
            if leaf is None or self.views[-1][side] is None or not lines:
                continue
            self.out.lines += len(lines)
            writer = PlateWriter(self.by.pdf, self.by.report.spots)
            try:
                view = read_page(writer, leaf)
                with Raster(writer.finish()) as raster:
                    for message in thin_lines(view, raster, lines, self.by.report.resolution):
                        self.find(number, side, "line-broken", message)
            except Unreadable as doubt:
                self.find(number, side, "cannot-judge", f"its fine lines: {doubt}")

    def _view(self, number: int, side: int, leaf: Leaf) -> PageView | None:
        self.out.pages += 1
        self.out.objects.append(leaf.page.objgen)
        try:
            sheet = sheet_of(leaf)
            self.out.sheets.setdefault(sheet, 2 * (number - 1) + side + 1)
            if not sheet.plain:
                self.find(number, side, "page-boxes", "the page is turned, scaled or cropped")
            view = read_page(self.writer, leaf)
            spots, knocked = self.by.report.spots, sorted(view.seen.knocked)
            holes = [plate for plate in knocked if has_hole(self.by.pdf, spots, leaf, plate)]
            broken = self.by.small.look(self.by.pdf, leaf, view, number, side)
        except Unreadable as doubt:
            self.find(number, side, "cannot-judge", str(doubt))
            return None
        for code, message in view.seen.faults:
            self.find(number, side, code, message)
        for message in broken:
            self.find(number, side, "type-broken", message)
        for plate in holes:
            self.find(number, side, "clear-covered", f"other marks knock a hole into {self.writer.plates.names[plate]}")
        return view

    def _wanted(self, place: int, number: int) -> Wanted | None:
        row, piece = self.task.rows[place], self.task.pieces[place]
        index = self.by.report.nth(number, piece.piece)
        if row is None or self.by.expectation is None:
            return None
        try:
            return self.by.expectation.wanted(row[1], row[0], index, piece.serials)
        except RowRefused as refused:
            self.find(number, -1, "cannot-judge", f"row {row[0]} cannot be set: {'; '.join(refused.reasons)}")
            return None

    def _held(
        self, number: int, wanted: Wanted, shown: Sequence[list[Run]], views: Sequence[PageView | None]
    ) -> list[OnSide]:
        holder = self.by.holder
        if holder is None:
            return []
        texts = [
            PageText(side, holder.shapers) if view is not None else None
            for side, view in zip(shown, views, strict=True)
        ]
        found = holder.text(wanted, texts) + holder.pictures(wanted, views)
        if any(code in ("text-missing", "image-wrong") for _, code, _ in found):
            self.out.unlike.append(number)
        for side, view in enumerate(views):
            if view is not None:
                forms = tuple(view.seen.forms)
                pages_ = self.out.art.setdefault((side, wanted.art[side]), {}).setdefault(forms, [])
                pages_.append(2 * (number - 1) + side + 1)
        return found

    def _serials(self, number: int, piece: PieceLine, wanted: Wanted | None, shown: Sequence[list[Run]]) -> None:
        """Serials on the pages against the manifest's, and the manifest's against the job's."""
        texts = [text_of(side) for side in shown]
        for name, serial in piece.serials.items():
            if any(serials.shows(text, serial) for text in texts):
                self.out.serials += 1
                continue
            pattern = self.by.patterns.get(name)
            others = [] if pattern is None else serials.strangers("\n".join(texts), pattern, piece.serials)
            if others:
                self.find(number, -1, "serial-wrong", f"{name}: it shows '{others[0]}', not '{serial}'")
            else:
                self.find(number, -1, "serial-missing", f"{name}: '{serial}' is nowhere on it")
        for side, text in enumerate(texts):
            foreign = [
                other
                for pattern in self.by.patterns.values()
                if serials.is_telling(pattern)
                for other in serials.strangers(text, pattern, piece.serials)
            ]
            own = any(serials.shows(text, serial) for serial in piece.serials.values())
            if own:
                self.own.add((number, side))
            if foreign:
                self.out.strangers.append(Stranger(number, side, {}, tuple(dict.fromkeys(foreign)), own))
            if foreign and wanted is None:
                self.find(
                    number, side, "serial-wrong", f"it shows '{foreign[0]}', which is none of the piece's serials"
                )
        if self.by.expectation is None or wanted is None:
            return
        for name, series in self.by.expectation.job.model.series.items():
            serial, due = piece.serials.get(name, ""), wanted.serials[name]
            if serial == due:
                continue
            wrong = varies(series.prefix) or varies(series.suffix) or check_holds(series, serial)
            message = f"{name}: the manifest has '{serial}', " + (
                f"the series gives '{due}'" if due else "which has not the form and check characters of the series"
            )
            self.find(number, -1, "serial-wrong" if wrong and due else "serial-check", message)

    def _looks_black(self, number: int, shown: Sequence[list[Run]]) -> None:
        """Without the layout, type that is strong in three colours is taken for black built of colours."""
        for side, side_runs in enumerate(shown):
            for run in side_runs:
                ours = run.font.base in self.by.report.faces
                if ours and run.space.kind == "cmyk" and min(run.colour[:3]) >= _LOOKS_BLACK:
                    inks = " ".join(f"{part:g}" for part in run.colour)
                    self.find(number, side, "black-in-colour", f"'{run.text[:40]}' is printed in {inks}")
                    break

    # -- rendering ----------------------------------------------------------------------------------------------------

    def _symbols(self) -> None:
        with Raster(self.writer.finish()) as raster:
            for place, (look, views) in enumerate(zip(self.look, self.views, strict=True)):
                self._read_symbols(self.task.first + place + 1, look, views, raster)
                if self.by.finish is not None:
                    for wrong in self.by.finish.bare(views, raster):
                        self.find(self.task.first + place + 1, *wrong)
                raster.forget()

    def _read_symbols(
        self, number: int, look: Sequence[SymbolLine], views: Sequence[PageView | None], raster: Raster
    ) -> None:
        said: dict[int, dict[str, str]] = {}
        right: dict[int, list[str]] = {}
        for symbol in look:
            side = symbol.page - (2 * number - 1)
            if side not in (0, 1):
                message = f"{symbol.name}: page {symbol.page} is not one of the piece's pages"
                self.find(number, -1, "symbol-moved", message)
                continue
            view = views[side]
            if view is None:
                continue
            chance = random.Random(f"{self.by.seed}:{number}:{symbol.name}")  # noqa: S311  offsets, not secrets
            try:
                judged = self._reader(raster, view, chance).judge(symbol)
            except Unreadable as doubt:
                self.find(number, side, "cannot-judge", f"{symbol.name}: {doubt}")
                continue
            if not symbol.told:
                self._learned(number, side, symbol.name, judged.data)
            self.out.decoded += judged.read
            if judged.read:
                if symbol.told:
                    right.setdefault(side, []).append(symbol.data)
                if number in self.by.sample and not judged.faults:
                    self._grade(number, side, symbol._replace(data=judged.data), raster, view)
            if judged.said is not None:
                said.setdefault(side, {})[symbol.name] = judged.said
            for code, message in judged.faults:
                self.find(number, side, code, f"{symbol.name}: {message}")
        self._evidence(number, said, right)

    def _evidence(self, number: int, said: Mapping[int, Mapping[str, str]], right: Mapping[int, list[str]]) -> None:
        """Notes of each side of a piece what its symbols say that they should not, and what on it is its own."""
        for side, texts in said.items():
            self.out.strangers.append(Stranger(number, side, texts, (), own=(number, side) in self.own))
        if not any(stranger.piece == number for stranger in self.out.strangers):
            return
        for side in (0, 1):
            shows, says = (number, side) in self.own, tuple(right.get(side, ()))
            if shows or says:
                self.out.strangers.append(Stranger(number, side, {}, (), shows, says))

    def _learned(self, number: int, side: int, name: str, data: str) -> None:
        """Where data was removed, a code may say anything but another piece's serial."""
        piece = self.task.pieces[number - self.task.first - 1]
        for pattern in filter(serials.is_telling, self.by.patterns.values()):
            for other in serials.strangers(data, pattern, piece.serials):
                self.find(number, side, "serial-wrong", f"{name}: it reads '{other}', none of the piece's serials")

    def _reader(self, raster: Raster, view: PageView, chance: random.Random) -> Reader:
        return Reader(raster, view, chance, self.modules, self.by.elsewhere, self.by.report.resolution)

    def _grade(self, number: int, side: int, symbol: SymbolLine, raster: Raster, view: PageView) -> None:
        """Prints the symbol by simulation and grades it; the chunk's lowest keeps its pictures."""
        rules, copy = self.by.grading, view.copies[copy_name(symbol.plate)]
        if copy is None:
            return
        pixels = raster.region(copy, symbol.box, self.by.report.resolution)
        found = grade_symbol(pixels, symbol.symbology, symbol.data, rules.press, rules.chance(number, symbol.name))
        grade, by = found.graded, found.graded.worst
        graded = SymbolGrade(
            number,
            symbol.name,
            symbol.symbology,
            symbol.plate,
            found.module,
            grade.grade,
            by,
            grade.grades,
            grade.values,
            found.only_decoded,
        )
        if symbol.module and found.module and abs(found.module - symbol.module) > _OFF:
            message = f"{symbol.name}: an X-dimension of {found.module:g} dots, not {symbol.module}"
            self.find(number, side, "symbol-size", message)
        self.out.graded = [*lowest((*self.out.graded, graded))]
        if self.out.shot is None or graded.order < self.out.shot.graded.order:
            self.out.shot = shoot(graded, found.printed)
        if rules.least is not None and graded.grade < rules.least:
            message = f"{symbol.name}: graded {graded.grade:.1f} by {TITLES[by]}, the job asks for {rules.least:.1f}"
            self.find(number, side, "symbol-grade", f"{message}: {PREDICTION}")
