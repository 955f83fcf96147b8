"""The finished sheets cut apart: piles are consecutive for every order, roll break, reversal and fill, both sides."""

from __future__ import annotations

import shutil
from itertools import chain
from pathlib import Path
from typing import Any

import pytest

from tests.guillotine import numbers, piles
from tests.sheeted import PIECES, Small, judged, lay_run, make_run, web_of
from vdp.press.order import Order, arrange
from vdp.press.web import Turn

#: The small job's series begins here.
START = 7


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Small:
    return make_run(tmp_path_factory.mktemp("small") / "job")


@pytest.fixture
def mine(small: Small, tmp_path: Path) -> Small:
    return small.at(Path(shutil.copytree(small.folder, tmp_path / "out")))


def read(found: list[list[Any]]) -> list[list[int | None]]:
    return [list(numbers(pile)) for pile in found]


def blocks(**more: Any) -> Order:
    return arrange(PIECES, 3, 2, "blocks", height=2, **more)


@pytest.mark.parametrize(
    ("order", "apart"),
    [
        (blocks(), False),
        (blocks(rewound=True), False),
        (blocks(roll_frames=2), True),
        (blocks(roll_frames=2, rewound=True), False),
        (blocks(fill="block"), False),
        (blocks(stack="lane"), False),
        (blocks(stack="lane", roll_frames=3, rewound=True, fill="block"), True),
        (arrange(PIECES, 3, 2, "lanes"), False),
        (arrange(PIECES, 3, 2, "lanes", roll_frames=3, rewound=True), False),
        (arrange(PIECES, 3, 2, "lanes", stack="lane"), False),
    ],
    ids=lambda value: str(value)[:120] if isinstance(value, Order) else ("apart" if value else "whole"),
)
def test_piles_put_together_are_the_run_in_order(mine: Small, order: Order, apart: bool) -> None:
    web = web_of()
    lay_run(mine, order, web, apart=apart)
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


@pytest.mark.parametrize("rewound", [False, True])
def test_across_deals_the_run_out(mine: Small, rewound: bool) -> None:
    order = arrange(PIECES, 3, 2, "across", rewound=rewound)
    web = web_of()
    lay_run(mine, order, web)
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
