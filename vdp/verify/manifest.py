"""report.json and pieces.jsonl as the verifier reads them: every field checked before it is believed.  Where the data
was removed, pieces.public.jsonl tells everything else.

Not here: what they should say.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from vdp.verify.doubt import Unreadable
from vdp.verify.grade.rules import Rules, rules_told
from vdp.verify.state import Area

LINES, PUBLIC = "pieces.jsonl", "pieces.public.jsonl"


class Face(NamedTuple):
    """A source font of the file: its face key, file name, pinned axes, place in a collection and SHA-256."""

    key: str
    file: str
    axes: Mapping[str, float]
    place: int
    sha256: str


class Strip(NamedTuple):
    """The strip along a symbol in which its text stands: below or above its bars as they are read, turned with them;
    `depth` in points."""

    above: bool
    turn: int
    depth: float

    def beside(self, box: Area) -> Area:
        """The strip of a symbol that fills a box."""
        x0, y0, x1, y1 = box
        match (self.turn + (180 if self.above else 0)) % 360:
            case 0:
                return (x0, y0 - self.depth, x1, y0)
            case 90:
                return (x1, y0, x1 + self.depth, y1)
            case 180:
                return (x0, y1, x1, y1 + self.depth)
            case _:
                return (x0 - self.depth, y0, x0, y1)


class RunReport(NamedTuple):
    """What report.json says that the verifier needs.  `faces` go by BaseFont without tag; `inputs` as written; `firsts`
    are the 0-based indexes of the run's first numbers by series; `sheets` is read by `sheetplan`; `reprinted` the
    pieces of a reprint, None for a whole run, and `replaced` whether a reprint's numbers are new ones; `grading` is how
    its symbols are graded; `accepted` are sizes in points, least and largest, of small type that may lose parts;
    `symbols` the X-dimension and the reduction of each symbol by name, in dots;
    `strips` are where the text of symbols stands, by their names."""

    records: int
    pieces: int
    set_aside: int
    resolution: int
    spots: tuple[str, ...]
    faces: Mapping[str, Face]
    inputs: Mapping[str, Any]
    files: Mapping[str, str]
    standard: str
    firsts: Mapping[str, int]
    sheets: Any = None
    reprinted: tuple[int, ...] | None = None
    replaced: bool = False
    grading: Rules = rules_told(None)
    accepted: tuple[tuple[float, float], ...] = ()
    symbols: Mapping[str, tuple[int, tuple[int, int]]] = MappingProxyType({})
    strips: Mapping[str, Strip] = MappingProxyType({})

    def nth(self, place: int, piece: int) -> int:
        """The 0-based place of a piece's number among the run's: `place` is the piece's 1-based one in the file."""
        return (place if self.reprinted is None or self.replaced else piece) - 1


class SymbolLine(NamedTuple):
    """A symbol as pieces.jsonl tells it; `box` in points from the page's lower left, quiet zone included.

    `light` is the layout's word that it reads light on dark; `module` its X-dimension in dots, 0 where that is not
    known, and `reduction` the dots by which dark stretches are narrower and lower.  Where the data was removed it is
    not `told`, and `data` is empty: whatever can be read there is taken for it."""

    name: str
    symbology: str
    identifier: str
    plate: str
    page: int
    box: Area
    data: str
    light: bool = False
    module: int = 0
    reduction: tuple[int, int] = (0, 0)
    told: bool = True


class PieceLine(NamedTuple):
    """A line of pieces.jsonl; `place` is roll, frame, lane and place along the frame, all from 1."""

    piece: int
    row: int
    language: str
    serials: Mapping[str, str]
    symbols: tuple[SymbolLine, ...]
    sha256: str
    place: tuple[int, int, int, int] | None = None


