"""The filters a template may use: how many arguments each takes, and what it does to a record's text.

Not here: how a locale writes things (`locales`), what else a template may do (`sandbox`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from jinja2 import pass_context
from jinja2.runtime import Context as Runtime
from jinja2.runtime import Undefined

from vdp.errors import RowRefused
from vdp.job import locales
from vdp.job.context import Context

#: Where the record's Context is kept among a template's variables; no template can spell it.
RECORD = "\0record"
#: Keyword by which the sandbox tells a filter the field that its value comes from; no template can spell it.
OF = "of"
#: The longest text that `replace` may give, in characters.
LONGEST = 10_000


def _record(runtime: Runtime) -> Context:
    record: Context = runtime.parent[RECORD]
    return record


def _text(value: Any, name: str) -> str:
    """A filter's value as text; what is not text or a whole number is refused."""
    if isinstance(value, str):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    if isinstance(value, Undefined):
        str(value)  # raises the engine's own sentence about what is missing
    raise RowRefused((f"filter '{name}' works on text, not on {type(value).__name__}",))


def _shown(text: str) -> str:
    return f"'{text[:60]}…'" if len(text) > 60 else f"'{text}'"


def _by_locale(name: str, runtime: Runtime, value: Any, of: str, write: Callable[[str, str], str]) -> str:
    """Runs a writer of `locales` and words its refusal with the field's name."""
    text = _text(value, name)
    try:
        return write(_record(runtime).locale, text)
    except ValueError as error:
        subject = f"field '{of}'" if of else f"the value of filter '{name}'"
        raise RowRefused((f"{subject}: {_shown(text)} {error} (filter '{name}')",)) from error


@pass_context
def _date(runtime: Runtime, value: Any, style: Any = "medium", of: str = "") -> str:
    pattern = _record(runtime).dates.get(of)
    wanted = _text(style, "date")
    try:
        locales.date_pattern(wanted)
    except ValueError as error:
        raise RowRefused((f"{error} (filter 'date')",)) from error

    def write(locale: str, text: str) -> str:
        return locales.write_date(locale, text, pattern, wanted)

    return _by_locale("date", runtime, value, of, write)


@pass_context
def _number(runtime: Runtime, value: Any, places: Any = None, of: str = "") -> str:
    if places is not None and not (type(places) is int and 0 <= places <= locales.MOST_PLACES):
        raise RowRefused((f"filter 'number' takes 0 to {locales.MOST_PLACES} places, not {places!r}",))
    return _by_locale("number", runtime, value, of, lambda locale, text: locales.write_number(locale, text, places))


@pass_context
def _money(runtime: Runtime, value: Any, currency: Any, of: str = "") -> str:
    code = _text(currency, "money")
    return _by_locale("money", runtime, value, of, lambda locale, text: locales.write_money(locale, text, code))


@pass_context
def _percent(runtime: Runtime, value: Any, of: str = "") -> str:
    return _by_locale("percent", runtime, value, of, locales.write_percent)


@pass_context
def _upper(runtime: Runtime, value: Any) -> str:
    return locales.upper(_record(runtime).locale, _text(value, "upper"))


@pass_context
def _lower(runtime: Runtime, value: Any) -> str:
    return locales.lower(_record(runtime).locale, _text(value, "lower"))


@pass_context
def _title(runtime: Runtime, value: Any) -> str:
    return locales.title(_record(runtime).locale, _text(value, "title"))


@pass_context
def _capitalize(runtime: Runtime, value: Any) -> str:
    locale, text = _record(runtime).locale, _text(value, "capitalize")
    return locales.upper(locale, text[:1]) + locales.lower(locale, text[1:])


def _trim(value: Any) -> str:
    return _text(value, "trim").strip()


def _length(value: Any) -> int:
    return len(_text(value, "length"))


def _default(value: Any, instead: Any) -> str:
    """The text, or another where it is empty: a field is always there, but may hold nothing."""
    text = _text(value, "default")
    return text if text.strip() else _text(instead, "default")


def _replace(value: Any, old: Any, new: Any) -> str:
    text, old, new = _text(value, "replace"), _text(old, "replace"), _text(new, "replace")
    if not old:
        raise RowRefused(("filter 'replace' cannot look for an empty text",))
    if len(text) + text.count(old) * max(0, len(new) - len(old)) > max(LONGEST, len(text)):
        raise RowRefused((f"filter 'replace' would give more than {LONGEST:,} characters",))
    return text.replace(old, new)


# -- the table -------------------------------------------------------------------------------------------------------


class Allowed(NamedTuple):
    """A filter: what it does, least and most arguments, whether it wants its field's name, and how to judge an argument
    that no record changes (raises ValueError)."""

    run: Callable[..., Any]
    least: int
    most: int
    named: bool = False
    judge: Callable[[Any], object] | None = None


def _judge_date(style: Any) -> None:
    locales.date_pattern(style if isinstance(style, str) else repr(style))


def _judge_places(places: Any) -> None:
    if not (type(places) is int and 0 <= places <= locales.MOST_PLACES):
        raise ValueError(f"'number' takes 0 to {locales.MOST_PLACES} places, not {places!r}")


def _judge_currency(code: Any) -> None:
    if not isinstance(code, str) or not locales.known_currency(code):
        raise ValueError(f"{code!r} is not a currency code such as 'EUR'")


FILTERS: Mapping[str, Allowed] = {
    "upper": Allowed(_upper, 0, 0),
    "lower": Allowed(_lower, 0, 0),
    "title": Allowed(_title, 0, 0),
    "capitalize": Allowed(_capitalize, 0, 0),
    "trim": Allowed(_trim, 0, 0),
    "replace": Allowed(_replace, 2, 2),
    "default": Allowed(_default, 1, 1),
    "length": Allowed(_length, 0, 0),
    "date": Allowed(_date, 0, 1, named=True, judge=_judge_date),
    "number": Allowed(_number, 0, 1, named=True, judge=_judge_places),
    "money": Allowed(_money, 1, 1, named=True, judge=_judge_currency),
    "percent": Allowed(_percent, 0, 0, named=True),
}
