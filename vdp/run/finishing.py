"""Folds, perforations, counterfoils, glue and the post, held against the layout before anything is composed.

Lives here: which areas of the plan are held against which lines and zones.  Not here: distances (`press.clearance`),
where folds fall (`press.folds`), the post's limits (`press.letter`).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from vdp.errors import CallerError, Fault, Finding
from vdp.job.load import Job
from vdp.marks import Box
from vdp.plan.build import Plan
from vdp.plan.neighbours import printed_areas
from vdp.plan.page import inside
from vdp.plan.steps import SymbolStep, TextStep
from vdp.plan.symbols import box_of, extent
from vdp.press.clearance import Named, on_bare, too_near, window_faults
from vdp.press.folds import Folding, fold_panels, panel_faults
from vdp.press.letter import MailPiece, clear_zone_findings, letter_findings
from vdp.press.printmarks import Line
from vdp.units import dots

SIDES = ("front", "back")


def folding_of(job: Job) -> Folding | None:
    """The job's panels; None where it folds nothing.  Raises CallerError when the fold or its paper is not right."""
    fold = job.model.fold
    if fold is None:
        return None
    where = job.where("job", "fold")
    if job.model.stock is None:
        raise CallerError.one(where, "panels depend on the paper's thickness", "say stock: {caliper: …}")
    height = job.layout.trim[1]
    caliper = job.model.stock.caliper
    return fold_panels(fold.kind, height, caliper, where, panels=fold.panels, short=fold.short, inner=fold.inner)


def lines_of(job: Job) -> tuple[Line, ...]:
    """Folds and perforations for the printer's marks, of a piece that lies upright or turned on the web."""
    dpi, (width, height) = job.model.resolution, job.layout.trim
    turn = job.model.web.turn if job.model.web is not None else 0
    found: list[Line] = []
    folding = folding_of(job)
    down = [("fold", at) for at in (folding.lines if folding is not None else ())]
    finish = job.layout.finish
    down += [("perforation", line.at) for line in finish.perforations if line.direction == "across"]
    along = [("perforation", line.at) for line in finish.perforations if line.direction == "down"]
    for named, size, across in ((down, height, True), (along, width, False)):
        for kind, at in named:
            # From the upper (left) edge as drawn, to the lower (left) edge as it lies on the web.
            far = {0: size - at if across else at, 180: at if across else size - at, 90: at, 270: size - at}[turn]
            name: Literal["fold", "perforation"] = "fold" if kind == "fold" else "perforation"
            found.append(Line(name, across == (turn in (0, 180)), dots(far, dpi)))
    return tuple(found)


def judge_finishing(plan: Plan) -> list[Finding]:
    """What the post would refuse.  Raises CallerError with every fault of the layout."""
    faults = [*_faults(plan)]
    if faults:
        raise CallerError(dict.fromkeys(faults))
    return _mail(plan)


def _faults(plan: Plan) -> Iterator[Fault]:
    job, finish, dpi = plan.job, plan.job.layout.finish, plan.page.dpi
    where = job.where("layout", "finish")
    folding = folding_of(job)
    if folding is not None and finish.panels:
        yield from panel_faults(folding, finish.panels, dpi, where)
    lines = [*_lines(plan, folding)]
    for at, side in enumerate(SIDES):
        codes = [*_codes(plan, at)]
        yield from too_near(codes, lines, dpi, where)
        printed = [*_printed(plan, at)]
        zones = [(number, zone) for number, zone in enumerate(finish.glue, 1) if zone.side == side]
        bare = [Named(f"glue zone {number}", plan.page.box(zone.area)) for number, zone in zones]
        yield from on_bare(printed, bare, where)
        if finish.window is not None and finish.window.side == side:
            yield from _window(plan, printed, where)
    for number, counterfoil in enumerate(finish.counterfoils, 1):
        for part, area in enumerate(counterfoil.parts, 1):
            if not any(_shows(plan, step, counterfoil.series, plan.page.box(area)) for step in plan.sides[0].steps):
                said = f"part {part} of counterfoil {number} does not surely carry the serial of '{counterfoil.series}'"
                mend = "put the number or a code with it wholly into that part of the front, without 'when'"
                yield Fault(where, said, mend)


