"""Which edge of a piece comes off first: tried with a strip of paper."""

from __future__ import annotations

import pytest

from vdp.press.web import Turn
from vdp.press.winding import Winding, leading_edge


@pytest.mark.parametrize(
    ("turn", "rewound", "edge"),
    [
        (0, False, "head"),
        (90, False, "right"),
        (180, False, "foot"),
        (270, False, "left"),
        (0, True, "foot"),
        (90, True, "left"),
        (180, True, "head"),
        (270, True, "right"),
    ],
)
def test_the_edge_follows_from_turn_and_winding(turn: Turn, rewound: bool, edge: str) -> None:
    assert leading_edge(turn, rewound) == edge


def test_it_is_one_sentence() -> None:
    assert (
        Winding(rewound=False, leads="head").said
        == "the first printed frame comes off first, head of the front leading"
    )
    said = Winding(rewound=True, leads="foot", face="in", way="counter_clockwise").said
    assert said.startswith("the last printed frame comes off first, foot of the front leading, face in, ")
    assert said.endswith("wound counter-clockwise seen from the operator's side")
