"""Kinds of values that job and layout files share: lengths, names, percentages, wordings.

All lengths are float points.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag

from vdp.units import parse_length


def length(value: Any) -> float:
    """A YAML scalar to points; a bare number has no unit and is refused, except 0."""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise ValueError("a length is a number and a unit, such as '3 mm'")
    if isinstance(value, (int, float)):
        if value == 0:
            return 0.0
        raise ValueError(f"{value} has no unit: write '{value} mm', '{value} in' or '{value} pt'")
    return parse_length(value)


Length = Annotated[float, BeforeValidator(length)]
PositiveLength = Annotated[float, BeforeValidator(length), Field(gt=0)]
Percent = Annotated[float, Field(ge=0, le=100)]
Turn = Literal[0, 90, 180, 270]
Name = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_-]{0,39}$")]
PlateName = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9 _-]{0,39}$")]
#: The process plates; every other plate is a spot of the job.
PROCESS_PLATES = ("Cyan", "Magenta", "Yellow", "Black")
#: The name of a series: it must stand after a full stop in a template.
SeriesName = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_]{0,39}$")]


def _many(value: Any) -> str:
    return "<many>" if isinstance(value, Mapping) else "<one>"


#: One text for all, or one per language of the records' language field; "other" is used for any language not named.
Wording = Annotated[
    Annotated[str, Tag("<one>")] | Annotated[dict[str, str], Field(min_length=1), Tag("<many>")],
    Discriminator(_many),
]
