"""Canonical JSON (RFC 8785): one value, one text.

Lives here: the fast way for what lines of pieces hold, and the library for everything else.  Both give the same bytes;
a test compares them.
"""

from __future__ import annotations

import re
from typing import Any

import orjson
import rfc8785

#: Where both write a fraction without an exponent (ECMA-262, Number::toString).
_LEAST, _MOST = 1e-4, 1e15
#: Numbers that may be written in two ways: with exponents, with a fraction of nothing, and long ones.
_DOUBTFUL = re.compile(rb"(?:^|[:\[,])-?(?:\d+(?:\.\d+)?[eE]|\d{16})|\.0(?:[,\]}]|$)")


def canonical(value: Any) -> bytes:
    """Raises ValueError for what JSON, or RFC 8785, cannot hold."""
    try:
        return rfc8785.dumps(value)
    except (rfc8785.CanonicalizationError, RecursionError, UnicodeEncodeError) as error:
        raise ValueError(f"has no canonical form: {error}") from error


def plain(edge: float) -> float | int | None:
    """A number as the fast way writes it canonically; None for one that only the library does."""
    if type(edge) is bool or not -_MOST < edge < _MOST:
        return None
    whole = int(edge)
    return whole if whole == edge else edge if edge >= _LEAST or edge <= -_LEAST else None


def sorted_json(value: Any) -> bytes:
    """Canonical where all keys are ASCII and all numbers are `plain`.  Raises ValueError for what JSON cannot hold."""
    try:
        return orjson.dumps(value, option=orjson.OPT_SORT_KEYS)
    except orjson.JSONEncodeError as error:
        raise ValueError(f"has no canonical form: {error}") from error


def read_canonical(data: bytes) -> Any:
    """The value of a canonical text.  Raises ValueError for any other text, of the same value or not."""
    value = orjson.loads(data)
    if data.isascii() and not _DOUBTFUL.search(data) and sorted_json(value) == data:
        return value
    if canonical(value) != data:
        raise ValueError("it is not in canonical form")
    return value
