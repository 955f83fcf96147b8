"""Piece ⇄ place: a bijection for every order, and stacks that come off consecutively under a simulated knife."""

from __future__ import annotations

from itertools import pairwise
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.errors import CallerError
from vdp.press.order import Kind, Order, Place, arrange


@st.composite
def orders(draw: st.DrawFn) -> Order:
    kind = draw(st.sampled_from(get_args(Kind)))
    height = draw(st.integers(1, 7)) if kind == "blocks" else None
    return arrange(
        draw(st.integers(1, 150)),
        draw(st.integers(1, 4)),
        draw(st.integers(1, 3)),
        kind,
        height=height,
        stack=draw(st.sampled_from(["place", "lane"])),
        roll_frames=draw(st.none() | st.integers(height or 1, 30)),
        rewound=draw(st.booleans()),
        fill=draw(st.sampled_from(["frame", "block"])),
    )


def all_places(order: Order) -> list[Place]:
    return [
        Place(roll, frame, lane, along)
        for roll in range(1, order.rolls + 1)
        for frame in range(1, order.frames_on(roll) + 1)
        for along in range(1, order.along + 1)
        for lane in range(1, order.lanes + 1)
    ]


@settings(max_examples=300)
@given(orders())
def test_every_piece_has_one_place_and_every_place_one_piece_or_is_blank(order: Order) -> None:
    places = [order.place_of(piece) for piece in range(1, order.pieces + 1)]
    assert len(set(places)) == order.pieces
    assert [order.piece_at(place) for place in places] == list(range(1, order.pieces + 1))
    everywhere = all_places(order)
    assert set(places) <= set(everywhere)
    found = [order.piece_at(place) for place in everywhere]
    assert sorted(piece for piece in found if piece is not None) == list(range(1, order.pieces + 1))
    assert found.count(None) == order.blanks == len(everywhere) - order.pieces


def cut(order: Order, roll: int) -> list[list[int | None]]:
    """The stacks of a roll as a knife makes them: it knows frames as printed and block heights, no piece arithmetic.

    Frames come off one by one, the last first when the roll was rewound; every place adds a piece to its stack, and
    each full block is taken away.
    """
    on_roll = order.frames_on(roll)
    coming = list(range(1, on_roll + 1))
    places_along = list(range(1, order.along + 1))
    if order.rewound:
        coming.reverse()
        places_along.reverse()
    deep = order.height if order.kind == "blocks" else on_roll
    stacks: list[list[int | None]] = []
    for start in range(0, on_roll, deep):
        block = coming[start : start + deep]
        for lane in range(1, order.lanes + 1):
            rows = [[order.piece_at(Place(roll, frame, lane, along)) for along in places_along] for frame in block]
            if order.stack == "lane":
                stacks.append([piece for row in rows for piece in row])
            else:
                stacks.extend([row[column] for row in rows] for column in range(order.along))
    return stacks


@settings(max_examples=300)
@given(orders())
def test_the_knife_finds_every_stack_as_the_table_says_it(order: Order) -> None:
    for roll in range(1, order.rolls + 1):
        told = [[*stack.pieces, *[None] * stack.blanks] for stack in order.stacks(roll)]
        assert cut(order, roll) == told


@settings(max_examples=200)
@given(orders().filter(lambda order: order.kind != "across"))
def test_stacks_are_consecutive_and_blanks_lie_at_their_end(order: Order) -> None:
    for roll in range(1, order.rolls + 1):
        for stack in cut(order, roll):
            live = [piece for piece in stack if piece is not None]
            assert [later - earlier for earlier, later in pairwise(live)] == [1] * (len(live) - 1 if live else 0)
            assert stack == live + [None] * (len(stack) - len(live))


@settings(max_examples=100)
@given(orders().filter(lambda order: order.kind == "blocks"))
def test_the_stacks_of_blocks_follow_one_another_over_all_rolls(order: Order) -> None:
    piled = [piece for roll in range(1, order.rolls + 1) for stack in cut(order, roll) for piece in stack]
    assert piled == [*range(1, order.pieces + 1), *[None] * order.blanks]
    assert all(order.frames_on(roll) % order.height == 0 for roll in range(1, order.rolls))


@settings(max_examples=100)
@given(orders())
def test_spans_are_what_a_walk_over_the_places_finds(order: Order) -> None:
    walked: dict[tuple[int, int], list[int | None]] = {}
    for place in all_places(order):
        walked.setdefault((place.roll, place.lane), []).append(order.piece_at(place))
    spans = {(span.roll, span.lane): span for span in order.spans()}
    assert spans.keys() == walked.keys()
    for key, pieces in walked.items():
        live = [piece for piece in pieces if piece is not None]
        least, greatest = (min(live), max(live)) if live else (0, 0)
        assert spans[key][2:] == (least, greatest, len(live), len(pieces) - len(live))


