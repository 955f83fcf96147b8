"""ticket.xjdf of a run, one for each press: what the press must know, gathered from the job and the finished sheets.

Not here: the document (`press.ticket`).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from vdp.errors import Finding
from vdp.job.load import Job
from vdp.marks import PROCESS, ImageMark, Ink, Mark
from vdp.plan.build import Plan
from vdp.plan.steps import FixedStep, FormStep, ImageStep, Step
from vdp.press.parts import Part
from vdp.press.ticket import PrintFile, Ticket, write_ticket
from vdp.run.folder import put, sha256_of
from vdp.run.identity import created_of
from vdp.run.rolls import paper_of, usage_of, winding_of
from vdp.run.sheets import file_name
from vdp.run.web import Laid
from vdp.verify.coverage import leaf_tints
from vdp.verify.doubt import Unreadable
from vdp.verify.tree import open_pdf, page_count, pages

#: Resolution at which the first and the last piece are looked at for the plates that they use, in dpi.
_DPI = 100


def ticket_name(press: str) -> str:
    """The ticket of a press, "" for the only one."""
    return f"ticket-{press}.xjdf" if press else "ticket.xjdf"


def put_tickets(folder: Path, plan: Plan, laid: Laid) -> list[Finding]:
    """Writes a ticket for each press of a job that states its stock and press; → a warning where it does not."""
    job = plan.job
    missing = [
        key for key, said in (("stock", job.model.stock), ("press", job.model.press or job.model.presses)) if not said
    ]
    if missing:
        message = f"no press ticket was written: the job has no section {' and no section '.join(missing)}"
        return [Finding("ticket-unwritten", job.where("job", "web"), message)]
    sides = _plates(folder, plan)
    for part in laid.run.parts:
        put(folder / ticket_name(part.press), write_ticket(_ticket(folder, job, laid, part, sides)))
    return []


def _ticket(folder: Path, job: Job, laid: Laid, part: Part, sides: tuple[tuple[str, ...], tuple[str, ...]]) -> Ticket:
    web = laid.plan.web
    return Ticket(
        job=job.model.job,
        press=part.press,
        first=part.rolls + 1,
        amount=part.order.pieces,
        trim=job.layout.trim,
        bleed=job.layout.bleed,
        web=web,
        backs=laid.plan.backs,
        heads=laid.plan.heads,
        paper=paper_of(job, web),  # type: ignore[arg-type]  # the job states its stock
        usage=usage_of(job, web, part),  # type: ignore[arg-type]  # and its press
        winding=winding_of(job, part.press),
        front=sides[0],
        back=sides[1],
        plates=(*PROCESS, *job.model.spots),
        files=[_file(path) for path in _files(folder, laid, part)],
        spots={name: _look(spot.shown_as) for name, spot in job.model.spots.items()},
        made=created_of(job).isoformat(timespec="seconds"),
    )


def _files(folder: Path, laid: Laid, part: Part) -> list[Path]:
    """The sheet files of a press, in printing order."""
    if not laid.apart:
        return [folder / "sheets.pdf"]
    return [folder / file_name(part.rolls + roll) for roll in range(1, part.order.rolls + 1)]


def _look(shown_as: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    c, m, y, k = shown_as
    return c / 100, m / 100, y / 100, k / 100


def _file(path: Path) -> PrintFile:
    with open_pdf(path) as pdf:
        return PrintFile(path.name, sha256_of(path), path.stat().st_size, page_count(pdf))


# -- plates of each side -----------------------------------------------------------------------------------------------


def _plates(folder: Path, plan: Plan) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The plates that each side of the pieces uses: those of every item of the layout, and, for artwork, those that
    have ink on the finished pages of the first and the last piece."""
    names = (*PROCESS, *plan.job.model.spots)
    used: list[set[str]] = [set(), set()]
    for side, own in enumerate(used):
        for step in plan.sides[side].steps:
            own.update(_of_step(step))
    with open_pdf(folder / "pieces.pdf") as pdf:
        count = page_count(pdf)
        for first in sorted({0, count - 2}):
            for side, leaf in enumerate(pages(pdf, first, first + 2)):
                try:
                    tints, _ = leaf_tints(pdf, leaf, tuple(plan.job.model.spots), _DPI)
                except Unreadable:
                    used[side].update(names)  # what cannot be told apart may be on any plate
                    continue
                used[side].update(plate for plate, tint in tints.items() if tint.any())
    front, back = (tuple(name for name in names if name in own) for own in used)
    return front, back


def _of_step(step: Step) -> Iterator[str]:
    if isinstance(step, ImageStep):
        yield from PROCESS
    elif isinstance(step, FixedStep | FormStep):
        for mark in step.marks:
            yield from _of_mark(mark)
    else:
        yield from _of_ink(step.ink)


def _of_mark(mark: Mark) -> Iterator[str]:
    ink = None if isinstance(mark, ImageMark) else getattr(mark, "ink", None)
    if ink is not None:
        yield from _of_ink(ink)


def _of_ink(ink: Ink) -> Iterator[str]:
    if ink.spot:
        yield ink.spot
        return
    yield from (plate for plate, part in zip(PROCESS, ink.cmyk, strict=True) if part > 0)
