"""Colour spaces of artwork, whatever they are: unlike `inks`, nothing is refused here, for artwork is only judged.

ISO 32000-2, 8.6.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import pikepdf

_DEVICE = {
    "/DeviceGray": "gray",
    "/G": "gray",
    "/DeviceCMYK": "cmyk",
    "/CMYK": "cmyk",
    "/DeviceRGB": "rgb",
    "/RGB": "rgb",
    "/CalGray": "gray",
    "/CalRGB": "rgb",
    "/Lab": "lab",
    "/Pattern": "pattern",
}
_SIZES = {"gray": 1, "cmyk": 4, "rgb": 3, "lab": 3, "pattern": 0, "unknown": 1}
_BY_COUNT = {1: "gray", 3: "rgb", 4: "cmyk"}
#: How deep spaces lie in one another (a palette of a separation over a profile) before a file is taken to be hostile.
_DEEPEST = 6


class Shade(NamedTuple):
    """A colour space: `kind` gray, cmyk, rgb, lab, separation, devicen, pattern or unknown; `calibrated` by a profile;
    `names` its colorants; `palette` for indexed pictures."""

    kind: str
    names: tuple[str, ...] = ()
    calibrated: bool = False
    palette: bool = False

    @property
    def size(self) -> int:
        """Components of a colour."""
        return 1 if self.palette else len(self.names) if self.names else _SIZES[self.kind]

    @property
    def initial(self) -> tuple[float, ...]:
        """The colour that selecting the space sets."""
        if self.kind == "cmyk":
            return (0.0, 0.0, 0.0, 1.0)
        return (1.0,) * self.size if self.names else (0.0,) * self.size

    def white(self, colour: tuple[float, ...]) -> bool:
        """Whether a colour leaves the paper as it is."""
        if self.kind in ("gray", "rgb"):
            return all(part >= 1 for part in colour)
        if self.kind == "cmyk" or self.names:
            return all(part <= 0 for part in colour)
        return False


GRAY, CMYK, RGB, UNKNOWN = Shade("gray"), Shade("cmyk"), Shade("rgb"), Shade("unknown")


def shade_of(value: object, named: Mapping[str, pikepdf.Object], depth: int = 0) -> Shade:
    """A colour-space object, or its name among the resources' `named`, → Shade; never raises."""
    try:
        return _shade(value, named, depth)
    except (KeyError, IndexError, TypeError, ValueError, AttributeError, pikepdf.PdfError):
        return UNKNOWN


def _shade(value: object, named: Mapping[str, pikepdf.Object], depth: int) -> Shade:  # noqa: PLR0911  one return a family of spaces
    if depth > _DEEPEST:
        return UNKNOWN
    if isinstance(value, pikepdf.Name):
        key = str(value)
        if key in _DEVICE:
            default = named.get(f"/Default{key[7:]}") if key.startswith("/Device") else None
            return Shade(_DEVICE[key]) if default is None else shade_of(default, {}, depth + 1)
        return shade_of(named[key], named, depth + 1) if key in named else UNKNOWN
    if not isinstance(value, pikepdf.Array):
        return UNKNOWN
    kind = str(value[0])
    if kind in ("/Indexed", "/I"):
        return shade_of(value[1], named, depth + 1)._replace(palette=True)
    if kind == "/Separation":
        return Shade("separation", (str(value[1])[1:],))
    if kind == "/DeviceN":
        return Shade("devicen", tuple(str(name)[1:] for name in value[1].as_list()))
    if kind == "/ICCBased":
        return Shade(_BY_COUNT[int(value[1]["/N"])], calibrated=True)
    if kind == "/Pattern" and len(value) > 1:
        return shade_of(value[1], named, depth + 1)._replace(kind="pattern", names=())
    return Shade(_DEVICE.get(kind, "unknown"), calibrated=kind.startswith("/Cal"))
