"""`vdp plan`: where every number will lie on the web, what paper, toner and time the run takes, its presses.

Lives here: the order of work.  Not here: what is told (`planned`), the files drawn (`drawn`), the order and the
arithmetic (`press`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from vdp.compose.piece import Accepted
from vdp.errors import CallerError, Fault, Finding
from vdp.job.load import Job
from vdp.press.order import Place
from vdp.press.parts import Run
from vdp.run.allot import foreseen
from vdp.run.desk import desk_of, ledger_of
from vdp.run.drawn import draw_plan
from vdp.run.finishing import judge_finishing
from vdp.run.intake import Intake, take_in
from vdp.run.make import book_of, make
from vdp.run.numbers import Numbers
from vdp.run.opening import open_job
from vdp.run.planned import PartTold, Planned, PlateArea
from vdp.run.rolls import pages_of, usage_of, winding_of
from vdp.run.screen import Screen
from vdp.run.specimen import specimen_for
from vdp.run.toner import DPI, Toner, measure_run
from vdp.run.web import Laid, lay_out
from vdp.units import mm, points


def plan_job(
    path: Path,
    *,
    records: Path | None,
    serials: Sequence[str],
    places: Sequence[str],
    out: Path | None,
    screen: Screen,
    test_frame: bool = False,
) -> Planned:
    """Reads everything, and composes no more than a sample to be measured.

    Raises CallerError for a job without a web, a serial that the run will not have, or a place that it has not.
    """
    if test_frame and out is None:
        raise CallerError.one("--test-frame", "it is drawn into a folder, and none is named", "add --out DIR")
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
    mail = judge_finishing(intake.plan)
    specimen_for(intake, laid)
    asked = [(text, _place(text, laid.run)) for text in places]
    known, found = _look(intake, laid.run, serials, asked)
    web = laid.plan.web
    parts = [
        PartTold(part, usage_of(job, web, part), winding_of(job, part.press), pages_of(job, web, part.press))
        for part in laid.run.parts
    ]
    planned = Planned(job.model.job, laid.run, points(web.frame, job.model.resolution), parts, known, found)
    planned.refused = [(row.row, "; ".join(reasons)) for row, reasons in intake.refused]
    toner = _sampled(intake)
    if toner is not None:
        planned.plates, planned.measured = _plates(job, toner, intake.pieces)
    planned.warnings = [*mail, *_warnings(job, laid, intake)]
    if out is not None:
        draw_plan(planned, job, laid, out, test_frame=test_frame)
    return planned


def _look(
    intake: Intake, run: Run, serials: Sequence[str], asked: Sequence[tuple[str, Place]]
) -> tuple[dict[int, str], list[tuple[str, Place, str]]]:
    """Serials of the pieces that are told or drawn, by number; and what was asked for."""
    wanted = {piece for span in run.spans() for piece in (span.first, span.last)}
    wanted |= {piece for part in run.parts for piece in (part.before + 1, part.before + part.order.pieces)}
    for roll in range(1, run.rolls + 1):
        wanted |= {piece for stack in run.stacks(roll) if stack.pieces for piece in (stack.pieces[0], stack.pieces[-1])}
    at_places = {text: _held(run, text, place) for text, place in asked}
    wanted |= {piece for piece in at_places.values() if piece is not None}
    missing, known, found = set(serials), dict[int, str](), list[tuple[str, Place, str]]()
    for record in intake.accepted():
        piece = record.nth + 1
        for serial in missing & set(record.serials.values()):
            found.append((serial, run.place_of(piece), serial))
            missing.discard(serial)
        if piece in wanted:
            known[piece] = next(iter(record.serials.values()), "")
    if missing:
        ends = f"its numbers run from {known.get(1, '')} to {known.get(run.pieces, '')}"
        mend = ends if known.get(1) else "the job has no series"
        raise CallerError(
            [Fault("--serial", f"this run will have no serial '{serial}'", mend) for serial in sorted(missing)]
        )
    for text, place in asked:
        held = at_places[text]
        nothing = "specimen" if run.specimen_at(place) else "blank"
        found.append((text, place, nothing if held is None else f"piece {held} {known[held]}".rstrip()))
    return known, found


def _held(run: Run, text: str, place: Place) -> int | None:
    """The piece at a place that was asked for.  Raises CallerError for one that there is not."""
    try:
        return run.piece_at(place)
    except CallerError as error:
        raise CallerError([replace(fault, where=f"--place {text}") for fault in error.faults]) from error


def _place(text: str, run: Run) -> Place:
    """`roll/frame/lane/along`, such as 2/120/3/1; the last may be left out where a lane has one place a frame."""
    parts = text.split("/")
    if len(parts) not in (3, 4) or not all(part.isascii() and part.isdecimal() for part in parts):
        raise CallerError.one("--place", f"'{text}' is no place", "write roll/frame/lane/along, such as 2/120/3/1")
    if len(parts) == 3 and run.along > 1:
        each = " or ".join(f"{text}/{along}" for along in range(1, run.along + 1))
        raise CallerError.one("--place", f"'{text}' is {run.along} places along the frame", f"write {each}")
    roll, frame, lane, *along = (int(part) for part in parts)
    return Place(roll, frame, lane, along[0] if along else 1)


# -- toner -------------------------------------------------------------------------------------------------------------


def _sampled(intake: Intake) -> Toner | None:
    """A few pieces composed aside and measured, as many as the job's toner rules say; None when they say none."""
    job = intake.plan.job
    if not job.model.toner.sample:
        return None
    records = [*_spread(intake, max(2, job.model.toner.sample))]
    with TemporaryDirectory(prefix="vdp-plan-") as scratch:
        book = book_of(intake.plan, intake.table, len(records), intake.numbers.firsts)
        header = intake.table.header
        make(intake.plan, records, book, Path(scratch), workers=1, header=header, tell=lambda _: None)
        return measure_run(Path(scratch), job, len(records))


def _spread(intake: Intake, many: int) -> Iterator[Accepted]:
    """Records that lie evenly over the run, the first and the last among them."""
    last = intake.pieces - 1
    chosen = {round(at * last / (many - 1)) for at in range(many)}
    for record in intake.accepted():
        if record.nth in chosen:
            yield record


def _plates(job: Job, toner: Toner, pieces: int) -> tuple[dict[str, PlateArea], str]:
    width, height = (mm(side) / 1000 for side in job.layout.trim)
    both = 2 * pieces * width * height
    plates = {
        name: PlateArea(
            round(percent, 3), round(percent / 100 * both, 6), round(percent / 100 * both * _grams(job, name), 4)
        )
        for name, percent in toner.areas.items()
    }
    return (
        plates,
        f"mean of {toner.pages} composed pages measured at {DPI} dpi, for all pieces; marks and specimens apart",
    )


def _grams(job: Job, plate: str) -> float:
    """Of a square metre of solid."""
    return job.model.toner.milligrams(plate) * 10


# -- warnings ----------------------------------------------------------------------------------------------------------


def _warnings(job: Job, laid: Laid, intake: Intake) -> Iterator[Finding]:
    yield from laid.cautions
    if intake.refused:
        stop = job.model.set_aside == "stop"
        does = "stops and composes nothing, since the job says set_aside: stop" if stop else "sets them aside"
        message = f"{len(intake.refused)} of {intake.records} rows cannot be set: vdp run {does}"
        yield Finding("rows-set-aside", intake.table.shown, message)
