"""PDF objects as bytes: names, strings, numbers, arrays, dictionaries, indirect objects and streams (ISO 32000-1, 7.3).

Lives here: syntax only.  Not here: what any object means, where it stands in the file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple, Union


class Name(str):
    """A PDF name, without its slash."""

    __slots__ = ()


class Ref(NamedTuple):
    """A reference to indirect object `number`, generation 0."""

    number: int


class Raw(bytes):
    """Bytes that are already PDF syntax."""

    __slots__ = ()


#: What `serialise` takes: a str is a text string, bytes a byte string.
Value = Union[None, bool, int, float, Decimal, str, bytes, Ref, Sequence["Value"], Mapping[str, "Value"]]  # noqa: UP007  it names itself, which `|` cannot

_REGULAR = frozenset(b"!\"$&'*+,-.0123456789:;=?@ABCDEFGHIJKLMNOPQRSTUVWXYZ\\^_`abcdefghijklmnopqrstuvwxyz|~")
_PLAIN = frozenset(range(0x20, 0x7F))
_SPECIAL = frozenset(b"\\()")


def number_text(value: float | Decimal, places: int | None = None) -> str:
    """The shortest decimal that gives the number back exactly, or rounded to `places`; never an exponent."""
    if type(value) is int:
        return str(value)
    exact = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
    if not exact.is_finite():
        raise ValueError(f"{value} is not a number that PDF can hold")
    if places is not None:
        exact = exact.quantize(Decimal(1).scaleb(-places))
    text = format(exact, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def name_text(name: str) -> str:
    """A name with its slash; what is not a regular character of ASCII is written as #xx of its UTF-8 bytes."""
    raw = name.encode("utf-8")
    if b"\0" in raw:
        raise ValueError("a PDF name cannot hold U+0000")
    return "/" + "".join(chr(byte) if byte in _REGULAR else f"#{byte:02X}" for byte in raw)


def string(value: bytes) -> bytes:
    """A byte string: literal where all of it is printable ASCII, else hexadecimal."""
    if not _PLAIN.issuperset(value):
        return b"<" + value.hex().upper().encode() + b">"
    if not _SPECIAL.isdisjoint(value):
        for special in (b"\\", b"(", b")"):
            value = value.replace(special, b"\\" + special)
    return b"(" + value + b")"


def text_string(value: str) -> bytes:
    """A text string: ASCII as it is, anything else as UTF-16BE with its byte order mark (7.9.2.2)."""
    if value.isascii() and value.isprintable():
        return string(value.encode("ascii"))
    return b"<FEFF" + value.encode("utf-16-be").hex().upper().encode() + b">"


def serialise(value: Value) -> bytes:  # noqa: PLR0911  one return a kind of object
    """Any value as PDF syntax, dictionaries in the order given."""
    match value:
        case None:
            return b"null"
        case bool():
            return b"true" if value else b"false"
        case int() | float() | Decimal():
            return number_text(value).encode()
        case Name():
            return name_text(value).encode()
        case Raw():
            return bytes(value)
        case str():
            return text_string(value)
        case bytes():
            return string(value)
        case Ref():
            return b"%d 0 R" % value.number
        case Mapping():
            return b"<<" + b"".join(_entry(name_text(key).encode(), part) for key, part in value.items()) + b">>"
        case Sequence():
            return b"[" + b" ".join(serialise(part) for part in value) + b"]"
    raise TypeError(f"{type(value).__name__} is nothing that PDF can hold")


def _entry(key: bytes, value: Value) -> bytes:
    text = serialise(value)
    return key + text if text[:1] in b"/[(<" else key + b" " + text


def indirect(number: int, body: bytes) -> bytes:
    """An indirect object of generation 0."""
    return b"%d 0 obj\n%b\nendobj\n" % (number, body)


def stream(number: int, entries: Mapping[str, Value], data: bytes) -> bytes:
    """An indirect stream object; `entries` without Length, `data` already encoded as the entries' Filter says."""
    head = serialise({**entries, "Length": len(data)})
    return b"%d 0 obj\n%bstream\n%b\nendstream\nendobj\n" % (number, head, data)
