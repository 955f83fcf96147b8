"""Serials: what the n-th number of a series looks like, and that none is ever cut short."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.checkdigit import SCHEMES, valid
from vdp.errors import CallerError, OurBug
from vdp.job.series import Series as JobSeries
from vdp.numbering.series import Series


def series(**changes: object) -> Series:
    given_: dict[str, object] = {
        "name": "pass", "prefix": "FP-", "start": 1, "step": 1, "width": 6, "suffix": "", "check": "none",
    }  # fmt: skip
    return Series(**(given_ | changes))  # type: ignore[arg-type]  # tests pass wrong values on purpose


def test_prefix_number_check_suffix() -> None:
    assert series().text(0) == "FP-000001"
    assert series(start=10, step=5, suffix="/A").text(3) == "FP-000025/A"
    assert series(check="luhn", prefix="", start=7992739871, width=10, suffix="x").text(0) == "79927398713x"


def test_digit_schemes_check_the_number_only() -> None:
    assert series(prefix="A1-", start=572, width=3, check="damm").text(0) == "A1-5724"
    assert series(prefix="A1-", start=629104150021, width=12, check="gs1").text(0) == "A1-6291041500213"


def test_letter_schemes_check_the_prefix_too_without_its_punctuation() -> None:
    # GRid A12425GABC1234002 → M (ISO 7064 MOD 37,36); LEI-like text through MOD 97-10 by its own rule.
    grid = series(prefix="A1-2425G-ABC-", start=1234002, width=7, check="mod37_36")
    assert grid.text(0) == "A1-2425G-ABC-1234002M"
    assert series(prefix="a1-2425g-abc-", start=1234002, width=7, check="mod37_36").text(0) == "a1-2425g-abc-1234002M"
    pair = series(prefix="AB/", start=107571, check="mod97_10").text(0)
    assert valid("mod97_10", pair.replace("/", ""))


@given(
    st.integers(0, 999),
    st.integers(1, 7),
    st.integers(0, 200),
    st.sampled_from(["none", "mod37_36", "mod97_10", "luhn", "gs1", "damm", "verhoeff", "mod11_10"]),
)
def test_serials_differ_and_carry_their_check(start: int, step: int, index: int, scheme: str) -> None:
    made = series(prefix="Q", start=start, step=step, width=5, check=scheme, suffix="")
    text = made.text(index)
    assert int(text[1:6]) == start + step * index
    assert valid(scheme, text if "A" in SCHEMES[scheme] else text[1:])
    assert text != made.text(index + 1)


def test_exhausted_is_refused_and_never_cut() -> None:
    made = series(width=2, start=97)
    assert [made.text(i) for i in range(made.capacity)] == ["FP-97", "FP-98", "FP-99"]
    with pytest.raises(
        CallerError, match=r"number 100 needs 3 digits, the series has 2: it is exhausted after 3"
    ) as met:
        made.text(3)
    assert met.value.faults[0].where == "series pass"


@given(st.integers(0, 2000), st.integers(1, 50), st.integers(1, 3))
def test_capacity_is_the_first_index_refused(start: int, step: int, width: int) -> None:
    made = series(start=start % 10**width, step=step, width=width)
    assert len(made.text(made.capacity - 1)) == 3 + width
    with pytest.raises(CallerError):
        made.text(made.capacity)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"check": "mod10"}, "no check scheme is called 'mod10'"),
        ({"check": "mod27_26"}, "takes no digits"),
        ({"check": "upu_s10"}, "needs a number of 8 digits"),
        ({"start": -1}, "start is 0 or more"),
        ({"step": 0}, "step and width"),
        ({"width": 0}, "step and width"),
        ({"start": 100, "width": 2}, "its first number, 100, is too large for a width of 2"),
    ],
)
def test_a_series_that_cannot_be(changes: dict[str, object], says: str) -> None:
    with pytest.raises(CallerError, match=says):
        series(**changes)


def test_upu_serial_number() -> None:
    made = series(prefix="EE", start=87654321, width=8, suffix="CA", check="upu_s10")
    assert made.text(0) == "EE876543216CA"


def test_a_negative_index_is_our_mistake() -> None:
    with pytest.raises(OurBug):
        series().text(-1)


def test_series_are_values() -> None:
    assert series() == series()
    with pytest.raises(FrozenInstanceError):
        series().width = 3  # type: ignore[misc]  # the very thing that must fail


def test_takes_what_a_job_says() -> None:
    said = JobSeries(prefix="N", start=5, width=4, check="luhn")
    made = Series("n", said.prefix, said.start, said.step, said.width, said.suffix, said.check)
    assert made.text(0) == "N00059"
