"""What a reader must report for the data a layout gives, worked out apart from the encoders.

Lives here: check digits that a symbology adds, GS1 element strings with their separators or as Digital Links, UPC as
a GTIN-13.
Not here: decoding (`decode`).
"""

from __future__ import annotations

import re
from urllib.parse import quote

from vdp import checkdigit
from vdp.errors import RowRefused
from vdp.job.items import BarcodeItem

_GS = "\x1d"
#: First two digits of application identifiers whose elements have a predefined length, so that no separator follows
#: them (GS1 General Specifications, figure 7.8.5-2).
_PREDEFINED = frozenset(
    [*("00", "01", "02", "03", "04"), *(f"{n}" for n in range(11, 21)), *(f"{n}" for n in range(31, 37)), "41"]
)
#: A bracket within a value is written \(.
_ELEMENT = re.compile(r"\((\d{2,4})\)((?:[^(\\]|\\\()*)")
#: UPC-E by its last digit: how the six digits spread into a UPC-A (GS1 General Specifications, figure 5.2.2.4.2-1).
_SPREAD = {
    **{n: (2, str(n) + "0000", 2) for n in (0, 1, 2)},
    3: (3, "00000", 3),
    4: (4, "00000", 4),
    **{n: (5, "0000" + str(n), 5) for n in (5, 6, 7, 8, 9)},
}

#: Primary keys of Digital Links with their qualifiers in order; (235) stands only where the others of (01) do not (GS1
#: Barcode Syntax Dictionary).
_QUALIFIERS = {
    **dict.fromkeys(("00", "253", "255", "401", "402", "417", "8003", "8004"), ""),
    "01": "22 10 21 235",
    "414": "254",
    "415": "8020",
    "8006": "22 10 21",
    "8010": "8011",
    "8017": "8019",
    "8018": "8019",
}

_IDENTIFIERS = {
    "code128": "]C0",
    "gs1-128": "]C1",
    "s10": "]C0",
    "code39": "]A0",
    "itf": "]I0",
    "itf14": "]I1",
    "ean13": "]E0",
    "ean8": "]E4",
    "upca": "]E0",
    "upce": "]E0",
    "qr": "]Q1",
    "gs1-qr": "]Q3",
    "micro-qr": "]Q1",
    "datamatrix": "]d1",
    "gs1-datamatrix": "]d2",
    "pdf417": "]L2",
    "aztec": "]z0",
}
#: Where a check character is optional, a reader that finds one that fits says so.
_CHECKED = {"code39": ("code39_mod43", "]A1"), "itf": ("gs1", "]I1")}


def carried(item: BarcodeItem, text: str) -> str:
    """Raises RowRefused when the text is none that the symbology takes."""
    kind = item.barcode
    if item.link is not None:
        return _link(text, item.link.removesuffix("/"))
    if kind.startswith("gs1-"):
        return _elements(text)
    if kind == "code39" and item.check:
        return text + checkdigit.check("code39_mod43", text)
    if kind == "s10":
        return _s10(text)
    lengths = {"ean13": 13, "ean8": 8, "upca": 12, "itf14": 14}
    if kind in lengths:
        whole = _whole(text, lengths[kind])
        return "0" + whole if kind == "upca" else whole
    return "0" + _upca(text) if kind == "upce" else text


def identifier(kind: str, data: str) -> str:
    """The symbology identifier (ISO/IEC 15424) that a reader reports with `data`; "" for four-state codes."""
    checked = _CHECKED.get(kind)
    if checked is not None and checkdigit.valid(checked[0], data):
        return checked[1]
    return _IDENTIFIERS.get(kind, "")


def _whole(text: str, length: int) -> str:
    """With its check digit (GS1 General Specifications, 7.9.1)."""
    digits = text if len(text) == length else text + checkdigit.check("gs1", text)
    if len(digits) != length or not digits.isdecimal() or not checkdigit.valid("gs1", digits):
        raise RowRefused((f"'{text}' is not {length} digits with a right check digit",))
    return digits


def _upca(text: str) -> str:
    """Number system, six digits, check → twelve digits."""
    body = text[1:7]
    if not text.isdecimal() or len(text) not in (7, 8):
        raise RowRefused((f"'{text}' is not seven or eight digits",))
    head, middle, cut = _SPREAD[int(body[5])]
    return _whole(text[0] + body[:head] + middle + body[cut:5], 12)


def _s10(text: str) -> str:
    """Service, eight digits, check digit, country (UPU S10)."""
    text = text.replace(" ", "")
    if len(text) == 13:
        return text
    return text[:10] + checkdigit.check("upu_s10", text[2:10]) + text[10:]


def _pairs(text: str) -> list[tuple[str, str]]:
    """Application identifiers and values of an element string in brackets."""
    found = _ELEMENT.findall(text)
    if not found or "".join(f"({key}){value}" for key, value in found) != text:
        raise RowRefused((f"'{text}' is no GS1 element string in brackets",))
    return [(key, value.replace("\\(", "(")) for key, value in found]


def _elements(text: str) -> str:
    """The data of an element string: a separator after every element without a predefined length, but for the last."""
    found, parts = _pairs(text), []
    for at, (key, value) in enumerate(found):
        last = at == len(found) - 1
        parts.append(key + value + ("" if last or key[:2] in _PREDEFINED else _GS))
    return "".join(parts)


def _link(text: str, stem: str) -> str:
    """The Digital Link: the first primary key, its qualifiers in their order, the rest as a query (GS1 Digital Link
    Standard: URI Syntax, 4)."""
    values = dict(_pairs(text))
    key = next((name for name in values if name in _QUALIFIERS), None)
    if key is None:
        raise RowRefused((f"'{text}' has no primary key of a Digital Link",))
    path = [key, *(name for name in _QUALIFIERS[key].split() if name in values)]
    written = "".join(f"/{name}/{quote(values[name], safe='')}" for name in path)
    query = "&".join(f"{name}={quote(value, safe='')}" for name, value in values.items() if name not in path)
    return stem + written + (f"?{query}" if query else "")
