"""Backs behind their fronts, proved by laying paper over: a printed point is followed through the sheet."""

from __future__ import annotations

from typing import Any, get_args

import pytest

from vdp.errors import CallerError
from vdp.marks import Box
from vdp.press.backs import Heads, back_cell, back_turn, mirror
from vdp.press.web import Turn, Wanted, Web, lay_web

WEB = lay_web(Wanted(1000, 3, 900, 2, 20, 20, 700, 10, 90, (30, 4, 0, 0)), (150, 200), 10, 600, "job")


def corner(box: Box, turn: int) -> tuple[int, int]:
    """Where the piece's own upper left corner lies, when it is turned counter-clockwise by `turn`; by drawing it."""
    x, y, width, height = box
    return {0: (x, y + height), 90: (x, y), 180: (x + width, y), 270: (x + width, y + height)}[turn]


def through(point: tuple[int, int], web: Web) -> tuple[int, int]:
    """A point of one side as it is seen from the other, the leading edge staying at the top."""
    return web.width - point[0], point[1]


def test_every_back_covers_its_front() -> None:
    for front in WEB.cells():
        back = back_cell(WEB, front.lane, front.along, "mirrored")
        for edge in (0, 180):  # both lower left and upper right corner of the front, through the paper
            x, y = through(corner(front.trim, edge), WEB)
            assert back.trim[0] <= x <= back.trim[0] + back.trim[2]
            assert back.trim[1] <= y <= back.trim[1] + back.trim[3]
        assert mirror(back.area, WEB.width) == front.area
        assert (back.lane, back.along) == (front.lane, front.along)
    # Lane 1 is the rightmost on the back, and the uneven margins tell it from a web printed as the front.
    assert back_cell(WEB, 1, 1, "mirrored").trim[0] > back_cell(WEB, 3, 1, "mirrored").trim[0]
    assert back_cell(WEB, 1, 1, "mirrored").trim != back_cell(WEB, 3, 1, "as_front").trim


def test_as_front_keeps_the_places() -> None:
    assert [back_cell(WEB, cell.lane, cell.along, "as_front") for cell in WEB.cells()] == list(WEB.cells())


@pytest.mark.parametrize("turn", get_args(Turn))
def test_heads_lie_as_asked(turn: Turn) -> None:
    front = WEB.cell(2, 1).trim
    behind = mirror(front, WEB.width)
    # Head to head, the back's upper right corner lies behind the front's upper left one; head to foot, its lower left.
    seen = through(corner(front, turn), WEB)
    assert corner(behind, (back_turn(turn, "head_to_head") + 270) % 360) == seen
    assert corner(behind, (back_turn(turn, "head_to_foot") + 90) % 360) == seen


def test_upright_is_upright_and_reading_up_becomes_reading_down() -> None:
    assert [back_turn(turn, "head_to_head") for turn in get_args(Turn)] == [0, 270, 180, 90]
    assert [back_turn(turn, "head_to_foot") for turn in get_args(Turn)] == [180, 90, 0, 270]


def test_other_words_are_refused() -> None:
    odd: Any = "tumbled"
    heads: Heads = odd
    with pytest.raises(CallerError, match="head_to_head or head_to_foot, not 'tumbled'"):
        back_turn(0, heads)
    with pytest.raises(CallerError, match="mirrored or as_front, not 'tumbled'"):
        back_cell(WEB, 1, 1, odd)
