"""What finishing needs of a finished piece, measured on its own pages: bare paper under glue, the serial on both parts
of a counterfoil.

Lives here: where the layout's zones are, and what lies in them.  Not here: whether the layout could be right at all
(before anything is composed), reading pages (`chunk`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from vdp.errors import Finding
from vdp.job.load import Job
from vdp.verify import serials
from vdp.verify.manifest import PieceLine
from vdp.verify.raster import Raster
from vdp.verify.shown import Run, text_of, within
from vdp.verify.state import Area
from vdp.verify.verdict import CheckDone
from vdp.verify.view import PageView

#: Resolution at which zones are looked at, in dpi: a hairline of 0.1 mm still greys its pixels.
_DPI = 200
#: Ink of less than this of 255 is none: the last bit of a rounded tint.
_FAINT = 2


class Zone(NamedTuple):
    """An area that stays bare; `side` 0 front, 1 back; `area` in points from the page's lower left."""

    number: int
    side: int
    area: Area


class Wrong(NamedTuple):
    """A finding of a piece: side, code, message."""

    side: int
    code: str
    message: str


class Finish:
    """A layout's own zones; there may be none."""

    def __init__(self, job: Job) -> None:
        """The layout's, each area on the page."""
        finish, dot = job.layout.finish, 72 / job.model.resolution
        self._height, self._bleed = job.layout.trim[1], job.layout.bleed
        # Edges are rounded to dots: what lies beside a zone may reach into it by one.
        self.glue = tuple(
            Zone(number, ("front", "back").index(zone.side), _grown(self._placed(zone.area), -dot))
            for number, zone in enumerate(finish.glue, 1)
        )
        self._counterfoils = tuple(
            (foil.series, tuple(_grown(self._placed(part), dot) for part in foil.parts)) for foil in finish.counterfoils
        )

    def _placed(self, area: tuple[float, float, float, float]) -> Area:
        """From the trim's upper left, y down, to the page's lower left, y up."""
        x, y, width, height = area
        top = self._bleed + self._height - y
        return (self._bleed + x, top - height, self._bleed + x + width, top)

    def counterfoils(self, piece: PieceLine, front: Sequence[Run]) -> Iterator[Wrong]:
        """Parts of the front that do not carry the piece's serial: as type, or in a symbol (which is decoded anyway),
        wholly within the part."""
        for foil, (series, parts) in enumerate(self._counterfoils, 1):
            serial = piece.serials.get(series, "")
            for number, part in enumerate(parts, 1):
                text = text_of([run for run in front if _lies_in(run, part)])
                coded = any(
                    serial in symbol.data and symbol.page % 2 and _holds(part, symbol.box) for symbol in piece.symbols
                )
                if not serials.shows(text, serial) and not coded:
                    message = f"part {number} of counterfoil {foil} does not carry '{serial}'"
                    yield Wrong(0, "counterfoil-missing", message)

    def bare(self, views: Sequence[PageView | None], raster: Raster) -> Iterator[Wrong]:
        """Zones with ink on any plate, artwork and pictures included."""
        for zone in self.glue:
            view = views[zone.side]
            for plate, number in view.copies.items() if view is not None else ():
                if number is None:
                    continue
                ink = 255 - int(raster.region(number, zone.area, _DPI).min())
                if ink >= _FAINT:
                    message = f"glue zone {zone.number} has {ink / 2.55:.0f} % of ink on {plate}: it must be bare paper"
                    yield Wrong(zone.side, "glue-printed", message)


def finish_done(job: Job, pieces: int, findings: Sequence[Finding]) -> tuple[CheckDone, ...]:
    """What was checked of a layout that has such zones."""
    finish, codes = job.layout.finish, {finding.code for finding in findings}
    done = []
    if finish.glue:
        how = f"every plate of each piece looked at there, {_DPI} pixels an inch, artwork included"
        done.append(
            CheckDone("Glue zones bare", how, f"{len(finish.glue)} on {pieces} pieces", "glue-printed" not in codes)
        )
    if finish.counterfoils:
        how = "the piece's serial wholly within each part, as type or in a symbol that is decoded"
        count = f"{sum(len(foil.parts) for foil in finish.counterfoils)} parts of {pieces} pieces"
        done.append(CheckDone("Counterfoils", how, count, "counterfoil-missing" not in codes))
    return tuple(done)


def _grown(area: Area, by: float) -> Area:
    return (area[0] - by, area[1] - by, area[2] + by, area[3] + by)


def _holds(outer: Area, inner: Area) -> bool:
    return outer[0] <= inner[0] and outer[1] <= inner[1] and inner[2] <= outer[2] and inner[3] <= outer[3]


def _lies_in(run: Run, area: Area) -> bool:
    """Whether a run begins and ends within an area."""
    length = run.font.width(run.gids) / 1000
    end = run._replace(at=(run.at[0] + run.along[0] * length, run.at[1] + run.along[1] * length))
    return within(run, area, 0.0) and within(end, area, 0.0)
