"""Paper by the roll, held against STANDARDS §5."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.errors import CallerError
from vdp.press.stock import (
    KG_PER_POUND,
    Basis,
    Paper,
    RollLimits,
    feet,
    frames_a_roll,
    gsm,
    metres,
    pages_a_minute,
    paper_weight,
    roll_diameter,
    roll_length,
    roll_warnings,
    usage,
)

IN = 72.0
PAPER = Paper(width=18 * IN, caliper=0.004 * IN, grams=75, diameter=59 * IN, core=6 * IN)


@pytest.mark.parametrize(
    ("diameter", "core", "in_metres", "in_feet"), [(50, 3, 12_423, 40_759), (59, 6, 17_181, 56_369)]
)
def test_roll_lengths(diameter: float, core: float, in_metres: int, in_feet: int) -> None:
    length = roll_length(diameter * IN, core * IN, 0.004 * IN)
    assert (round(metres(length)), round(feet(length))) == (in_metres, in_feet)


@given(st.floats(10, 5000), st.floats(0, 0.95), st.floats(0.1, 2))
def test_diameter_is_the_inverse_of_length(diameter: float, share: float, caliper: float) -> None:
    core = diameter * share
    assert roll_diameter(roll_length(diameter, core, caliper), core, caliper) == pytest.approx(diameter, rel=1e-9)


@pytest.mark.parametrize(
    ("basis", "factor"), [("bond", 3.7597), ("cover", 2.7041), ("index", 1.8080), ("tag", 1.6275), ("text", 1.4801)]
)
def test_grams_of_a_pound(basis: Basis, factor: float) -> None:
    assert round(gsm(1, basis), 4) == factor


@pytest.mark.parametrize(
    ("pounds", "basis", "grams"),
    [
        (50, "text", 74.0),
        (60, "text", 88.8),
        (70, "text", 103.6),
        (80, "text", 118.4),
        (100, "text", 148.0),
        (20, "bond", 75.2),
        (24, "bond", 90.2),
        (80, "cover", 216.3),
    ],
)
def test_common_papers(pounds: float, basis: Basis, grams: float) -> None:
    assert round(gsm(pounds, basis), 1) == grams


@pytest.mark.parametrize(("width", "pounds"), [(25.5, 1_840), (18, 1_299)])
def test_roll_weights(width: float, pounds: int) -> None:
    assert round(paper_weight(PAPER.roll, width * IN, 75) / KG_PER_POUND) == pounds


def test_pages_a_minute() -> None:
    assert pages_a_minute(100, 12 * IN, across=2, sides=2) == 400


def test_an_unknown_basic_size_is_refused() -> None:
    odd: Any = "newsprint"
    with pytest.raises(CallerError, match="'newsprint' is no basic size: bond, cover, index, tag, text"):
        gsm(50, odd)


def test_each_limit_of_a_roll_limits_its_frames() -> None:
    core, frame = 3 * IN, 12 * IN
    assert frames_a_roll(RollLimits(core), PAPER, frame, "job") is None
    assert frames_a_roll(RollLimits(core, length=1000 * frame), PAPER, frame, "job") == 1000
    with_ends = RollLimits(core, length=1000 * frame, leader=2 * frame, trailer=1.5 * frame)
    assert frames_a_roll(with_ends, PAPER, frame, "job") == 996
    # 50 in on a core of 3 in: π (50² - 3²) / 0.016 / 12 = 40,758.8 ft, and a foot a frame.
    assert frames_a_roll(RollLimits(core, diameter=50 * IN), PAPER, frame, "job") == 40_758
    # A frame is 0.3048 m × 0.4572 m × 75 g/m² = 10.4516 g: 9,567 go into 100 kg.
    assert frames_a_roll(RollLimits(core, weight=100), PAPER, frame, "job") == 9_567
    assert frames_a_roll(RollLimits(core, 2000 * frame, 50 * IN, 100), PAPER, frame, "job") == 2_000


def test_a_roll_that_holds_no_frame_is_refused() -> None:
    limits = RollLimits(3 * IN, length=10 * 12 * IN, leader=9.5 * 12 * IN)
    with pytest.raises(
        CallerError, match=r"may hold 3.05 m of paper; leader and trailer take 2.90 m, and a frame 0.305"
    ):
        frames_a_roll(limits, PAPER, 12 * IN, "job")


def test_what_a_run_uses() -> None:
    paper = replace(PAPER, diameter=roll_diameter(10_000 * 12 * IN, 6 * IN, 0.004 * IN))  # 10,000 ft a roll
    used = usage(
        24_000, 3, 12 * IN, paper, 30.48, "job", ends=100 * 12 * IN, make_ready=200 * 12 * IN, shares={"Clear": 0.25}
    )
    # 24,000 ft of frames, 3 × 100 ft of ends, 200 ft of make-ready; at 100 ft a minute.
    assert feet(used.length) == pytest.approx(24_500)
    assert (used.frames, used.rolls, used.delivered, used.splices) == (24_000, 3, 3, 2)
    assert used.minutes == pytest.approx(245)
    # 24,500 ft × 1.5 ft = 36,750 sq ft of 0.09290304 m², 75 g each.
    assert used.square_metres == pytest.approx(36_750 * 0.09290304)
    assert used.kilograms == pytest.approx(36_750 * 0.09290304 * 0.075)
    assert used.plates == {"Clear": pytest.approx(9_000 * 0.09290304)}
    assert usage(10, 1, 12 * IN, paper, 30, "job").splices == 0


def test_usage_refuses_what_cannot_be() -> None:
    with pytest.raises(CallerError) as caught:
        usage(0, 1, 12 * IN, replace(PAPER, core=60 * IN), 0, "job", shares={"Clear": 1.5, "Black": 0.1})
    assert [fault.message for fault in caught.value.faults] == [
        "frames must be more than 0, not 0",
        "the speed must be more than 0, not 0",
        "a roll of 1499 mm with a core of 1524 mm holds no paper",
        "plate Clear covers 1.5 of the frame",
    ]


def test_a_roll_over_its_limits_is_told() -> None:
    frame = 12 * IN
    limits = RollLimits(3 * IN, length=1000 * frame, weight=10, leader=frame, trailer=frame)
    limits = replace(limits, diameter=roll_diameter(1000 * frame, 3 * IN, PAPER.caliper))
    assert roll_warnings(limits, PAPER, 900, frame) == []
    # 1,002 ft = 305.4 m; that paper is 305.4 × 0.4572 × 0.075 = 10.5 kg.
    length, diameter, weight = roll_warnings(replace(limits, diameter=180.0), PAPER, 1000, frame)
    assert length == "a roll is 305.4 m long, and may be 304.8 m"
    assert diameter.endswith("and may be 64 mm")
    assert weight == "a roll weighs 10.5 kg without core, and may weigh 10.0 kg"
    assert len(roll_warnings(limits, PAPER, 1000, frame)) == 3
    assert roll_warnings(RollLimits(3 * IN), PAPER, 10_000, frame) == []


@given(
    st.integers(1, 10_000), st.floats(50, 2000), st.floats(1, 300), st.sampled_from(["length", "diameter", "weight"])
)
def test_a_roll_filled_to_its_limit_is_within_it(frames: int, frame: float, leader: float, which: str) -> None:
    length = frames * frame + leader
    limit = {
        "length": length,
        "diameter": roll_diameter(length, 3 * IN, PAPER.caliper),
        "weight": paper_weight(length, PAPER.width, PAPER.grams),
    }[which]
    limits = replace(RollLimits(3 * IN, leader=leader), **{which: limit})
    most = frames_a_roll(limits, PAPER, frame, "job")
    assert most in (frames - 1, frames)  # the inverse of an inverse may lose the last hair
    assert roll_warnings(limits, PAPER, most, frame) == []
