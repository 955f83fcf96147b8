"""Symbols as operators: their rectangles, set in their places (ISO 32000-1, 8.3.4, 8.5.2.1).

Lives here: which way of drawing a symbol takes, where its first module stands.  Not here: rectangles (`modules`,
`bars`), ink.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from vdp.errors import OurBug
from vdp.marks import Bars, Box, Matrix, States, SymbolMark
from vdp.pdf.bars import bar_rectangles, state_rectangles
from vdp.pdf.modules import Drawn, matrix_rectangles

#: The reduction of what is not reduced.
_WHOLE = (0, 0)


def draw_symbols(marks: Sequence[SymbolMark]) -> list[str]:
    """Operators of each symbol; those that are drawn the same way are worked out together."""
    matrices: list[Drawn] = []
    linear: defaultdict[tuple[int, int], list[Bars]] = defaultdict(list)
    for mark in marks:
        shape = mark.shape
        if isinstance(shape, Matrix):
            matrices.append(Drawn(shape, mark.module, mark.reduction))
        elif isinstance(shape, Bars):
            linear[_reduced(mark.module, mark.reduction)].append(shape)
    squares = iter(matrix_rectangles(matrices))
    bars = {kind: iter(bar_rectangles(shapes, *kind)) for kind, shapes in linear.items()}
    texts = []
    before, place = None, ""
    for mark in marks:
        _, _, box, turn, module, quiet, height, shape, _, reduction = mark
        # What is reduced is drawn in dots.
        unit = module if reduction == _WHOLE else 1
        if isinstance(shape, Matrix):
            rectangles, across, up = next(squares), unit, unit
        elif isinstance(shape, Bars):
            rectangles, across, up = next(bars[_reduced(module, reduction)]), unit, height
        else:
            rectangles, across, up = _states(mark, shape), 1, 1
        # Symbols of one step mostly stand in one place.
        stand = box, turn, quiet, across, up
        if stand != before:
            before = stand
            place = placed(box, turn, quiet[0], quiet[1], across, up)
        texts.append(f"q {place} cm\n{rectangles}f Q\n")
    return texts


def _reduced(module: int, reduction: tuple[int, int]) -> tuple[int, int]:
    """Dots of a module, and by how many bars are narrower; what is not reduced is drawn in modules."""
    return (1, 0) if reduction == _WHOLE else (module, reduction[0])


def _states(mark: SymbolMark, shape: States) -> str:
    if mark.reduction != _WHOLE:
        raise OurBug(f"{mark.name}: a four-state symbol cannot be reduced")
    if mark.state is None:
        raise OurBug(f"{mark.name}: a four-state symbol without sizes")
    return state_rectangles(shape, mark.state)


def placed(box: Box, turn: int, left: int, bottom: int, across: int, up: int) -> str:
    """The matrix that puts a unit square at (left, bottom) of the unturned box, `across` by `up`, then turns it."""
    x, y, width, height = box
    if turn == 0:
        return f"{across} 0 0 {up} {x + left} {y + bottom}"
    if turn == 90:
        return f"0 {across} {-up} 0 {x + width - bottom} {y + left}"
    if turn == 180:
        return f"{-across} 0 0 {-up} {x + width - left} {y + height - bottom}"
    return f"0 {-across} {up} 0 {x + bottom} {y + height - left}"
