"""The ledger, on SQLite and on PostgreSQL alike: who gets which numbers, and what is told of them."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from vdp.errors import CallerError, OurBug
from vdp.numbering.entry import GENESIS, Event, Head
from vdp.numbering.ledger import Ledger
from vdp.numbering.series import Series

from .made import TIME, opened, series


def test_each_run_gets_the_next_numbers(ledger: Ledger, plain: Series) -> None:
    assert ledger.head() == Head(0, GENESIS)
    assert [ledger.allocate(plain, count, run=f"run{count}", job="ferry") for count in (100, 20, 3)] == [0, 100, 120]
    assert [(e.first, e.last, e.run, e.job, e.operator, e.time) for e in ledger.ranges("pass")] == [
        (0, 99, "run100", "ferry", "anna", "2026-03-01T12:30:00Z"),
        (100, 119, "run20", "ferry", "anna", "2026-03-01T12:30:00Z"),
        (120, 122, "run3", "ferry", "anna", "2026-03-01T12:30:00Z"),
    ]
    assert ledger.left(plain) == 999_999 - 123
    assert ledger.verify_chain() == []


def test_the_same_run_gets_the_same_numbers_again(place: str, plain: Series) -> None:
    with opened(place) as ledger:
        before = ledger.allocate_all([(plain, 10)], run="a", job="ferry")
        ledger.allocate(plain, 5, run="b", job="ferry")
        head = ledger.head()
    with opened(place, operator="bert", now=lambda: TIME + timedelta(days=1)) as ledger:
        again = ledger.allocate_all([(plain, 10)], run="a", job="ferry")
        assert (before.fresh, again.fresh) == (True, False)
        assert again.entries == before.entries
        assert again.head == before.head == ledger.ranges("pass")[0].head
        assert ledger.head() == head


def test_the_same_run_asking_for_another_count_is_refused(ledger: Ledger, plain: Series) -> None:
    ledger.allocate(plain, 10, run="a", job="ferry")
    with pytest.raises(CallerError, match="was given 10 numbers, and now asks for 11"):
        ledger.allocate(plain, 11, run="a", job="ferry")


def test_series_do_not_touch(ledger: Ledger, plain: Series) -> None:
    other = series("seat", prefix="S")
    given = ledger.allocate_all([(plain, 10), (other, 10)], run="a", job="ferry")
    assert (given.first("pass"), given.first("seat")) == (0, 0)
    assert given.head == ledger.head()
    assert ledger.allocate(other, 1, run="b", job="ferry") == 10
    assert sorted(ledger.series()) == ["pass", "seat"]
    assert ledger.series()["pass"].details() == plain.terms()


def test_an_exhausted_series_allots_nothing_in_any(ledger: Ledger, plain: Series) -> None:
    short = series("short", width=1, start=0)
    ledger.allocate(short, 8, run="a", job="ferry")
    head = ledger.head()
    with pytest.raises(CallerError, match="2 of its 10 numbers are left, the run needs 3; nothing was allotted"):
        ledger.allocate_all([(plain, 3), (short, 3)], run="b", job="ferry")
    assert ledger.head() == head
    assert ledger.ranges("pass") == ()
    assert ledger.allocate(short, 2, run="c", job="ferry") == 8
    assert ledger.left(short) == 0
    with pytest.raises(CallerError, match="0 of its 10 numbers are left, the run needs 1"):
        ledger.allocate(short, 1, run="d", job="ferry")


def test_every_fault_is_told_at_once(ledger: Ledger) -> None:
    with pytest.raises(CallerError) as met:
        ledger.allocate_all([(series(n, width=1), 10) for n in ("a", "b")], run="a", job="ferry")
    assert [fault.where for fault in met.value.faults] == ["series a", "series b"]


def test_a_series_that_was_changed_is_refused(ledger: Ledger, plain: Series) -> None:
    """Index 99 of one and 0 of the other would both print 000100."""
    ledger.allocate(plain, 100, run="a", job="ferry")
    changed = series(start=100, key=bytes(16), code=4)
    for ask in (
        lambda: ledger.allocate(changed, 1, run="b", job="ferry"),
        lambda: ledger.claim(changed, [500], run="b", job="ferry"),
    ):
        with pytest.raises(CallerError, match="start was '1', is '100'") as met:
            ask()
        assert "code was '0', is '4'" in str(met.value)
    one, other = (series("hidden", start=0, shuffled=True, key=bytes([n] * 16)) for n in (1, 2))
    ledger.allocate(one, 1, run="c", job="ferry")
    with pytest.raises(CallerError, match="key was"):
        ledger.allocate(other, 1, run="d", job="ferry")


def test_numbers_of_thirty_digits(ledger: Ledger) -> None:
    """Indexes far beyond 2 ** 64, and in the right order."""
    long = series(width=30, start=0, check="none")
    edges = [10**29 + 1, 9, 10**18, 2**63, 10**30 - 2]
    ledger.claim(long, edges, run="a", job="ferry")
    assert [entry.first for entry in ledger.ranges("pass")] == sorted(edges)
    assert ledger.allocate(long, 1, run="b", job="ferry") == 10**30 - 1
    assert long.text(10**30 - 1) == "FP-" + "9" * 30
    assert [entry.kind for entry in ledger.history("pass", 10**18)] == ["allocated"]
    assert ledger.history("pass", 10**18 + 1) == ()
    assert ledger.left(long) == 0
    assert ledger.verify_chain() == []


# -- numbers that the records name -----------------------------------------------------------------------------------


def test_named_numbers_are_claimed_as_ranges(ledger: Ledger, plain: Series) -> None:
    made = ledger.claim(plain, [7, 5, 6, 1, 900], run="a", job="ferry")
    assert [(e.first, e.last) for e in made.entries] == [(1, 1), (5, 7), (900, 900)]
    assert made.head == ledger.head()
    again = ledger.claim(plain, [900, 1, 5, 6, 7], run="a", job="ferry")
    assert (again.entries, again.head, again.fresh) == (made.entries, made.head, False)
    assert ledger.allocate(plain, 2, run="b", job="ferry") == 901
    assert ledger.verify_chain() == []


def test_named_numbers_of_other_runs_are_refused(ledger: Ledger, plain: Series) -> None:
    ledger.claim(plain, [*range(0, 40, 2)], run="first run", job="ferry")
    head = ledger.head()
    with pytest.raises(CallerError) as met:
        ledger.claim(plain, [1, 2, 3, 5, 9, 100], run="b", job="ferry")
    assert (
        "series pass: numbers that the records name were given to other runs: 3 to run first run of job ferry; "
        in str(met.value)
    )
    with pytest.raises(CallerError, match=r"9 to run first run of job ferry; and 15 more ranges; nothing was allotted"):
        ledger.claim(plain, range(40), run="b", job="ferry")
    assert ledger.head() == head
    with pytest.raises(CallerError, match="was given other numbers than it now asks for"):
        ledger.claim(plain, [0, 2], run="first run", job="ferry")
    with pytest.raises(CallerError, match="was given 20 numbers, and now asks for 20"):
        ledger.allocate(plain, 20, run="first run", job="ferry")


# -- events ----------------------------------------------------------------------------------------------------------


def test_what_became_of_a_number(ledger: Ledger, plain: Series) -> None:
    ledger.allocate(plain, 100, run="a", job="ferry")
    ledger.append(
        [
            Event("issued", "pass", 0, 99, "a", "ferry"),
            Event("spoiled", "pass", 7, 9, "a", "ferry", {"why": "torn web, “roll 2”"}),
            Event("made_good", "pass", 7, 8, "again", "ferry"),
        ]
    )
    assert [entry.kind for entry in ledger.history("pass", 8)] == ["allocated", "issued", "spoiled", "made_good"]
    assert [entry.kind for entry in ledger.history("pass", 9)] == ["allocated", "issued", "spoiled"]
    assert ledger.history("pass", 9)[-1].details() == {"why": "torn web, “roll 2”"}
    assert ledger.history("pass", 100) == ledger.history("seat", 1) == ()
    assert [entry.count for entry in ledger.of_run("a")] == [100, 100, 3]
    assert [entry.seq for entry in ledger.entries()] == [1, 2, 3, 4, 5]
    assert ledger.verify_chain() == []


def test_events_of_numbers_never_allotted_are_refused_together(ledger: Ledger, plain: Series) -> None:
    ledger.claim(plain, [*range(10), *range(20, 30)], run="a", job="ferry")
    ledger.append([Event("good", "pass", 0, 9), Event("good", "pass", 20, 29)])
    head = ledger.head()
    with pytest.raises(CallerError) as met:
        ledger.append([Event("voided", "pass", 3, 3), Event("spoiled", "pass", 5, 25), Event("spoiled", "seat", 1, 1)])
    assert [str(fault) for fault in met.value.faults] == [
        "series pass: spoiled: the number with index 5 … 25 was never allotted",
        "series seat: spoiled: the number with index 1 was never allotted",
    ]
    assert ledger.head() == head


def test_an_event_may_run_over_several_allocations(ledger: Ledger, plain: Series) -> None:
    for run in "abc":
        ledger.allocate(plain, 10, run=run, job="ferry")
    assert len(ledger.append([Event("destroyed", "pass", 5, 25, detail={"batch": "B1"})])) == 1
    assert ledger.verify_chain() == []


def test_an_occasion_is_told_once(ledger: Ledger, plain: Series) -> None:
    ledger.allocate(plain, 10, run="a", job="ferry")
    issued = Event("issued", "pass", 0, 9, "a", once="a/issued")
    before = ledger.append([issued])
    both = ledger.append([Event("good", "pass", 1, 1, "a"), issued])
    assert both[1:] == before
    assert [entry.seq for entry in both] == [4, 3]
    with pytest.raises(OurBug, match="two different events"):
        ledger.append([Event("issued", "pass", 0, 8, "a", once="a/issued")])
    with pytest.raises(OurBug, match="told twice at once"):
        ledger.append([Event("good", "pass", n, n, once="same") for n in (1, 2)])


def test_the_time_is_told_in_utc(place: str, plain: Series) -> None:
    local = datetime(2026, 7, 1, 1, 15, tzinfo=timezone(timedelta(hours=3)))
    with opened(place, now=lambda: local) as ledger:
        ledger.allocate(plain, 1, run="a", job="ferry")
        assert ledger.ranges("pass")[0].time == "2026-06-30T22:15:00Z"
    with opened(place, now=lambda: local.replace(tzinfo=None)) as ledger, pytest.raises(OurBug, match="no time zone"):
        ledger.allocate(plain, 1, run="b", job="ferry")


def test_text_in_any_script_is_kept(place: str, plain: Series) -> None:
    with opened(place, operator="Ἄννα 船") as ledger:
        ledger.allocate(plain, 1, run="a", job="Überfahrt ⛴")
        assert [(e.operator, e.job) for e in ledger.ranges("pass")] == [("Ἄννα 船", "Überfahrt ⛴")]
        assert ledger.verify_chain() == []


# -- what it refuses -------------------------------------------------------------------------------------------------


def test_what_callers_get_wrong(ledger: Ledger, plain: Series, tmp_path: Path) -> None:
    ledger.allocate(plain, 1, run="a", job="ferry")
    with pytest.raises(CallerError, match="there is no name"):
        opened(tmp_path / "l.sqlite", operator=" ")
    with pytest.raises(CallerError, match="cannot hold the name"):
        ledger.allocate(plain, 1, run="b", job="fer\0ry")
    with pytest.raises(CallerError, match="unprintable"):
        ledger.append([Event("noted", "pass", 0, 0, detail={"why": "\ud800"})])


def test_what_our_code_may_not_ask(ledger: Ledger, plain: Series) -> None:
    ledger.allocate(plain, 1, run="a", job="ferry")
    for count in (0, -1):
        with pytest.raises(OurBug):
            ledger.allocate(plain, count, run="b", job="ferry")
    with pytest.raises(OurBug):
        ledger.allocate_all([], run="b", job="ferry")
    with pytest.raises(OurBug):
        ledger.allocate(plain, 1, run="", job="ferry")
    for indexes in ([], [1, 1], [-1], [999_999]):
        with pytest.raises(OurBug):
            ledger.claim(plain, indexes, run="b", job="ferry")
    for kind, first in (("lost", 0), ("started", 0), ("allocated", 0), ("good", 1)):
        with pytest.raises(OurBug):
            ledger.append([Event(kind, "pass", first, 0)])
    assert ledger.head().seq == 2


def test_reading_makes_nothing(place: str, plain: Series, tmp_path: Path) -> None:
    with pytest.raises(CallerError, match=r"there is no such file|this database holds no ledger"):
        opened(place, write=False)
    assert list(tmp_path.iterdir()) == []
    with opened(place) as ledger:
        ledger.allocate(plain, 5, run="a", job="ferry")
    with opened(place, write=False, operator="") as ledger:
        assert len(ledger.ranges("pass")) == 1
        assert ledger.verify_chain([ledger.head()]) == []
        with pytest.raises(CallerError, match="cannot be written"):
            ledger.allocate(plain, 5, run="b", job="ferry")