def _lines(plan: Plan, folding: Folding | None) -> Iterator[Named]:
    """Folds, perforations and the cuts around the piece, as areas without width."""
    page = plan.page
    x, y, width, height = page.trim
    if folding is not None:
        for number, at in enumerate(folding.lines, 1):
            yield Named(f"fold {number}", (x, page.point(0, at)[1], width, 0))
    for number, line in enumerate(plan.job.layout.finish.perforations, 1):
        if line.direction == "across":
            yield Named(f"perforation {number}", (x, page.point(0, line.at)[1], width, 0))
        else:
            yield Named(f"perforation {number}", (page.point(line.at, 0)[0], y, 0, height))
    web = plan.job.model.web
    if web is not None and web.turn in (0, 180):
        yield from (Named("a slit", (edge, y, 0, height)) for edge in (x, x + width))
    elif web is not None:
        yield from (Named("a slit", (x, edge, width, 0)) for edge in (y, y + height))


def _codes(plan: Plan, side: int) -> Iterator[Named]:
    """The modules of every symbol, quiet zones left out."""
    for step in plan.sides[side].steps:
        if isinstance(step, SymbolStep) and step.name in plan.needs:
            x, y, width, height = box_of(step, *extent(step, step.fixed or plan.needs[step.name]))
            left, bottom, right, top = step.quiet
            for _ in range(step.turn // 90):
                left, bottom, right, top = top, left, bottom, right
            yield Named(step.name, (x + left, y + bottom, width - left - right, height - bottom - top))


def _printed(plan: Plan, side: int) -> Iterator[Named]:
    for area in printed_areas(plan, side):
        yield Named(area.name, area.box)


def _window(plan: Plan, printed: list[Named], where: str) -> Iterator[Fault]:
    window = plan.job.layout.finish.window
    if window is None:
        return
    shown = next((area for area in printed if area.name == window.shows), None)
    if shown is None:
        yield Fault(where, f"the window shows '{window.shows}', which is no item of the {window.side}")
        return
    area = plan.page.box(window.area)
    # What lies under the whole window is its ground, and shifts with the address.
    others = [one for one in printed if one.name != window.shows and not inside(area, one.box)]
    yield from window_faults(shown, area, others, plan.page.dpi, where)


def _shows(plan: Plan, step: object, series: str, area: Box) -> bool:
    """Whether every piece surely shows the serial wholly within the area by this item."""
    if isinstance(step, TextStep):
        told = all(series in template.series for template in step.wordings.values())
        return step.when is None and told and inside(step.box, area)
    if isinstance(step, SymbolStep) and step.name in plan.needs:
        box = box_of(step, *extent(step, step.fixed or plan.needs[step.name]))
        return step.when is None and series in step.template.series and inside(box, area)
    return False


def _mail(plan: Plan) -> list[Finding]:
    job, mail = plan.job, plan.job.model.mail
    if mail is None:
        return []
    where, folding = job.where("job", "mail"), folding_of(job)
    width, height = job.layout.trim
    closed = max(folding.panels) if folding is not None else height
    long, short = max(width, closed), min(width, closed)
    piece = MailPiece(
        mail.kind,
        mail.length if mail.length is not None else long,
        mail.height if mail.height is not None else short,
        mail.thickness,
        mail.ounces,
        len(folding.panels) if folding is not None else 1,
        mail.last_fold,
    )
    found = letter_findings(piece, where)
    if mail.kind != "letter":  # a letter's address shows through a window or stands on its envelope
        side = SIDES.index(mail.address)
        found += clear_zone_findings(plan.page.trim, _printed(plan, side), plan.page.dpi, where)
    return found
