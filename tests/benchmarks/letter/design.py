"""What the letter says and where, read from its job and layout: for everyone who draws it by other means.

Places here are points from the page's lower left corner, y up.
"""

from __future__ import annotations

import csv
import itertools
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from ruamel.yaml import YAML

from vdp.numbering.series import Series
from vdp.units import parse_length

HOME = Path(__file__).parent
WIDTH, HEIGHT = 612, 792
#: Quiet zones in modules: ISO/IEC 18004 §9.1, ISO/IEC 15417 §4.4.2.
_QUIET = {"qr": (4, 4), "code128": (10, 0)}
#: Modules of a QR symbol of version 3, which holds up to 42 bytes at level M (ISO/IEC 18004 Table 7).
QR_VERSION, QR_SIDE = 3, 29


class Area(NamedTuple):
    x: float
    y: float
    width: float
    height: float

    @property
    def top(self) -> float:
        return self.y + self.height


class Type(NamedTuple):
    area: Area
    size: float
    leading: float

    @property
    def baseline(self) -> float:
        """Of the first line: one size below the area's top."""
        return self.area.top - self.size


class Code(NamedTuple):
    """The lower left corner of a symbol without its quiet zone; `height` of bars, or of the whole QR symbol."""

    x: float
    y: float
    module: float
    height: float


class Letter(NamedTuple):
    """One record as it is printed."""

    nth: int
    language: str
    serial: str
    picture: str
    paragraph: str
    microtext: tuple[str, str, str]
    hidden_text: str
    hidden_code: str
    address: list[str]
    code: str


@dataclass(frozen=True, slots=True)
class Design:
    """The letter's places; `letters` gives what stands in them."""

    picture: Area
    paragraph: Type
    serial_front: Type
    microtext: tuple[Type, Type, Type]
    hidden_text: Type
    hidden_code: Code
    address: Type
    bars: Code
    code: Code
    serial_back: Type
    wordings: Mapping[str, str]
    series: Series

    def letters(self, records: Path, count: int) -> Iterator[Letter]:
        """The first `count` records as printed, in the file's order."""
        wordings = self.wordings
        with records.open(encoding="utf-8", newline="") as file:
            for nth, row in enumerate(itertools.islice(csv.DictReader(file), count)):
                row["letter"] = self.series.text(nth)
                said = {name: text.format_map(row) for name, text in wordings.items() if not name.startswith("in:")}
                yield Letter(
                    nth,
                    row["language"],
                    row["letter"],
                    row["picture"],
                    wordings["in:" + row["language"]].format_map(row),
                    (said["micro-1"], said["micro-2"], said["micro-3"]),
                    said["hidden-text"],
                    said["hidden-code"],
                    said["address"].split("\n"),
                    said["code"],
                )


@lru_cache(maxsize=1)
def design() -> Design:
    """The design as the job and layout files have it."""
    job, layout = (YAML(typ="safe").load(HOME / name) for name in ("job.yaml", "layout.yaml"))
    items = {item["name"]: item for side in ("front", "back") for item in layout[side] if "name" in item}
    series = job["series"]["letter"]
    wordings = {f"in:{language}": _form(text) for language, text in items["paragraph"]["text"].items()}
    wordings |= {f"micro-{n}": (_form(items[f"micro-{n}"]["microtext"]) + " ") * 4 for n in (1, 2, 3)}
    wordings |= {name: _form(items[name]["data"]) for name in ("hidden-code", "code")}
    wordings |= {
        "hidden-text": _form(items["hidden-text"]["text"]),
        "address": _form(items["address"]["text"]["other"]),
    }
    return Design(
        picture=_area(items["picture"]),
        paragraph=_type(items["paragraph"]),
        serial_front=_type(items["serial-front"]),
        microtext=(_type(items["micro-1"]), _type(items["micro-2"]), _type(items["micro-3"])),
        hidden_text=_type(items["hidden-text"]),
        hidden_code=_code(items["hidden-code"]),
        address=_type(items["address"]),
        bars=_code(items["bars"]),
        code=_code(items["code"]),
        serial_back=_type(items["serial-back"]),
        wordings=wordings,
        series=Series(
            "letter", series["prefix"], series["start"], series["step"], series["width"], "", series["check"]
        ),
    )


def _form(template: str) -> str:
    """``{{ series.letter }}`` → ``{letter}``, as str.format wants it."""
    return re.sub(r"\{\{ (?:series\.)?(\w+) \}\}", r"{\1}", template)


def _area(item: Mapping[str, Any]) -> Area:
    x, y, width, height = (parse_length(part) for part in item["box"])
    return Area(x, HEIGHT - y - height, width, height)


def _type(item: Mapping[str, Any]) -> Type:
    size = parse_length(item["size"])
    return Type(_area(item), size, parse_length(item["leading"]) if "leading" in item else 1.2 * size)


def _code(item: Mapping[str, Any]) -> Code:
    across, along = _QUIET[item["barcode"]]
    left, top = (parse_length(part) for part in item["at"])
    module = parse_length(item["x"])
    height = parse_length(item["height"]) if "height" in item else QR_SIDE * module
    return Code(left + across * module, HEIGHT - top - along * module - height, module, height)
