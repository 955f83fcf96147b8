"""The finished sheets cut apart: piles are consecutive for every order, roll break, reversal, fill, leader, trailer,
make-ready and press, both sides."""

from __future__ import annotations

import shutil
from itertools import chain
from pathlib import Path
from typing import Any

import pytest

from tests.guillotine import numbers, piles
from tests.sheeted import PIECES, Small, judged, lay_run, make_run, web_of
from vdp.marks import BLACK, Mark, TextMark
from vdp.press.order import Order, arrange
from vdp.press.parts import Ends, Run, run_of, whole
from vdp.press.standins import specimen_marks
from vdp.press.web import Turn
from vdp.text.faces import Faces
from vdp.text.fit import Setter, Style

#: The small job's series begins here.
START = 7


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Small:
    return make_run(tmp_path_factory.mktemp("small") / "job")


@pytest.fixture
def mine(small: Small, tmp_path: Path) -> Small:
    return small.at(Path(shutil.copytree(small.folder, tmp_path / "out")))


def specimen(small: Small) -> list[Mark]:
    """A number out of range and the word."""
    setter = Setter(Faces(small.book.faces), 1200)
    box = (200, 300, 1500, 250)
    setting = setter.set("V00000", Style("mono", 9), "und", box)
    number = TextMark("number", BLACK, box, 0, setting.size, setting.lines)
    return [number, *specimen_marks((94, 94, 2835, 1890), setter)]


def read(found: list[list[Any]]) -> list[list[int | None]]:
    return [list(numbers(pile)) for pile in found]


def blocks(**more: Any) -> Order:
    return arrange(PIECES, 3, 2, "blocks", height=2, **more)


#: Make-ready, leader and trailer, in frames.
ENDS = Ends(1, 2, 1)


def presses(**more: Any) -> Run:
    """The run shared by two presses, whose ends differ."""
    first = arrange(12, 3, 2, "blocks", height=1, roll_frames=1, **more)
    return run_of([("a", first, ENDS), ("b", arrange(8, 3, 2, "blocks", height=1, **more), Ends(0, 0, 1))])


@pytest.mark.parametrize(
    ("order", "apart"),
    [
        (whole(blocks()), False),
        (whole(blocks(rewound=True), ENDS), False),
        (whole(blocks(roll_frames=2), ENDS), True),
        (whole(blocks(roll_frames=2, rewound=True)), False),
        (whole(blocks(roll_frames=2, rewound=True), ENDS), False),
        (whole(blocks(fill="block"), ENDS), False),
        (whole(blocks(stack="lane")), False),
        (whole(blocks(stack="lane", roll_frames=3, rewound=True, fill="block"), ENDS), True),
        (whole(arrange(PIECES, 3, 2, "lanes"), ENDS), False),
        (whole(arrange(PIECES, 3, 2, "lanes", roll_frames=3, rewound=True), ENDS), False),
        (whole(arrange(PIECES, 3, 2, "lanes", stack="lane")), False),
        (presses(), True),
        (presses(rewound=True, fill="block", stack="lane"), True),
    ],
    ids=lambda value: str(value)[:160] if isinstance(value, Run) else ("apart" if value else "one file"),
)
def test_piles_put_together_are_the_run_in_order(mine: Small, order: Run, apart: bool) -> None:
    web = web_of()
    lay_run(mine, order, web, apart=apart, specimen=specimen(mine))
    found = read(piles(mine.folder, web, order, apart=apart))
    if order.kind == "lanes" and order.rolls > 1:
        # Each roll has a part of every lane: a lane's piles of all rolls, one on the other.
        per_roll = len(found) // order.rolls
        found = [list(chain.from_iterable(found[at::per_roll])) for at in range(per_roll)]
    flat = list(chain.from_iterable(found))
    assert flat == [*range(START, START + PIECES), *[None] * (len(flat) - PIECES)]
    for pile in found:
        live = [number for number in pile if number is not None]
        assert live == list(range(live[0], live[0] + len(live))) if live else True
    assert judged(mine.folder).findings == []


@pytest.mark.parametrize(("rewound", "ends"), [(False, Ends()), (False, ENDS), (True, ENDS)])
def test_across_deals_the_run_out(mine: Small, rewound: bool, ends: Ends) -> None:
    order = whole(arrange(PIECES, 3, 2, "across", rewound=rewound), ends)
    web = web_of()
    lay_run(mine, order, web, specimen=specimen(mine))
    found = read(piles(mine.folder, web, order))
    by_lane = [[found[lane * 2 + place] for lane in range(3)] for place in range(2)]
    dealt = [by_lane[place][lane][frame] for frame in range(order.frames) for place in range(2) for lane in range(3)]
    assert dealt == [*range(START, START + PIECES), *[None] * (len(dealt) - PIECES)]
    assert judged(mine.folder).findings == []


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("heads", ["head_to_head", "head_to_foot"])
@pytest.mark.parametrize("backs", ["mirrored", "as_front"])
def test_every_turn_and_way_of_backing_up(mine: Small, turn: Turn, heads: Any, backs: Any) -> None:
    order = arrange(PIECES, 3, 2, "blocks", height=4)
    web = web_of(turn)
    lay_run(mine, order, web, backs, heads)
    found = piles(mine.folder, web, order, as_front=backs == "as_front")
    assert list(chain.from_iterable(read(found)))[:PIECES] == list(range(START, START + PIECES))
    # Held by its head and turned over like a page, the back stands upright too; head to foot, it stands on its head.
    over = turn if heads == "head_to_head" else (turn + 180) % 360
    assert {cut.turned for pile in found for cut in pile if cut.front is not None} == {((360 - turn) % 360, over)}
    assert judged(mine.folder).findings == []


def test_a_back_that_is_not_mirrored_is_seen_by_the_knife(mine: Small) -> None:
    """The knife itself must be able to fail."""
    order = arrange(PIECES, 3, 2, "blocks", height=4)
    web = web_of()
    lay_run(mine, order, web, "as_front")
    with pytest.raises(AssertionError, match="front="):
        read(piles(mine.folder, web, order))
