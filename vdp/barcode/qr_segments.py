"""QR Code data codewords in several segments (ISO/IEC 18004 §7.4): Kanji mode, FNC1 for GS1, and the fewest bits.

Lives here: the choice of modes along a payload and its bit stream.  Not here: payloads in one mode, which the hot path
uses (`qr_codewords`), error correction, modules.

The cheapest way through the modes depends only on what kind of character stands where, so it is worked out once for
each pattern of kinds and kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from itertools import groupby
from types import MappingProxyType

from vdp.barcode import qr_codewords
from vdp.barcode.gs1 import SEPARATOR, ElementString
from vdp.errors import RowRefused

_FNC1_FIRST = 0b0101
_ECI_26 = 0b0111_00011010
#: Mode indicator and bits of the character count in versions 1–9, 10–26, 27–40 (ISO/IEC 18004 Tables 2 and 3).
_MODES: Mapping[str, tuple[int, tuple[int, int, int]]] = {
    "N": (0b0001, (10, 12, 14)),
    "A": (0b0010, (9, 11, 13)),
    "B": (0b0100, (8, 16, 16)),
    "K": (0b1000, (8, 10, 12)),
}
#: Sixths of a bit that a character of each kind costs in each mode: three digits take 10 bits, two alphanumeric
#: characters 11, a Kanji 13.  Kinds: d digit; a other alphanumeric; 1–4 bytes of UTF-8; k Kanji; p a per cent sign of
#: GS1 data, doubled in alphanumeric mode; g a separator, written there as one per cent sign (§7.4.8.2).
_COSTS: Mapping[str, Mapping[str, int]] = {
    "d": {"N": 20, "A": 33, "B": 48},
    "a": {"A": 33, "B": 48},
    "p": {"A": 66, "B": 48},
    "g": {"A": 33, "B": 48},
    "k": {"K": 78},
    **{str(n): {"B": 48 * n} for n in (1, 2, 3, 4)},
}
_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"


def encode(payload: str | ElementString, version: int, level: str) -> bytes:
    """The data codewords of a symbol of that version and level; an element string takes FNC1 in first position.

    Characters of Shift JIS that Kanji mode holds use it, unless the payload has others outside ASCII as well: then all
    is UTF-8 after ECI 26.  Raises RowRefused when the payload is empty, is not Unicode text or does not fit.
    """
    text, kinds, head, head_bits = _prepared(payload)
    held = 8 * qr_codewords.data_codewords(version, level)
    group = _group(version)
    used = head_bits + _route(kinds, group)[0]
    if used > held:
        raise RowRefused((f"{used} bits do not fit in QR version {version} at level {level}, which holds {held}",))
    stream = head
    gs1 = isinstance(payload, ElementString)
    for mode, start, stop in _route(kinds, group)[1]:
        stream = _append(stream, mode, text[start:stop], group, gs1)
    return qr_codewords.filled(stream, used, held)


def version_needed(payload: str | ElementString, level: str) -> int:
    """The smallest version that holds `payload` at `level`.  Raises RowRefused when it is empty or none does."""
    _, kinds, _, head_bits = _prepared(payload)
    for version in range(1, qr_codewords.LARGEST + 1):
        if head_bits + _route(kinds, _group(version))[0] <= 8 * qr_codewords.data_codewords(version, level):
            return version
    raise RowRefused((f"no QR Code holds these {len(kinds)} characters at level {level}",))


def _group(version: int) -> int:
    return (version > 9) + (version > 26)


def _prepared(payload: str | ElementString) -> tuple[str, str, int, int]:
    """Text, kinds, what stands before the first segment, and its bits."""
    if isinstance(payload, ElementString):
        text = payload.data()
        return text, "".join({"%": "p", SEPARATOR: "g"}.get(c) or _ascii_kind(c) for c in text), _FNC1_FIRST, 4
    if not payload:
        raise RowRefused(("QR Code cannot carry an empty text",))
    if len(payload) > 7089:  # ISO/IEC 18004 Table 7: digits of 40-L, the most that any symbol holds
        raise RowRefused((f"no QR Code holds {len(payload)} characters",))
    if any("\ud800" <= c <= "\udfff" for c in payload):
        raise RowRefused(("QR Code cannot carry half of a surrogate pair",))
    table = kanji()
    if all(c.isascii() or c in table for c in payload):
        return payload, "".join(_ascii_kind(c) if c.isascii() else "k" for c in payload), 0, 0
    return payload, "".join(_ascii_kind(c) if c.isascii() else str(len(c.encode())) for c in payload), _ECI_26, 12


def _ascii_kind(char: str) -> str:
    return "d" if "0" <= char <= "9" else "a" if char in _ALPHABET else "1"


@lru_cache(maxsize=1)
def kanji() -> Mapping[str, int]:
    """Character → 13-bit value (§7.4.6): Shift JIS 8140–9FFC and E040–EBBF.

    The few that JIS X 0208 and its best-known extension map to different characters are left out, and 815F, which some
    readers take for a reverse solidus.
    """
    found: dict[str, int] = {}
    for high in (*range(0x81, 0xA0), *range(0xE0, 0xEC)):
        for low in range(0x40, 0xFD):
            code = bytes((high, low))
            try:
                char = code.decode("shift_jis")
                agreed = code.decode("cp932") == char
            except UnicodeDecodeError:
                continue
            if agreed and len(char) == 1 and int.from_bytes(code) <= 0xEBBF and char != "＼":
                offset = int.from_bytes(code) - (0x8140 if high < 0xE0 else 0xC140)
                found[char] = (offset >> 8) * 0xC0 + (offset & 0xFF)
    return MappingProxyType(found)


@lru_cache(maxsize=1024)
def _route(kinds: str, group: int) -> tuple[int, tuple[tuple[str, int, int], ...]]:
    """Bits of the cheapest segments, and (mode, start, stop) of each.

    `cost[m]` is the least count of sixths of a bit for what is done so far with mode m held; a segment's last bit is
    rounded up when it is left, which is exact for all modes (one digit 4 bits, two 7, one alphanumeric 6).
    """
    heads = {mode: 6 * (4 + counts[group]) for mode, (_, counts) in _MODES.items()}
    cost = dict(heads)
    trail: list[dict[str, str]] = []
    for kind in kinds:
        prices = _COSTS[kind]
        spent = {m: cost[m] + prices[m] for m in cost if m in prices}
        came = dict.fromkeys(spent)
        cost = dict(spent)
        before: dict[str, str] = {m: m for m in came}
        for other, head in heads.items():
            source = min(spent, key=lambda m: (-(-spent[m] // 6), m))
            price = -(-spent[source] // 6) * 6 + head
            if price < cost.get(other, price + 1):
                cost[other] = price
                before[other] = source
        trail.append(before)
    last = min(cost, key=lambda m: (-(-cost[m] // 6), m))
    bits = -(-cost[last] // 6)
    modes: list[str] = []
    mode = last
    for before in reversed(trail):
        mode = before[mode]
        modes.append(mode)
    modes.reverse()
    found: list[tuple[str, int, int]] = []
    place = 0
    for held, run in groupby(modes):
        length = len(list(run))
        found.append((held, place, place + length))
        place += length
    return bits, tuple(found)


def _append(stream: int, mode: str, text: str, group: int, gs1: bool) -> int:
    """`stream` with one more segment behind it."""
    indicator, counts = _MODES[mode]
    words: list[tuple[int, int]]
    if mode == "N":
        words = [(int(text[i : i + 3]), (0, 4, 7, 10)[len(text[i : i + 3])]) for i in range(0, len(text), 3)]
        count = len(text)
    elif mode == "A":
        if gs1:
            text = text.replace("%", "%%").replace(SEPARATOR, "%")
        values = [_ALPHABET.index(c) for c in text]
        words = [(45 * a + b, 11) for a, b in zip(values[::2], values[1::2], strict=False)]
        words += [(values[-1], 6)] if len(values) % 2 else []
        count = len(values)
    elif mode == "K":
        words = [(kanji()[c], 13) for c in text]
        count = len(words)
    else:
        words = [(byte, 8) for byte in text.encode()]
        count = len(words)
    stream = stream << 4 + counts[group] | indicator << counts[group] | count
    for word, width in words:
        stream = stream << width | word
    return stream
