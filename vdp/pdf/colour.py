"""Inks as content operators, and the resources that they name.

Process inks are DeviceCMYK.  A spot plate is a Separation; its marks stand in an optional-content group of the plate's
name and overprint (ISO 32000-1, 8.6.6.4, 8.6.7, 8.11): they add their own toner and knock nothing out.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from vdp.marks import Ink
from vdp.pdf.objects import Name, Value, name_text, number_text

#: Resource name of the graphics state that overprints.
OVERPRINT = "Overprint"
#: The graphics state itself.  OPM has no bearing on a Separation; it is set so that no reader's default matters.
OVERPRINT_STATE: dict[str, Value] = {"Type": Name("ExtGState"), "OP": True, "op": True, "OPM": 1}


def part_text(part: float) -> str:
    """A component or a tint, 0 to 1, to a ten-thousandth."""
    return number_text(part, 4)


@lru_cache(maxsize=1024)
def fill_operator(ink: Ink) -> str:
    """Sets the colour of fills: ``0 0 0 1 k``, or ``1 scn`` where the plate's colour space is already chosen."""
    if ink.spot:
        return f"{part_text(ink.tint)} scn\n"
    return " ".join(part_text(part) for part in ink.cmyk) + " k\n"


def stroke_operator(ink: Ink) -> str:
    """Sets the colour of strokes, colour space included."""
    if ink.spot:
        return f"{name_text(ink.spot)} CS {part_text(ink.tint)} SCN "
    return " ".join(part_text(part) for part in ink.cmyk) + " K "


def open_plate(spot: str) -> str:
    """Begins marks on a spot plate."""
    name = name_text(spot)
    return f"/OC {name} BDC q {name} cs /{OVERPRINT} gs\n"


CLOSE_PLATE = "Q EMC\n"
#: Around process marks that overprint (ISO 32000-1, 8.6.7: in mode 1 a component of zero leaves its plate alone).
OPEN_OVER, CLOSE_OVER = f"q /{OVERPRINT} gs\n", "Q\n"


def separation(spot: str, shown_as: Sequence[float]) -> list[Value]:
    """The Separation colour space of a plate; `shown_as` is what a full tint looks like, in percent CMYK."""
    function: dict[str, Value] = {
        "FunctionType": 2,
        "Domain": [0, 1],
        "C0": [0, 0, 0, 0],
        "C1": [round(part / 100, 4) for part in shown_as],
        "N": 1,
    }
    return [Name("Separation"), Name(spot), Name("DeviceCMYK"), function]
