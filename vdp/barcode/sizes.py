"""How large each symbology may be printed: X-dimensions, bar heights, clear zones, pitches; and snapping to whole dots.

Lives here: the tables with their clauses, and the arithmetic of dots.  Not here: quiet zones in modules (`symbology`),
the extent of a payload, grades.

`source` says where a row comes from: a clause, a published size guide, "from memory".  ISO symbology standards leave
the X-dimension to the application, so only rows of an application (GS1, posts) have a range.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

from vdp.marks import StateDots
from vdp.units import MM_PER_INCH

_INCH = float(MM_PER_INCH)


@dataclass(frozen=True, slots=True)
class Size:
    """The size of a symbology in one use, in millimetres.

    `x_mm`: least, target and largest X.  `height_mm`: bar height at the least, target and largest X, (0, 0, 0) where
    the modules give it.  `longest_mm`: greatest width with quiet zones, or 0.
    """

    symbology: str
    use: str
    x_mm: tuple[float, float, float]
    height_mm: tuple[float, float, float]
    longest_mm: float
    source: str

    def least_height_mm(self, x_mm: float) -> float:
        """The least bar height at an X within the range: where heights differ they follow X."""
        low, _, high = self.x_mm
        least, _, most = self.height_mm
        return least + (most - least) * (x_mm - low) / (high - low)


_RETAIL = (0.264, 0.330, 0.660)
_EAN = (18.28, 22.85, 45.70)
_DISTRIBUTION = (0.495, 0.660, 0.660)
_TALL = (31.75, 31.75, 31.75)
_GUIDE = "GS1 General Specifications §5.12.3, as in a member organisation's size guide"

SIZES: Mapping[tuple[str, str], Size] = MappingProxyType(
    {
        (s.symbology, s.use): s
        for s in (
            Size("ean13", "retail", _RETAIL, _EAN, 0, _GUIDE),
            Size("upca", "retail", _RETAIL, _EAN, 0, _GUIDE),
            Size("upce", "retail", _RETAIL, _EAN, 0, _GUIDE + "; height of UPC-E from memory"),
            Size("ean8", "retail", _RETAIL, (14.58, 18.23, 36.46), 0, _GUIDE),
            Size("ean13", "distribution", _DISTRIBUTION, (34.28, 45.70, 45.70), 0, _GUIDE),
            Size("upca", "distribution", _DISTRIBUTION, (34.28, 45.70, 45.70), 0, _GUIDE),
            Size("itf14", "distribution", (0.495, 0.495, 1.016), _TALL, 0, _GUIDE),
            Size("gs1_128", "distribution", (0.495, 0.495, 1.016), _TALL, 165.10, _GUIDE + "; length §5.4.4.3"),
            Size(
                "gs1_128", "logistics", (0.495, 0.495, 0.940), _TALL, 165.10, "largest X from memory; length §5.4.4.3"
            ),
            Size("gs1_datamatrix", "retail", (0.396, 0.625, 0.990), (0, 0, 0), 0, "copies disagree on 0.615 or 0.625"),
            Size("gs1_qr", "retail", (0.396, 0.625, 0.990), (0, 0, 0), 0, "copies disagree on 0.615 or 0.625"),
        )
    }
)

#: Symbologies whose standard asks for bars of 5 mm or 15 % of the width without quiet zones, whichever is more, and its
#: clause.  ISO/IEC 15417 asks for no height of a Code 128.
SHARE_OF_WIDTH: Mapping[str, str] = MappingProxyType({"code39": "ISO/IEC 16388 §4.4 e)", "itf": "ISO/IEC 16390 §4.4"})


#: Millimetres by which bars may be lower than they should: half a hundredth, as ranges are printed.
HEIGHT_SLACK_MM = 0.005


def share_of_width_mm(width_mm: float) -> float:
    """The least bar height of a symbology in SHARE_OF_WIDTH."""
    return max(5.0, 0.15 * width_mm)


#: Thickness of ITF-14's bearer bars in millimetres where a printing plate needs them; otherwise at least 2 X (GS1
#: General Specifications §5.3.2.4, from memory).
BEARER_MM = 4.83


class Snapped(NamedTuple):
    """An X-dimension asked for, in whole dots, and as it will be printed."""

    asked_mm: float
    dots: int
    printed_mm: float


def snap(asked_mm: float, dpi: int, size: Size | None = None) -> Snapped:
    """The whole number of dots nearest to `asked_mm`, halves up, that the range of `size` allows.

    Raises ValueError when `asked_mm` is not in that range, no whole number of dots is, or less than half a dot is asked
    for.
    """
    per_mm = dpi / _INCH
    dots = math.floor(asked_mm * per_mm + 0.5)
    if size is not None:
        least, _, most = size.x_mm
        if not least <= asked_mm <= most:
            ranged = f"{least:g} to {most:g} mm, the range of {size.symbology} in {size.use}"
            raise ValueError(f"X of {asked_mm:g} mm is not within {ranged}")
        # A range is printed in thousandths of a millimetre: 0.330 mm is not to fail for its last digit.
        low, high = math.ceil((least - 0.0005) * per_mm), math.floor((most + 0.0005) * per_mm)
        if low > high:
            raise ValueError(f"no whole number of dots at {dpi} dpi lies within {least:g} to {most:g} mm")
        dots = min(max(dots, low), high)
    if dots < 1:
        raise ValueError(f"X of {asked_mm:g} mm is less than half a dot at {dpi} dpi")
    return Snapped(asked_mm, dots, dots / per_mm)


class Range(NamedTuple):
    """Least, target, largest."""

    least: float
    target: float
    most: float


@dataclass(frozen=True, slots=True)
class StateSize:
    """A four-state code: bars an inch, and widths, heights and clear zone in millimetres.

    `half_mm`: an ascender or descender with its tracker.  `clear_mm`: left, bottom, right, top.  `source` as above.
    """

    symbology: str
    title: str
    pitch_per_inch: Range
    bar_mm: Range
    tracker_mm: Range
    half_mm: Range
    full_mm: Range
    clear_mm: tuple[float, float, float, float]
    source: str

    def dots(self, dpi: int) -> StateDots:
        """The target sizes in whole dots.  Raises ValueError when rounding leaves a range: the resolution is low."""
        per_mm = dpi / _INCH
        pitch = round(dpi / self.pitch_per_inch.target)
        bar, tracker = round(self.bar_mm.target * per_mm), round(self.tracker_mm.target * per_mm)
        found = StateDots(pitch, bar, tracker, round((self.half_mm.target - self.tracker_mm.target) * per_mm))
        faults = self.faults(found, dpi)
        if faults:
            raise ValueError(f"{self.title} cannot be printed at {dpi} dpi: {'; '.join(faults)}")
        return found

    def faults(self, state: StateDots, dpi: int) -> list[str]:
        """Which of the sizes lie outside their range."""
        per_mm = dpi / _INCH
        sizes = (
            ("bars an inch", dpi / state.pitch, self.pitch_per_inch),
            ("mm of bar width", state.bar / per_mm, self.bar_mm),
            ("mm of tracker", state.tracker / per_mm, self.tracker_mm),
            ("mm of ascender or descender", state.half / per_mm, self.half_mm),
            ("mm of full bar", state.full / per_mm, self.full_mm),
        )
        return [
            f"{value:.3g} {what}, not {allowed.least:.3g} to {allowed.most:.3g}"
            for what, value, allowed in sizes
            if not allowed.least - 0.0005 <= value <= allowed.most + 0.0005
        ]

    def clear_dots(self, dpi: int) -> tuple[int, int, int, int]:
        """Left, bottom, right and top clear zone in dots, rounded up."""
        left, bottom, right, top = (math.ceil(mm * dpi / _INCH - 1e-9) for mm in self.clear_mm)
        return left, bottom, right, top


def _inches(least: float, most: float) -> Range:
    """A range in inches as millimetres, with its middle for a target."""
    return Range(least * _INCH, (least + most) / 2 * _INCH, most * _INCH)


def _royal(symbology: str, title: str, source: str) -> StateSize:
    """Sizes of the Royal Mail family: a bar reaches 1.60 to 2.16 mm beyond its tracker of 1.02 to 1.52 mm."""
    return StateSize(
        symbology,
        title,
        Range(20, 22, 24),
        Range(0.38, 0.50, 0.63),
        Range(1.02, 1.27, 1.52),
        Range(2.62, 3.15, 3.68),
        Range(4.22, 5.03, 5.84),
        (2, 2, 2, 2),
        source,
    )


STATES: Mapping[str, StateSize] = MappingProxyType(
    {
        s.symbology: s
        for s in (
            StateSize(
                "imb",
                "Intelligent Mail barcode",
                Range(20, 22, 24),
                _inches(0.015, 0.025),
                _inches(0.039, 0.057),
                _inches(0.082, 0.111),
                _inches(0.125, 0.165),
                (0.125 * _INCH, 0.028 * _INCH, 0.125 * _INCH, 0.028 * _INCH),
                "USPS-B-3200 §2.3.1, §2.3.2 (quotations give 0.026 and 0.028 in above and below)",
            ),
            _royal("rm4scc", "RM4SCC", "a printer maker's manual; clear zone: the post's user manual, Appendix C"),
            _royal("kix", "KIX", "taken to be RM4SCC's, from memory"),
        )
    }
)
