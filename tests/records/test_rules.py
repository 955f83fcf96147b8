"""The job's rules: each one broken and kept, the same recipient twice, seeds, and fields the list lacks."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from tests.records.lists import row_of, spec_of
from vdp.errors import CallerError
from vdp.records.rules import RowRules
from vdp.records.spec import FieldRule

IS = "Field 'f' is "


def refusals(rule: dict[str, Any], *values: str) -> list[list[str]]:
    """What is refused of a column `f` under one rule; another column keeps the record from being empty."""
    rules = RowRules(spec_of(fields={"f": rule}), ("f", "g"), "list.csv")
    return [rules.judge(row_of(number, f=value, g="x"))[0] for number, value in enumerate(values, 2)]


@pytest.mark.parametrize(
    ("rule", "kept", "broken", "why"),
    [
        ({"required": True}, "x", "", "Field 'f' is required but empty"),
        ({"required": True}, " x", " \u00a0\n", "Field 'f' is required but empty"),
        ({"length": [2, 3]}, "äö", "a", "Field 'f' has 1 characters, allowed are 2 to 3"),
        ({"length": [2, 3]}, "abc", "abcd", "Field 'f' has 4 characters, allowed are 2 to 3"),
        ({"length": [5, 5]}, "00501", "501", "Field 'f' has 3 characters, allowed are 5"),
        ({"pattern": r"\d{5}"}, "00501", "005011", r"Field 'f' is '005011', which does not match \d{5}"),
        ({"pattern": "a.c"}, "abc", "a\nc", "Field 'f' is 'a<U+000A>c', which does not match a.c"),
        ({"pattern": "a*"}, "a" * 1000, "a" * 1001, IS + "too long to try its pattern on (over 1000 characters)"),
        ({"one_of": ["el", "de"]}, "el", "EL", "Field 'f' is 'EL', allowed are 'el', 'de'"),
        ({"one_of": list("123456789")}, "9", "0", IS + "'0', allowed are '1', '2', '3', '4', '5', '6', '7', '8', …"),
        ({"one_of": ["o\u0308"]}, "\u00f6", "o", "Field 'f' is 'o', allowed are 'ö'"),
        ({"date": "%Y-%m-%d"}, "2028-02-29", "2027-02-29", IS + "'2027-02-29', which is no date written as %Y-%m-%d"),
        ({"date": "%d.%m.%Y"}, "1.3.2026", "2026-03-01", IS + "'2026-03-01', which is no date written as %d.%m.%Y"),
    ],
)  # fmt: skip
def test_each_rule(rule: dict[str, Any], kept: str, broken: str, why: str) -> None:
    assert refusals(rule, kept, broken) == [[], [why]]


def test_an_empty_value_breaks_only_required() -> None:
    rule = {"length": [2, 3], "pattern": "x", "one_of": ["a"], "date": "%Y-%m-%d", "unique": True}
    assert refusals(rule, "", "", " ") == [[], [], []]


def test_every_reason_is_told() -> None:
    rule = {"length": [1, 2], "pattern": "[a-z]+", "one_of": ["ab"], "date": "%Y-%m-%d"}
    assert len(refusals(rule, "ABC")[0]) == 4


def test_unique_names_the_first_row() -> None:
    first, second, third, fourth = refusals({"unique": True}, "7", "07", "7", "7")
    assert (first, second) == ([], [])
    assert third == fourth == ["Field 'f' is '7', as in row 2; it must be unique"]


@pytest.mark.parametrize(
    ("value", "what"),
    [
        ("a\tb", "U+0009 at character 2, a control character"),
        ("\x1b[31m", "U+001B at character 1, a control character"),
        ("it\x92s", "U+0092 at character 3, a control character; was the list saved in another encoding?"),
        ("\x7f", "U+007F at character 1, a control character"),
        ("ab\ufeff", "U+FEFF at character 3, a byte order mark inside text"),
        ("\ufdd0", "U+FDD0 at character 1, a noncharacter"),
        ("\U0010ffff", "U+10FFFF at character 1, a noncharacter"),
        ("\ud800", "U+D800 at character 1, half of a surrogate pair"),
        ("Gonz\ufffdlez", "U+FFFD at character 5, the sign another program left where it lost a character"),
    ],
)
def test_unprintable_characters_are_refused(value: str, what: str) -> None:
    assert refusals({}, value) == [[f"Field 'f' holds {what}"]]


@pytest.mark.parametrize("value", ["two\nlines", "\u00a0", "नमस्ते\u200d", "\u2066x\u2069", "a\u00adb", "\U0001f600"])
def test_other_characters_are_left_to_the_layout(value: str) -> None:
    assert refusals({}, value) == [[]]


def test_empty_record() -> None:
    rules = RowRules(spec_of(recipient=["a"]), ("a", "b"), "list.csv")
    assert rules.judge(row_of(2, a="", b=" \n")) == (["Every field is empty"], [])


def test_same_recipient_twice() -> None:
    spec = {"recipient": ["name", "zip"]}
    people = [("Ann  Lee", "1"), ("ann\nlee ", "1"), ("Ann Lee", "2"), ("STRASSE", "3"), ("Straße", "3"), ("", "")]
    rows = [row_of(n, name=name, zip=code, note="x") for n, (name, code) in enumerate([*people, ("", "")], 2)]
    twice = "Rows 2 and 3 are for the same recipient (equal in name, zip)"
    thrice = "Rows 5 and 6 are for the same recipient (equal in name, zip)"
    warned = RowRules(spec_of(**spec), ("name", "zip", "note"), "list.csv")
    assert [warned.judge(row) for row in rows] == [
        ([], []), ([], [twice]), ([], []), ([], []), ([], [thrice]), ([], []), ([], [])
    ]  # fmt: skip
    strict = RowRules(spec_of(**spec, repeated="set_aside"), ("name", "zip", "note"), "list.csv")
    assert [strict.judge(row) for row in rows][1] == ([twice], [])


def test_fields_of_a_recipient_are_not_run_together() -> None:
    rules = RowRules(spec_of(recipient=["a", "b"]), ("a", "b"), "list.csv")
    assert rules.judge(row_of(2, a="x", b="yz")) == rules.judge(row_of(3, a="xy", b="z")) == ([], [])


def test_seeds_are_counted_and_may_be_repeated() -> None:
    rules = RowRules(
        spec_of(recipient=["name"], seeds="seed", fields={"id": {"unique": True}}), ("id", "name", "seed"), "x"
    )
    judged = [
        rules.judge(row_of(number, id=str(number % 3), name="Control", seed=seed))
        for number, seed in enumerate(["yes", "yes", " ", "1"], 2)
    ]
    # The only plain record is no repetition of a seed; the rules about fields hold for seeds too.
    assert judged == [([], []), ([], []), ([], []), (["Field 'id' is '2', as in row 2; it must be unique"], [])]
    assert rules.seeds == 3


def test_fields_the_list_lacks_are_all_told() -> None:
    spec = spec_of(recipient=["name", "ZIP"], seeds="sed", language="lang", fields={"nmae": {}, "name": {}})
    columns = "(the columns are 'name', 'zip', 'seed')"
    with pytest.raises(CallerError) as caught:
        RowRules(spec, ("name", "zip", "seed"), "list.csv")
    assert [str(fault) for fault in caught.value.faults] == [
        "list.csv, row 1: there is no column 'nmae', which the job names in records.fields (did you mean 'name'?)",
        "list.csv, row 1: there is no column 'ZIP', which the job names in records.recipient (did you mean 'zip'?)",
        "list.csv, row 1: there is no column 'sed', which the job names in records.seeds (did you mean 'seed'?)",
        f"list.csv, row 1: there is no column 'lang', which the job names in records.language {columns}",
    ]


def test_names_are_compared_in_nfc() -> None:
    rules = RowRules(spec_of(recipient=["o\u0308rt"], fields={"o\u0308rt": {"required": True}}), ("\u00f6rt",), "x")
    assert rules.judge(row_of(2, ört="x")) == ([], [])


@pytest.mark.parametrize(
    ("rule", "why"),
    [
        ({"pattern": "(a"}, "not a regular expression"),
        ({"length": [3, 2]}, "not a least and a most length: 3 to 2"),
        ({"length": [-1, 2]}, "not a least and a most length"),
        ({"date": "%d.%m."}, "not a pattern for a whole date"),
        ({"date": "%Q"}, "not a pattern for a whole date"),
        ({"date": "2031-12-28"}, "not a pattern for a whole date"),
        ({"dates": "%Y"}, "Extra inputs"),
    ],
)
def test_rules_that_are_none(rule: dict[str, Any], why: str) -> None:
    with pytest.raises(ValidationError, match=why):
        FieldRule.model_validate(rule)


def test_date_patterns() -> None:
    for pattern in ("%Y-%m-%d", "%d.%m.%y", "%d %B %Y", "%Y%j"):
        assert FieldRule.model_validate({"date": pattern}).date == pattern
    assert FieldRule.model_validate({}).date is None
    assert FieldRule.model_validate({"date": None, "length": None, "pattern": None}).pattern is None
