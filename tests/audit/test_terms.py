"""Serials read by the terms of their series alone: what the maker writes is read back, and nothing else is."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.audit.terms import Reading, Terms
from vdp.numbering.series import Series

KEY = b"\x03" * 16


def series(**more: Any) -> Series:
    told: dict[str, Any] = {
        "name": "s", "prefix": "V", "start": 7, "step": 3, "width": 5, "suffix": "", "check": "damm", **more,
    }  # fmt: skip
    return Series(**told)


KINDS = {
    "plain": series(),
    "unchecked": series(check="none", suffix="-X"),
    "two characters": series(check="mod97_10", prefix="Ab-", alphabet="alphanumeric"),
    "letters in the check": series(check="mod37_36", prefix="tl27-"),
    "groups": series(groups=(2, 4), separator="."),
    "one group": series(groups=(6,)),
    "coded": series(code=4, groups=(5, 5), key=KEY),
    "bounded": series(last=100),
    "letters only": series(alphabet="ABCDEFGHIJKLMNOPQRSTUVWXYZ", check="mod27_26", prefix=""),
}


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(KINDS)), st.data())
def test_what_is_written_is_read_back(kind: str, data: st.DataObject) -> None:
    made = KINDS[kind]
    nth = data.draw(st.integers(0, made.capacity - 1))
    assert Terms.of(made.terms()).read(made.text(nth)) == Reading(nth)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(sorted(KINDS)), st.data())
def test_any_other_text_is_refused_or_is_the_makers_too(kind: str, data: st.DataObject) -> None:
    """One character of a serial changed, left out or put in: read only where the maker reads it, as the same number."""
    made, terms = KINDS[kind], Terms.of(KINDS[kind].terms())
    text = made.text(data.draw(st.integers(0, made.capacity - 1)))
    at, other = data.draw(st.integers(0, len(text) - 1)), data.draw(st.text("0123456789AXVZ-.é", max_size=2))
    changed = text[:at] + other + text[at + 1 :]
    reading = terms.read(changed)
    if reading.fault:
        with pytest.raises(Exception, match="series s"):
            made.parse(changed)
    elif not made.code:  # a code is judged with the key alone
        assert made.parse(changed) == reading.nth


def test_parts_that_come_with_each_piece_are_not_judged() -> None:
    varying = series(prefix="", varying=True)
    assert Terms.of(varying.terms()).read(varying.text(4, "Y27-")) == Reading(4)
    ending = series(varying_suffix=True)
    assert Terms.of(ending.terms()).read(ending.text(4, None, "-27")) == Reading(4)
    both = series(prefix="", varying=True, varying_suffix=True)
    assert Terms.of(both.terms()).read("anything") == Reading(None)


def test_of_shuffled_numbers_form_and_check_are_judged() -> None:
    made = series(shuffled=True, width=8, key=KEY)
    terms, text = Terms.of(made.terms()), made.text(41)
    assert terms.read(text) == Reading(None)
    wrong = text[:-1] + str((int(text[-1]) + 1) % 10)
    assert "its check (damm)" in terms.read(wrong).fault


@pytest.mark.parametrize(
    ("kind", "text", "fault"),
    [
        ("plain", "V0000", "has not the form"),
        ("plain", "X000074", "has not the form"),
        ("plain", "V0000A4", "not of its series' alphabet"),
        ("plain", "V000070", "its check (damm)"),
        ("unchecked", "V00008-X", "none of the numbers"),
        ("unchecked", "V00001-X", "none of the numbers"),
        ("unchecked", "V00007-Y", "has not the form"),
        ("bounded", "V001032", "none of the numbers"),
        ("coded", "V00007-4é000", "its code"),
        ("groups", "V0000.74", "has not the form"),
    ],
)
def test_what_is_wrong_is_said(kind: str, text: str, fault: str) -> None:
    assert fault in Terms.of(KINDS[kind].terms()).read(text).fault


@pytest.mark.parametrize(
    "more",
    [
        {"alphabet": "00"}, {"alphabet": ""}, {"width": "0"}, {"width": "100000"}, {"width": "x"}, {"code": "-1"},
        {"check": "other"}, {"step": "0"}, {"start": "-1"}, {"groups": "2-x"}, {"last": "x"},
    ],
    ids=str,
)  # fmt: skip
def test_terms_that_no_series_has_are_refused(more: dict[str, str]) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        Terms.of({**KINDS["plain"].terms(), **more})


def test_a_check_that_cannot_be_taken_is_a_fault() -> None:
    """Terms may ask for a check of an alphabet that the scheme does not take; no series does."""
    with pytest.raises(ValueError, match=r"damm takes only"):
        Terms.of({**KINDS["plain"].terms(), "alphabet": "AB"})
    terms = Terms.of({**KINDS["plain"].terms(), "alphabet": "0A"})
    assert "damm takes only" in terms.read("V0000A0").fault
