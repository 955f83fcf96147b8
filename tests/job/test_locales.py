"""Dates, numbers and money as locales write them.

Expected values are those of Babel 2.18 (CLDR) in STANDARDS.md §6 unless a line says otherwise; CLDR changes yearly, so
a failure after an update is first a question about the update.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.job import locales

NARROW = "\u202f"
NO_BREAK = "\u00a0"
RTL_MARK = "\u200f"
APOSTROPHE = "\u2019"


@pytest.mark.parametrize(
    ("locale", "expected"),
    [
        ("en", "1,234,567.891"),
        ("de", "1.234.567,891"),
        ("fr", f"1{NARROW}234{NARROW}567,891"),
        ("sv", f"1{NO_BREAK}234{NO_BREAK}567,891"),
        ("hi", "12,34,567.891"),
        ("de_CH", f"1{APOSTROPHE}234{APOSTROPHE}567.891"),
    ],
)
def test_numbers(locale: str, expected: str) -> None:
    assert locales.write_number(locale, "1234567.891", None) == expected


def test_no_decimal_is_lost_or_added() -> None:
    # CLDR's own pattern stops at three decimals; a record's number is never rounded unasked.
    assert locales.write_number("en", "0.123456789", None) == "0.123456789"
    assert locales.write_number("en", "1.50", None) == "1.50"
    assert locales.write_number("en", "-0012", None) == "-12"
    assert locales.write_number("en", "1234567890123456789012345678", None) == "1,234,567,890,123,456,789,012,345,678"


def test_places_asked_for() -> None:
    assert locales.write_number("hi", "1234567.5", 2) == "12,34,567.50"
    # A half goes to the even digit (IEEE 754 roundTiesToEven).
    assert [locales.write_number("en", text, 0) for text in ("0.5", "1.5", "2.5")] == ["0", "2", "2"]
    assert locales.write_number("en", "1" * 28, 10) == "1,111,111,111,111,111,111,111,111,111.0000000000"


@pytest.mark.parametrize("text", ["", "x", "1,5", "1e5", "1 000", "٣", ".5", "5.", "--1", "nan", "inf", " 1", "1\n"])
def test_what_is_no_number(text: str) -> None:
    with pytest.raises(ValueError, match=r"is not a number such as 1234\.5"):
        locales.write_number("en", text, None)


def test_too_many_digits() -> None:
    with pytest.raises(ValueError, match="has more than 28 digits"):
        locales.write_number("en", "1" * 29, None)


@given(st.decimals(min_value=-(10**12), max_value=10**12, places=4))
def test_a_number_set_in_english_reads_back(number: Decimal) -> None:
    text = f"{number:f}"
    assert Decimal(locales.write_number("en", text, None).replace(",", "")) == number


@pytest.mark.parametrize(
    ("locale", "currency", "expected"),
    [
        ("de_CH", "EUR", f"EUR{NO_BREAK}1{APOSTROPHE}234.50"),
        # From memory: CLDR's German and Greek put the sign last after a no-break space.
        ("de", "EUR", f"1.234,50{NO_BREAK}€"),
        ("el", "EUR", f"1.234,50{NO_BREAK}€"),
        ("en", "GBP", "£1,234.50"),
    ],
)
def test_money(locale: str, currency: str, expected: str) -> None:
    assert locales.write_money(locale, "1234.5", currency) == expected


def test_money_in_egyptian_arabic_begins_with_the_mark() -> None:
    assert locales.write_money("ar_EG", "1234.5", "EUR").startswith(RTL_MARK)


def test_money_is_never_rounded() -> None:
    assert locales.write_money("en", "1234.50", "EUR") == "€1,234.50"
    # Trailing zeros are no finer than the coin.
    assert locales.write_money("en", "1234.5000", "EUR") == "€1,234.50"
    # The yen has no smaller coin (ISO 4217).
    assert locales.write_money("en", "1234.0", "JPY") == "¥1,234"
    for text, currency in (("1.005", "EUR"), ("1.5", "JPY")):
        with pytest.raises(ValueError, match=f"has more decimals than {currency}"):
            locales.write_money("en", text, currency)


def test_unknown_currency() -> None:
    for code in ("EURO", "eur", "", "€"):
        assert not locales.known_currency(code)
        with pytest.raises(ValueError, match="which is not a currency code such as EUR"):
            locales.write_money("en", "1", code)


def test_percent() -> None:
    assert locales.write_percent("en", "0.255") == "25.5%"
    # From memory: German puts a no-break space before the sign.
    assert locales.write_percent("de", "0.255") == f"25,5{NO_BREAK}%"


@pytest.mark.parametrize(
    ("locale", "style", "expected"),
    [
        ("de", "long", "9. März 2026"),
        ("ar", "long", "9 مارس 2026"),
        ("ja", "long", "2026年3月9日"),
        # A pattern of Unicode TS #35 part 4, field symbols d, MM and y; literal text in single quotes.
        ("en", "d/MM/y", "9/03/2026"),
        ("en", "d 'of' MMMM", "9 of March"),
        ("en", "MMMM d. y G", "March 9. 2026 AD"),
    ],
)
def test_dates(locale: str, style: str, expected: str) -> None:
    assert locales.write_date(locale, "2026-03-09", None, style) == expected


@pytest.mark.parametrize("style", ["", "HH:mm", "d MMMM y HH", "'day'", "..", "ddd", "xyz", "z"])
def test_what_is_no_way_to_write_a_date(style: str) -> None:
    with pytest.raises(ValueError, match="is not a way to write a date"):
        locales.date_pattern(style)


@pytest.mark.parametrize(
    "text", ["", "2026-3-9", "20260309", "2026-W10-1", "2026-03-09T00:00", "09.03.2026", "٢٠٢٦-٠٣-٠٩"]
)
def test_what_is_no_iso_date(text: str) -> None:
    with pytest.raises(ValueError, match="is not a date written year-month-day"):
        locales.parse_date(text, None)


def test_a_day_that_is_not() -> None:
    with pytest.raises(ValueError, match="is not a day of the calendar"):
        locales.parse_date("2026-02-29", None)


@given(st.dates())
def test_dates_printed_and_read_back(day: object) -> None:
    assert locales.parse_date(str(day), None) == day


def test_dates_written_as_the_job_says() -> None:
    assert locales.write_date("de", "9.3.26", "%d.%m.%y", "long") == "9. März 2026"
    with pytest.raises(ValueError, match="is not a date written %d"):
        locales.parse_date("2026-03-09", "%d.%m.%Y")


def test_letters_by_language() -> None:
    # Unicode's SpecialCasing.txt: tr and az i → İ, ß → SS; Greek capitals lose the tonos (CLDR transform el-Upper).
    assert locales.upper("tr", "i") == "İ"
    assert locales.upper("en", "i") == "I"
    assert locales.upper("de", "straße") == "STRASSE"
    assert locales.upper("el", "ΐ άλφα") == "Ϊ ΑΛΦΑ"
    assert locales.lower("tr", "I") == "ı"
    assert locales.lower("el", "ΟΔΟΣ") == "οδος"
    assert locales.title("en", "ana maria") == "Ana Maria"
    assert locales.title("nl", "ijmuiden") == "IJmuiden"


@pytest.mark.parametrize(
    ("code", "canonical"),
    [
        ("el", "el"),
        ("pt_BR", "pt_BR"),
        ("pt-br", "pt_BR"),
        ("zh-Hant", "zh_Hant"),
        ("zh_Hans_CN", "zh_Hans_CN"),
        ("no", "nb"),
        ("de-CH", "de_CH"),
    ],
)
def test_known_locales(code: str, canonical: str) -> None:
    found = locales.canonical_locale(code)
    assert locales.known_locale(code)
    # Babel may keep "no" or turn it into "nb": both name the same data.
    assert found == canonical or (code, found) == ("no", "no")


@pytest.mark.parametrize(
    "code", ["", "xx", "klingon", "en_XX_YY_ZZ_AA", "../../etc/passwd", "en@x", "x" * 99, "e", "1"]
)
def test_unknown_locales(code: str) -> None:
    assert locales.canonical_locale(code) is None
    assert not locales.known_locale(code)


def test_suggestions_are_locales() -> None:
    assert {"en", "el", "ar", "pt_BR"} <= set(locales.all_locales())


def test_caches_are_bounded() -> None:
    for function in (locales.write_date, locales.write_number, locales.write_money, locales.write_percent):
        assert 0 < (function.cache_parameters()["maxsize"] or 0) <= 10_000
