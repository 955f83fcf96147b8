"""QR Code data codewords (ISO/IEC 18004 §7.2–7.4): payload → mode, bits, padding; and how much each symbol holds.

Lives here: the capacity tables and the bit stream.  Not here: error correction and modules (`qr_tables`), masks.

A payload is carried in one segment of the densest mode that holds all of it: numeric, alphanumeric, byte (ASCII), or
byte after ECI 26 (UTF-8): a payload's size must be foreseeable.  Mixed segments, Kanji and FNC1 are in `qr_segments`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from enum import IntEnum
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from vdp.errors import RowRefused

LEVELS = "LMQH"
LARGEST = 40

#: ISO/IEC 18004 Table 9: error correction codewords in each block, versions 1 … 40.
_CHECK_LENGTH = {
    "L": "7 10 15 20 26 18 20 24 30 18 20 24 26 30 22 24 28 30 28 28 "
    "28 28 30 30 26 28 30 30 30 30 30 30 30 30 30 30 30 30 30 30",
    "M": "10 16 26 18 24 16 18 22 22 26 30 22 22 24 24 28 28 26 26 26 "
    "26 28 28 28 28 28 28 28 28 28 28 28 28 28 28 28 28 28 28 28",
    "Q": "13 22 18 26 18 24 18 22 20 24 28 26 24 20 30 24 28 28 26 30 "
    "28 30 30 30 30 28 30 30 30 30 30 30 30 30 30 30 30 30 30 30",
    "H": "17 28 22 16 22 28 26 26 24 28 24 28 22 24 24 30 28 28 26 28 "
    "30 24 30 30 30 30 30 30 30 30 30 30 30 30 30 30 30 30 30 30",
}
#: ISO/IEC 18004 Table 9: count of blocks.
_BLOCKS = {
    "L": "1 1 1 1 1 2 2 2 2 4 4 4 4 4 6 6 6 6 7 8 8 9 9 10 12 12 12 13 14 15 16 17 18 19 19 20 21 22 24 25",
    "M": "1 1 1 2 2 4 4 4 5 5 5 8 9 9 10 10 11 13 14 16 17 17 18 20 21 23 25 26 28 29 31 33 35 37 38 40 43 45 47 49",
    "Q": "1 1 2 2 4 4 6 6 8 8 8 10 12 16 12 17 16 18 21 20 23 23 25 27 29 34 34 35 38 40 43 45 48 51 53 56 59 62 65 68",
    "H": "1 1 2 4 4 4 5 6 8 8 11 11 16 16 18 16 19 21 25 25 "
    "25 34 30 32 35 37 40 42 45 48 51 54 57 60 63 66 70 74 77 81",
}
CHECK_LENGTH = {level: tuple(map(int, row.split())) for level, row in _CHECK_LENGTH.items()}
BLOCKS = {level: tuple(map(int, row.split())) for level, row in _BLOCKS.items()}


class Mode(IntEnum):
    """How a payload is carried.  Numbers, because looking up an Enum's value costs as much as the bits do."""

    NUMERIC = 0
    ALPHANUMERIC = 1
    BYTE = 2
    UTF8 = 3


#: By mode: its indicator (with the ECI designator where there is one), the indicator's length in bits, and the length
#: of the character count in versions 1–9, 10–26 and 27–40 (ISO/IEC 18004 Tables 2 and 3, §7.4.2).
_SIGNS = (
    (0b0001, 4, (10, 12, 14)),
    (0b0010, 4, (9, 11, 13)),
    (0b0100, 4, (8, 16, 16)),
    (0b0111_00011010_0100, 16, (8, 16, 16)),
)


def total_codewords(version: int) -> int:
    """Codewords of a symbol, data and error correction: its free modules / 8 (ISO/IEC 18004 Table 1)."""
    modules = 16 * version * version + 128 * version + 64
    if version > 1:
        across = version // 7 + 2
        modules -= (25 * across - 10) * across - 55
    if version > 6:
        modules -= 36
    return modules // 8


def data_codewords(version: int, level: str) -> int:
    """Codewords left for data (ISO/IEC 18004 Table 7)."""
    return total_codewords(version) - CHECK_LENGTH[level][version - 1] * BLOCKS[level][version - 1]


_NUMERIC = re.compile(r"[0-9]+")
_ALPHANUMERIC = re.compile(r"[0-9A-Z $%*+\-./:]+")


def mode_of(payload: str) -> Mode:
    """The densest mode that holds the whole payload.  Raises RowRefused when it is empty or not Unicode text."""
    if not payload:
        raise RowRefused(("QR Code cannot carry an empty text",))
    if payload.isascii() and payload != payload.upper():
        return Mode.BYTE  # most addresses: small letters are in no denser mode
    if _NUMERIC.fullmatch(payload):
        return Mode.NUMERIC
    if _ALPHANUMERIC.fullmatch(payload):
        return Mode.ALPHANUMERIC
    if payload.isascii():
        return Mode.BYTE
    if any("\ud800" <= c <= "\udfff" for c in payload):
        raise RowRefused(("QR Code cannot carry half of a surrogate pair",))
    return Mode.UTF8


def version_needed(payload: str, level: str) -> int:
    """The smallest version that holds `payload` at `level`.  Raises RowRefused when it is empty or none does."""
    mode = mode_of(payload)
    version = _version_for(mode, _length(payload, mode), level)
    if not version:
        raise RowRefused((_overfull(payload, LARGEST, level),))
    return version


@lru_cache(maxsize=1024)
def _version_for(mode: Mode, length: int, level: str) -> int:
    """The smallest version for so many characters (bytes in BYTE and UTF8); 0 where there is none."""
    fitting = (v for v in range(1, LARGEST + 1) if _bits(mode, length, v) <= _bits_held(level)[v - 1])
    return next(fitting, 0)


