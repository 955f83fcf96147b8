"""What is told at the end, to people and to programs."""

from __future__ import annotations

import json

from vdp.errors import Finding
from vdp.run.result import MOST_SHOWN, Result, as_text, refusal_json


def test_people_read_counts_findings_and_the_last_word() -> None:
    result = Result(
        ok=False, title="Passes", records=12, pieces=10, set_aside=2, symbols_expected=30, symbols_decoded=29,
        serials=10, serials_unique=10, findings=[Finding("symbol-unreadable", "piece 3", "gate cannot be read")],
        warnings=[Finding("microtext-small", "layout.yaml:9:3", "0.7 pt")], files=["pieces.pdf"], folder="out",
        seconds={"check": 0.25}, refused=[(n, f"too long by {n}") for n in range(MOST_SHOWN + 2)], last="do not print",
    )  # fmt: skip
    text = as_text(result)
    for words in ("Passes", "12 = 10 pieces + 2 set aside", "29 of 30 decoded", "10, 10 unique", "pieces.pdf in out",
                  "check 0.2", "row 0: too long by 0", "… and 2 more", "warnings (1)", "findings (1)",
                  "symbol-unreadable  piece 3: gate cannot be read", "do not print"):  # fmt: skip
        assert words in text, words


def test_rows_that_share_a_reason_are_told_together() -> None:
    refused = [(2, "too long"), (3, "no name"), (4, "too long"), (6, "too long"), (9, "too long"), (11, "no name")]
    text = as_text(Result(ok=False, records=6, set_aside=6, refused=refused))
    assert "  set aside (6)\n    4 rows, 2, 4, 6, …: too long\n    row 3: no name\n    row 11: no name\n" in text


def test_pictures_of_a_run_count_no_records() -> None:
    assert "records" not in as_text(Result(ok=True, title="Plates", pieces=2, files=["a.png"], folder="plates"))


def test_a_check_without_symbols_says_only_what_it_knows() -> None:
    text = as_text(Result(ok=True, records=3, pieces=3))
    assert "decoded" not in text
    assert "3 = 3 pieces + 0 set aside" in text


def test_a_refusal_is_the_same_object() -> None:
    told = json.loads(refusal_json([("job.yaml:3:1", "no such key", "did you mean 'series'?"), ("x", "y", "")]))
    assert list(told) == list(Result(ok=True).as_dict())
    assert told["findings"][0] == {
        "code": "input-refused", "where": "job.yaml:3:1", "message": "no such key (did you mean 'series'?)",
    }  # fmt: skip