def frame_numbers(order: Order, roll: int, frame: int) -> list[int | None]:
    return [piece for _, piece in order.on_frame(roll, frame)]


def test_across_by_hand() -> None:
    order = arrange(14, 3, 2, "across")
    assert (order.frames, order.rolls, order.blanks, order.blocks) == (3, 1, 4, 3)
    assert frame_numbers(order, 1, 1) == [1, 2, 3, 4, 5, 6]
    assert frame_numbers(order, 1, 3) == [13, 14, None, None, None, None]
    # Rewound, the last frame printed comes off first, and its last place before its first.
    rewound = arrange(14, 3, 2, "across", rewound=True)
    assert [frame_numbers(rewound, 1, frame) for frame in (3, 2)] == [[4, 5, 6, 1, 2, 3], [10, 11, 12, 7, 8, 9]]


def test_lanes_by_hand_on_two_rolls() -> None:
    order = arrange(17, 2, 1, "lanes", roll_frames=6)
    assert (order.frames, order.rolls, order.blanks) == (9, 2, 1)
    assert frame_numbers(order, 1, 1) == [1, 10]
    assert frame_numbers(order, 2, 3) == [9, None]
    assert [span[:4] for span in order.spans()] == [(1, 1, 1, 6), (1, 2, 10, 15), (2, 1, 7, 9), (2, 2, 16, 17)]


def test_blocks_by_hand() -> None:
    # Three lanes × two along, blocks of 250 frames: a stack is 250 pieces, a block 1,500.
    order = arrange(100_000, 3, 2, "blocks", height=250, roll_frames=8_100)
    assert (order.roll_frames, order.rolls, order.blocks) == (8_000, 3, 67)
    assert order.frames == 16_667
    assert order.blanks == 2
    assert order.place_of(1) == (1, 1, 1, 1)
    assert order.place_of(250) == (1, 250, 1, 1)
    assert order.place_of(251) == (1, 1, 1, 2)
    assert order.place_of(501) == (1, 1, 2, 1)
    assert order.place_of(1_501) == (1, 251, 1, 1)
    assert order.place_of(48_001) == (2, 1, 1, 1)
    full = arrange(100_000, 3, 2, "blocks", height=250, fill="block")
    assert (full.frames, full.blanks) == (16_750, 500)
    in_line = arrange(100_000, 3, 2, "blocks", height=250, stack="lane")
    assert [in_line.place_of(piece) for piece in (1, 2, 3)] == [(1, 1, 1, 1), (1, 1, 1, 2), (1, 2, 1, 1)]


def test_a_number_the_run_has_not_is_refused() -> None:
    order = arrange(10, 2, 1, "across", roll_frames=3)
    for ask, words in (
        (lambda: order.place_of(0), "there is no piece 0: they are 1 to 10"),
        (lambda: order.place_of(11), "there is no piece 11"),
        (lambda: order.piece_at(Place(3, 1, 1, 1)), "there is no roll 3: they are 1 to 2"),
        (lambda: order.piece_at(Place(2, 3, 1, 1)), "there is no frame 3: they are 1 to 2"),
        (lambda: order.piece_at(Place(1, 1, 3, 1)), "there is no lane 3"),
        (lambda: order.piece_at(Place(1, 1, 1, 2)), "there is no place along the frame 2"),
    ):
        with pytest.raises(CallerError, match=words):
            ask()


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"pieces": 0, "lanes": 0}, ["'pieces' is 0: at least 1", "'lanes' is 0: at least 1"]),
        ({"kind": "snake"}, ["'snake' is no order: across, lanes or blocks"]),
        ({"kind": "blocks"}, ["blocks need the height of a stack, in frames: write height: 250"]),
        ({"height": 5}, ["a height belongs to blocks, not to the order 'across'"]),
        (
            {"kind": "blocks", "height": 250, "roll_frames": 249},
            ["a roll of 249 frames cannot hold a block of 250: a roll ends at a block's end"],
        ),
    ],
)
def test_orders_that_cannot_be_are_refused(changed: dict[str, Any], words: list[str]) -> None:
    asked: dict[str, Any] = {"pieces": 10, "lanes": 2, "along": 1, "kind": "across"} | changed
    with pytest.raises(CallerError) as caught:
        arrange(**asked)
    assert [fault.message for fault in caught.value.faults] == words
