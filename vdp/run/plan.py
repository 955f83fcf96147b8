"""`vdp plan`: where every number will lie on the web, what paper and time the run takes, and the stacks as a picture.

Lives here: what is told and drawn.  Not here: the order and the arithmetic (`press`), composing.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import resvg_py

from vdp.errors import CallerError, Fault, Finding
from vdp.job.faces import job_faces
from vdp.job.load import Job
from vdp.press.drawing import draw_stacks
from vdp.press.order import Order, Place
from vdp.press.stock import Usage, feet, metres, roll_warnings
from vdp.run.allot import foreseen
from vdp.run.desk import desk_of, ledger_of
from vdp.run.folder import prepare
from vdp.run.intake import Intake, take_in
from vdp.run.numbers import Numbers
from vdp.run.opening import open_job
from vdp.run.screen import Screen
from vdp.run.web import Laid, lay_out, limits_of, paper_of, usage_of
from vdp.units import mm, points

#: Pixels a drawn SVG unit in the PNG.
ZOOM = 2
SPANS = "plan.csv"


@dataclass(slots=True)
class Planned:
    """What was planned.  `spans`: a row a roll and lane; `found`: what was asked for by serial or place."""

    title: str
    laid: Laid
    frame: float
    paper: Usage | None
    serials: dict[int, str]
    found: list[tuple[str, Place, str]]
    warnings: list[Finding] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    folder: str = ""

    @property
    def order(self) -> Order:
        return self.laid.order

    def spans(self) -> list[list[str]]:
        """Roll, lane, least and greatest piece with their serials, pieces, blanks."""
        rows = []
        for span in self.order.spans():
            first, last = self.serials.get(span.first, ""), self.serials.get(span.last, "")
            numbers = (span.roll, span.lane, span.first, first, span.last, last, span.pieces, span.blanks)
            rows.append([str(value) for value in numbers])
        return rows

    def to_json(self) -> str:
        """One object: counts, web, paper, spans, what was asked for, files."""
        order = self.order
        told: dict[str, Any] = {
            "ok": True,
            "pieces": order.pieces,
            "blanks": order.blanks,
            "frames": order.frames,
            "rolls": order.rolls,
            "blocks": order.blocks,
            "frame_mm": round(mm(self.frame), 4),
            "metres": round(metres(self.frame * order.frames), 3),
            "paper": None if self.paper is None else {k: v for k, v in asdict(self.paper).items() if k != "plates"},
            "spans": [dict(zip(HEAD, row, strict=True)) for row in self.spans()],
            "found": [{"asked": asked, **place._asdict(), "serial": serial} for asked, place, serial in self.found],
            "files": self.files,
            "warnings": [warning.as_json() for warning in self.warnings],
        }
        return json.dumps(told, ensure_ascii=False) + "\n"

    def as_text(self) -> str:
        """The same for people."""
        order, length = self.order, self.frame * self.order.frames
        counts = f"{order.pieces:,} and {order.blanks:,} blanks on {order.frames:,} frames"
        good = f"{metres(length):,.1f} m ({feet(length):,.0f} ft) of good frames"
        lines = [
            self.title,
            f"  pieces   {counts} of {order.lanes} × {order.along}, {order.rolls} rolls",
            f"  web      {good}, {mm(self.frame):.2f} mm each",
        ]
        if self.paper is not None:
            paper = self.paper
            lines.append(
                f"  paper    {metres(paper.length):,.1f} m in all, {paper.kilograms:,.1f} kg, "
                f"{paper.delivered} delivered rolls, {paper.splices} splices, {paper.minutes:,.1f} minutes"
            )
        lines.append("  roll  lane  first piece            last piece             pieces  blanks")
        for roll, lane, first, serial, last, other, pieces, blanks in self.spans():
            low, high = f"{first} {serial}", f"{last} {other}"
            lines.append(f"  {roll:>4}  {lane:>4}  {low:<21}  {high:<21}  {pieces:>6}  {blanks:>6}")
        for asked, place, serial in self.found:
            where = f"roll {place.roll}, frame {place.frame}, lane {place.lane}, place {place.along}"
            lines.append(f"  {asked}: {where}{f', {serial}' if serial != asked else ''}")
        lines += [f"  warning  {warning.where}: {warning.message}" for warning in self.warnings]
        if self.files:
            lines.append(f"  files    {', '.join(self.files)} in {self.folder}")
        return "\n".join(lines) + "\n"


HEAD = ("roll", "lane", "first", "first_serial", "last", "last_serial", "pieces", "blanks")


def plan_job(
    path: Path,
    *,
    records: Path | None,
    serials: Sequence[str],
    places: Sequence[str],
    out: Path | None,
    screen: Screen,
) -> Planned:
    """Reads everything and composes nothing.  Raises CallerError for a job without a web, a serial that the run will
    not have, or a place that it has not."""
    desk = desk_of()
    opened = open_job(path, records, desk.environ)
    job = opened.job
    with ledger_of(job, desk, write=False) as ledger:
        numbers = Numbers(job, opened.series, foreseen(opened, ledger))
    with screen.step("reading", opened.table.count, "records") as tell:
        intake = take_in(opened.plan, opened.table, numbers, tell)
    laid = lay_out(job, intake.pieces) if intake.pieces else None
    if laid is None:
        raise CallerError.one(
            job.where("job", "web") if intake.pieces else opened.table.shown,
            "the job has no section 'web'" if intake.pieces else "no record can be set",
            "say how the pieces lie on the web" if intake.pieces else "see vdp check",
        )
    asked = [(text, _place(text)) for text in places]
    known, found = _look(intake, laid.order, serials, asked)
    frame = points(laid.plan.web.frame, job.model.resolution)
    planned = Planned(job.model.job, laid, frame, usage_of(job, laid), known, found)
    planned.warnings = _warnings(job, laid, frame)
    if out is not None:
        _draw(planned, job, out)
    return planned


def _look(
    intake: Intake, order: Order, serials: Sequence[str], asked: Sequence[tuple[str, Place]]
) -> tuple[dict[int, str], list[tuple[str, Place, str]]]:
    """Serials of the pieces that are told or drawn, by number; and what was asked for."""
    wanted = {piece for span in order.spans() for piece in (span.first, span.last)}
    for roll in range(1, order.rolls + 1):
        wanted |= {
            piece for stack in order.stacks(roll) if stack.pieces for piece in (stack.pieces[0], stack.pieces[-1])
        }
    at_places = {text: order.piece_at(place) for text, place in asked}
    wanted |= {piece for piece in at_places.values() if piece is not None}
    missing, known, found = set(serials), dict[int, str](), list[tuple[str, Place, str]]()
    for record in intake.accepted():
        piece = record.nth + 1
        for serial in missing & set(record.serials.values()):
            found.append((serial, order.place_of(piece), serial))
            missing.discard(serial)
        if piece in wanted:
            known[piece] = next(iter(record.serials.values()), "")
    if missing:
        raise CallerError([Fault("--serial", f"this run will have no serial '{serial}'") for serial in sorted(missing)])
    for text, place in asked:
        held = at_places[text]
        found.append((text, place, "blank" if held is None else f"piece {held} {known[held]}".rstrip()))
    return known, found


def _place(text: str) -> Place:
    """`roll/frame/lane/along`, such as 2/120/3/1."""
    parts = text.split("/")
    if len(parts) not in (3, 4) or not all(part.isdecimal() for part in parts):
        raise CallerError.one("--place", f"'{text}' is no place", "write roll/frame/lane/along, such as 2/120/3/1")
    roll, frame, lane, *along = (int(part) for part in parts)
    return Place(roll, frame, lane, along[0] if along else 1)


def _warnings(job: Job, laid: Laid, frame: float) -> list[Finding]:
    limits, paper, order = limits_of(job), paper_of(job, laid.plan.web), laid.order
    if limits is None or paper is None:
        return []
    most = max(order.frames_on(roll) for roll in range(1, order.rolls + 1))
    where = job.where("job", "rolls")
    return [Finding("roll-large", where, said) for said in roll_warnings(limits, paper, most, frame)]


def picture_of(svg: bytes, job: Job) -> bytes:
    """A drawing of ours as a PNG."""
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=svg.decode("utf-8"),
            zoom=ZOOM,
            skip_system_fonts=True,
            font_files=[str(job_faces(job)[face].path) for face in ("sans", "sans-bold")],
            sans_serif_family="Noto Sans",
        )
    )


def _draw(planned: Planned, job: Job, out: Path) -> None:
    """The stacks as SVG and PNG, and the table of rolls and lanes."""
    prepare(out)
    svg = draw_stacks(planned.order, planned.title, lambda piece: planned.serials.get(piece) or str(piece))
    png = picture_of(svg, job)
    table = io.StringIO()
    csv.writer(table).writerows([HEAD, *planned.spans()])
    for name, data in (("stacks.svg", svg), ("stacks.png", png), (SPANS, table.getvalue().encode())):
        (out / name).write_bytes(data)
        planned.files.append(name)
    planned.folder = str(out)
