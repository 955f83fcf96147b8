"""The verifier's own arithmetic of serials against the composer's, and the search for serials in text."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.job.series import Series
from vdp.numbering.series import Series as MakersSeries
from vdp.verify.serials import check_holds, is_telling, serial_text, shape, shows, strangers

SCHEMES = ("none", "mod37_36", "mod97_10", "luhn", "gs1", "damm")


@settings(max_examples=80)
@given(
    st.sampled_from(SCHEMES),
    st.sampled_from(["", "TL27-", "ab/", "X"]),
    st.integers(0, 900),
    st.integers(1, 7),
    st.integers(0, 400),
)
def test_both_sides_work_out_the_same_serial(scheme: str, prefix: str, start: int, step: int, index: int) -> None:
    spec = Series(prefix=prefix, start=start, step=step, width=6, suffix=".", check=scheme)  # type: ignore[arg-type]
    serial = serial_text(spec, index)
    assert serial == MakersSeries("s", prefix, start, step, 6, ".", scheme).text(index)
    assert check_holds(spec, serial)


def test_published_check_characters() -> None:
    """ISO/IEC 7064 MOD 37,36: A12425GABC1234002 → M (GRid); MOD 97-10: 794 → 44; Luhn: 7992739871 → 3."""
    grid = Series(prefix="A12425GABC", start=1234002, width=7, check="mod37_36")
    assert serial_text(grid, 0) == "A12425GABC1234002M"
    assert serial_text(Series(start=794, width=3, check="mod97_10"), 0) == "79444"
    assert serial_text(Series(start=7992739871, width=10, check="luhn"), 0) == "79927398713"


@pytest.mark.parametrize("text", ["V0001", "V00019", "W00013", "V0001!", "", "V0001x3"])
def test_a_wrong_serial_does_not_hold(text: str) -> None:
    assert not check_holds(Series(prefix="V", width=4, check="damm"), text)


def test_a_series_without_check_has_exactly_its_width() -> None:
    assert check_holds(Series(prefix="V", width=4), "V0001")
    assert not check_holds(Series(prefix="V", width=4), "V00012")


@pytest.mark.parametrize(
    ("text", "serial", "found"),
    [
        ("No. 000123 of", "000123", True),
        ("1000123", "000123", False),
        ("0001234 and 000123.", "000123", True),
        ("V-1X9", "V-1X", True),
        ("nothing", "V-1X", False),
        ("anything", "", False),
    ],
)
def test_a_serial_is_not_part_of_a_longer_number(text: str, serial: str, found: bool) -> None:
    assert shows(text, serial) is found


def test_strangers_have_the_shape_of_the_series() -> None:
    pattern = shape("TL27-000001K", "TL27-000300A")
    assert is_telling(pattern)
    text = "TL27-000001K, TL27-000002X, TL27-00002, XTL27-000003Z, TL28-000004B"
    assert strangers(text, pattern, {"pass": "TL27-000001K"}) == ["TL27-000002X"]


def test_bare_numbers_tell_nothing() -> None:
    pattern = shape("000001", "000300")
    assert not is_telling(pattern)
    assert strangers("000007 12345", pattern, {}) == ["000007"]
