"""Colour spaces and what a colour puts on each plate (ISO 32000-2, 8.6 and 8.6.7 with its table of overprinting).

Lives here: colour-space objects → `Space`; colour + overprint → tint per plate.  Not here: pixels (`samples`), paths.

A tint is 0..1; None means that the plate stays as it was.  The plates are Black, then the job's spots, then "Colour":
Cyan, Magenta and Yellow taken together (the strongest of the three), which is enough to see that nothing of Black or of
a spot was printed in colour.  Where areas are measured the three are looked at apart.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

import pikepdf

from vdp.verify.doubt import Unreadable

BLACK, COLOUR = "Black", "Colour"
PROCESS = ("Cyan", "Magenta", "Yellow", "Black")


class Space(NamedTuple):
    """A colour space: `kind` is cmyk, icc4, gray, icc1, separation, devicen or pattern; `names` its colorants."""

    kind: str
    names: tuple[str, ...] = ()

    @property
    def size(self) -> int:
        """Components of a colour."""
        return {"cmyk": 4, "icc4": 4, "gray": 1, "icc1": 1, "pattern": 0}.get(self.kind, len(self.names))

    @property
    def initial(self) -> tuple[float, ...]:
        """The colour that `cs` sets (ISO 32000-2, 8.6.5.6 … 8.6.6.5)."""
        if self.kind in ("cmyk", "icc4"):
            # ICCBased starts with zeros where its range allows; for four inks that is paper.
            return (0.0, 0.0, 0.0, 1.0) if self.kind == "cmyk" else (0.0,) * 4
        return (0.0,) if self.kind in ("gray", "icc1") else (1.0,) * self.size


CMYK, GRAY = Space("cmyk"), Space("gray")
_DEVICE = {"/DeviceCMYK": CMYK, "/CMYK": CMYK, "/DeviceGray": GRAY, "/G": GRAY, "/Pattern": Space("pattern")}
Tints = tuple[float | None, ...]


def colour_space(value: pikepdf.Object, named: Mapping[str, pikepdf.Object] | None) -> Space:
    """A colour-space object → Space.  `named` are the resources' colour spaces.  Raises Unreadable."""
    if isinstance(value, pikepdf.Name):
        key = str(value)
        if key in _DEVICE:
            if named is not None and f"/Default{key[7:]}" in named:
                raise Unreadable(f"{key[1:]} is redefined by a default colour space")
            return _DEVICE[key]
        if named is not None and key in named:
            return colour_space(named[key], None)
        raise Unreadable(f"colour space {key[1:]} is not one of plates")
    if not isinstance(value, pikepdf.Array) or len(value) < 1:
        raise Unreadable("a colour space is neither a name nor an array")
    kind = str(value[0])
    if len(value) == 1:
        return colour_space(value[0], named)
    if kind == "/Separation":
        return Space("separation", (_colorant(value[1]),))
    if kind == "/DeviceN":
        colorants = tuple(_colorant(value[1][i]) for i in range(len(value[1])))
        return Space("devicen", colorants)
    if kind == "/ICCBased":
        channels = int(value[1].get("/N", 0))
        if channels in (1, 4):
            return Space(f"icc{channels}")
    raise Unreadable(f"colour space {kind[1:]} is not one of plates")


def _colorant(value: pikepdf.Object) -> str:
    return str(value)[1:]


def signature(value: pikepdf.Object) -> str:
    """A hash over everything a Separation array says, its tint function's bytes included."""
    digest = hashlib.sha256()

    def add(thing: object, depth: int) -> None:
        if depth > 8:
            raise Unreadable("a Separation array is nested too deeply")
        if isinstance(thing, pikepdf.Array):
            digest.update(b"[")
            for i in range(len(thing)):
                add(thing[i], depth + 1)
            digest.update(b"]")
        elif isinstance(thing, (pikepdf.Stream, pikepdf.Dictionary)):
            for key in sorted(thing.keys()):
                if key not in ("/Length", "/Filter", "/DecodeParms"):
                    digest.update(key.encode())
                    add(thing[key], depth + 1)
            if isinstance(thing, pikepdf.Stream):
                digest.update(thing.read_bytes())
        else:
            digest.update(repr(thing).encode() + b" ")

    add(value, 0)
    return digest.hexdigest()


class Plates:
    """The plates that are looked at, and what colours do to them."""

    def __init__(self, spots: tuple[str, ...], *, separate: bool = False) -> None:
        self.spots = spots
        self._coloured = PROCESS[:3] if separate else (COLOUR,)
        self.names: tuple[str, ...] = (BLACK, *spots, *self._coloured)
        self._tints = lru_cache(maxsize=4096)(self._work_out)

    def unknown(self, space: Space) -> list[str]:
        """Colorants that are no plate of the job."""
        known = {*PROCESS, *self.spots, "All", "None"}
        return [name for name in space.names if name not in known]

    def tints(self, space: Space, colour: tuple[float, ...], overprint: bool, mode: int) -> Tints:
        """What a colour does to each plate.  `mode` is the overprint mode (OPM); 0 for images and shadings."""
        return self._tints(space, colour, overprint, mode)

    def touched(self, space: Space, overprint: bool) -> tuple[bool | None, ...]:
        """For pictures and shadings: True where the plate gets ink values, False where it is knocked out, None where
        it stays as it was."""
        untouched = None if overprint else False
        if space.kind in ("cmyk", "icc4", "gray", "icc1"):
            return (True, *(untouched for _ in self.spots), *(True for _ in self._coloured))
        if space.names == ("None",):
            return (None,) * len(self.names)
        return tuple(True if self._indices(space, plate) else untouched for plate in self.names)

    def _indices(self, space: Space, plate: str) -> list[int]:
        """Which components of a Separation or DeviceN colour feed a plate."""
        mine = {"All", *((*PROCESS[:3], *self.unknown(space)) if plate == COLOUR else (plate,))}
        return [i for i, name in enumerate(space.names) if name in mine]

    def pick(self, space: Space, plate: str) -> tuple[list[int], bool]:
        """Component indices whose strongest value is the plate's tint, and whether they count downwards (grey)."""
        if space.kind in ("cmyk", "icc4"):
            return ([0, 1, 2] if plate == COLOUR else [PROCESS.index(plate)] if plate in PROCESS else []), False
        if space.kind in ("gray", "icc1"):
            return ([0] if plate == BLACK else []), True
        return self._indices(space, plate), False

    def _work_out(self, space: Space, colour: tuple[float, ...], overprint: bool, mode: int) -> Tints:
        if len(colour) != space.size:
            raise Unreadable(f"a colour has {len(colour)} components, its space {space.size}")
        result: list[float | None] = []
        for plate, touched in zip(self.names, self.touched(space, overprint), strict=True):
            if touched is None:
                result.append(None)
                continue
            which, inverted = self.pick(space, plate)
            parts = [1 - colour[i] if inverted else colour[i] for i in which]
            tint = max(0.0, min(1.0, max(parts, default=0.0)))
            # Overprint mode 1 concerns DeviceCMYK set directly: a component of zero leaves its plate alone.
            skipped = overprint and mode == 1 and space.kind == "cmyk" and tint == 0
            result.append(None if skipped else tint)
        return tuple(result)
