"""How large a symbol becomes, and whether it fits its room, its page and its neighbours.

A *need* is one whole number per symbol of the layout: the QR version, the Data Matrix size in modules, or the count of
modules of a linear code.  The largest need of all accepted records fixes the size for the whole job.
"""

from __future__ import annotations

from vdp.barcode import carriers
from vdp.errors import RowRefused
from vdp.marks import Box
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
    """What this payload needs.  Raises RowRefused when the symbology cannot hold it or its room is too small."""
    try:
        need = carriers.need(step.carrier, payload, step.form)
    except RowRefused as refused:
        raise RowRefused(f"{step.name}: {reason}" for reason in refused.reasons) from refused
    if step.fixed is not None and need > step.fixed:
        raise RowRefused((f"{step.name}: needs version {need}, the layout fixes version {step.fixed}",))
    if step.room is not None:
        width, height = extent(step, need)
        if width > step.room[0] or height > step.room[1]:
            sizes = f"the symbol is {_mm(width, dpi)} × {_mm(height, dpi)} mm with its quiet zone"
            raise RowRefused(
                (f"{step.name}: {sizes}, its room {_mm(step.room[0], dpi)} × {_mm(step.room[1], dpi)} mm",)
            )
    return need


def _mm(n_dots: int, dpi: int) -> str:
    return f"{float(n_dots * MM_PER_INCH / dpi):.2f}"
