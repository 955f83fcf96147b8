"""What USPS takes as a letter, a card or a folded self-mailer, as findings.

Values: STANDARDS §5, from DMM 101 and 201 as quoted by USPS Quick Service Guides (2011, 2015); limits are inclusive.
Length is the side along the address, height the other.  All lengths in points.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from vdp.errors import Finding
from vdp.marks import Box
from vdp.plan.page import overlaps
from vdp.press.clearance import Named
from vdp.units import POINTS_PER_INCH, dots

LETTER_CODES: dict[str, str] = {
    "mail-size": "the mail piece is higher, lower, longer or shorter than the post takes at this rate",
    "mail-thickness": "the mail piece is thicker or thinner than the post takes",
    "mail-aspect": "length divided by height is outside what the post's machines take",
    "mail-weight": "the mail piece is heavier than the post takes at this rate",
    "mail-panels": "a folded self-mailer has too many panels, or does not close at its foot",
    "mail-clear-zone": "something prints where the post sprays its own barcode",
}

#: Room for floating-point sums of inches; far below a dot.
_HAIR = 1e-6
#: The barcode clear zone in the address side's lower right corner: length and height in points.
CLEAR_ZONE = (4.75 * POINTS_PER_INCH, 0.625 * POINTS_PER_INCH)
#: Grams in an ounce, exactly (international avoirdupois).
GRAMS_PER_OUNCE = 28.349523125


@dataclass(frozen=True, slots=True)
class MailPiece:
    """What goes into the post: closed, as handed over.  `thickness` of all its layers; `ounces` None = not weighed.

    `panels` and `last_fold` (where the final fold lies) are for self-mailers.
    """

    kind: Literal["letter", "card", "self_mailer"]
    length: float
    height: float
    thickness: float
    ounces: float | None = None
    panels: int = 1
    last_fold: Literal["bottom", "top", "left", "right"] = "bottom"


#: Inches: least and most length, height, thickness.
_LIMITS: dict[str, tuple[tuple[float, float], tuple[float, float], tuple[float, float]]] = {
    "letter": ((5, 11.5), (3.5, 6.125), (0.007, 0.25)),
    "card": ((5, 6), (3.5, 4.25), (0.007, 0.016)),
    "self_mailer": ((5, 10.5), (3.5, 6), (0.007, 0.25)),
}


def letter_findings(mail: MailPiece, where: str) -> list[Finding]:
    """Everything in which the piece is outside the limits; sizes are given in inches, as the source has them."""
    return [Finding(code, where, message) for code, message in _breaches(mail)]


def clear_zone(side: Box, dpi: int) -> Box:
    """The barcode clear zone on an address side whose outline is `side` on the page, upright; dots."""
    across, up = (dots(length, dpi) for length in CLEAR_ZONE)
    across = min(across, side[2])
    return (side[0] + side[2] - across, side[1], across, min(up, side[3]))


def clear_zone_findings(side: Box, marks: Iterable[Named], dpi: int, where: str) -> list[Finding]:
    """Every mark of the address side that reaches into the clear zone."""
    zone = clear_zone(side, dpi)
    return [
        Finding("mail-clear-zone", where, f"'{mark.name}' reaches into the lower right 4.75 × 0.625 in")
        for mark in marks
        if overlaps(mark.box, zone)
    ]


def _breaches(mail: MailPiece) -> Iterator[tuple[str, str]]:
    kind = mail.kind.replace("_", "-")
    length, height, thickness = (value / POINTS_PER_INCH for value in (mail.length, mail.height, mail.thickness))
    lengths, heights, thicknesses = _LIMITS[mail.kind]
    for name, value, (least, most) in (("long", length, lengths), ("high", height, heights)):
        if _outside(value, least, most):
            yield "mail-size", f"{value:.4g} in {name}: a {kind} is {least:g} to {most:g} in {name}"
    least, most = thicknesses
    if mail.kind == "letter" and (height > 4.25 + _HAIR or length > 6 + _HAIR):
        least = 0.009
    if _outside(thickness, least, most):
        yield "mail-thickness", f"{thickness:.4f} in thick: a {kind} of this size is {least:g} to {most:g} in thick"
    if mail.kind != "card" and height > 0 and _outside(length / height, 1.3, 2.5):
        yield "mail-aspect", f"length divided by height is {length / height:.3f}: 1.3 to 2.5"
    if mail.kind == "self_mailer":
        yield from _self_mailer(mail)


def _self_mailer(mail: MailPiece) -> Iterator[tuple[str, str]]:
    if mail.ounces is not None and mail.ounces > 3 + _HAIR:
        yield "mail-weight", f"{mail.ounces:.2f} oz: a self-mailer weighs at most 3 oz"
    if mail.panels > 12:
        yield "mail-panels", f"{mail.panels} panels: a self-mailer has at most 12"
    if mail.last_fold != "bottom":
        yield "mail-panels", f"the final fold is at the {mail.last_fold}: it must be at the bottom"


def _outside(value: float, least: float, most: float) -> bool:
    return value < least - _HAIR or value > most + _HAIR
