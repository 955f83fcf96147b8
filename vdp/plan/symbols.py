"""How large a symbol becomes, whether it fits its room, and whether its bars are as high as its standard asks.

A *need* is one whole number per symbol of the layout: the QR version, the Data Matrix size in modules, or the count of
modules of a linear code.  The largest need of all accepted records fixes the size for the whole job.
"""

from __future__ import annotations

from collections.abc import Iterator

from vdp.barcode import carriers
from vdp.barcode.sizes import HEIGHT_SLACK_MM, SHARE_OF_WIDTH, share_of_width_mm
from vdp.errors import Finding, RowRefused
from vdp.marks import Box
from vdp.plan.build import Plan
from vdp.plan.steps import SymbolStep
from vdp.units import MM_PER_INCH


def extent(step: SymbolStep, need: int) -> tuple[int, int]:
    """Width and height in dots before turning, quiet zone included, for a need."""
    left, bottom, right, top = step.quiet
    if step.state is not None:
        return step.state.width(need) + left + right, step.state.full + bottom + top
    across, up = carriers.extent(step.carrier, need, step.form)
    return across * step.module + left + right, (up * step.module or step.height) + bottom + top


def box_of(step: SymbolStep, width: int, height: int) -> Box:
    """The page box of a symbol of that size before turning, hung from its upper left corner."""
    if step.turn in (90, 270):
        width, height = height, width
    x, y = step.corner
    return (x, y - height, width, height)


def need_of(step: SymbolStep, payload: str, dpi: int) -> int:
    """What this payload needs.  Raises RowRefused when the symbology cannot hold it, its room is too small, or
    the symbol longer than its stated use allows."""
    try:
        need = carriers.need(step.carrier, payload, step.form)
    except RowRefused as refused:
        raise RowRefused(f"{step.name}: {reason}" for reason in refused.reasons) from refused
    if step.fixed is not None and need > step.fixed:
        raise RowRefused((f"{step.name}: needs version {need}, the layout fixes version {step.fixed}",))
    if not step.longest and step.room is None:
        return need
    width, height = extent(step, need)
    if step.longest and width > step.longest:
        said = f"the symbol is {_mm(width, dpi)} mm long with its quiet zones; {_mm(step.longest, dpi)} mm is the most"
        raise RowRefused((f"{step.name}: {said} in its stated use",))
    if step.room is not None and (width > step.room[0] or height > step.room[1]):
        sizes = f"the symbol is {_mm(width, dpi)} × {_mm(height, dpi)} mm with its quiet zone"
        raise RowRefused((f"{step.name}: {sizes}, its room {_mm(step.room[0], dpi)} × {_mm(step.room[1], dpi)} mm",))
    return need


def low_bars(plan: Plan) -> Iterator[Finding]:
    """A warning for each code whose bars are lower than its standard asks of a symbol of that width; the widest of all
    records decides.  (Ranges of a stated use are held as the step is made: `symbolstep`.)"""
    dpi = plan.page.dpi
    for step in plan.steps():
        if not isinstance(step, SymbolStep) or step.symbology not in SHARE_OF_WIDTH or step.name not in plan.needs:
            continue
        across, _ = carriers.extent(step.carrier, plan.needs[step.name], step.form)
        width, high = (float(n * MM_PER_INCH / dpi) for n in (across * step.module, step.height))
        due = share_of_width_mm(width)
        if high < due - HEIGHT_SLACK_MM:
            said = f"{step.name}: bars of {high:.2f} mm; {due:.2f} mm is the least for {width:.1f} mm of bars"
            yield Finding("bars-low", step.where, f"{said} ({SHARE_OF_WIDTH[step.symbology]})")


def _mm(n_dots: int, dpi: int) -> str:
    return f"{float(n_dots * MM_PER_INCH / dpi):.2f}"
