"""The page of a piece in whole device dots: trim, bleed, and where a layout's place falls.

A layout measures from the trim's upper left corner, y down; a page from its own (bleed's) lower left corner, y up.
Edges are rounded, not sizes, so that boxes which touch in the layout touch on the page.
"""

from __future__ import annotations

from dataclasses import dataclass

from vdp.marks import Box
from vdp.units import dots


@dataclass(frozen=True, slots=True)
class Page:
    """Sizes in dots: `width` × `height` is trim plus `bleed` on every side."""

    dpi: int
    width: int
    height: int
    bleed: int

    @classmethod
    def of(cls, trim: tuple[float, float], bleed: float, dpi: int) -> Page:
        """From points."""
        edge = dots(bleed, dpi)
        return cls(dpi, dots(trim[0], dpi) + 2 * edge, dots(trim[1], dpi) + 2 * edge, edge)

    @property
    def trim(self) -> Box:
        """The trim on the page."""
        return (self.bleed, self.bleed, self.width - 2 * self.bleed, self.height - 2 * self.bleed)

    def point(self, x: float, y: float) -> tuple[int, int]:
        """A layout place in points → page dots."""
        return self.bleed + dots(x, self.dpi), self.height - self.bleed - dots(y, self.dpi)

    def box(self, area: tuple[float, float, float, float]) -> Box:
        """A layout area (x, y, width, height in points) → page box in dots."""
        left, top = self.point(area[0], area[1])
        right, bottom = self.point(area[0] + area[2], area[1] + area[3])
        return (left, bottom, max(1, right - left), max(1, top - bottom))


def inside(inner: Box, outer: Box) -> bool:
    """Whether `inner` lies wholly in `outer`; shared edges count as inside."""
    return (
        inner[0] >= outer[0]
        and inner[1] >= outer[1]
        and inner[0] + inner[2] <= outer[0] + outer[2]
        and inner[1] + inner[3] <= outer[1] + outer[3]
    )


def overlaps(one: Box, other: Box) -> bool:
    """Whether two boxes share any area; shared edges do not count."""
    return (
        one[0] < other[0] + other[2]
        and other[0] < one[0] + one[2]
        and one[1] < other[1] + other[3]
        and other[1] < one[1] + one[3]
    )


def spot_on_page(box: Box, turn: int, along: int, down: int) -> tuple[int, int]:
    """A place inside a turned box, `along` the reading direction and `down` from its first line, → page dots."""
    x, y, width, height = box
    if turn == 0:
        return x + along, y + height - down
    if turn == 90:
        return x + down, y + along
    if turn == 180:
        return x + width - along, y + down
    return x + width - down, y + height - along


def reading_size(box: Box, turn: int) -> tuple[int, int]:
    """Extent of a turned box along and across its reading direction."""
    return (box[2], box[3]) if turn in (0, 180) else (box[3], box[2])