def read_report(path: Path) -> RunReport:
    """Raises Unreadable when the file is not a report."""
    try:
        value = json.loads(path.read_bytes())
        return RunReport(
            records=_count(value["records"]),
            pieces=_count(value["pieces"]),
            set_aside=_count(value["set_aside"]),
            resolution=_count(value["resolution"]),
            spots=tuple(_text(spot) for spot in value["spots"]),
            faces={_text(base): _face(face) for base, face in value["faces"].items()},
            inputs=dict(value["inputs"]),
            files={_text(name): _text(digest) for name, digest in value["files"].items()},
            standard=_text(value.get("standard", "")),
            firsts=_firsts(value.get("ledger")),
            sheets=value.get("sheets"),
            reprinted=_reprinted(value.get("reprint")),
            replaced=(value.get("reprint") or {}).get("numbers") == "replaced",
            grading=rules_told(value.get("grade")),
            strips=_strips(value.get("human_text")),
            accepted=tuple((float(low), float(high)) for low, high in value.get("losses_accepted", ())),
            symbols={_text(name): _dots(told) for name, told in value.get("symbols", {}).items()},
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise Unreadable(f"not a report: {type(error).__name__} {error}") from error


def _firsts(ledger: Any) -> dict[str, int]:
    """No ledger, no series."""
    return {} if ledger is None else {_text(name): _count(s["first"]) for name, s in ledger["series"].items()}


def _strips(value: Any) -> dict[str, Strip]:
    return {
        _text(name): Strip(told["above"] is True, _count(told["turn"]), float(told["depth"]))
        for name, told in (value or {}).items()
    }


def _reprinted(reprint: Any) -> tuple[int, ...] | None:
    return None if reprint is None else tuple(_count(piece) for piece in reprint["pieces"])


def _dots(told: Mapping[str, Any]) -> tuple[int, tuple[int, int]]:
    across, down = told["reduce_dots"]
    return _count(told["x_dots"]), (_count(across), _count(down))


def _face(value: Mapping[str, Any]) -> Face:
    axes = {_text(tag): float(place) for tag, place in value["axes"].items()}
    return Face(_text(value["face"]), _text(value["file"]), axes, int(value.get("index", 0)), _text(value["sha256"]))


def _count(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise ValueError(f"{value!r} is not a count")
    return value


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is not a text")
    return value


def read_pieces(path: Path) -> Iterator[PieceLine]:
    """The lines in order.  Raises Unreadable at the first that is not a piece."""
    try:
        with path.open("rb") as file:
            for number, line in enumerate(file, 1):
                try:
                    yield piece_of(json.loads(line), told=path.name != PUBLIC)
                except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
                    raise Unreadable(f"line {number} is not a piece: {type(error).__name__} {error}") from error
    except OSError as error:
        raise Unreadable(f"cannot be read: {error.strerror}") from error


def piece_of(value: Mapping[str, Any], *, told: bool = True) -> PieceLine:
    """A line of the manifest; one that is not `told` has hashes instead of data.  Raises what a value of another kind
    makes Python raise."""
    return PieceLine(
        piece=_count(value["piece"]),
        row=_count(value["row"]),
        language=_text(value["language"]),
        serials={_text(name): _text(text) for name, text in value["serials"].items()},
        symbols=tuple(symbol_of(symbol, told=told) for symbol in value["symbols"]),
        sha256=_text(value["sha256"]),
        place=_place(value["place"]),
    )


def _place(value: Any) -> tuple[int, int, int, int] | None:
    if value is None:
        return None
    return (_count(value["roll"]), _count(value["frame"]), _count(value["lane"]), _count(value["along"]))


def symbol_of(value: Mapping[str, Any], *, told: bool = True) -> SymbolLine:
    """A symbol of a line.  Raises what a value of another kind makes Python raise."""
    x0, y0, x1, y1 = (float(edge) for edge in value["box"])
    if not (-1e5 < x0 < x1 < 1e5 and -1e5 < y0 < y1 < 1e5):
        raise ValueError("a symbol's box is not a box")
    return SymbolLine(
        _text(value["name"]),
        _text(value["symbology"]),
        _text(value["identifier"]),
        _text(value["plate"]),
        _count(value["page"]),
        (x0, y0, x1, y1),
        _text(value["data"]) if told else "",
        told=told,
    )
