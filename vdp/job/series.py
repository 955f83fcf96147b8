"""What a job says of a series of serials.

Lives here: the frozen model only.  Not here: the serials (`numbering`), whether its settings go together
(`numbering.shape`), where the next number comes from (the ledger).
"""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import Field, field_validator

from vdp.records.spec import Model

CheckScheme = Literal[
    "none",
    "mod11_2",
    "mod37_2",
    "mod97_10",
    "mod661_26",
    "mod1271_36",
    "mod11_10",
    "mod27_26",
    "mod37_36",
    "luhn",
    "gs1",
    "damm",
    "verhoeff",
    "upu_s10",
    "code39_mod43",
    "icao_731",
]

_FIXED = re.compile(r"[\x21-\x7e]{0,20}")
#: How a template begins.
_BRACES = ("{{", "{%")


class Replacement(Model):
    """What is different in the series of replacement numbers: begins (at 1) and ends as it says, the rest is as in the
    series whose spoiled numbers it replaces."""

    prefix: Annotated[str, Field(max_length=200)] | None = None
    suffix: Annotated[str, Field(max_length=200)] | None = None
    start: Annotated[int, Field(ge=0)] | None = None
    last: Annotated[int, Field(ge=0)] | None = None

    @field_validator("prefix", "suffix")
    @classmethod
    def _is_printable(cls, value: str | None) -> str | None:
        return value if value is None else _affix(value)


class Series(Model):
    """How serials are formed: prefix + number (start, start + step, … last, filled to width) + check + code + suffix.

    `prefix` and `suffix` may be templates over the record (`{{ year }}`); the number is then unique alone.  `alphabet`
    is decimal, alphanumeric (without look-alikes), or its characters, zero first.  `groups` writes number, check and
    code in groups with `separator` between.  `shuffled` numbers cannot be guessed; `code` is the length of an
    authenticity code; both need `key`, which is env:NAME or a file.  `column`: the numbers stand in the records.
    `replacement`: a series of its own for the numbers that replace spoiled ones.

    The check characters are computed over the number, or over prefix + number where the scheme takes letters.
    """

    prefix: Annotated[str, Field(max_length=200)] = ""
    start: Annotated[int, Field(ge=0)] = 1
    last: Annotated[int, Field(ge=0)] | None = None
    step: Annotated[int, Field(ge=1)] = 1
    width: Annotated[int, Field(ge=1, le=30)]
    suffix: Annotated[str, Field(max_length=200)] = ""
    check: CheckScheme = "none"
    alphabet: Annotated[str, Field(pattern=r"^[\x21-\x7e]{2,94}$")] = "decimal"
    groups: tuple[Annotated[int, Field(ge=1)], ...] = ()
    separator: Annotated[str, Field(min_length=1, max_length=1)] = "-"
    shuffled: bool = False
    code: Annotated[int, Field(ge=0, le=30)] = 0
    key: Annotated[str, Field(min_length=1, max_length=500)] | None = None
    column: Annotated[str, Field(min_length=1)] | None = None
    replacement: Replacement | None = None

    @field_validator("prefix", "suffix")
    @classmethod
    def _is_printable(cls, value: str) -> str:
        return _affix(value)

    def ledger_name(self, name: str) -> str:
        """What the ledger calls the series that the job calls `name`."""
        return name

    def replacing(self) -> Series:
        """The series whose numbers replace spoiled ones of this: written alike, and counted on its own."""
        own = self.replacement
        if own is None:
            return self
        said = {key: value for key in Replacement.model_fields if (value := getattr(own, key)) is not None}
        return Replacing.model_validate({**self.model_dump(), "start": 1, "last": None, "column": None, **said})

    @property
    def keyed(self) -> bool:
        """Whether only who has the key can tell what number comes next."""
        return self.shuffled or self.code > 0


class Replacing(Series):
    """A series of replacement numbers; those that are spoiled in turn are replaced by its own."""

    def ledger_name(self, name: str) -> str:
        return f"{name}.replacement"

    def replacing(self) -> Series:
        return self


def _affix(value: str) -> str:
    if not varies(value) and not _FIXED.fullmatch(value):
        raise ValueError(f"'{value}' is not up to 20 printable ASCII characters without spaces, and no template")
    return value


def varies(affix: str) -> bool:
    """Whether a prefix or suffix is a template."""
    return any(brace in affix for brace in _BRACES)
