"""JSON from strangers: every way in which a text can be more, or other, than it seems is refused.

Not here: what the values mean (`seal`, `proof`, `claims`).
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any, NoReturn

#: A SHA-256, or a run's name.
_HASH = re.compile(r"[0-9a-f]{64}")
#: Counts and places are told in fewer digits: JSON numbers are exact to 2 ** 53 alone (RFC 8785, 3.2.2.3).
_MOST_COUNT = 1 << 53


def read_strict(data: bytes, most: int) -> Any:
    """The value of a JSON text of `most` bytes or fewer.

    Raises ValueError for everything else: other encodings, keys told twice, numbers that are none, depth without end.
    """
    if len(data) > most:
        raise ValueError(f"it is larger than {most:,} bytes")
    try:
        return json.loads(data.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_number)
    except RecursionError:
        raise ValueError("it is nested too deeply") from None


def written(value: Any) -> bytes:
    """The one way in which a value is written where each byte counts: two spaces, keys in order, UTF-8."""
    return json.dumps(value, ensure_ascii=False, indent=2, sort_keys=True, allow_nan=False).encode() + b"\n"


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    value = dict(pairs)
    if len(value) < len(pairs):
        raise ValueError("it tells a key twice")
    return value


def _no_number(said: str) -> NoReturn:
    raise ValueError(f"{said[:20]} is no number")


def count_of(value: object) -> int:
    """Raises ValueError for what is no count."""
    if type(value) is not int or not 0 <= value < _MOST_COUNT:
        raise ValueError(f"{_short(value)} is no count")
    return value


def text_of(value: object) -> str:
    """Raises ValueError for what is no text."""
    if not isinstance(value, str):
        raise ValueError(f"{_short(value)} is no text")
    return value


def hash_of(value: object) -> str:
    """Raises ValueError for what is no SHA-256 in small hexadecimal digits."""
    if not isinstance(value, str) or not _HASH.fullmatch(value):
        raise ValueError(f"{_short(value)} is no SHA-256")
    return value


def table_of(value: object, *keys: str) -> dict[str, Any]:
    """Raises ValueError for what is no object; with `keys`, for one that has not exactly these."""
    if not isinstance(value, Mapping):
        raise ValueError(f"{_short(value)} is no object")
    if keys and value.keys() != set(keys):
        unlike = sorted(map(_short, value.keys() ^ set(keys)))
        raise ValueError(f"keys are missing or too many: {', '.join(unlike[:5])}")
    return dict(value)


def _short(value: object) -> str:
    """A value as messages show it: never a page of it."""
    said = repr(value) if isinstance(value, str | int | float | bool | None) else f"a {type(value).__name__}"
    return said if len(said) <= 60 else said[:57] + "…"
