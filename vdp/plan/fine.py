"""Fine lines and microprint held against the press's dots and against ICAO's bound, before anything is composed.

Lives here: weights of lines and frames, the height of microprint.  Not here: letters as dots (`compose.small`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from vdp.errors import Fault, Finding
from vdp.job.items import BoxItem, LineItem, MicrotextItem
from vdp.marks import PAPER, Ink
from vdp.pattern.survival import LEAST_POSITIVE, LEAST_REVERSED
from vdp.plan.fixed import ink_of
from vdp.text import Face
from vdp.units import mm

#: Dots by which a weight may miss the grid: lengths are written to a few decimals.
_SLACK = 0.05
#: "Microprint: printed text or symbols smaller than 0.25 mm / 0.7 pica points" (ICAO Doc 9303-1, glossary).  Both
#: figures are one length (0.7 pt = 0.247 mm); of which measure of a letter, the glossary does not say.
MICROPRINT_MM = 0.25

Where = Callable[..., str]


def judge_weight(
    name: str, item: LineItem | BoxItem, dpi: int, where: Where, faults: list[Fault], warnings: list[Finding]
) -> None:
    """A line, frame or bar must be one dot thick, and should be two where it is left out of ink."""
    weight, key = _weight(item)
    thick = weight * dpi / 72
    if thick < LEAST_POSITIVE - _SLACK:
        said = (
            f"{name}: {mm(weight):.3f} mm is {thick:.2f} dots at {dpi} dpi; nothing thinner than a dot can be printed"
        )
        faults.append(Fault(where(key), said, f"write {25.4 / dpi:.3f} mm or more"))
    elif _is_left_out(ink_of(item)) and thick < LEAST_REVERSED - _SLACK:
        said = f"{name}: left out of ink it is {thick:.2f} dots wide at {dpi} dpi, and toner closes less than two"
        warnings.append(Finding("line-thin", where(key), f"{said}; {2 * 25.4 / dpi:.3f} mm and more is safe"))


def _is_left_out(ink: Ink) -> bool:
    """Whether a mark is paper in what lies under it."""
    return not ink.tint if ink.spot else ink.cmyk == PAPER.cmyk


def _weight(item: LineItem | BoxItem) -> tuple[float, str]:
    """The thinnest measure in points, and the key that states it."""
    if isinstance(item, LineItem):
        return item.line, "line"
    if item.weight is not None:
        return item.weight, "weight"
    return min(item.box[2:]), "box"


def microprint_faults(name: str, item: MicrotextItem, face: Face, where: Where) -> Iterator[Fault]:
    """Microtext that the layout calls microprint, by the height of its capitals or by its type size."""
    if item.microprint is None:
        return
    share = face.cap_height / 1000 if item.microprint == "letters" else 1.0
    height = mm(item.size) * share
    if height >= MICROPRINT_MM:
        what = "its capitals are" if item.microprint == "letters" else "its type size is"
        most = MICROPRINT_MM / share / 25.4 * 72
        said = f"{name}: {what} {height:.3f} mm high; microprint is smaller than {MICROPRINT_MM} mm (ICAO Doc 9303-1)"
        yield Fault(where("size"), said, f"set less than {most:.2f} pt, or take 'microprint' away")
