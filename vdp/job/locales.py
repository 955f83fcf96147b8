"""Dates, numbers, money, percentages and letter case as a locale writes them (Babel: CLDR; letter case: ICU).

Every function takes text from a record and gives text, or raises ValueError with the end of a sentence that says what
is wrong with the text.  Nothing is rounded unless a number of places is asked for.  Results are cached, bounded.
"""

from __future__ import annotations

import copy
import re
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext
from functools import lru_cache

import icu
from babel import Locale, UnknownLocaleError
from babel.dates import format_date, parse_pattern
from babel.localedata import locale_identifiers
from babel.numbers import format_currency, format_percent, get_currency_precision, list_currencies
from babel.numbers import format_decimal as babel_decimal

#: The named lengths of a date, from CLDR.
DATE_LENGTHS = ("short", "medium", "long", "full")
#: Most digits of a number: more than any amount, few enough to be exact.
MOST_DIGITS = 28
#: Most decimal places that may be asked for.
MOST_PLACES = 10

_CACHED = 8192
_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?\Z")
_ISO_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}\Z")
#: Pattern letters of Unicode TS #35 part 4 that a date without a time can fill.
_DATE_LETTERS = frozenset("GyYuQqMLwWdDFEec")


def known_locale(code: str) -> bool:
    """Whether Babel has data for a locale code such as ``el``, ``pt_BR`` or ``zh-Hant``."""
    return canonical_locale(code) is not None


@lru_cache(maxsize=512)
def canonical_locale(code: str) -> str | None:
    """A locale code as Babel writes it (``pt-br`` → ``pt_BR``), or None when it has no data for it."""
    if not re.fullmatch(r"[A-Za-z]{2,3}(?:[-_][A-Za-z0-9]{2,8}){0,3}", code):
        return None
    try:
        return str(Locale.parse(code.replace("-", "_")))
    except (UnknownLocaleError, ValueError):
        return None


def known_currency(code: str) -> bool:
    """Whether a code is a currency of ISO 4217 that CLDR knows."""
    return code in _currencies()


@lru_cache(maxsize=1)
def _currencies() -> frozenset[str]:
    return frozenset(list_currencies())


@lru_cache(maxsize=1)
def all_locales() -> tuple[str, ...]:
    """Every locale code that Babel has data for, for suggestions."""
    return tuple(sorted(locale_identifiers()))


# -- dates -----------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=_CACHED)
def parse_date(text: str, pattern: str | None) -> date:
    """A date written as `pattern` (strptime) says, or as ISO 8601 year-month-day."""
    if pattern is None:
        if not _ISO_DATE.match(text):
            raise ValueError("is not a date written year-month-day, such as 2026-03-09")
        try:
            return date.fromisoformat(text)
        except ValueError as error:
            raise ValueError("is not a day of the calendar") from error
    try:
        # A date has no time zone; only its day is kept.
        return datetime.strptime(text, pattern).date()  # noqa: DTZ007
    except ValueError as error:
        raise ValueError(f"is not a date written {pattern}") from error


@lru_cache(maxsize=256)
def date_pattern(style: str) -> str:
    """A named length or a pattern of Unicode TS #35, as it came.  Raises ValueError for what a date cannot fill."""
    if style in DATE_LENGTHS:
        return style
    letters = set(re.sub(r"'[^']*'", "", style))
    wrong = sorted(c for c in letters - _DATE_LETTERS if c.isascii() and c.isalpha())
    if wrong or not letters & _DATE_LETTERS:
        raise ValueError(
            f"'{style}' is not a way to write a date: use short, medium, long, full or a pattern such as d MMMM y"
        )
    try:
        parse_pattern(style)
    except ValueError as error:
        raise ValueError(f"'{style}' is not a way to write a date: {error}") from error
    return style


@lru_cache(maxsize=_CACHED)
def write_date(locale: str, text: str, pattern: str | None, style: str) -> str:
    """A date of a record as the locale writes it."""
    return format_date(parse_date(text, pattern), date_pattern(style), locale=locale)


# -- numbers ---------------------------------------------------------------------------------------------------------


def parse_number(text: str) -> Decimal:
    """A number as data write it: digits, one full stop, a sign; no grouping, no exponent."""
    if not _NUMBER.match(text):
        raise ValueError("is not a number such as 1234.5")
    if sum(c.isdigit() for c in text) > MOST_DIGITS:
        raise ValueError(f"has more than {MOST_DIGITS} digits")
    return Decimal(text)


def _places(number: Decimal) -> int:
    return max(0, -int(number.as_tuple().exponent))


@lru_cache(maxsize=_CACHED)
def write_number(locale: str, text: str, places: int | None) -> str:
    """A number as the locale writes it: all its decimals, or exactly `places` (a half goes to the even digit)."""
    number = parse_number(text)
    pattern = copy.copy(Locale.parse(locale).decimal_formats[None])
    if places is None:
        pattern.frac_prec = (_places(number), _places(number))
    else:
        pattern.frac_prec = (places, places)
    with localcontext(Context(prec=MOST_DIGITS + MOST_PLACES + 2, rounding=ROUND_HALF_EVEN)):
        return babel_decimal(number, pattern, locale=locale)


@lru_cache(maxsize=_CACHED)
def write_money(locale: str, text: str, currency: str) -> str:
    """An amount as the locale writes it in a currency; an amount finer than its smallest coin is refused."""
    if not known_currency(currency):
        raise ValueError(f"cannot be written in '{currency}', which is not a currency code such as EUR")
    number = parse_number(text)
    coin = get_currency_precision(currency)
    if _places(number.normalize()) > coin:
        raise ValueError(f"has more decimals than {currency}, which has {coin}")
    with localcontext(Context(prec=MOST_DIGITS + MOST_PLACES + 2)):
        return format_currency(number, currency, locale=locale)


@lru_cache(maxsize=_CACHED)
def write_percent(locale: str, text: str) -> str:
    """A fraction as the locale writes it in hundredths (0.255 → 25.5 %), with all its decimals."""
    number = parse_number(text)
    with localcontext(Context(prec=MOST_DIGITS + MOST_PLACES + 2)):
        return format_percent(number, locale=locale, decimal_quantization=False)


# -- letters ---------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=256)
def _icu_locale(locale: str) -> icu.Locale:
    return icu.Locale(locale)


def upper(locale: str, text: str) -> str:
    """Capitals as the language writes them (Turkish i → İ, Greek without tonos)."""
    return str(icu.UnicodeString(text).toUpper(_icu_locale(locale)))


def lower(locale: str, text: str) -> str:
    """Small letters as the language writes them."""
    return str(icu.UnicodeString(text).toLower(_icu_locale(locale)))


def title(locale: str, text: str) -> str:
    """Every word with a capital, as the language writes them (Dutch ij → IJ)."""
    return str(icu.UnicodeString(text).toTitle(_icu_locale(locale)))
