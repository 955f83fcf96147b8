"""The page in dots: edges, not sizes, are rounded; turning keeps a place inside its box."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.plan.page import Page, inside, overlaps, reading_size, spot_on_page
from vdp.units import parse_length

MM = parse_length("1 mm")


def test_a_page_is_trim_and_bleed() -> None:
    page = Page.of((152 * MM, 297 * MM), 3 * MM, 1200)
    # 152 mm = 7181.1 dots, 297 mm = 14031.5, 3 mm = 141.7 (1200 dots in 25.4 mm).
    assert (page.bleed, page.trim) == (142, (142, 142, 7181, 14031))
    assert (page.width, page.height) == (7181 + 284, 14031 + 284)


def test_a_layout_place_is_measured_down_from_the_trim() -> None:
    page = Page.of((100 * MM, 50 * MM), 0, 1200)
    assert page.box((0, 0, 100 * MM, 50 * MM)) == (0, 0, page.width, page.height)
    x, y, _, height = page.box((10 * MM, 5 * MM, 20 * MM, 10 * MM))
    assert (x, y + height) == (472, page.height - 236)


@given(st.lists(st.floats(0.1, 40), min_size=2, max_size=12))
def test_boxes_that_touch_in_the_layout_touch_on_the_page(widths: list[float]) -> None:
    page, left, boxes = Page.of((1000, 100), 9, 1200), 0.0, []
    for width in widths:
        boxes.append(page.box((left, 10, width, 10)))
        left += width
    for one, other in pairwise(boxes):
        assert one[0] + one[2] - other[0] in (0, 1)  # 1 only where a box thinner than a dot was given its one dot


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@given(box=st.tuples(*[st.integers(0, 500)] * 2, *[st.integers(1, 500)] * 2), share=st.tuples(*[st.floats(0, 1)] * 2))
def test_a_place_in_a_turned_box_stays_in_it(
    turn: int, box: tuple[int, int, int, int], share: tuple[float, float]
) -> None:
    along, across = reading_size(box, turn)
    x, y = spot_on_page(box, turn, int(along * share[0]), int(across * share[1]))
    assert inside((x, y, 0, 0), box)


def test_turning_puts_the_first_line_on_the_right_edge() -> None:
    box = (10, 20, 100, 50)
    assert [spot_on_page(box, turn, 0, 0) for turn in (0, 90, 180, 270)] == [(10, 70), (10, 20), (110, 20), (110, 70)]


def test_overlap_needs_shared_area() -> None:
    assert overlaps((0, 0, 10, 10), (9, 9, 10, 10))
    assert not overlaps((0, 0, 10, 10), (10, 0, 10, 10))
    assert not overlaps((0, 0, 10, 10), (0, 10, 10, 10))
