"""The database refuses by itself what the ledger must never hold; and what was done behind its back is found."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import psycopg
import pytest

from vdp.numbering.entry import Entry, Event
from vdp.numbering.ledger import Ledger
from vdp.numbering.schema import INDEX_DIGITS

from .made import Raw, opened, raw, series

REFUSED = (sqlite3.IntegrityError, psycopg.errors.IntegrityError)
COLUMNS = "seq, kind, series, first, last, job, run, operator, time, detail, once, previous, hash"


@pytest.fixture
def filled(place: str) -> str:
    """A ledger with 1 started, 2 and 3 allocated 0 … 9 and 10 … 19, 4 issued."""
    with opened(place) as ledger:
        fill(ledger)
    return place


def fill(ledger: Ledger) -> None:
    ledger.allocate(series(), 10, run="a", job="ferry")
    ledger.allocate(series(), 10, run="b", job="ferry")
    ledger.append([Event("issued", "pass", 0, 9, "a", "ferry", once="a/issued")])


def entries(place: str) -> list[Entry]:
    with opened(place) as ledger:
        return list(ledger.entries())


def put(database: Raw, entry: Entry, verb: str = "INSERT INTO") -> None:
    values = [getattr(entry, name) for name in COLUMNS.split(", ")]
    if isinstance(database.connection, sqlite3.Connection):
        values[3:5] = (f"{value:0{INDEX_DIGITS}d}" for value in values[3:5])
    marks = ", ".join(["%s"] * len(values))
    database(f"{verb} ledger_entries ({COLUMNS}) VALUES ({marks})", *values)


def linked(entry: Entry, **changes: object) -> Entry:
    """An entry as an insider makes it who knows the format: its hash is right."""
    bare = replace(entry, **changes)  # type: ignore[arg-type]  # fields by name
    return replace(bare, hash=bare.computed())


# -- refused ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE ledger_entries SET operator = 'bert' WHERE seq = 2",
        "UPDATE ledger_entries SET last = last WHERE seq = 4",
        "DELETE FROM ledger_entries WHERE seq = 4",
        "DELETE FROM ledger_entries",
        "TRUNCATE ledger_entries",
    ],
)
def test_changes_are_refused(filled: str, statement: str) -> None:
    before = entries(filled)
    with raw(filled) as database:
        no_truncate = isinstance(database.connection, sqlite3.Connection) and statement.startswith("TRUNCATE")
        with pytest.raises((*REFUSED, sqlite3.OperationalError) if no_truncate else REFUSED):
            database(statement)
    assert entries(filled) == before


@pytest.mark.parametrize(
    "changes",
    [
        {"first": 15, "last": 25},
        {"first": 19, "last": 19},
        {"first": 0, "last": 100},
        {"first": 5, "last": 6},
        {"first": 20, "last": 999_999},
        {"series": "seat", "first": 0, "last": 1},
        {"kind": "started", "first": 0, "last": 10**7},
        {"first": 30, "last": 29},
        {"once": "b/pass"},
        {"seq": 6},
        {"seq": 4},
        {"seq": 0},
        {"previous": "0" * 64},
        {"previous": "f" * 64},
    ],
    ids=str,
)
def test_entries_that_may_not_be_are_refused(filled: str, changes: dict[str, object]) -> None:
    before = entries(filled)
    good = {
        "seq": 5,
        "kind": "allocated",
        "first": 20,
        "last": 29,
        "run": "c",
        "once": "c",
        "previous": before[-1].hash,
    }
    with raw(filled) as database:
        with pytest.raises(REFUSED):
            put(database, linked(before[2], **(good | changes)))
        if isinstance(database.connection, sqlite3.Connection):
            with pytest.raises(REFUSED):
                put(database, linked(before[2], **(good | changes)), "INSERT OR REPLACE INTO")
    assert entries(filled) == before


def test_an_entry_that_may_be_is_taken(filled: str) -> None:
    """So that the refusals above are not of everything."""
    before = entries(filled)
    good = linked(before[2], seq=5, first=20, last=29, run="c", once="c", previous=before[-1].hash)
    with raw(filled) as database:
        put(database, good)
    assert entries(filled) == [*before, good]
    with opened(filled) as ledger:
        assert ledger.verify_chain() == []


# -- found -----------------------------------------------------------------------------------------------------------


def rewritten(place: str, change: Callable[[list[Entry]], list[Entry]]) -> None:
    """All entries replaced by what `change` makes of them, the guards taken off and put back by nobody."""
    changed = change(entries(place))
    with raw(place) as database:
        database.unguard()
        database("DELETE FROM ledger_entries")
        for entry in changed:
            put(database, entry)


def codes(place: str, *, besides: str = "ledger-guard", **known: object) -> list[str]:
    with opened(place) as ledger:
        found = ledger.verify_chain(**known)  # type: ignore[arg-type]  # the one argument it has
        assert besides in {finding.code for finding in found}
        return [f"{finding.code} {finding.where}" for finding in found if finding.code != besides]


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("kind", "noted"), ("series", "pasS"), ("first", 1), ("last", 8), ("job", "Ferry"), ("run", "A"),
        ("operator", "bert"), ("time", "2026-03-01T12:30:01Z"), ("detail", '{"a":"b"}'), ("once", None),
    ],
)  # fmt: skip
def test_one_changed_field_is_found(filled: str, column: str, value: object) -> None:
    rewritten(filled, lambda all_: [*all_[:3], replace(all_[3], **{column: value})])  # type: ignore[arg-type]
    assert "ledger-entry ledger entry 4" in codes(filled)


def test_a_changed_field_with_its_hash_made_anew_breaks_the_chain(filled: str) -> None:
    rewritten(filled, lambda all_: [all_[0], linked(all_[1], operator="bert"), *all_[2:]])
    assert codes(filled) == ["ledger-chain ledger entry 3"]


def test_entries_taken_out_or_put_in_another_order_are_found(filled: str) -> None:
    rewritten(filled, lambda all_: [*all_[:2], *all_[3:]])
    assert codes(filled) == ["ledger-chain ledger entry 4"]


def test_numbers_given_twice_are_found(filled: str) -> None:
    def twice(all_: list[Entry]) -> list[Entry]:
        return [*all_, linked(all_[2], seq=5, first=19, last=19, run="c", once="c", previous=all_[-1].hash)]

    rewritten(filled, twice)
    assert codes(filled) == ["ledger-overlap ledger entry 5"]


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"kind": "voided", "first": 20, "last": 20, "once": None}, "ledger-unissued"),
        ({"kind": "allocated", "first": 20, "last": 999_999, "once": "c"}, "ledger-unissued"),
        ({"kind": "good", "once": "a/issued", "first": 1, "last": 2}, "ledger-overlap"),
        ({"kind": "started", "once": None}, "ledger-overlap"),
        ({"kind": "printed", "once": None}, "ledger-entry"),
        ({"kind": "good", "once": None, "first": 1, "last": 2, "detail": "[]"}, "ledger-entry"),
        ({"kind": "good", "once": None, "first": 1, "last": 2, "detail": '{"reads":1}'}, "ledger-entry"),
        ({"kind": "good", "once": None, "first": 1, "last": 2, "detail": "{"}, "ledger-entry"),
        ({"seq": 7, "first": 20, "last": 20, "once": None}, "ledger-chain"),
    ],
)
def test_entries_without_sense_are_found(filled: str, changes: dict[str, object], code: str) -> None:
    def more(all_: list[Entry]) -> list[Entry]:
        return [*all_, linked(all_[2], **({"seq": 5, "run": "c", "previous": all_[-1].hash} | changes))]

    drop = "DROP INDEX {}entries_{}once"
    with raw(filled) as database:
        for name in ("", "started_"):
            database(drop.format("", name))
    rewritten(filled, more)
    assert codes(filled) == [f"{code} ledger entry {changes.get('seq', 5)}"]


def test_a_ledger_cut_off_or_written_anew_is_found_by_a_head_kept_elsewhere(filled: str) -> None:
    kept = [entry.head for entry in entries(filled)]
    rewritten(filled, lambda all_: all_[:3])
    assert codes(filled, known=kept[:3]) == []
    assert codes(filled, known=kept) == ["ledger-head ledger entry 4"]
    rewritten(filled, lambda all_: [linked(all_[0], operator="bert")])
    assert codes(filled) == []
    assert codes(filled, known=[kept[0]]) == ["ledger-head ledger entry 1"]


def test_guards_that_do_nothing_are_found(filled: str) -> None:
    with raw(filled) as database:
        if isinstance(database.connection, sqlite3.Connection):
            database("DROP TRIGGER entries_kept")
            database("CREATE TRIGGER entries_kept BEFORE UPDATE ON ledger_entries WHEN 0 BEGIN SELECT 1; END")
        else:
            database(
                "CREATE OR REPLACE FUNCTION ledger_refuse() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'"
            )
    with opened(filled) as ledger:
        assert {finding.code for finding in ledger.verify_chain()} == {"ledger-guard"}


def test_what_cannot_be_read_is_a_finding_too(filled: str) -> None:
    with raw(filled) as database:
        database.unguard()
        if isinstance(database.connection, sqlite3.Connection):
            database("PRAGMA ignore_check_constraints = ON")
            database("UPDATE ledger_entries SET last = 'many' WHERE seq = 3")
        else:
            database("ALTER TABLE ledger_entries DROP CONSTRAINT entries_sound")
            database("UPDATE ledger_entries SET last = 'NaN' WHERE seq = 3")
    assert [code.split()[0] for code in codes(filled)] == ["ledger-entry"]


def test_what_cannot_be_hashed_is_a_finding_too(tmp_path: Path) -> None:
    """SQLite alone keeps bytes in a column of text."""
    place = str(tmp_path / "ledger.sqlite")
    with opened(place) as ledger:
        fill(ledger)
    with raw(place) as database:
        database.unguard()
        database("UPDATE ledger_entries SET operator = x'ff00' WHERE seq = 4")
    assert codes(place) == ["ledger-entry ledger entry 4"]
