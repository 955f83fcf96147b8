"""Distances to folds and slits, bare zones and windows, at the limit and one dot inside it."""

from __future__ import annotations

from math import hypot

from hypothesis import given
from hypothesis import strategies as st

from vdp.marks import Box
from vdp.press.clearance import Named, gap, on_bare, too_near, window_faults

DPI = 1200
THREE_MM = 142  # 3 mm is 141.73 dots at 1200 an inch
boxes = st.tuples(st.integers(-40, 40), st.integers(-40, 40), st.integers(0, 30), st.integers(0, 30))


@given(boxes, boxes)
def test_the_gap_is_the_least_distance_of_any_two_points(one: Box, other: Box) -> None:
    across, down = (min(abs(a - b) for a in _points(one, axis) for b in _points(other, axis)) for axis in (0, 1))
    assert gap(one, other) == gap(other, one) == hypot(across, down)


def _points(box: Box, axis: int) -> range:
    return range(box[axis], box[axis] + box[axis + 2] + 1)


def test_a_code_keeps_three_millimetres() -> None:
    fold = Named("fold 1", (0, 1000, 5000, 0))
    slit = Named("slit 2", (3000, 0, 0, 9000))
    far = Named("qr", (3000 + THREE_MM, 1000 + THREE_MM, 500, 500))
    assert list(too_near([far], [fold, slit], DPI, "job")) == []
    near = Named("qr", (3000 + THREE_MM - 1, 1000 + THREE_MM, 500, 500))
    (fault,) = too_near([near], [fold, slit], DPI, "job")
    assert fault.message == "'qr' lies 2.98 mm from slit 2: codes keep 3.01 mm"
    across = Named("pass", (2900, 900, 300, 300))
    assert [fault.message[:32] for fault in too_near([across], [fold, slit], DPI, "job")] == [
        "'pass' lies 0.00 mm from fold 1:",
        "'pass' lies 0.00 mm from slit 2:",
    ]


def test_glue_finds_bare_paper() -> None:
    glue = [Named("the glue strip", (0, 0, 100, 1000))]
    marks = [Named("pass", (99, 10, 50, 50)), Named("qr", (100, 10, 50, 50))]
    (fault,) = on_bare(marks, glue, "job")
    assert fault.message == "'pass' prints on the glue strip, which must stay bare paper on every plate"


def test_the_address_stays_in_its_window() -> None:
    window = (1000, 1000, 4000, 1500)
    address = Named("address", (1000 + THREE_MM, 1000 + THREE_MM, 4000 - 2 * THREE_MM, 1500 - 2 * THREE_MM))
    outside = Named("headline", (1000, 2500 + THREE_MM, 500, 100))
    assert list(window_faults(address, window, [outside], DPI, "job")) == []
    wide = address._replace(box=(1000 + THREE_MM - 1, *address.box[1:]))
    showing = outside._replace(box=(1000, 2500 + THREE_MM - 1, 500, 100))
    assert [fault.message for fault in window_faults(wide, window, [showing], DPI, "job")] == [
        "'address' leaves the window when the insert slips by 3.01 mm",
        "'headline' shows in the window when the insert slips by 3.01 mm",
    ]
    assert list(window_faults(wide, window, [showing], DPI, "job", shift=0)) == []
