"""The list of pieces: one canonical JSON line a piece (pieces.jsonl), written as pieces are made and read back whole.

Not here: what a piece looks like, and any judgement of it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from vdp.errors import CallerError

_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode
#: A text as JSON has it.
_text = json.encoder.encode_basestring


class SymbolLine(NamedTuple):
    """A symbol as the manifest tells it: `page` 1-based in pieces.pdf, `box` in points with the quiet zone."""

    name: str
    symbology: str
    identifier: str
    plate: str
    page: int
    box: tuple[float, float, float, float]
    data: str


#: The same as a bare tuple, for whoever writes many.
SymbolTold = tuple[str, str, str, str, int, tuple[float, float, float, float], str]


def piece_line(
    piece: int,
    row: int,
    language: str,
    serials: Mapping[str, str],
    symbols: Iterable[SymbolTold],
    sha256: str,
    place: Mapping[str, int] | None = None,
) -> bytes:
    """One line, newline included: keys in contract order, UTF-8, no spaces that carry nothing.

    `piece` and `row` are 1-based.  `place` is null for a run without sheets.
    """
    told = ",".join([f"{_text(name)}:{_text(serial)}" for name, serial in serials.items()])
    listed: list[str] = []
    for name, symbology, identifier, plate, page, box, data in symbols:
        head, middle = _around(name, symbology, identifier, plate, box)
        listed.append(f"{head}{page}{middle}{_text(data)}}}")
    where = "null" if place is None else _encode(dict(place))
    return (
        f'{{"piece":{piece},"row":{row},"language":{_text(language)},"serials":{{{told}}},"symbols":[{",".join(listed)}],'
        f'"place":{where},"sha256":"{sha256}"}}\n'
    ).encode()


# A line is put together from what comes again on every piece: json would take three times as long for the same bytes.


@lru_cache(maxsize=1024)
def _around(
    name: str, symbology: str, identifier: str, plate: str, box: tuple[float, float, float, float]
) -> tuple[str, str]:
    """A symbol up to its page, and from there to its data."""
    head = _encode({"name": name, "symbology": symbology, "identifier": identifier, "plate": plate})
    return f'{head[:-1]},"page":', f',"box":{_encode(box)},"data":'


def read_lines(path: Path) -> Iterator[dict[str, Any]]:
    """The lines of a manifest, one at a time.  Raises CallerError naming the line that is not JSON."""
    with path.open("rb") as file:
        for number, line in enumerate(file, 1):
            try:
                value = json.loads(line)
            except ValueError as error:
                raise CallerError.one(f"{path.name}, line {number}", f"not JSON: {error}") from error
            if not isinstance(value, dict):
                raise CallerError.one(f"{path.name}, line {number}", "not a JSON object")
            yield value
