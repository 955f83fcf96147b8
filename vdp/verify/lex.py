"""Content streams cut into instructions, by PDF's own lexical rules (ISO 32000-2, 7.2 and 7.8.2).

Lives here: bytes → (path run | operands, operator).  Not here: what an operator means (`rewrite`).

Anything outside the grammar raises `Unreadable`: a verifier that guesses at broken syntax would judge another page than
the press prints.  Whole runs of path construction come as one piece, because codes are made of thousands of them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from vdp.verify.doubt import Unreadable

_SPACE = rb"[\0\t\n\x0c\r ]"
_GAP = rb"(?:" + _SPACE + rb"|%[^\r\n]*+(?:[\r\n]|\Z))"
_END = rb"(?=[\0\t\n\x0c\r ()<>\[\]{}/%]|\Z)"
_NUMBER = rb"[-+]?(?:\d++\.?\d*+|\.\d++)"
_N = _NUMBER + _SPACE + rb"++"
# Whole numbers parted by spaces are the common case; the second form takes every other number.
_RECTANGLES = rb"(?: *+(?:-?\d++ ++){4}re[\n ])++"
_STEP = rb"(?:" + _N + rb"){2}(?:[ml]|(?:" + _N + rb"){2}(?:re|[vy]|(?:" + _N + rb"){2}c))|h"
_PATH = rb"((?>(?:" + _RECTANGLES + rb"|(?:" + _STEP + rb")(?:" + _SPACE + rb"++|\Z)))++)"
_NAME = rb"/[^\0\t\n\x0c\r ()<>\[\]{}/%]*+"
_FLAT = rb"[^()\\]|\\."
_STRING = rb"\((?:" + _FLAT + rb"|\((?:" + _FLAT + rb"|\((?:" + _FLAT + rb")*+\))*+\))*+\)"
_HEX = rb"<(?:[0-9A-Fa-f]|" + _SPACE + rb")*+>"
_WORD = rb"(?:true|false|null)" + _END
_ATOM = _NUMBER + _END + rb"|" + _NAME + rb"|" + _STRING + rb"|" + _HEX + rb"|" + _WORD
_ARRAY = rb"\[(?:" + _ATOM + rb"|" + _GAP + rb")*+\]"
_DICT1 = rb"<<(?:" + _ATOM + rb"|" + _ARRAY + rb"|" + _GAP + rb")*+>>"
_DICT = rb"<<(?:" + _ATOM + rb"|" + _ARRAY + rb"|" + _DICT1 + rb"|" + _GAP + rb")*+>>"
_OPERAND = _ATOM + rb"|" + _ARRAY + rb"|" + _DICT
_OPERATOR = rb"([A-Za-z'\"][A-Za-z0-9*]*+)" + _END
_INSTRUCTION = re.compile(
    _PATH + rb"|((?:(?:" + _OPERAND + rb")" + _GAP + rb"*+)*+)" + _OPERATOR + _GAP + rb"*+", re.DOTALL
)
_LEADING = re.compile(_GAP + rb"*+")

#: One instruction: operands as written, and the operator; a path run has the operator "path".
Instruction = tuple[bytes, bytes]

PATH = b"path"


def instructions(data: bytes) -> Iterator[Instruction]:
    """The instructions of a stream in order.  Raises Unreadable at the first byte that is not one."""
    lead = _LEADING.match(data)
    place = lead.end() if lead else 0
    for match in _INSTRUCTION.finditer(data, place):
        if match.start() != place:
            break
        place = match.end()
        if match.lastindex == 1:
            yield match[1], PATH
        else:
            yield match[2], match[3]
    if place != len(data):
        raise Unreadable(f"the content stream cannot be read at byte {place}: {data[place : place + 20]!r}")


_TOKEN = re.compile(rb"(" + _NAME + rb")|(" + _NUMBER + rb")")


def numbers(operands: bytes, count: int) -> list[float]:
    """Exactly `count` numbers.  Raises Unreadable."""
    try:
        found = [float(token) for token in operands.split()]
    except ValueError:
        found = []
    if len(found) != count:
        raise Unreadable(f"{count} numbers were expected, not {operands[:60]!r}")
    return found


_ESCAPE = re.compile(rb"#([0-9A-Fa-f]{2})")


def name(operands: bytes) -> str:
    """A single name, as pikepdf writes it: with its slash, escapes undone.  Raises Unreadable."""
    token = operands.strip()
    if not token.startswith(b"/") or token.count(b"/") != 1 or b" " in token:
        raise Unreadable(f"a name was expected, not {operands[:60]!r}")
    return decode_name(token)


def decode_name(token: bytes) -> str:
    """A name token → text, `#xx` undone."""
    if b"#" in token:
        token = _ESCAPE.sub(lambda match: bytes.fromhex(match[1].decode()), token)
    return token.decode("utf-8", "surrogateescape")


def names_and_numbers(operands: bytes) -> tuple[list[float], list[str]]:
    """The numbers and the names among operands, each in order (``scn``, ``Tf``)."""
    numbers_found: list[float] = []
    names_found: list[str] = []
    for match in _TOKEN.finditer(operands):
        if match[1] is not None:
            names_found.append(decode_name(match[1]))
        else:
            numbers_found.append(float(match[2]))
    return numbers_found, names_found


_PIECE = re.compile(rb"(" + _HEX + rb")|(" + _STRING + rb")|(" + _NUMBER + rb")", re.DOTALL)
_OCTAL = re.compile(rb"\\([0-7]{1,3}|\r\n|.)", re.DOTALL)
_CONTROL = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f", b"\r\n": b"", b"\n": b"", b"\r": b""}


def _unescape(match: re.Match[bytes]) -> bytes:
    what = match[1]
    if what[:1].isdigit():
        return bytes((int(what, 8) & 255,))
    return _CONTROL.get(what, what)


def _string(token: bytes) -> bytes:
    if token.startswith(b"<"):
        digits = b"".join(token[1:-1].split())
        return bytes.fromhex((digits + b"0" * (len(digits) & 1)).decode())
    body = token[1:-1]
    return _OCTAL.sub(_unescape, body) if b"\\" in body else body


def shown(operands: bytes) -> list[bytes | float]:
    """The strings and adjustments of a text-showing operand, in order."""
    return [float(match[3]) if match[3] is not None else _string(match[0]) for match in _PIECE.finditer(operands)]


_KERN = re.compile(rb">([^<>()]*)<")


class Measured(NamedTuple):
    """A text-showing operand: `gids` two bytes a glyph; the sum of its adjustments and the sum of their sizes, in
    thousandths of an em.  Adjustments are no part of the glyphs: marks are moved far and back by them."""

    gids: bytes
    adjustment: float
    adjustments: float


def measured(operands: bytes) -> Measured:
    """What an operand shows in a font addressed by glyph ids; kept, because fragments come again."""
    return (_kept if len(operands) <= _FRAGMENT else _kept_briefly)(operands)


def _measure(operands: bytes) -> Measured:
    if b"(" not in operands:
        body = operands.strip(b"[] \r\n\t")
        kerns = [kern for kern in _KERN.findall(b">" + body + b"<") if kern]
        try:
            digits = _KERN.sub(b"", b">" + body + b"<")
            found = [float(kern) for kern in kerns]
            return Measured(bytes.fromhex(digits.decode("ascii")), sum(found), sum(map(abs, found)))
        except ValueError:
            pass
    pieces = shown(operands)
    found = [piece for piece in pieces if isinstance(piece, float)]
    gids = b"".join(piece for piece in pieces if isinstance(piece, bytes))
    return Measured(gids, sum(found), sum(map(abs, found)))


#: Bytes of an operand that is likely to come again on other pages; longer ones are asked for twice on their own page.
_FRAGMENT = 160
_kept = lru_cache(maxsize=8192)(_measure)
_kept_briefly = lru_cache(maxsize=256)(_measure)
