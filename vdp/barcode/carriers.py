"""One way to use every symbology: what a text needs, how large that is, the symbols of a batch, and what is read back.

Lives here: the choice of encoder by name.  Not here: the encoders, sizes in millimetres (`sizes`), quiet zones
(`symbology`).

A *need* is one whole number that fixes a symbol's size for a job: modules (units of two-width codes) of a linear code,
version of a QR or Micro QR Code, modules a side of a Data Matrix or Aztec Code, place in `datamatrix.RECTANGLES`, rows
of a PDF417, bars of a four-state code.  Of several payloads the largest need fits all.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from vdp.barcode import (
    aztec,
    code39,
    code128,
    datamatrix,
    digital_link,
    ean,
    gs1,
    imb,
    itf,
    micro_qr,
    pdf417,
    qr,
    qr_segments,
    rm4scc,
    s10,
)
from vdp.barcode.symbology import KNOWN
from vdp.errors import OurBug, RowRefused
from vdp.marks import Bars, Matrix, States

Shape = Bars | Matrix | States


class Form(NamedTuple):
    """What a layout may ask of a symbol; each symbology looks at what concerns it.

    `level`: error correction of QR (L M Q H) and Micro QR ("" L M Q); `security`: PDF417's 0 … 8, and its `columns`;
    `ratio` of Code 39 and Interleaved 2 of 5; `check`: add Code 39's check character; `rectangle`: of Data Matrix.
    `densest`: a QR Code in whatever segments take the fewest bits, Kanji mode among them, where its size need not be
    foreseen.  `link`: the text is a GS1 element string, carried as a Digital Link under that address.
    """

    level: str = "M"
    security: int = 2
    columns: int = 4
    ratio: float = 3.0
    check: bool = False
    rectangle: bool = False
    densest: bool = False
    link: str = ""


PLAIN = Form()

FOUR_STATE = ("imb", "rm4scc", "kix")
NAMES = (*KNOWN, *FOUR_STATE)

_BARS: Mapping[str, Callable[[str, Form], Bars]] = {
    "code128": lambda text, _: code128.encode(text),
    "gs1_128": lambda text, _: code128.encode(gs1.parse(text)),
    "s10": lambda text, _: code128.encode(s10.identifier(text)),
    "code39": lambda text, form: code39.encode(text, form.ratio, form.check),
    "itf": lambda text, form: itf.encode(text, form.ratio),
    "itf14": lambda text, form: itf.itf14(text, form.ratio),
    "ean13": lambda text, _: ean.ean13(text),
    "ean8": lambda text, _: ean.ean8(text),
    "upca": lambda text, _: ean.upca(text),
    "upce": lambda text, _: ean.upce(text),
}
_STATES: Mapping[str, Callable[[str], States]] = {"imb": imb.encode, "rm4scc": rm4scc.encode, "kix": rm4scc.kix}
_DATA: Mapping[str, Callable[[str, Form], str]] = {
    "s10": lambda text, _: s10.identifier(text),
    "code39": lambda text, form: code39.carried(text, form.check),
    "itf14": lambda text, _: ean.whole(text, 14, "ITF-14"),
    "ean13": lambda text, _: ean.whole(text, 13, "EAN-13"),
    "ean8": lambda text, _: ean.whole(text, 8, "EAN-8"),
    "upca": lambda text, _: "0" + ean.whole(text, 12, "UPC-A"),
    "upce": lambda text, _: "0" + ean.expanded(ean.upce_digits(text)),
}


def _side(payload: str | gs1.ElementString, form: Form) -> int:
    if form.rectangle:
        return datamatrix.RECTANGLES.index(datamatrix.rectangle_needed(payload))
    return datamatrix.size_needed(payload)


_MATRIX_NEEDS: Mapping[str, Callable[[str, Form], int]] = {
    "qr": lambda text, form: (qr_segments if form.densest else qr).version_needed(text, form.level),
    "gs1_qr": lambda text, form: qr_segments.version_needed(gs1.parse(text), form.level),
    "micro_qr": lambda text, form: int(micro_qr.version_needed(text, form.level)[1]),
    "datamatrix": _side,
    "gs1_datamatrix": lambda text, form: _side(gs1.parse(text), form),
    "pdf417": lambda text, form: pdf417.rows_needed(text, form.columns, form.security),
    "aztec": lambda text, _: aztec.size_needed(text),
}


def need(symbology: str, text: str, form: Form = PLAIN) -> int:
    """What `text` needs.  GS1 symbologies take element strings in bracket form.

    Raises RowRefused when the symbology cannot hold it, OurBug when `symbology` is not in NAMES.
    """
    if form.link:
        text = written(text, form)
    if symbology == "code128":
        return code128.extent(text)
    if symbology in _BARS:
        return sum(_BARS[symbology](text, form).widths)
    if symbology in _STATES:
        return len(_STATES[symbology](text).bars)
    if symbology in _MATRIX_NEEDS:
        return _MATRIX_NEEDS[symbology](text, form)
    raise OurBug(f"no symbology is called '{symbology}'")


def need_of(shape: Shape) -> int:
    """What a linear or four-state symbol needed; 0 for others, which may be larger than their text needs."""
    if isinstance(shape, Bars):
        return sum(shape.widths)
    return len(shape.bars) if isinstance(shape, States) else 0


def figures_alike(symbology: str, form: Form) -> bool:
    """Whether texts that differ in their figures (0 to 9) alone have one need, and are taken or refused together: no
    check digit is among them, and what carries them goes by kinds of characters."""
    return symbology in ("code128", "qr") and not form.densest and not form.link


def needing(symbology: str, form: Form) -> Callable[[str], int]:
    """What tells the `need` of one text after another."""
    if symbology == "qr" and not form.densest and not form.link:
        level = form.level
        return lambda text: qr.version_needed(text, level)
    return lambda text: need(symbology, text, form)


def written(text: str, form: Form) -> str:
    """What is carried where `form.link` asks for a Digital Link.  Raises RowRefused."""
    return digital_link.build(gs1.parse(text), form.link) if form.link else text


def extent(symbology: str, needed: int, form: Form = PLAIN) -> tuple[int, int]:
    """Width and height in modules without quiet zone; the height of a linear code is 0.

    Raises OurBug for four-state codes, whose size is `sizes.StateDots`.
    """
    if symbology in _BARS:
        return needed, 0
    if symbology in ("qr", "gs1_qr"):
        return 17 + 4 * needed, 17 + 4 * needed
    if symbology == "micro_qr":
        return 9 + 2 * needed, 9 + 2 * needed
    if symbology in ("datamatrix", "gs1_datamatrix") and form.rectangle:
        rows, columns = datamatrix.RECTANGLES[needed]
        return columns, rows
    if symbology == "pdf417":
        return pdf417.extent(form.columns), pdf417.ROW * needed
    if symbology in ("datamatrix", "gs1_datamatrix", "aztec"):
        return needed, needed
    raise OurBug(f"the size of {symbology} is not told in modules")


def read_back(symbology: str, text: str, form: Form = PLAIN) -> str:
    """The text that a reader reports: with the check digit that was added, GS1 data with separators, UPC as a GTIN-13.

    Raises RowRefused for a text the symbology cannot hold.
    """
    if symbology.startswith("gs1_"):
        return gs1.parse(text).data()
    if form.link:
        return written(text, form)
    return _DATA[symbology](text, form) if symbology in _DATA else text


def plainly_told(symbology: str, form: Form) -> str | None:
    """The identifier of every symbol where readers report each text as it was given; None where that depends on it."""
    if form.link or symbology.startswith("gs1_") or symbology in _DATA:
        return None
    if symbology in FOUR_STATE:
        return ""
    return None if KNOWN[symbology].checked else KNOWN[symbology].modifier


def identifier(symbology: str, text: str, form: Form = PLAIN) -> str:
    """The ISO/IEC 15424 identifier that a reader reports with it; "" for four-state codes, which have none."""
    return identifier_of(symbology, read_back(symbology, text, form))


def identifier_of(symbology: str, told: str) -> str:
    """The same from what `read_back` gave."""
    return "" if symbology in FOUR_STATE else KNOWN[symbology].identifier(told)


class Encoder:
    """Symbols of one symbology and form, all of one size.  One thread at a time."""

    def __init__(self, symbology: str, needed: int, form: Form = PLAIN) -> None:
        if symbology not in NAMES:
            raise OurBug(f"no symbology is called '{symbology}'")
        self._symbology = symbology
        self._needed = needed
        self._form = form
        self._qr = qr.Qr(needed, form.level) if symbology in ("qr", "gs1_qr") else None

    def encode(self, texts: Sequence[str]) -> list[Shape]:
        """The symbols of `texts`, in order.  Raises RowRefused for one that the size does not hold."""
        if self._form.link:
            texts = [written(text, self._form) for text in texts]
        if self._symbology == "code128":
            found = code128.encode_many(texts)
            return [self._within(need_of(bars), "modules", bars) for bars in found]
        if self._qr is None:
            return [self._one(text) for text in texts]
        gs1_data = self._symbology == "gs1_qr"
        if not gs1_data and not self._form.densest:
            return [*self._qr.encode(texts)]
        level = self._form.level
        payloads = [gs1.parse(text) if gs1_data else text for text in texts]
        streams = [qr_segments.encode(payload, self._needed, level) for payload in payloads]
        return [matrix for matrix, _ in self._qr.encode_codewords(streams)]

    def _one(self, text: str) -> Shape:
        symbology, form = self._symbology, self._form
        if symbology in _BARS:
            return self._within(sum((bars := _BARS[symbology](text, form)).widths), "modules", bars)
        if symbology in _STATES:
            return self._within(len((states := _STATES[symbology](text)).bars), "bars", states)
        if symbology == "micro_qr":
            return micro_qr.encode(text, f"M{self._needed}", form.level)
        if symbology == "pdf417":
            return pdf417.encode(text, form.columns, form.security, self._needed)
        if symbology == "aztec":
            return aztec.encode(text, self._needed)
        payload = gs1.parse(text) if symbology == "gs1_datamatrix" else text
        return datamatrix.encode(payload, datamatrix.RECTANGLES[self._needed] if form.rectangle else self._needed)

    def _within(self, size: int, what: str, shape: Shape) -> Shape:
        if size > self._needed:
            raise RowRefused((f"the symbol needs {size} {what}, its size is {self._needed}",))
        return shape
