"""A run of several parts with specimens around: one place a piece, one piece a place; shared out at its best."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.errors import CallerError
from vdp.press.frames import BLANK, SPECIMEN, rolls_of
from vdp.press.order import Place, arrange
from vdp.press.parts import Ends, Run, run_of, share_out, whole, whole_frames


@st.composite
def runs(draw: Any) -> Run:
    lanes, along = draw(st.integers(1, 3)), draw(st.integers(1, 3))
    kind = draw(st.sampled_from(("across", "lanes", "blocks")))
    height = draw(st.integers(1, 5))
    keys: dict[str, Any] = {
        "height": height if kind == "blocks" else None,
        "stack": draw(st.sampled_from(("place", "lane"))),
        "rewound": draw(st.booleans()),
        "fill": draw(st.sampled_from(("frame", "block"))),
    }
    parts = []
    for at in range(draw(st.integers(1, 3))):
        pieces = draw(st.integers(1, 60))
        rolls = draw(st.none() | st.integers(height, 3 * height))
        ends = Ends(draw(st.integers(0, 2)), draw(st.integers(0, 2)), draw(st.integers(0, 2)))
        parts.append((f"p{at}", arrange(pieces, lanes, along, kind, roll_frames=rolls, **keys), ends))
    return run_of(parts)


def places(run: Run) -> list[Place]:
    found = []
    for roll in range(1, run.rolls + 1):
        frames = run.lead(roll) + run.frames_on(roll) + run.tail(roll)
        each = product(range(1, frames + 1), range(1, run.lanes + 1), range(1, run.along + 1))
        found += [Place(roll, *place) for place in each]
    return found


@settings(max_examples=120, deadline=None)
@given(run=runs())
def test_places_and_pieces_are_one_to_one_over_all_parts(run: Run) -> None:
    everywhere = places(run)
    held = {place: run.piece_at(place) for place in everywhere}
    live = {place: piece for place, piece in held.items() if piece is not None}
    assert sorted(live.values()) == list(range(1, run.pieces + 1))
    assert all(run.place_of(piece) == place for place, piece in live.items())
    specimens = [place for place in everywhere if run.specimen_at(place)]
    assert len(specimens) == run.specimens * run.lanes * run.along
    assert not set(specimens) & set(live)
    assert len(everywhere) == len(live) + len(specimens) + run.blanks


@settings(max_examples=60, deadline=None)
@given(run=runs())
def test_frames_stacks_and_spans_say_the_same(run: Run) -> None:
    drawn: dict[Place, int | str] = {}
    for roll in rolls_of(run):
        frames = list(roll.frames)
        assert [frame.name.frame for frame in frames] == list(range(1, roll.count + 1))
        for frame in frames:
            for at, what in enumerate(frame.pieces):
                drawn[Place(roll.number, frame.name.frame, at % run.lanes + 1, at // run.lanes + 1)] = what
    for place in places(run):
        piece = run.piece_at(place)
        stands = SPECIMEN if run.specimen_at(place) else BLANK
        assert drawn[place] == (piece - 1 if piece is not None else stands)
    stacked = [piece for roll in range(1, run.rolls + 1) for stack in run.stacks(roll) for piece in stack.pieces]
    assert sorted(stacked) == list(range(1, run.pieces + 1))
    for span in run.spans():
        held = (run.piece_at(place) for place in places(run) if (place.roll, place.lane) == span[:2])
        own = {piece for piece in held if piece is not None}
        assert (min(own, default=0), max(own, default=0), len(own)) == (span.first, span.last, span.pieces)


def test_notes_tell_make_ready_from_leader_and_trailer() -> None:
    run = run_of([("a", arrange(8, 2, 1, "across", roll_frames=2), Ends(2, 1, 1))])
    first, second = ([frame.note for frame in roll.frames] for roll in rolls_of(run))
    assert first == ["MAKE-READY SPECIMEN"] * 2 + ["SPECIMEN", "", "", "SPECIMEN"]
    assert second == ["SPECIMEN", "", "", "SPECIMEN"]


def test_what_a_run_has_not_is_refused() -> None:
    run = whole(arrange(5, 2, 1, "across"), Ends(0, 2, 0))
    for place in (Place(2, 1, 1, 1), Place(1, 6, 1, 1), Place(1, 1, 3, 1)):
        with pytest.raises(CallerError, match="there is no"):
            run.piece_at(place)
    with pytest.raises(CallerError, match="no piece 6"):
        run.place_of(6)


@settings(max_examples=80, deadline=None)
@given(
    blocks=st.integers(0, 9),
    presses=st.lists(st.tuples(st.integers(1, 9), st.integers(0, 12), st.integers(1, 4)), min_size=1, max_size=3),
)
def test_no_other_sharing_ends_earlier(blocks: int, presses: list[tuple[int, int, int]]) -> None:
    """Against every way there is: presses of a time a block, a time to start, and blocks a roll with a change each."""

    def takes(press: tuple[int, int, int]) -> Any:
        each, start, roll = press
        return lambda many: (many * each + start + -(-many // roll)) if many else 0

    times = [takes(press) for press in presses]
    given_out = share_out(blocks, times)
    assert sum(given_out) == blocks
    ways = (way for way in product(range(blocks + 1), repeat=len(presses)) if sum(way) == blocks)
    best = min(max(takes(many) for takes, many in zip(times, way, strict=True)) for way in ways)
    assert max(takes(many) for takes, many in zip(times, given_out, strict=True)) == best


@pytest.mark.parametrize(
    ("length", "frame", "due"), [(0.0, 100, 0), (100, 100, 1), (100.1, 100, 2), (3 * 0.1, 0.1, 3), (1, 100, 1)]
)
def test_ends_are_whole_frames(length: float, frame: float, due: int) -> None:
    assert whole_frames(length, frame) == due
