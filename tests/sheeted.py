"""A small run whose pieces lie on sheets, laid out as a test asks; the run itself is made once a session's need.

Lives here: the run, the web it is laid on, and report.json told of it.  Not here: cutting sheets apart (`guillotine`).
"""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

from tests.small import write_job
from vdp.job.faces import job_faces
from vdp.marks import Mark
from vdp.pdf.book import Book
from vdp.plan.build import Plan
from vdp.plan.steps import FormStep
from vdp.press.backs import Backs, Heads
from vdp.press.frames import SheetPlan, rolls_of
from vdp.press.order import Order
from vdp.press.parts import Ends, Run, whole
from vdp.press.web import Turn, Wanted, Web, lay_web
from vdp.run import run_job
from vdp.run.folder import sha256_of
from vdp.run.opening import open_job
from vdp.run.screen import Screen
from vdp.run.sheets import sheet_section, write_sheets
from vdp.units import parse_length
from vdp.verify.judge import verify_folder
from vdp.verify.verdict import Verdict

PIECES = 20
TRIM = (parse_length("60 mm"), parse_length("40 mm"))
BLEED = parse_length("2 mm")


class Small(NamedTuple):
    """A finished run of the small job without sheets."""

    folder: Path
    book: Book

    def at(self, folder: Path) -> Small:
        return self._replace(folder=folder)


def make_run(home: Path, pieces: int = PIECES) -> Small:
    """Runs the small job."""
    rows = "".join(f"Guest{chr(65 + row % 26)}{row},en\n" for row in range(pieces))
    path = write_job(home, records="name,lang\n" + rows)
    result = run_job(path, records=None, out=home / "out", workers=1, screen=Screen(io.StringIO()))
    assert result.ok, result.findings
    return Small(home / "out", book_of(open_job(path, None, {}).plan, pieces))


def book_of(plan: Plan, pieces: int) -> Book:
    page = plan.page
    return Book(
        dpi=page.dpi,
        width=page.width,
        height=page.height,
        bleed=page.bleed,
        pieces=pieces,
        faces=job_faces(plan.job),
        spots=plan.job.model.spots,
        forms={step.asset: step.marks for step in plan.steps() if isinstance(step, FormStep)},
        title="Small",
        created=datetime(2026, 3, 9, tzinfo=UTC),
        identity=bytes(range(0xA0, 0xC0)),
        creator="vdp",
    )


def web_of(turn: Turn = 0, lanes: int = 3, along: int = 2, gutter: str = "5 mm") -> Web:
    """A web as wide as the small job's pieces need, with margins for every mark."""
    mm = parse_length
    across = TRIM[0] if turn in (0, 180) else TRIM[1]
    width = lanes * across + (lanes - 1) * mm(gutter) + mm("4 mm") + mm("20 mm") + mm("6 mm")
    margins = (mm("10 mm"), mm("10 mm"), mm("10 mm"), mm("11 mm"))
    wanted = Wanted(width, lanes, along=along, gutter=mm(gutter), bleed=BLEED, turn=turn, margins=margins)
    return lay_web(wanted, TRIM, BLEED, 1200, "web")


def lay_run(
    small: Small,
    order: Order | Run,
    web: Web | None = None,
    backs: Backs = "mirrored",
    heads: Heads = "head_to_head",
    *,
    apart: bool = False,
    leader: int = 0,
    trailer: int = 0,
    specimen: Sequence[Mark] = (),
) -> SheetPlan:
    """Writes the sheets, the places into pieces.jsonl, and both into report.json."""
    plan = SheetPlan(web if web is not None else web_of(lanes=order.lanes, along=order.along), backs, heads)
    run = order if isinstance(order, Run) else whole(order, Ends(0, leader, trailer))
    names = write_sheets(
        small.folder,
        small.book,
        plan,
        rolls_of(run),
        apart=apart,
        stand_ins={"specimen": (specimen, specimen)} if run.specimens else {},
        compression="fast",
        tell=lambda _: None,
    )
    lines = read_lines(small.folder)
    for line in lines:
        line["place"] = run.place_of(line["piece"])._asdict()
    put_lines(small.folder, lines)
    report = json.loads((small.folder / "report.json").read_bytes())
    report["sheets"] = sheet_section(plan, small.book, rolls_of(run), apart=apart)
    report["files"] |= dict.fromkeys(names, "")
    (small.folder / "report.json").write_text(json.dumps(report), "utf-8")
    refresh(small.folder)
    return plan


def read_lines(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "pieces.jsonl").read_text("utf-8").splitlines()]


def put_lines(folder: Path, lines: list[dict[str, Any]]) -> None:
    text = "".join(json.dumps(line, ensure_ascii=False, separators=(",", ":")) + "\n" for line in lines)
    (folder / "pieces.jsonl").write_text(text, "utf-8")


def refresh(folder: Path) -> None:
    """Makes report.json name the files as they are now."""
    report = json.loads((folder / "report.json").read_bytes())
    report["files"] = {name: sha256_of(folder / name) for name in report["files"]}
    (folder / "report.json").write_text(json.dumps(report), "utf-8")


def judged(folder: Path) -> Verdict:
    return verify_folder(folder)
