"""Code 128 (ISO/IEC 15417): text → element widths, in the fewest symbol characters that code sets A, B and C allow.

Lives here: choice of code sets, symbol values, FNC1 (GS1-128), check character, bar patterns.  Not here: quiet zone
(`symbology`), what a GS1 element string holds (`gs1`), drawing.

The cheapest route through the code sets depends only on what kind of character stands where, so it is worked out once
for each pattern of kinds and kept: the serials of a job share one pattern.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from operator import mul
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from vdp.barcode.gs1 import SEPARATOR, ElementString
from vdp.errors import RowRefused
from vdp.marks import Bars

#: Own limit, no source: 1,000 characters are already more than a metre of bars at the smallest printable module.
LONGEST = 1000
#: GS1 General Specifications §5.4.4.3: characters of a GS1-128, AIs and separators included, first FNC1 not.
LONGEST_GS1 = 48

#: ISO/IEC 15417 Table 1: bar and space widths of symbol characters 0 … 105.
_WIDTHS = (
    "212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 122132 "
    "122231 113222 123122 123221 223211 221132 221231 213212 223112 312131 311222 321122 321221 312212 "
    "322112 322211 212123 212321 232121 111323 131123 131321 112313 132113 132311 211313 231113 231311 "
    "112133 112331 132131 113123 113321 133121 313121 211331 231131 213113 213311 213131 311123 311321 "
    "331121 312113 312311 332111 314111 221411 431111 111224 111422 121124 121421 141122 141221 112214 "
    "112412 122114 122411 142112 142211 241211 221114 413111 241112 134111 111242 121142 121241 114212 "
    "124112 124211 411212 421112 421211 212141 214121 412121 111143 111341 131141 114113 114311 411113 "
    "411311 113141 114131 311141 411131 211412 211214 211232"
)
PATTERNS: tuple[tuple[int, ...], ...] = tuple(tuple(map(int, word)) for word in _WIDTHS.split())
STOP = (2, 3, 3, 1, 1, 1, 2)
#: The same as bytes, which are joined in one go.
_PACKED = [bytes(pattern) for pattern in PATTERNS]

_SETS = "ABC"
_START = {"A": 103, "B": 104, "C": 105}
#: Symbol value that latches to a set: the same in each set it can be reached from.
_LATCH = {"A": 101, "B": 100, "C": 99}
_SHIFT = 98
#: FNC1: one value in every set; in texts inside this file it is a character that no ASCII text has.
_FNC1_VALUE = 102
_FNC1 = "\x80"

#: Kinds of character: d digit; s other in both A and B; a only in A (controls); b only in B (lower case and others);
#: f FNC1.
_KINDS = {c: "a" if c < 32 else "d" if 48 <= c <= 57 else "s" if c < 96 else "b" for c in range(128)}
_KINDS[ord(_FNC1)] = "f"
_HOLDS = {"A": "dsaf", "B": "dsbf"}

_VALUE_A = {c: c - 32 if c >= 32 else c + 64 for c in range(96)}
_VALUE_B = {c: c - 32 for c in range(32, 128)}
#: The same for every ASCII character, as arrays; what a set does not hold is never asked of it.
_KIND_OF = np.array([ord(_KINDS[c]) for c in range(128)], np.uint8)
_BY_A = np.array([_VALUE_A.get(c, 0) for c in range(128)], np.intp)
_BY_B = np.array([_VALUE_B.get(c, 0) for c in range(128)], np.intp)
_TABLE = np.array(PATTERNS, np.uint8)
_PAIRS = {f"{v:02d}": v for v in range(100)}
_WEIGHTS = tuple(range(1, 3 * LONGEST))


class _Step(NamedTuple):
    """Symbol values that stand before a stretch of text, and the set that carries it ("F" for FNC1)."""

    before: tuple[int, ...]
    carrier: str
    start: int
    stop: int


def encode(text: str | ElementString) -> Bars:
    """The bars of `text`, start to stop character; an element string becomes GS1-128, with FNC1 in first position.

    Raises RowRefused for an empty text, one longer than LONGEST, or a character outside ASCII: FNC4, which reaches the
    upper half of ISO/IEC 8859-1, is understood by too few readers to be relied on.
    """
    symbols = values(text)
    check = (symbols[0] + sum(map(mul, symbols[1:], _WEIGHTS))) % 103
    return Bars(b"".join([*map(_PACKED.__getitem__, symbols), _PACKED[check], bytes(STOP)]))


def encode_many(texts: Sequence[str]) -> list[Bars]:
    """`encode` of each text; those that are all of the same kinds of characters together.  Raises RowRefused."""
    together = _encode_alike(texts) if texts else []
    return [encode(text) for text in texts] if together is None else together


def _encode_alike(texts: Sequence[str]) -> list[Bars] | None:
    """Texts that take one route through the code sets; None where they do not, or one cannot be carried."""
    length, joined = len(texts[0]), "".join(texts)
    if not 0 < length <= LONGEST or not joined.isascii() or set(map(len, texts)) != {length}:
        return None
    codes = np.frombuffer(joined.encode("ascii"), np.uint8).reshape(-1, length)
    kinds = _KIND_OF[codes]
    if (kinds != kinds[0]).any():
        return None
    columns: list[npt.NDArray[np.intp]] = []
    for before, carrier, start, stop in _route(texts[0].translate(_KINDS)):
        columns += [np.full(len(codes), value) for value in before]
        piece = codes[:, start:stop]
        if carrier == "C":
            digits = piece.astype(np.intp) - ord("0")
            columns += [*(10 * digits[:, ::2] + digits[:, 1::2]).T]
        else:
            columns += [*(_BY_A if carrier == "A" else _BY_B)[piece].T]
    symbols = np.stack(columns, axis=1)
    checks = (symbols[:, 0] + symbols[:, 1:] @ np.arange(1, symbols.shape[1])) % 103
    patterns = _TABLE[np.column_stack((symbols, checks))].reshape(len(codes), -1)
    elements = np.hstack((patterns, np.tile(np.array(STOP, np.uint8), (len(codes), 1))))
    size, packed = elements.shape[1], elements.tobytes()
    return [Bars(packed[at : at + size]) for at in range(0, len(packed), size)]


def values(text: str | ElementString) -> list[int]:
    """Symbol values from the start character to the last data character; check and stop are not among them."""
    if isinstance(text, ElementString):
        data = text.data()
        _refuse(data)
        if len(data) > LONGEST_GS1:
            raise RowRefused((f"GS1-128 holds {LONGEST_GS1} characters, not {len(data)}",))
        # GS1 General Specifications §5.4.3: the separators are FNC1 too, rather than the control character.
        text = _FNC1 + data.replace(SEPARATOR, _FNC1)
    else:
        _refuse(text)
    found: list[int] = []
    for before, carrier, start, stop in _route(text.translate(_KINDS)):
        found += before
        piece = text[start:stop]
        if carrier == "C":
            found += [_PAIRS[piece[i : i + 2]] for i in range(0, len(piece), 2)]
        elif carrier == "F":
            found += [_FNC1_VALUE] * len(piece)
        else:
            table = _VALUE_A if carrier == "A" else _VALUE_B
            found += [table[c] for c in piece.encode("ascii")]
    return found


def extent(text: str | ElementString) -> int:
    """Width in modules without quiet zone.  Raises RowRefused as `encode`."""
    if isinstance(text, ElementString):
        return 11 * (len(values(text)) + 1) + 13
    _refuse(text)
    return 11 * (_count(text.translate(_KINDS)) + 1) + 13


@lru_cache(maxsize=1024)
def _count(kinds: str) -> int:
    """How many symbol values carry characters of these kinds, the start character among them."""
    return sum(
        len(step.before) + (step.stop - step.start) // (2 if step.carrier == "C" else 1) for step in _route(kinds)
    )


def _refuse(text: str) -> None:
    if not text:
        raise RowRefused(("Code 128 cannot carry an empty text",))
    if len(text) > LONGEST:
        raise RowRefused((f"Code 128 of {len(text)} characters is longer than {LONGEST} characters",))
    if not text.isascii():
        bad = next(c for c in text if not c.isascii())
        raise RowRefused((f"Code 128 holds ASCII only, not '{bad}' (U+{ord(bad):04X})",))


@lru_cache(maxsize=1024)
def _route(kinds: str) -> tuple[_Step, ...]:
    """The cheapest way to carry characters of these kinds.

    Worked from the end: `cost[i][s]` is the least count of symbol characters for what follows place i in set s, latches
    included.  Of equal ways the one that stays in its set is taken, then C before B before A.
    """
    cost, move = _costs(kinds)
    state = min("CBA", key=lambda s: cost[0][s])
    before: list[int] = [_START[state]]
    steps: list[_Step] = []
    place = 0
    while place < len(kinds):
        if move[place][state] != state:
            state = move[place][state]
            before.append(_LATCH[state])
        carrier, length = state, 2 if state == "C" else 1
        if kinds[place] == "f":
            carrier, length = "F", 1
        elif state != "C" and kinds[place] not in _HOLDS[state]:
            before.append(_SHIFT)
            carrier = "B" if state == "A" else "A"
        if steps and not before and steps[-1].carrier == carrier:
            steps[-1] = steps[-1]._replace(stop=place + length)
        else:
            steps.append(_Step(tuple(before), carrier, place, place + length))
        before = []
        place += length
    return tuple(steps)


def _costs(kinds: str) -> tuple[list[dict[str, int]], list[dict[str, str]]]:
    """For each place and set: the least count of symbol characters to the end, and the set to carry the next one in."""
    end = len(kinds)
    cost: list[dict[str, int]] = [dict.fromkeys(_SETS, 0) for _ in range(end + 2)]
    move: list[dict[str, str]] = [{} for _ in range(end)]
    for place in range(end - 1, -1, -1):
        after = cost[place + 1]
        stay = {s: after[s] + (1 if kinds[place] in _HOLDS[s] else 2) for s in "AB"}
        if kinds[place] == "f":
            stay["C"] = after["C"] + 1
        else:
            stay["C"] = cost[place + 2]["C"] + 1 if kinds.startswith("dd", place) else 3 * LONGEST
        for held in _SETS:
            way = min(held + "CBA", key=lambda s: stay[s] + (s != held))
            cost[place][held] = stay[way] + (way != held)
            move[place][held] = way
    return cost, move
