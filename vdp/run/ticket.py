"""ticket.xjdf of a run: what the press must know, gathered from the job and the finished sheets.

Not here: the document (`press.ticket`).
"""

from __future__ import annotations

from pathlib import Path

from vdp.job.load import Job
from vdp.press.ticket import PrintFile, Ticket, write_ticket
from vdp.run.folder import sha256_of
from vdp.run.identity import created_of
from vdp.run.web import Laid, paper_of, usage_of
from vdp.verify.inks import PROCESS
from vdp.verify.tree import open_pdf, page_count

NAME = "ticket.xjdf"


def put_ticket(folder: Path, job: Job, laid: Laid, pieces: int) -> None:
    """Writes the ticket of a job that states its stock and press."""
    paper, used = paper_of(job, laid.plan.web), usage_of(job, laid)
    if paper is None or used is None:
        return
    web = laid.plan.web
    plates = (*PROCESS, *job.model.spots)
    ticket = Ticket(
        job=job.model.job,
        amount=pieces,
        trim=job.layout.trim,
        bleed=job.layout.bleed,
        web=web,
        backs=laid.plan.backs,
        heads=laid.plan.heads,
        paper=paper,
        usage=used,
        front=plates,
        back=plates,
        files=[_file(path) for path in sorted(folder.glob("sheets*.pdf"))],
        spots={name: _look(spot.shown_as) for name, spot in job.model.spots.items()},
        made=created_of(job).isoformat(timespec="seconds"),
    )
    (folder / NAME).write_bytes(write_ticket(ticket))


def _look(shown_as: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    c, m, y, k = shown_as
    return c / 100, m / 100, y / 100, k / 100


def _file(path: Path) -> PrintFile:
    with open_pdf(path) as pdf:
        return PrintFile(path.name, sha256_of(path), path.stat().st_size, page_count(pdf))
