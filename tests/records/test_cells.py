"""What text a spreadsheet cell stands for, rule by rule.

The values are worked out by hand from ECMA-376 part 1, 18.8.30 and 18.17.4; `test_workbook` holds the same rules
against files that openpyxl wrote and against what calamine reads.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.records.cells import CellRefused, iso_date, number, unescape


@pytest.mark.parametrize(
    ("stored", "code", "text"),
    [
        ("7", "General", "7"),
        ("-7", "General", "-7"),
        ("-0", "General", "0"),
        ("-0.0", "General", "0"),
        ("7.0", "General", "7"),
        ("1.50", "0.00", "1.5"),
        ("0.1", "General", "0.1"),
        ("9007199254740991", "0", "9007199254740991"),
        ("-9007199254740991", "0", "-9007199254740991"),
        ("1E3", "General", "1000"),
        ("1.5E-5", "0.00E+00", "0.000015"),
        ("1.23456789012345E+14", "General", "123456789012345"),
        # 0.1 + 0.2 and 1/3 as a program writes them, with the noise of binary numbers.
        ("0.30000000000000004", "General", "0.3"),
        ("0.33333333333333331", "General", "0.333333333333333"),
        ("99999.999999999985", "General", "100000"),
        ("0.25", "0%", "0.25"),
        ("1234.5", "#,##0.00 €", "1234.5"),
        ("1234.5", '_("$"* #,##0.00_);_("$"* \\(#,##0.00\\);_("$"* "-"??_);_(@_)', "1234.5"),
        ("1234567", "#\\ ##0", "1234567"),
        ("1234567", '#" "##0.00', "1234567"),
        ("5", '0.0 "kg"', "5"),
        ("5", "[Red]0;[Blue]-0", "5"),
        ("7", "000", "007"),
        ("501", "00000", "00501"),
        ("501", "[$-409]00000", "00501"),
        ("123456", "00000", "123456"),
        ("7.0", "000", "007"),
    ],
)
def test_numbers(stored: str, code: str, text: str) -> None:
    assert number(stored, code, False) == text


@pytest.mark.parametrize(
    ("stored", "code", "why"),
    [
        ("1.2345678901234567E+19", "General", "some may be lost already"),
        # The first whole number that may stand for another one, and one a program may have spelt out by rounding.
        ("9007199254740992", "0", "some may be lost already"),
        ("-12345678901234567890", "0", "some may be lost already"),
        ("1E+20", "General", "some may be lost already"),
        ("1234567890123456.5", "General", "some may be lost already"),
        ("0.1234567890123456789", "General", "some may be lost already"),
        ("7.5", "000", "leading zeros, but 7.5 is no whole number"),
        ("-7", "000", "leading zeros, but -7 is no whole number"),
        ("123456789", "00000-0000", "signs or zeros that are not stored"),
        ("5551234", "[<=9999999]###-####;(###) ###-####", "signs or zeros that are not stored"),
        ("7", '"A"0000', "signs or zeros that are not stored"),
        ("7", "000.00", "signs or zeros that are not stored"),
        ("0.5", "# ?/?", "signs or zeros that are not stored"),
        ("1.5", "[h]:mm", "signs or zeros that are not stored"),
        ("seven", "General", "is none"),
        ("1E9999", "General", "is none"),
        ("NaN", "General", "is none"),
        ("٧", "General", "is none"),
        ("1" * 401, "General", "is none"),
    ],
)
def test_numbers_that_cannot_be_told(stored: str, code: str, why: str) -> None:
    with pytest.raises(CellRefused, match=why) as caught:
        number(stored, code, False)
    assert caught.value.mend


@pytest.mark.parametrize(
    ("stored", "code", "text"),
    [
        ("46082", "yyyy-mm-dd", "2026-03-01"),
        ("46082.604166666664", "yyyy-mm-dd h:mm", "2026-03-01T14:30:00"),
        ("46082.604166666664", "m/d/yy h:mm AM/PM", "2026-03-01T14:30:00"),
        ("46082.604166666664", "dd/mm/yyyy", "2026-03-01"),
        ("46082.604166666664", "h:mm:ss", "14:30:00"),
        ("0.5", "h:mm", "12:00:00"),
        ("0", "h:mm", "00:00:00"),
        ("0.0034722222222222224", "mm:ss", "00:05:00"),
        ("46082", "[$-409]mmmm\\ d\\,\\ yyyy;@", "2026-03-01"),
        ("46082", 'd"."m"."yyyy', "2026-03-01"),
        ("46082", "mmm", "2026-03-01"),
        ("1", "yyyy-mm-dd", "1900-01-01"),
        ("59", "yyyy-mm-dd", "1900-02-28"),
        ("61", "yyyy-mm-dd", "1900-03-01"),
        ("2958465", "yyyy-mm-dd", "9999-12-31"),
    ],
)
def test_dates(stored: str, code: str, text: str) -> None:
    assert number(stored, code, False) == text


def test_dates_from_1904() -> None:
    assert number("0", "yyyy-mm-dd", True) == "1904-01-01"
    assert number("44620", "yyyy-mm-dd", True) == "2026-03-01"


@pytest.mark.parametrize("epoch_1904", [False, True])
@pytest.mark.parametrize("stored", ["-1", "2958466", "1E8", "1E200"])
def test_dates_that_are_none(stored: str, epoch_1904: bool) -> None:
    with pytest.raises(CellRefused, match=r"formatted as a date, but .* is none"):
        number(stored, "yyyy-mm-dd", epoch_1904)


def test_the_day_that_never_was() -> None:
    for stored in ("60", "0"):
        with pytest.raises(CellRefused, match="is none"):
            number(stored, "yyyy-mm-dd", False)
    with pytest.raises(CellRefused, match="is none"):
        number("2958000", "yyyy-mm-dd", True)
    with pytest.raises(CellRefused, match="is none"):
        number("-0.5", "h:mm", False)


MOMENTS = st.datetimes(datetime.fromisoformat("1900-03-01"), datetime.fromisoformat("9999-12-31"))


@given(MOMENTS.map(lambda moment: moment.replace(microsecond=0)))
def test_moments_survive_the_way_through_a_double(moment: datetime) -> None:
    serial = (moment - datetime.fromisoformat("1899-12-30")) / timedelta(days=1)
    assert number(repr(serial), "yyyy-mm-dd hh:mm:ss", False) == moment.isoformat()


@given(st.integers(1 - 2**53, 2**53 - 1))
def test_integers_spelt_out_are_exact(value: int) -> None:
    assert number(str(value), "General", False) == str(value)


@given(st.decimals(-(10**9), 10**9, places=5))
def test_short_fractions_are_exact(value: object) -> None:
    told = number(repr(float(str(value))), "General", False)
    assert float(told) == float(str(value))
    assert "e" not in told.lower()


@pytest.mark.parametrize(
    ("stored", "code", "text"),
    [
        ("2026-03-01", "yyyy-mm-dd", "2026-03-01"),
        ("2026-03-01T00:00:00", "yyyy-mm-dd", "2026-03-01"),
        ("2026-03-01T14:30:00", "yyyy-mm-dd", "2026-03-01"),
        ("2026-03-01T14:30:00", "yyyy-mm-dd h:mm", "2026-03-01T14:30:00"),
        ("2026-03-01T00:00:00.000Z", "General", "2026-03-01"),
        ("2026-03-01T00:00:00", "yyyy-mm-dd h:mm", "2026-03-01T00:00:00"),
        ("14:30:00", "h:mm", "14:30:00"),
    ],
)
def test_dates_in_words(stored: str, code: str, text: str) -> None:
    assert iso_date(stored, code) == text


@pytest.mark.parametrize("stored", ["", "1 March", "2026-3-1", "2026-03-01T14:30"])
def test_dates_in_words_that_are_none(stored: str) -> None:
    with pytest.raises(CellRefused):
        iso_date(stored, "yyyy-mm-dd")


def test_escapes() -> None:
    assert unescape("plain _ text") == "plain _ text"
    assert unescape("a_x000D_b_x0009_c") == "a\rb\tc"
    assert unescape("_x005F_x0041_") == "_x0041_"
    assert unescape("_xD83D__xDE00_!") == "😀!"
    assert unescape("_x41_ _xZZZZ_") == "_x41_ _xZZZZ_"
    for text in ("_xD83D_", "_xDE00__xD83D_"):
        with pytest.raises(CellRefused, match="half of a surrogate pair"):
            unescape(text)
    with pytest.raises(CellRefused, match="NUL"):
        unescape("_x0000_")
