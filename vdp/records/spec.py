"""What a job says about its recipient list: where it is, how to read it, what every field must satisfy.

Lives here: the frozen models only.  Not here: reading (`table`), judging (`rules`).
"""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator


class Model(BaseModel):
    """Base of every job and layout model: frozen, and an unknown key is a fault."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class FieldRule(Model):
    """What a record's field must satisfy.  An empty value breaks no rule but `required`.

    `length` counts characters (code points after NFC), least and most; `pattern` must match the whole value, which
    may have 1,000 characters; `date` is a strptime pattern; `fake` is a hint for invented records.
    """

    required: bool = False
    length: tuple[int, int] | None = None
    pattern: str | None = None
    one_of: tuple[str, ...] | None = Field(default=None, min_length=1)
    unique: bool = False
    date: str | None = None
    fake: str | dict[str, Any] | None = None

    @field_validator("pattern")
    @classmethod
    def _compiles(cls, value: str | None) -> str | None:
        if value is not None:
            try:
                re.compile(value)
            except re.error as error:
                raise ValueError(f"not a regular expression: {error}") from error
        return value

    @field_validator("length")
    @classmethod
    def _is_range(cls, value: tuple[int, int] | None) -> tuple[int, int] | None:
        if value is not None and not 0 <= value[0] <= value[1]:
            raise ValueError(f"not a least and a most length: {value[0]} to {value[1]}")
        return value

    @field_validator("date")
    @classmethod
    def _holds_a_date(cls, value: str | None) -> str | None:
        if value is not None:
            day = datetime(2031, 12, 28)  # noqa: DTZ001 - a sample; what year, month and day it has is all that counts
            try:
                # Python 3.13 warns when a pattern without a year is tried; one that tells two years apart has a year.
                dated = day.strftime(value) != day.replace(year=2032).strftime(value)
                whole = dated and datetime.strptime(day.strftime(value), value).date() == day.date()  # noqa: DTZ007
            except (ValueError, re.error):
                whole = False
            if not whole:
                raise ValueError("not a pattern for a whole date, such as %Y-%m-%d or %d.%m.%Y")
        return value


class Records(Model):
    """Where the recipient list is and how to read it.  `file` is relative to the job file.

    `encoding` and `delimiter` are for delimited text, `sheet` for a workbook; each is ignored by the other.
    `recipient` names the fields that tell people apart, `seeds` the field that is filled in for control addresses.
    """

    file: str
    encoding: str | None = None
    delimiter: Literal[",", ";", "tab", "|"] | None = None
    sheet: str | None = None
    language: str | None = None
    recipient: tuple[str, ...] = ()
    repeated: Literal["warn", "set_aside"] = "warn"
    seeds: str | None = None
    fields: dict[str, FieldRule] = {}
