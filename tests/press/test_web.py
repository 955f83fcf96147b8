"""The web in dots: cells that never overlap, exact sums, and refusals that say the figures."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.errors import CallerError
from vdp.plan.page import inside, overlaps
from vdp.press.web import Turn, Wanted, Web, lay_web
from vdp.units import dots, parse_length

MM = parse_length("1 mm")
IN = 72.0


def lay(wanted: Wanted, trim: tuple[float, float] = (4 * IN, 3 * IN), bleed: float = 0.25 * IN, dpi: int = 1200) -> Web:
    return lay_web(wanted, trim, bleed, dpi, "job.yaml:9:3")


def faults(wanted: Wanted, **more: float) -> list[str]:
    with pytest.raises(CallerError) as caught:
        lay(wanted, **more)  # type: ignore[arg-type]  # only `bleed` is ever passed
    return [str(fault) for fault in caught.value.faults]


def test_three_lanes_of_two_by_hand() -> None:
    # 3 × 4 in + 2 × 0.5 in gutter + 2 × 0.25 in bleed = 13.5 in of 14 printable on a web of 15 in; 1200 dots an inch.
    wanted = Wanted(15 * IN, 3, 14 * IN, 2, 0.5 * IN, 0.5 * IN, None, 0.25 * IN, 0, (0, 0, 0.25 * IN, 0.5 * IN))
    web = lay(wanted)
    assert (web.width, web.printable, web.piece, web.places) == (18000, 16800, (4800, 3600), 6)
    # Frame: 2 × 3 + 0.5 + 2 × 0.25 + 0.75 margins = 7.75 in.
    assert (web.frame, web.spare) == (9300, (600, 0))
    # Left: 0.5 in unprintable, 0.25 in half of what is left over, 0.25 in bleed.
    assert web.cell(1, 1).trim == (1200, 9300 - 300 - 300 - 3600, 4800, 3600)
    assert web.cell(3, 2).trim == (1200 + 2 * 5400, 9300 - 600 - 3600 - 600 - 3600, 4800, 3600)
    assert web.cell(2, 1).area == (6600 - 300, 5100 - 300, 5400, 4200)
    assert web.slits == (1200, 6000, 6600, 11400, 12000, 16800)
    assert web.cuts == (8700, 5100, 4500, 900)
    assert [(cell.lane, cell.along) for cell in web.cells()] == [(1, 1), (2, 1), (3, 1), (1, 2), (2, 2), (3, 2)]


def test_pieces_that_touch_share_the_cut_and_have_no_bleed_there() -> None:
    web = lay(Wanted(12 * IN, 2, along=2, bleed=0.25 * IN, frame=8 * IN))
    left, right = web.cell(1, 1), web.cell(2, 1)
    assert left.trim[0] + left.trim[2] == right.trim[0]
    assert left.area[0] + left.area[2] == right.area[0]
    assert left.area == (left.trim[0] - 300, left.trim[1], 4800 + 300, 3600 + 300)
    assert len(web.slits) == 3
    assert len(web.cuts) == 3
    # 8 in less 2 × 3 + 2 × 0.25 leaves 1.5 in at the foot.
    assert web.spare[1] == 1800
    assert web.cell(1, 2).area[1] == 1800


@pytest.mark.parametrize(("turn", "piece"), [(0, (4800, 3600)), (90, (3600, 4800)), (180, (4800, 3600))])
def test_a_turned_piece_takes_its_height_across(turn: Turn, piece: tuple[int, int]) -> None:
    assert lay(Wanted(5 * IN, 1, turn=turn)).piece == piece


def test_it_is_refused_with_the_figures() -> None:
    # 4 × 101.60 + 3 × 12.70 + 2 × 6.35 + 5.08 = 462.28 mm of 355.60 mm: (355.6 - 5.08 - 12.7 + 12.7)/114.3 = 3 fit.
    wanted = Wanted(15 * IN, 4, 14 * IN, 3, 0.5 * IN, 0, 9 * IN, 0.25 * IN, 0, (0.1 * IN, 0.1 * IN, 0, 0))
    across, along = faults(wanted)
    assert across == (
        "job.yaml:9:3: 4 lanes across need 4 × 101.60 + 3 × 12.70 gutter + 2 × 6.35 bleed + 5.08 margins = 462.28 mm; "
        "the printable width has 355.60 mm, 106.68 mm too little (at most 3 fit)"
    )
    assert along == (
        "job.yaml:9:3: 3 pieces along need 3 × 76.20 + 2 × 6.35 bleed = 241.30 mm; the frame has 228.60 mm, "
        "12.70 mm too little (at most 2 fit)"
    )
    assert "not one fits" in faults(Wanted(3 * IN, 1))[0]


def test_a_gutter_is_nothing_or_room_for_both_bleeds() -> None:
    message = "the gutter of 8.00 mm across is less than twice the bleed of 6.35 mm: write 0, or at least 12.70 mm"
    assert faults(Wanted(15 * IN, 3, gutter=8 * MM, bleed=0.25 * IN)) == [f"job.yaml:9:3: {message}"]
    assert lay(Wanted(15 * IN, 1, gutter=8 * MM, bleed=0.25 * IN)).lanes == 1  # one lane has no gutter


def test_what_fits_as_stated_is_not_refused_by_rounding() -> None:
    """At 1200 dpi 3 mm are 142 dots and 6 mm are 283: two bleeds fit into the gutter all the same."""
    web = lay(Wanted(500 * MM, 3, gutter=6 * MM, bleed=3 * MM))
    assert (web.gutters[0], web.bleed) == (283, 142)
    areas = [web.cell(lane, 1).area for lane in (1, 2, 3)]
    assert all(one[0] + one[2] <= other[0] for one, other in pairwise(areas))
    assert areas[0][0] == web.left - 142  # outside nothing is lost
    assert "less than twice the bleed" in faults(Wanted(500 * MM, 3, gutter=5.99 * MM, bleed=3 * MM))[0]


@settings(max_examples=60)
@given(lanes=st.integers(1, 8), tenths=st.tuples(*[st.integers(400, 900)] * 2), gutter=st.integers(60, 90))
def test_a_width_that_is_the_sum_of_its_parts_fits(lanes: int, tenths: tuple[int, int], gutter: int) -> None:
    trim = (tenths[0] / 10 * MM, tenths[1] / 10 * MM)
    width = lanes * tenths[0] / 10 + (lanes - 1) * gutter / 10 + 2 * 3 + 2 * 4
    wanted = Wanted(width * MM, lanes, gutter=gutter / 10 * MM, bleed=3 * MM, margins=(4 * MM, 4 * MM, 0, 0))
    web = lay(wanted, trim, 3 * MM)
    areas = [web.cell(lane, 1).area for lane in range(1, lanes + 1)]
    assert areas[0][0] > 0
    assert areas[-1][0] + areas[-1][2] < web.width


def test_all_that_is_out_of_reason_is_told_at_once() -> None:
    wanted = Wanted(10 * MM, 0, 20 * MM, 1001, -1 * MM, 0, 0, 7 * MM, 0, (0, -1 * MM, 0, 0))
    told = faults(replace(wanted, turn=45))  # type: ignore[arg-type]  # what mypy would refuse is the point
    for words in (
        "'lanes' is 0: at least 1",
        "'along' is 1001: at most 1,000",
        "'frame' is 0.00 mm: it must be more than 0",
        "'gutter' is -1.00 mm: it cannot be less than 0",
        "'the right margin' is -1.00 mm",
        "'turn' is 45: 0, 90, 180 or 270",
        "the printable width of 20.00 mm is more than the web's 10.00 mm",
        "a bleed of 7.00 mm is asked of the web, and the layout has 6.35 mm",
    ):
        assert any(words in line for line in told), words
    assert len(told) == 8


@pytest.mark.parametrize(("lane", "along"), [(0, 1), (3, 1), (1, 0), (1, 2)])
def test_a_place_the_frame_has_not_is_refused(lane: int, along: int) -> None:
    with pytest.raises(CallerError, match="the frame has 2 lanes × 1 along"):
        lay(Wanted(10 * IN, 2)).cell(lane, along)


lengths = st.floats(1, 300)


@settings(max_examples=60)
@given(
    trim=st.tuples(lengths, lengths),
    lanes=st.integers(1, 5),
    along=st.integers(1, 4),
    bleed=st.floats(0, 20),
    gutters=st.tuples(*[st.just(0.0) | st.floats(40.1, 60)] * 2),
    margins=st.tuples(*[st.floats(0, 30)] * 4),
    turn=st.sampled_from([0, 90, 180, 270]),
    dpi=st.sampled_from([300, 600, 1200]),
)
def test_cells_lie_within_the_printable_frame_and_apart(
    trim: tuple[float, float],
    lanes: int,
    along: int,
    bleed: float,
    gutters: tuple[float, float],
    margins: tuple[float, float, float, float],
    turn: Turn,
    dpi: int,
) -> None:
    wanted = Wanted(3000, lanes, 2900, along, *gutters, None, bleed, turn, margins)
    web = lay(wanted, trim, bleed, dpi)
    edge = (web.width - web.printable) // 2
    printable = (edge, 0, web.printable, web.frame)
    cells = list(web.cells())
    assert len(cells) == web.places
    assert all(inside(cell.area, printable) and inside(cell.trim, cell.area) for cell in cells)
    assert not any(overlaps(one.area, other.area) for one, other in combinations(cells, 2))
    # Both side margins are kept free, and what is left over beside them is shared to the dot.
    beside = min(cell.area[0] for cell in cells) - edge - dots(margins[0], dpi)
    beyond = edge + web.printable - dots(margins[1], dpi) - max(cell.area[0] + cell.area[2] for cell in cells)
    assert beside >= 0
    assert beyond - beside in (0, 1)
    # The head margin is kept free, and the foot's exactly, since the frame was fitted.
    assert web.frame - max(cell.area[1] + cell.area[3] for cell in cells) == dots(margins[2], dpi)
    assert min(cell.area[1] for cell in cells) == dots(margins[3], dpi)
