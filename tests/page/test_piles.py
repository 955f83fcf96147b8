"""Drawings of lanes and stacks: where their places are, and what they are called."""

from __future__ import annotations

import itertools

import pytest

from vdp.page.piles import ACROSS, GAP, HEAD, LANE, MARGIN, NARROW, STACK, Stretch, draw_block, draw_lanes
from vdp.press.order import Stack
from vdp.verify.sheetplan import RollPlan

ROLL = RollPlan(2, "sheets-002.pdf", 100, 10, 5)


def test_lanes_share_the_width_and_specimens_are_bands() -> None:
    found = draw_lanes(ROLL, [(1, 1), (1, 2), (2, 1)], 1, 100, [Stretch(1, (0, 0, 0)), Stretch(51, (7, 8, 9))])
    assert [pile.words for pile in found.piles] == ["Lane 1, place 1", "Lane 1, place 2", "Lane 2, place 1"]
    assert [pile.box[0] for pile in found.piles] == [MARGIN + at * (LANE[0] + GAP) for at in range(3)]
    edges = [edge for band in found.piles[0].empty for edge in band]
    assert edges == pytest.approx([HEAD, LANE[1] * 0.1, HEAD + LANE[1] * 0.95, LANE[1] * 0.05])
    assert [words for _, words in found.piles[1].bands] == ["", "8"]
    assert [y for y, _ in found.piles[1].bands] == [HEAD, HEAD + LANE[1] / 2]
    assert [words for _, words in found.marks] == ["1", "51"]
    assert (found.piles[0].first, found.piles[0].last, found.piles[0].places) == (1, 100, 100)
    assert found.piles[2].query == "roll=2&lane=2&along=1"


def test_a_stretch_of_live_frames_has_no_bands_of_specimens() -> None:
    found = draw_lanes(ROLL, [(1, 1)], 11, 95, [Stretch(11, (1,))])
    assert found.piles[0].empty == ()
    beyond = draw_lanes(ROLL, [(1, 1)], 96, 100, [Stretch(96, (0,))])
    assert beyond.piles[0].empty == ((HEAD, LANE[1]),)


def test_many_lanes_are_narrow_and_called_by_numbers() -> None:
    found = draw_lanes(ROLL, [(lane, 1) for lane in range(1, 13)], 1, 100, [Stretch(1, tuple(range(12)))])
    assert found.piles[11].labels == ("12/1",)
    assert found.piles[11].box[0] + found.piles[11].box[2] <= ACROSS
    wide = draw_lanes(ROLL, [(lane, 1) for lane in range(1, 41)], 1, 100, [Stretch(1, tuple(range(40)))])
    assert wide.piles[0].box[2] == NARROW


def test_numbers_that_would_lie_over_each_other_are_left_out() -> None:
    stretches = [Stretch(frame, (frame,)) for frame in range(1, 101)]
    found = draw_lanes(ROLL, [(1, 1)], 1, 100, stretches)
    heights = [y for y, _ in found.marks]
    assert min(after - before for before, after in itertools.pairwise(heights)) >= 15
    assert len(found.marks) == 25


def test_stacks_lie_as_on_the_frame_with_blanks_at_the_foot() -> None:
    stacks = [
        Stack(1, 4, 1, 1, range(1, 9), 0),
        Stack(1, 4, 1, 2, range(9, 15), 2),
        Stack(1, 4, 2, 1, range(0), 8),
        Stack(1, 4, 2, 2, range(100, 400, 3), 0),
    ]
    found = draw_block(stacks, lambda piece: f"V{piece}")
    wide, high = STACK
    assert [pile.box[:2] for pile in found.piles] == [
        (0, HEAD),
        (0, 2 * HEAD + high + GAP),
        (wide + GAP, HEAD),
        (wide + GAP, 2 * HEAD + high + GAP),
    ]
    assert [pile.labels[1:] for pile in found.piles] == [("V1", "V8"), ("V9", "V14"), ("blank",), ("V100", "V397")]
    assert found.piles[1].empty == ((2 * HEAD + high + GAP + high * 0.75, high * 0.25),)
    assert (found.piles[3].first, found.piles[3].last, found.piles[3].places) == (100, 397, 100)
    assert [pile.live for pile in found.piles] == [8, 6, 0, 100]
    assert [len(pile.bands) for pile in found.piles] == [7, 7, 7, 0]
    assert found.label == "Block 4, leading edge above"
    lane = draw_block([Stack(1, 1, 1, 0, range(1, 3), 0)], str)
    assert lane.piles[0].words == "Stack 1: lane 1"
