"""How microtext fills a line."""

from __future__ import annotations

import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from vdp.pattern.microtext import count_lines, fill


def test_whole_repeats_then_the_glyphs_that_still_fit() -> None:
    assert fill([600] * 5, 3000 * 2 + 1300) == (2, 2, 100)
    assert fill([600] * 5, 2999) == (0, 4, 599)
    assert fill([], 100) == (0, 0, 100)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.floats(1, 1000), min_size=1, max_size=30), st.floats(0, 100_000))
def test_a_line_is_never_longer_than_its_room_and_no_glyph_more_would_fit(advances: list[float], room: float) -> None:
    repeats, cut, _ = fill(advances, room)
    used = repeats * math.fsum(advances) + math.fsum(advances[:cut])
    assert used <= room + 1e-6 * room
    assert cut < len(advances) or used == room
    assert used + advances[cut % len(advances)] > room * (1 - 1e-9)


def test_lines_are_bodies_a_leading_apart() -> None:
    assert [count_lines(h, 14, 12) for h in (11, 12, 25, 26, 40)] == [0, 1, 1, 2, 3]