def encode(payload: str, version: int, level: str) -> bytes:
    """The data codewords: mode, count, data, terminator and padding (ISO/IEC 18004 §7.4.9, 7.4.10).

    Raises RowRefused when the payload is empty, is not text that UTF-8 can carry, or does not fit.
    """
    mode = mode_of(payload)
    indicator, _, counts = _SIGNS[mode]
    if mode in _PIECES:
        size, words = _PIECES[mode]
        length = len(payload)
        data = int("".join([words[payload[i : i + size]] for i in range(0, length, size)]), 2)
    else:
        raw = payload.encode()
        length = len(raw)
        data = int.from_bytes(raw)
    count_bits = counts[(version > 9) + (version > 26)]
    used = _bits(mode, length, version)
    held = _bits_held(level)[version - 1]
    if used > held:
        raise RowRefused((_overfull(payload, version, level),))
    return filled((indicator << count_bits | length) << _data_bits(mode, length) | data, used, held)


def encode_many(payloads: Sequence[str], version: int, level: str) -> npt.NDArray[np.uint8]:
    """`encode` of each payload, one at least, as the rows of an array; those of one length in byte mode together."""
    together = _encode_alike(payloads, version, level)
    if together is not None:
        return together
    streams = b"".join([encode(payload, version, level) for payload in payloads])
    return np.frombuffer(streams, np.uint8).reshape(len(payloads), -1)


def _encode_alike(payloads: Sequence[str], version: int, level: str) -> npt.NDArray[np.uint8] | None:
    """ASCII payloads of one length in byte mode; None where one is another's length or mode, or does not fit."""
    length, joined = len(payloads[0]), "".join(payloads)
    used, held = _bits(Mode.BYTE, length, version), _bits_held(level)[version - 1]
    if not length or used > held or not joined.isascii() or set(map(len, payloads)) != {length}:
        return None
    data = np.frombuffer(joined.encode("ascii"), np.uint8).reshape(-1, length)
    if not _BYTE_ONLY[data].any(axis=1).all():
        return None
    # Indicator and count end in the middle of a codeword, so that every character straddles two; so does the
    # terminator, for which there is always room.
    indicator, _, counts = _SIGNS[Mode.BYTE]
    head = (indicator << counts[(version > 9) + (version > 26)] | length).to_bytes(3).lstrip(b"\0")
    shifted = np.frombuffer(head, np.uint8)
    stream = np.empty((len(data), len(head) + length + 1), np.uint8)
    stream[:, : len(head)] = shifted
    stream[:, len(head) : -1] = data
    stream[:, -1] = 0
    found = np.empty((len(data), held // 8), np.uint8)
    ends = stream.shape[1] - 1
    found[:, :ends] = stream[:, :-1] << 4 | stream[:, 1:] >> 4
    found[:, ends:] = np.frombuffer((b"\xec\x11" * held)[: held // 8 - ends], np.uint8)
    return found


def filled(stream: int, used: int, held: int) -> bytes:
    """A stream of `used` bits with terminator and padding, as the data codewords of a symbol that holds `held` bits."""
    return (stream << (held - used) | _padding(held // 8)[-(-min(used + 4, held) // 8)]).to_bytes(held // 8)


def _length(payload: str, mode: Mode) -> int:
    """What the character count says: characters, or bytes in byte mode."""
    return len(payload.encode()) if mode is Mode.UTF8 else len(payload)


def _data_bits(mode: Mode, length: int) -> int:
    if mode is Mode.NUMERIC:
        return length // 3 * 10 + (0, 4, 7)[length % 3]
    if mode is Mode.ALPHANUMERIC:
        return length // 2 * 11 + length % 2 * 6
    return 8 * length


def _bits(mode: Mode, length: int, version: int) -> int:
    _, indicator_bits, counts = _SIGNS[mode]
    return indicator_bits + counts[(version > 9) + (version > 26)] + _data_bits(mode, length)


@lru_cache(maxsize=len(LEVELS))
def _bits_held(level: str) -> tuple[int, ...]:
    """Bits of data that versions 1 … 40 hold at `level`."""
    return tuple(8 * data_codewords(version, level) for version in range(1, LARGEST + 1))


@lru_cache(maxsize=LARGEST * len(LEVELS))
def _padding(held: int) -> tuple[int, ...]:
    """For each count of codewords used out of `held`: the pad codewords EC 11 EC … behind them, as one number."""
    return tuple(int.from_bytes((b"\xec\x11" * held)[: held - used]) for used in range(held + 1))


_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
#: Digits in groups of three, two and one, as 10, 7 and 4 bits (§7.4.3).
_TRIPLES = {f"{v:0{n}d}": f"{v:0{3 * n + 1}b}" for n in (1, 2, 3) for v in range(10**n)}
#: Alphanumeric characters in pairs as 11 bits, a last one as 6 (§7.4.4).
_DOUBLES = {a: f"{i:06b}" for i, a in enumerate(_ALPHABET)} | {
    a + b: f"{45 * i + j:011b}" for i, a in enumerate(_ALPHABET) for j, b in enumerate(_ALPHABET)
}
#: Whether an ASCII character is in neither of their alphabets.
_BYTE_ONLY = np.array([chr(code) not in _ALPHABET for code in range(128)])
_PIECES = {Mode.NUMERIC: (3, _TRIPLES), Mode.ALPHANUMERIC: (2, _DOUBLES)}


def _overfull(payload: str, version: int, level: str) -> str:
    mode = mode_of(payload)
    kind = {Mode.NUMERIC: "digits", Mode.ALPHANUMERIC: "alphanumeric characters"}.get(mode, "bytes")
    return f"{_length(payload, mode)} {kind} do not fit in QR version {version} at level {level}"
