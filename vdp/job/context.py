"""What a record's templates see.  Not here: templates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

#: Names that a template knows besides the fields.
WORDS = ("field", "language", "row", "series")


@dataclass(slots=True)
class Context:
    """One record as its templates see it.  Nothing changes one; frozen, it would take three times as long to make.

    `values` are its fields by header, `serials` its serials by series, `locale` a Babel locale code, `row` the 1-based
    record number with the header as row 1; `dates` says how the date in a field is written (strptime patterns by field;
    ISO 8601 where not named).
    """

    values: Mapping[str, str]
    serials: Mapping[str, str]
    language: str
    locale: str
    row: int
    dates: Mapping[str, str] = field(default_factory=dict)
    #: What the template engine keeps for this record; filled by it at the first need.
    engine: list[Any] = field(default_factory=list, init=False, repr=False, compare=False)
