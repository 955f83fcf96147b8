"""Reads of a line against pieces: each trouble of a press gives its status, and nothing unread is good."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.audit.copies import Kind, Made, Place, Seen
from vdp.audit.reconcile import Reconciled, reconcile

#: Twelve pieces in one lane, each with a code of its own on either side, and one that all share.
PIECES = [Made(n, (f"S{n}",), frozenset({f"F{n}", "SHOP"}), frozenset({f"B{n}"}), Place(1, n, 1)) for n in range(1, 13)]
ALL = range(1, 13)


def line(*codes: str) -> list[Seen]:
    """Reads: F3 is a front, B3 a back, spoiled:F3 an event with a code, stop one without."""
    found = []
    for number, code in enumerate(codes, 2):
        kind, _, name = code.rpartition(":")
        said: Kind = kind or ("stop" if code == "stop" else "restart" if code == "restart" else "read")  # type: ignore[assignment]  # as written below
        side = {"F": "front", "B": "back"}.get(name[:1], "") if said == "read" else ""
        found.append(Seen(number, said, "" if code in ("stop", "restart") else name, side))
    return found


def both(*numbers: int) -> list[str]:
    return [code for n in numbers for code in (f"F{n}", f"B{n}")]


def judged(*codes: str, finished: bool = True) -> Reconciled:
    return reconcile(PIECES, line(*codes), finished=finished)


def statuses(*codes: str, finished: bool = True) -> dict[int, str]:
    return {piece: status for piece, status in judged(*codes, finished=finished).status.items() if status != "good"}


def test_a_clean_run_is_good() -> None:
    found = judged(*both(*ALL))
    assert set(found.status.values()) == {"good"}
    assert found.sides == ("front", "back")
    assert found.numbers() == {"allocated": 12, "good": 12, "missing": 0, "outstanding": 0}
    assert found.again() == []


BACK_FIRST = [code for n in ALL for code in (f"B{n}", f"F{n}")]


@pytest.mark.parametrize(
    ("codes", "due", "again"),
    [
        (both(*(n for n in ALL if n != 5)), {5: "missing"}, [5]),
        ([*both(*range(1, 8)), "stop", "restart", *both(*range(6, 13))], {6: "double", 7: "double"}, []),
        (both(1, 2, 4, 3, *range(5, 13)), {4: "out_of_order"}, []),
        # One that jumped far ahead is alone astray, not all that come after it.
        (both(1, 11, *range(2, 11), 12), {11: "out_of_order"}, []),
        # After a restart too, and after a second one.
        (
            [*both(*range(1, 6)), "restart", *both(4, 5, 7, 6), "restart", *both(7, 8, 10, 9, 11, 12)],
            {4: "double", 5: "double", 7: "double", 10: "out_of_order"},
            [],
        ),
        ([*both(1, 2), "F3", "B4", "F4", "B3", *both(*range(5, 13))], {3: "wrong_back", 4: "wrong_back"}, [3, 4]),
        # Printed again after the fault was seen: the bad copy must go, the good one stands.
        ([*both(1, 2), "F3", "B4", "restart", *both(*range(3, 13))], {3: "wrong_back"}, []),
        ([*both(1, 2), "F3", "B4", "spoiled:F3", "restart", *both(*range(3, 13))], {}, []),
        ([*both(*ALL), "spoiled:F7"], {7: "spoiled"}, [7]),
        ([*both(*ALL), "sample:S2"], {2: "sample"}, [2]),
        ([*both(*range(1, 12)), "spoiled:S12"], {12: "spoiled"}, [12]),
        ([*both(*ALL), "stop", "restart", *both(7), "spoiled:F7"], {}, []),
        # A back, and a front, that the camera missed: no good piece, and no wrong back for the next.
        ([*both(1, 2), "F3", *both(*range(4, 13))], {3: "unread"}, []),
        ([*both(1, 2), "B3", *both(*range(4, 13))], {3: "unread"}, []),
        ([*both(1, 2), "F3", *both(*range(4, 13)), "hand:B3"], {}, []),
        ([*both(*(n for n in ALL if n != 5)), "hand:S5"], {}, []),
        # Cameras that read the back first, and its troubles.
        (BACK_FIRST, {}, []),
        ([*BACK_FIRST[:4], "B3", "F4", "B4", "F3", *BACK_FIRST[8:]], {3: "wrong_back", 4: "wrong_back"}, [3, 4]),
        ([code for code in BACK_FIRST if code != "B5"], {5: "unread"}, []),
        # Other codes of a copy, codes that every piece has, and reads without a code, are no copies.
        ([*both(1), "S1", "SHOP", "", *both(*range(2, 13))], {}, []),
        ([*both(1), "S1", "F1", *both(*range(2, 13))], {1: "double"}, []),
    ],
)
def test_a_trouble_gives_its_status(codes: list[str], due: dict[int, str], again: list[int]) -> None:
    assert statuses(*codes) == due
    assert judged(*codes).again() == again


def test_several_codes_of_a_side_are_one_copy() -> None:
    pieces = [Made(n, (), frozenset({f"F{n}", f"Q{n}"}), frozenset({f"B{n}"}), Place(1, n, 1)) for n in (1, 2)]

    def found(*codes: str) -> dict[int, str]:
        seen = [Seen(n, "read", code, "back" if code[0] == "B" else "front") for n, code in enumerate(codes)]
        return dict(reconcile(pieces, seen).status)

    assert found("F1", "Q1", "B1", "Q2", "B2", "F2") == {1: "good", 2: "good"}
    assert found("F1", "Q1", "B1", "F1", "B1", "F2", "B2") == {1: "double", 2: "good"}


def test_cameras_that_stand_apart_name_the_copy() -> None:
    codes = [("F1", "1"), ("F2", "2"), ("F3", "3"), ("B1", "1"), ("B3", "2"), ("B3", "3")]
    seen = [Seen(n, "read", code, copy=copy) for n, (code, copy) in enumerate(codes)]
    found = reconcile(PIECES[:3], [*seen, Seen(9, "spoiled", "F2", copy="2")])
    assert found.status == {1: "good", 2: "spoiled", 3: "good"}
    assert reconcile(PIECES[:3], seen).status == {1: "good", 2: "wrong_back", 3: "good"}


def test_lanes_are_orders_of_their_own() -> None:
    pieces = [
        Made(3 * frame + lane, (), frozenset({f"{frame}/{lane}"}), frozenset(), Place(1, frame, lane))
        for frame in range(4)
        for lane in range(3)
    ]
    by_lane = [Seen(0, "read", f"{frame}/{lane}", lane=str(lane)) for lane in range(3) for frame in range(4)]
    assert set(reconcile(pieces, by_lane).status.values()) == {"good"}
    two = [one for one in by_lane if one.code not in ("2/1", "3/0")]
    found = reconcile(pieces, two, finished=False)
    assert {piece: status for piece, status in found.status.items() if status != "good"} == {
        7: "missing",
        9: "outstanding",
    }


def test_what_is_still_on_the_press_is_outstanding() -> None:
    assert statuses(*both(1, 2, 4), finished=False) == {3: "missing", **dict.fromkeys(range(5, 13), "outstanding")}
    assert statuses(*both(1, 2, 4)) == dict.fromkeys((3, *range(5, 13)), "missing")
    assert statuses(finished=False) == dict.fromkeys(ALL, "outstanding")


def test_a_line_with_one_camera_says_so() -> None:
    seen = [Seen(n, "read", f"F{n}") for n in ALL]
    assert set(reconcile(PIECES, seen).status.values()) == {"unread"}
    assert set(reconcile(PIECES, seen, sides=("front",)).status.values()) == {"good"}


def test_copies_are_counted_and_strangers_told() -> None:
    codes = [*both(*ALL), "stop", "restart", *both(3), "F99", "sample:F5", "counter:10"]
    found = reconcile(PIECES, [*line(*codes), Seen(99, "read", "F7", "back"), Seen(100, "counter", "3")])
    assert found.copies() == {
        "printed": 13, "good": 11, "retained": 1, "awaiting destruction": 1, "missing": 0, "unread": 0,
    }  # fmt: skip
    assert found.accounted == 13
    assert [(one.seen.code, one.why) for one in found.strangers] == [
        ("F99", "is of no piece of this run"),
        ("F7", "is a code of piece 7's other side"),
    ]
    assert (found.stops, found.stray[3], found.stray[5]) == (1, 1, 0)


def test_a_reader_may_put_the_symbology_first() -> None:
    assert reconcile(PIECES[:1], [Seen(2, "read", "]C0F1"), Seen(3, "read", "]d2B1")]).status == {1: "good"}


EVENTS = [*both(*ALL), *both(*ALL), "S4", "stop", "restart", "spoiled:F3", "sample:B4", "hand:S6", "SHOP", ""]


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(EVENTS), max_size=70), st.booleans())
def test_everything_always_adds_up_and_nothing_unread_is_good(codes: list[str], finished: bool) -> None:
    found = judged(*codes, finished=finished)
    assert sum(found.statuses().values()) == len(PIECES)
    numbers, copies = found.numbers(), found.copies()
    assert numbers["allocated"] == numbers["good"] + numbers["missing"] + numbers["outstanding"]
    assert copies["printed"] == found.accounted
    for piece, fates in found.fates.items():
        by_hand = piece == 6 and "hand:S6" in codes
        if "good" in fates and not by_hand:
            assert {f"F{piece}", f"B{piece}"} <= set(codes) or (piece == 4 and {"S4", "B4"} <= set(codes))
        assert fates.count("good") <= 1
        assert not ({"good", ""} & set(fates[1:]))
