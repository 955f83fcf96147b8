"""Comments as they are typed, kept and read back; bad ones are refused."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.errors import CallerError
from vdp.proof.comments import Comment, check_comments, comment_from, parse_comment


@pytest.mark.parametrize(
    ("text", "comment", "place"),
    [
        (
            "piece 12 front 20,30: the name is cut",
            Comment("the name is cut", 12, "front", (20.0, 30.0)),
            "piece 12, front, 20 mm from the left and 30 mm down",
        ),
        ("Piece 3 BACK 1.5 , 2: x: y", Comment("x: y", 3, "back", (1.5, 2.0)), None),
        ("piece 7 back: wrong port", Comment("wrong port", 7, "back"), "piece 7, back"),
        ("piece 7: wrong port", Comment("wrong port", 7), "piece 7"),
        ("  the red is dull ", Comment("the red is dull"), "the job"),
        ("piece of cake", Comment("piece of cake"), "the job"),
    ],
)
def test_comments_are_read(text: str, comment: Comment, place: str | None) -> None:
    found = parse_comment(text)
    assert found == comment
    assert place is None or found.place == place
    assert comment_from(found.as_json()) == found


@pytest.mark.parametrize("text", ["", "  ", "piece 4:", "piece 4 front 1,2:  ", "piece 4 1,2: no side", "x" * 2001])
def test_comments_that_say_nothing_are_refused(text: str) -> None:
    with pytest.raises(CallerError):
        parse_comment(text)


@pytest.mark.parametrize(
    "change",
    [{"piece": "1"}, {"piece": -1}, {"piece": True}, {"side": "top"}, {"words": 3}, {"at": [1]}, {"at": ["x", 2]}],
)
def test_what_is_kept_is_checked(change: dict[str, Any]) -> None:
    with pytest.raises((ValueError, IndexError)):
        comment_from({**Comment("x", 1, "front", (1.0, 2.0)).as_json(), **change})


def test_pieces_and_places_that_are_not_there_are_told_together() -> None:
    good = [Comment("x"), Comment("x", 3, "front", (60.0, 40.0))]
    check_comments(good, 3, (60.0, 40.0))
    bad = [Comment("x", 4), Comment("x", 1, "front", (60.1, 1.0)), Comment("x", 1, "back", (1.0, 41.0))]
    with pytest.raises(CallerError) as caught:
        check_comments([*good, *bad], 3, (60.0, 40.0))
    assert [fault.message for fault in caught.value.faults] == [
        "there is no piece 4: the run has 3",
        "piece 1, front, 60.1 mm from the left and 1 mm down lies beside the piece, which is 60 × 40 mm",
        "piece 1, back, 1 mm from the left and 41 mm down lies beside the piece, which is 60 × 40 mm",
    ]
    with pytest.raises(CallerError, match="no piece 0"):
        check_comments([Comment("x", 0, "front")], 3, (60.0, 40.0))


@settings(max_examples=60)
@given(
    st.integers(1, 99999),
    st.sampled_from(["front", "back"]),
    st.floats(0, 900).map(lambda each: round(each, 2)),
    st.text(st.characters(exclude_categories=("Cs", "Cc", "Zs", "Zl", "Zp")), min_size=1, max_size=40),
)
def test_any_pinned_comment_comes_back(piece: int, side: str, x: float, words: str) -> None:
    found = parse_comment(f"piece {piece} {side} {x:.2f},{x:.2f}: {words}")
    assert found == Comment(words, piece, side, (x, x))  # type: ignore[arg-type]  # front or back
