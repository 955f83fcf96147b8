"""The verifier's own knife against the press's arithmetic: two ways to the same order, for any run."""

from __future__ import annotations

from itertools import islice
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.job.web import WebModel
from vdp.press.order import arrange
from vdp.verify.stacks import knife


@settings(max_examples=150, deadline=None)
@given(
    pieces=st.integers(1, 400),
    lanes=st.integers(1, 5),
    along=st.integers(1, 4),
    order=st.sampled_from(("across", "lanes", "blocks")),
    height=st.integers(1, 12),
    stack=st.sampled_from(("place", "lane")),
    rolls=st.one_of(st.none(), st.integers(0, 40)),
    rewound=st.booleans(),
    fill=st.sampled_from(("frame", "block")),
)
def test_both_ways_agree_and_no_place_comes_twice(
    pieces: int,
    lanes: int,
    along: int,
    order: Any,
    height: int,
    stack: Any,
    rolls: int | None,
    rewound: bool,
    fill: Any,
) -> None:
    of_blocks = height if order == "blocks" else None
    roll_frames = None if rolls is None else rolls + height
    keys = {"order": order, "height": of_blocks, "stack": stack, "roll_frames": roll_frames}
    web = WebModel.model_validate(
        {"width": "200 mm", "lanes": lanes, "along": along, "rewound": rewound, "fill": fill, **keys}
    )
    laid = arrange(
        pieces,
        lanes,
        along,
        order,
        height=of_blocks,
        stack=stack,
        roll_frames=roll_frames,
        rewound=rewound,
        fill=fill,
    )
    cut = list(knife(web, pieces))
    assert [tuple(laid.place_of(piece)) for piece in range(1, pieces + 1)] == list(islice(cut, pieces))
    assert len(cut) == len(set(cut)) == laid.frames * lanes * along
