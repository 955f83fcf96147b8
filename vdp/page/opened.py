"""A run as the page holds it: its folder on a shelf, an easel for its pictures, its job where that is at hand.

Lives here: opening, and opening again when a new run stands in the folder.  Not here: what is asked of it (`screens`).
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vdp.errors import CallerError
from vdp.job.load import Job
from vdp.page.easel import Colour, Easel
from vdp.page.index import Index
from vdp.page.names import names_of
from vdp.page.shelf import Shelf
from vdp.verify.views import INKS, Lamp

#: How a spot looks and glows where no job says so: as `vdp.job.model.Spot` has it.
_SHOWN, _GLOW = (0.0, 1.0, 0.0, 0.0), (0.35, 1.0, 0.62)


@dataclass(frozen=True, slots=True)
class Run:
    """An open run.  `kept` is what its findings are about, worked out when they are first asked for (see `found`)."""

    shelf: Shelf
    easel: Easel
    job: Job | None
    kept: list[dict[str, Any]] = field(default_factory=list, repr=False, compare=False)


class Slot:
    """A folder in which a run is, or will be.  `number` counts the slots of a page from 1."""

    def __init__(self, number: int, folder: Path, job: Job | None = None, records: Path | None = None) -> None:
        self.number, self.folder, self.job, self.records = number, folder, job, records
        self._run: Run | None = None
        self._mark: tuple[int, int] | None = None
        self._lock = asyncio.Lock()
        self._names: asyncio.Task[Index] | None = None
        self.why = ""

    @property
    def title(self) -> str:
        if self._run is not None:
            return self._run.shelf.title
        return self.job.model.job if self.job is not None else self.folder.name

    async def run(self) -> Run | None:
        """The run that stands in the folder now; None, with the reason in `why`, where there is none to look at."""
        async with self._lock:
            mark = _mark(self.folder / "report.json")
            if mark != self._mark:
                self._close()
                try:
                    self._run = await asyncio.to_thread(self._open)
                    self._name(self._run)
                except CallerError as error:
                    self.why = str(error.faults[0].message)
                self._mark = mark
            return self._run

    async def names(self) -> Index:
        """The recipients by row.  Raises CallerError where they cannot be searched."""
        await self.run()
        if self._names is None:
            raise CallerError.one("names", "cannot be searched: the recipients' list is not at hand")
        return await asyncio.shield(self._names)

    def _name(self, run: Run) -> None:
        """Reads the recipients beside what else is asked for, so that the first search need not wait."""
        if self.job is not None:
            sha256 = str((run.shelf.report.inputs.get("records") or {}).get("sha256", ""))
            self._names = asyncio.create_task(asyncio.to_thread(names_of, self.job, self.records, sha256))
            self._names.add_done_callback(_known)  # who searches is told

    def _open(self) -> Run:
        shelf = Shelf(self.folder)
        spots, dpi = shelf.report.spots, shelf.report.resolution
        lamp, inks = looks(spots, self.job)
        return Run(shelf, Easel(self.folder / "pieces.pdf", spots, dpi, lamp, inks), self.job)

    def _close(self) -> None:
        if self._run is not None:
            self._run.easel.close()
        self._run, self._names, self.why = None, None, ""

    def close(self) -> None:
        """Lets go of every file."""
        self._close()
        self._mark = None


def looks(spots: tuple[str, ...], job: Job | None) -> tuple[Lamp, Mapping[str, Colour]]:
    """How spots glow under the lamp and look by day: as the job says, else as a job that says nothing."""
    glow: dict[str, Colour] = {}
    inks: dict[str, Colour] = {}
    for spot in spots:
        said = job.model.spots.get(spot) if job is not None else None
        shown = _SHOWN if said is None else tuple(part / 100 for part in said.shown_as)
        glows = _GLOW if said is None else None if said.glow is None else tuple(part / 100 for part in said.glow)
        if glows is not None:
            glow[spot] = (glows[0], glows[1], glows[2])
        inks[spot] = _left(shown)
    if job is None:
        return Lamp(glow=glow), inks
    return Lamp(job.model.lamp.dim / 100, job.model.lamp.bright_stock, glow), inks


def _left(cmyk: tuple[float, ...]) -> Colour:
    """What a mixture of the process inks leaves of red, green and blue light."""
    left = [1.0, 1.0, 1.0]
    for tint, ink in zip(cmyk, INKS.values(), strict=True):
        left = [light * (1 - tint * (1 - inked)) for light, inked in zip(left, ink, strict=True)]
    return (left[0], left[1], left[2])


def _known(task: asyncio.Task[Index]) -> None:
    """Takes note of how a task ended, which else is complained about when nobody asks."""
    if not task.cancelled():
        task.exception()


def _mark(report: Path) -> tuple[int, int]:
    try:
        stat = report.stat()
    except OSError:
        return (0, 0)
    return (stat.st_mtime_ns, stat.st_ino)
