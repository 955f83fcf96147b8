"""What text a spreadsheet cell stands for.  Every value is text, and nothing is rounded in silence.

    a text cell            its own text
    a boolean              TRUE or FALSE
    a number               the digits stored, in plain decimal notation: 0.25 for 25 %, 1234.5 for 1,234.50 €
      format 000…          padded with the zeros the sheet shows: 7 as 0007 is 0007
      from 2⁵³ on          refused: programs hold numbers as doubles, so digits may be lost already, unseen
      fractions            the 16th and 17th digit are noise of binary numbers and rounded off, as sheets show them
    a date or time         2026-03-01, 14:30:00 or 2026-03-01T14:30:00, the parts its format shows, whole seconds
    a format that puts signs between digits (00000-0000, [h]:mm), an error such as #N/A, a formula without a
    stored result          refused: what the sheet shows cannot be told from what it stores

Lives here: these rules.  Not here: taking a workbook apart (`workbook`, `parts`).
Source: ECMA-376 part 1, 18.8.30 (numFmt), 18.17.4 (dates), 22.9.2.19 (ST_Xstring); the rules are ours.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from decimal import Decimal
from functools import lru_cache

BUILT_IN = {
    0: "General", 1: "0", 2: "0.00", 3: "#,##0", 4: "#,##0.00", 9: "0%", 10: "0.00%", 11: "0.00E+00", 12: "# ?/?",
    13: "# ??/??", 14: "yyyy-mm-dd", 15: "d-mmm-yy", 16: "d-mmm", 17: "mmm-yy", 18: "h:mm AM/PM",
    19: "h:mm:ss AM/PM", 20: "h:mm", 21: "h:mm:ss", 22: "yyyy-mm-dd h:mm", 37: "#,##0", 38: "#,##0", 39: "#,##0.00",
    40: "#,##0.00", 45: "mm:ss", 46: "[h]:mm:ss", 47: "mm:ss.0", 48: "##0.0E+0", 49: "@",
} | dict.fromkeys((*range(27, 37), *range(50, 59)), "yyyy-mm-dd")  # fmt: skip
"""ECMA-376 part 1, 18.8.30: formats a file may use by number alone; 27 to 36 and 50 to 58 are East Asian dates."""

_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?([eE][-+]?[0-9]{1,3})?")
_ISO = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})?T?([0-9]{2}:[0-9]{2}:[0-9]{2})?(?:\.0+)?Z?")
_LITERAL = re.compile(r'"[^"]*"|\\.')
_UNSEEN = re.compile(r"\[(?!h+\]|m+\]|s+\])[^\]]*\]|[_*].", re.IGNORECASE)
_SIGNIFICANT = 15
_EXACT = Decimal(2**53)


class CellRefused(Exception):
    """The cell's text cannot be told.  Arguments: what is wrong, what to do."""

    def __init__(self, message: str, mend: str = "format the column as text and enter the value again") -> None:
        super().__init__(message)
        self.message, self.mend = message, mend


def unescape(text: str) -> str:
    """Undo ``_x000D_`` (ST_Xstring).  Raises CellRefused for half a character or a NUL."""
    if "_x" not in text:
        return text
    # Escapes are UTF-16 units: pairs join on the way through UTF-16.
    units = _ESCAPE.sub(lambda match: chr(int(match[1], 16)), text)
    if "\0" in units:
        raise CellRefused("the cell holds a NUL (U+0000), which is no text", "delete it")
    try:
        return units.encode("utf-16-le", "surrogatepass").decode("utf-16-le")
    except UnicodeDecodeError:
        raise CellRefused("the cell holds half of a surrogate pair", "enter the value again") from None


def number(stored: str, code: str, epoch_1904: bool) -> str:
    """The text of a number cell: `stored` as in the file, `code` its number format.  Raises CellRefused."""
    if not _NUMBER.fullmatch(stored) or len(stored) > 400:
        raise CellRefused(f"the cell's number {stored[:40]!r} is none", "save the workbook again")
    kind, zeros = _kind(code)
    if kind == "plain":
        return _decimal(stored)
    if kind == "zeros":
        text = _decimal(stored)
        if not text.isdigit():
            raise CellRefused(f"the format {code} shows leading zeros, but {text} is no whole number")
        return text.zfill(zeros)
    if kind == "signs":
        raise CellRefused(f"the format {code} shows the number with signs or zeros that are not stored")
    return _date(stored, kind, epoch_1904)


