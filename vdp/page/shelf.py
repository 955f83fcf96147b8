"""A run folder opened for looking: its pieces by place in the file, by number, row, serial, code and place on the web.

Lives here: finding a piece and reading its line.  Not here: pictures (`easel`), the recipients' names (`names`).

The manifest stays on disk and is mapped into memory; what is kept of a piece is where its line begins and a few whole
numbers, so that a run of 100,000 pieces opens in a second or two.
"""

from __future__ import annotations

import csv
import json
import mmap
import re
from array import array
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from vdp.errors import CallerError
from vdp.page.index import Index
from vdp.verify.doubt import Unreadable
from vdp.verify.manifest import PieceLine, RunReport, piece_of, read_report

PRIVATE, PUBLIC = "pieces.jsonl", "pieces.public.jsonl"
_REASON = re.compile(r"row (\d+): (.*)", re.DOTALL)


class Place(NamedTuple):
    """A place on the web, all from 1."""

    roll: int
    frame: int
    lane: int
    along: int


class Refused(NamedTuple):
    """A row that was set aside: its number, its reasons, its cells with their headers."""

    row: int
    reasons: tuple[str, ...]
    cells: tuple[tuple[str, str], ...]


class Shelf:
    """A run folder.  Pieces are told by `nth`, their 0-based place in pieces.pdf, or by the number they carry.

    Raises CallerError when the folder is not one of a run that composed pieces.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.report, self.told = _report(folder)
        private = folder / PRIVATE
        self.whole = private.is_file()
        self._path = private if self.whole else folder / PUBLIC
        self._begins, self.rows = array("Q"), array("Q")
        self._by_piece: dict[int, int] = {}
        self._by_place: dict[Place, int] = {}
        try:
            with self._path.open("rb") as file:
                self._map = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
            self._serials = Index(self._read())
        except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
            raise CallerError.one(
                str(self._path), f"is no list of pieces: {error}", "name the folder of a finished run"
            ) from error
        self._by_row = {row: nth for nth, row in enumerate(self.rows)}

    def _read(self) -> Iterator[tuple[int, str]]:
        """Every serial with the place of its piece, as the lines go by."""
        at = 0
        for line in iter(self._map.readline, b""):
            told = json.loads(line)
            nth = len(self._begins)
            self._begins.append(at)
            self.rows.append(told["row"])
            self._by_piece[told["piece"]] = nth
            place = told.get("place")
            if place:
                self._by_place[Place(place["roll"], place["frame"], place["lane"], place["along"])] = nth
            at += len(line)
            for serial in told["serials"].values():
                yield nth, "".join(serial.split())

    def __len__(self) -> int:
        return len(self._begins)

    @property
    def title(self) -> str:
        return str(self.told.get("job", self.folder.name))

    @property
    def plates(self) -> tuple[str, ...]:
        """The process plates, then the spots, in the order of the press."""
        return ("Cyan", "Magenta", "Yellow", "Black", *self.report.spots)

    @property
    def places(self) -> Mapping[Place, int]:
        """`nth` by place; empty for a run without sheets."""
        return self._by_place

    def line(self, nth: int) -> PieceLine:
        """A piece's line; where only the public list is left, its symbols' data is empty."""
        begin = self._begins[nth]
        value = json.loads(self._map[begin : self._map.find(b"\n", begin) + 1 or None])
        if not self.whole:
            value["symbols"] = [{**symbol, "data": ""} for symbol in value["symbols"]]
        return piece_of(value)

    def nth_of(self, piece: int) -> int | None:
        """Where the piece with that number stands in the file."""
        return self._by_piece.get(piece)

    def nth_of_row(self, row: int) -> int | None:
        """Where the piece of a row stands in the file."""
        return self._by_row.get(row)

    def with_serial(self, text: str, most: int) -> list[int]:
        """Pieces of which a serial is the text or has it in it, spaces and case left out, whole ones first."""
        asked = "".join(text.split())
        found = dict.fromkeys(nth for nth, _ in self._serials.whole(asked, most))
        found.update(dict.fromkeys(nth for nth, _ in self._serials.find(asked, most)))
        return list(found)[:most]

    def with_code(self, text: str, most: int) -> list[int]:
        """Pieces that carry a symbol with exactly that data; none where the data is gone."""
        if not self.whole or not text:
            return []
        held = self._holding(f'"data":"{_in_json(text)}"', most)
        return [nth for nth in held if any(symbol.data == text for symbol in self.line(nth).symbols)]

    def _holding(self, text: str, most: int) -> Iterator[int]:
        """Lines with these characters, each once, in order."""
        sought, at = text.encode("utf-8", "surrogatepass"), 0
        for _ in range(most):
            at = self._map.find(sought, at)
            if at < 0:
                return
            yield self._nth_at(at)
            at = self._map.find(b"\n", at)
            if at < 0:
                return

    def _nth_at(self, offset: int) -> int:
        low, high = 0, len(self._begins)
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if self._begins[middle] <= offset else (low, middle)
        return low

    def set_aside(self) -> list[Refused]:
        """The rows that were set aside, in order.  Empty where the file cannot be read: its finding says so."""
        found: list[Refused] = []
        try:
            with (self.folder / "set_aside.csv").open(encoding="utf-8", newline="") as file:
                reader = csv.reader(file)
                header = next(reader, [])
                for line in reader:
                    reason = _REASON.match(line[-1]) if line else None
                    if reason is not None:
                        values = tuple(zip(header[:-1], line[:-1], strict=False))
                        found.append(Refused(int(reason[1]), tuple(reason[2].split("; ")), values))
        except (OSError, ValueError, csv.Error):
            return []
        return found


def _report(folder: Path) -> tuple[RunReport, Mapping[str, Any]]:
    try:
        return read_report(folder / "report.json"), json.loads((folder / "report.json").read_bytes())
    except (Unreadable, OSError, ValueError) as doubt:
        raise CallerError.one(
            str(folder), f"is not the folder of a finished run: {doubt}", "make one with vdp run"
        ) from doubt


def _in_json(text: str) -> str:
    """As the manifest writes it."""
    return json.dumps(text, ensure_ascii=False)[1:-1]