def iso_date(stored: str, code: str) -> str:
    """The text of a cell that stores its date in words (``t="d"``)."""
    match = _ISO.fullmatch(stored)
    if match is None or not stored:
        raise CellRefused(f"the cell's date {stored[:40]!r} is none that is known here")
    day, time = match[1] or "", match[2] or ""
    if day and time and (_kind(code)[0] == "day" or (time == "00:00:00" and _kind(code)[0] != "both")):
        time = ""
    return f"{day}T{time}" if day and time else day or time


@lru_cache(maxsize=512)
def _kind(code: str) -> tuple[str, int]:
    """What a number format does: plain, zeros (and how many), signs, or day, time, both."""
    if code.casefold() in {"general", "@", ""}:
        return "plain", 0
    sections = _UNSEEN.sub("", _LITERAL.sub(_stand_in, code)).split(";")
    bare = re.sub(r"(?i)general|am/pm|a/p", "", sections[0])
    if re.search(r"[dmyhseg]", re.sub(r"(?i)e[-+]", "", bare), re.IGNORECASE):
        return _date_kind(bare.lower()), 0
    if len(sections) == 1 and re.fullmatch(r"0{2,}", sections[0]):
        return "zeros", len(sections[0])
    for section in sections:
        digits = re.split(r"(?i)e[-+]", section)[0].replace("# ##0", "#,##0")
        if re.search(r"[0#?][^0#?.,%]+[0#?]", digits) or re.search(r"00|0[#?]", digits.split(".")[0].replace(",", "")):
            return "signs", 0
    return "plain", 0


def _stand_in(match: re.Match[str]) -> str:
    """A literal space may group thousands; any other literal matters only where it stands: ~ is in no format."""
    return " " if match[0].strip('"\\') in {" ", "\u00a0", "\u202f"} else "~"


def _date_kind(code: str) -> str:
    if "[" in code:
        return "signs"
    day, time = bool(re.search(r"[dyeg]", code)), bool(re.search(r"[hs]", code))
    if day or not time:
        return "both" if time else "day"
    return "time"


def _decimal(stored: str) -> str:
    value = Decimal(stored)
    digits = len(value.normalize().as_tuple().digits)
    whole = value == value.to_integral_value()
    if abs(value) >= _EXACT or (not whole and (digits > 17 or value.adjusted() >= _SIGNIFICANT)):
        raise CellRefused(f"number cells hold about {_SIGNIFICANT} digits: of {stored[:40]} some may be lost already")
    if stored.isdigit():
        return stored
    if not whole and digits > _SIGNIFICANT:
        value = Decimal(f"{value:.{_SIGNIFICANT - 1}e}")
    text = f"{value.normalize():f}"
    return "0" if text == "-0" else text


def _date(stored: str, kind: str, epoch_1904: bool) -> str:
    # A double holds a date of today to about a microsecond; spreadsheets show whole seconds.
    seconds = round(Decimal(stored) * 86_400) if Decimal(stored).adjusted() < 8 else -1
    days, rest = divmod(seconds, 86_400)
    if kind == "time" and seconds >= 0:
        return str(timedelta(seconds=rest)).zfill(8)
    # 1900 was no leap year, but serial 60 is its 29 February; up to there the count starts one day later.
    if seconds < 0 or days > 2_958_465 or (not epoch_1904 and (days in {0, 60})):
        raise CellRefused(f"the cell is formatted as a date, but {stored[:40]} is none")
    start = datetime(1904, 1, 1) if epoch_1904 else datetime(1899, 12, 31 if days < 60 else 30)  # noqa: DTZ001 - a sheet's dates have no zone
    try:
        moment = start + timedelta(seconds=seconds)
    except OverflowError:
        raise CellRefused(f"the cell is formatted as a date, but {stored[:40]} is none") from None
    return moment.strftime("%Y-%m-%d") if kind == "day" else moment.isoformat()
