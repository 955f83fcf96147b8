"""Invented records for a job, before the real list may be seen: same job, count and seed, same bytes.

Lives here: the small language of `fake` hints in a job's field rules, and drawing values that keep those rules.  Not
here: reading records back, judging them (`records`), and any real person, firm, telephone or mail address.
"""

from __future__ import annotations

import csv
import datetime as dt
import difflib
import io
import re
import sys
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any, cast

from faker import Faker
from faker.config import AVAILABLE_LOCALES

from vdp.errors import CallerError, Fault
from vdp.records.spec import FieldRule, Records

if TYPE_CHECKING:
    from vdp.job.load import Job

#: How often a value or a row is drawn again before the rules are called impossible.
TRIES = 500
#: What could reach a living person or a firm: the start of a provider's name.
_REACHABLE = ("phone", "msisdn", "country_calling", "ssn", "iban", "bban", "credit_card", "company", "url", "uri")
_KINDS = ("provider", "text", "one_of", "any", "weighted", "pattern", "date", "int", "join", "each")
_OPTIONS = {"share", "twice", "locale", "by"}
#: The language whose hint an `each` gives to every language it does not name.
_OTHER = "other"


@dataclass(slots=True)
class _Draw:
    """The row being made: its language, and the one source of chance."""

    random: Random
    language: str = ""


_Maker = Callable[[_Draw], str]


def fake_rows(
    spec: Records,
    count: int,
    seed: int | str,
    locales: Mapping[str, str],
    where: Callable[[str], str] = "the job, field {}".format,
) -> Iterator[dict[str, str]]:
    """Draws `count` rows that keep the field rules of `spec`, one dict a row, in the order of its fields.

    `locales` are the job's languages and their locales (``{"el": "el_GR"}``).  `where` names a field for messages.
    Raises CallerError: at once with every hint that cannot be used, and later when the rules leave no value to draw.
    """
    if count < 0:
        raise CallerError.one("--count", f"{count} records cannot be made", "ask for 0 or more")
    draw = _Draw(Random(f"{seed}"))  # noqa: S311 -- repeatable invention, nothing secret
    makers = _Compiler(spec, locales, draw.random, where).makers()
    return _rows(spec, count, draw, makers, where)


def fake_lines(job: Job, count: int, seed: int | str) -> Iterator[str]:
    """The rows as CSV, header first, each with its line end.  Raises CallerError as `fake_rows` does."""

    def where(name: str) -> str:
        return job.where("job", "records", "fields", name, "fake")

    spec = job.model.records
    return _lines(_field_names(spec), fake_rows(spec, count, seed, job.model.locales, where))


def write_fake(job: Job, count: int, seed: int | str, out: Path | None) -> None:
    """Writes `count` invented records as UTF-8 CSV to a new file, which appears whole or not at all, or to standard
    output.  Raises CallerError as `fake_rows` does, and when the file cannot be written or is there."""
    lines = fake_lines(job, count, seed)
    if out is None:
        for line in lines:
            sys.stdout.buffer.write(line.encode())
        sys.stdout.flush()
        return
    if out.exists():
        raise CallerError.one(str(out), "is there already, and may be a list of real people", "name another file")
    part = out.with_name(out.name + ".part")
    try:
        with part.open("w", encoding="utf-8", newline="") as stream:
            stream.writelines(lines)
        part.replace(out)
    except OSError as error:
        raise CallerError.one(str(out), f"cannot be written: {error.strerror}", "name another file") from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _lines(names: Sequence[str], rows: Iterator[dict[str, str]]) -> Iterator[str]:
    buffer = io.StringIO()
    writer = csv.DictWriter(buffer, names, lineterminator="\n")
    writer.writeheader()
    yield buffer.getvalue()
    for row in rows:
        buffer.seek(0)
        buffer.truncate()
        writer.writerow(row)
        yield buffer.getvalue()


def _field_names(spec: Records) -> tuple[str, ...]:
    """The fields with rules in their order, then those the job only names."""
    named = [spec.language, *spec.recipient, spec.seeds]
    return tuple(dict.fromkeys([*spec.fields, *(name for name in named if name is not None)]))


# -- rows ------------------------------------------------------------------------------------------------------------


def _rows(
    spec: Records, count: int, draw: _Draw, makers: Mapping[str, _Maker], where: Callable[[str], str]
) -> Iterator[dict[str, str]]:
    taken: dict[str, set[str]] = {name: set() for name, rule in spec.fields.items() if rule.unique}
    recipients: set[tuple[str, ...]] = set()
    # The language comes first, because other fields may depend on it; the row keeps the order of the fields.
    order = sorted(makers, key=lambda name: name != spec.language)
    for _ in range(count):
        for _ in range(TRIES):
            draw.language = ""
            row = dict.fromkeys(makers, "")
            for name in order:
                rule = spec.fields.get(name, FieldRule())
                row[name] = _value(makers[name], draw, rule, taken.get(name, set()), where(name))
                if name == spec.language:
                    draw.language = row[name]
            recipient = tuple(row[name].casefold() for name in spec.recipient)
            if not recipient or recipient not in recipients:
                break
        else:
            message = f"{TRIES} tries gave no recipient that is not in the list already"
            raise CallerError.one(where(spec.recipient[0]), message, "ask for fewer records, or give wider hints")
        recipients.add(recipient)
        for name, values in taken.items():
            values.add(row[name])
        yield row


def _value(maker: _Maker, draw: _Draw, rule: FieldRule, taken: set[str], where: str) -> str:
    text = ""
    for _ in range(TRIES):
        text = _clean(maker(draw))
        if _keeps(text, rule) and text not in taken:
            return text
    message = f"{TRIES} tries gave no value that keeps the field's rules; the last was '{text}'"
    raise CallerError.one(where, message, "give a wider hint, or ask for fewer records")


def _clean(text: str) -> str:
    """NFC on one line: some locales put a flat and its street on two."""
    return unicodedata.normalize("NFC", re.sub(r"\s*\n\s*", ", ", text)).strip()


def _keeps(text: str, rule: FieldRule) -> bool:
    if not text:
        return not rule.required
    if rule.length is not None and not rule.length[0] <= len(text) <= rule.length[1]:
        return False
    if rule.pattern is not None and re.fullmatch(rule.pattern, text) is None:
        return False
    if rule.one_of is not None and text not in rule.one_of:
        return False
    if rule.date is not None:
        try:
            dt.datetime.strptime(text, rule.date)  # noqa: DTZ007 -- a day, no clock
        except ValueError:
            return False
    return True


# -- hints -----------------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Compiler:
    """Turns hints into makers and gathers every fault on the way."""

    spec: Records
    locales: Mapping[str, str]
    random: Random
    where: Callable[[str], str]
    faults: list[Fault] = field(default_factory=list)
    fakers: dict[str, Faker] = field(default_factory=dict)
    name: str = ""
    #: The languages that a row may have where the hint at hand is used.
    scope: tuple[str, ...] = ("",)

    def makers(self) -> dict[str, _Maker]:
        languages: tuple[str, ...] = ("",)
        if self.spec.language is not None:
            spoken = self.spec.fields.get(self.spec.language, FieldRule()).one_of or ()
            languages = tuple(dict.fromkeys([*self.locales, *spoken])) or ("",)
        made = {}
        for name in _field_names(self.spec):
            self.name = name
            # A row's language is drawn before there is one.
            self.scope = ("",) if name == self.spec.language else languages
            rule = self.spec.fields.get(name, FieldRule())
            made[name] = self._hint(rule.fake, rule) if rule.fake is not None else self._unhinted(rule)
        if self.faults:
            raise CallerError(self.faults)
        return made

    def _fault(self, message: str, mend: str = "") -> _Maker:
        fault = Fault(self.where(self.name), f"fake: {message}", mend)
        if fault not in self.faults:
            self.faults.append(fault)
        return _nothing

    def _unhinted(self, rule: FieldRule) -> _Maker:
        if rule.one_of:
            return _choose(rule.one_of)
        if self.name == self.spec.language and self.locales:
            return _choose(tuple(self.locales))
        if not rule.required and self.name not in self.spec.recipient:
            return _nothing
        return self._fault(f"the field '{self.name}' has no hint", "add a 'fake' hint, such as 'fake: name'")

    def _hint(self, hint: Any, rule: FieldRule) -> _Maker:
        if isinstance(hint, str):
            return self._provider(hint, None)
        if not isinstance(hint, Mapping):
            return self._fault(f"'{hint}' is not a hint", "a hint is the name of a provider or a mapping")
        kinds = [key for key in hint if key in _KINDS]
        strange = [str(key) for key in hint if key not in _KINDS and key not in _OPTIONS]
        if strange:
            close = difflib.get_close_matches(strange[0], [*_KINDS, *_OPTIONS], 1)
            mend = f"did you mean '{close[0]}'?" if close else f"a hint is one of {', '.join(_KINDS)}"
            return self._fault(f"'{strange[0]}' is not a kind of hint", mend)
        if len(kinds) != 1:
            return self._fault("a hint has exactly one kind", f"choose one of {', '.join(_KINDS)}")
        try:
            maker = self._kind(kinds[0], hint, rule)
            return _sometimes(_percent(hint, "share", 100), _percent(hint, "twice", 0), maker)
        except (TypeError, ValueError, KeyError, AttributeError) as error:
            return self._fault(f"{kinds[0]} cannot be used: {_said(error)}", "see the hints in README")

    def _kind(self, kind: str, hint: Mapping[str, Any], rule: FieldRule) -> _Maker:
        value = hint[kind]
        match kind:
            case "provider":
                maker = self._provider(str(value), hint.get("locale"))
            case "text":
                maker = _choose((str(value),))
            case "one_of":
                maker = _choose(tuple(str(v) for v in _filled(value, list)))
            case "any":
                maker = _any([self._hint(v, rule) for v in _filled(value, list)])
            case "weighted":
                weights = _filled(value, dict)
                maker = _weighted(tuple(str(k) for k in weights), tuple(float(w) for w in weights.values()))
            case "pattern":
                maker = _pattern(str(value))
            case "date":
                maker = _days(_day(value["from"]), _day(value["to"]), rule.date or "%Y-%m-%d")
            case "int":
                maker = _whole(int(value["from"]), int(value["to"]))
            case "join":
                maker = _join([self._hint(v, rule) for v in _filled(value, list)], str(hint.get("by", " ")))
            case _:
                maker = self._each(_filled(value, dict), rule)
        return maker

    def _each(self, hints: Mapping[str, Any], rule: FieldRule) -> _Maker:
        strange = sorted({str(key) for key in hints} - {*self.scope, _OTHER})
        if strange:
            return self._fault(f"'{strange[0]}' is not a language of the job", "list it under 'locales'")
        makers: dict[str, _Maker] = {}
        whole = self.scope
        for language in whole:
            hint = hints.get(language, hints.get(_OTHER))
            if hint is None:
                return self._fault(f"there is no hint for '{language}'", f"add one, or one for '{_OTHER}'")
            self.scope = (language,)
            makers[language] = self._hint(hint, rule)
        self.scope = whole
        return lambda draw: makers[draw.language](draw)

    def _provider(self, provider: str, locale: str | None) -> _Maker:
        if provider.startswith(_REACHABLE) or (provider.endswith("email") and not provider.endswith("safe_email")):
            return self._fault(f"'{provider}' could reach somebody", "use 'safe_email', or a pattern")
        methods: dict[str, Callable[[], object]] = {}
        for language in self.scope:
            wanted = locale or self.locales.get(language, language) or "en_GB"
            method = self._method(provider, wanted)
            if method is None:
                return self._fault(
                    f"no provider '{provider}' for '{wanted}'",
                    "see Faker's list of providers; 'each' gives a language its own hint, 'locale' names another",
                )
            methods[language] = method
        return lambda draw: str(methods[draw.language]())

    def _method(self, provider: str, locale: str) -> Callable[[], object] | None:
        """A provider's method for a locale, else for a locale of the same language; never for another language."""
        tongue = locale.partition("_")[0]
        kin = sorted(name for name in AVAILABLE_LOCALES if name.partition("_")[0] == tongue and name != locale)
        for name in [locale, *kin] if locale in AVAILABLE_LOCALES else kin:
            if name not in self.fakers:
                self.fakers[name] = Faker(name)
                self.fakers[name].factories[0].random = self.random
            method: Any = getattr(self.fakers[name].factories[0], provider, None)
            spoken = getattr(getattr(method, "__self__", None), "__lang__", None)
            if callable(method) and not provider.startswith("_") and (spoken or name).partition("_")[0] == tongue:
                return cast("Callable[[], object]", method)
        return None


def _nothing(_: _Draw) -> str:
    return ""


def _choose(values: Sequence[str]) -> _Maker:
    return lambda draw: draw.random.choice(values)


def _any(makers: Sequence[_Maker]) -> _Maker:
    return lambda draw: draw.random.choice(makers)(draw)


def _join(makers: Sequence[_Maker], by: str) -> _Maker:
    return lambda draw: by.join(maker(draw) for maker in makers)


def _weighted(values: Sequence[str], weights: Sequence[float]) -> _Maker:
    if min(weights) < 0 or sum(weights) <= 0:
        raise ValueError("weights are 0 or more, and one is above 0")
    return lambda draw: draw.random.choices(values, weights)[0]


def _pattern(pattern: str) -> _Maker:
    """``#`` is a digit, ``?`` a capital letter A to Z, anything else itself."""
    alphabets = {"#": "0123456789", "?": "ABCDEFGHIJKLMNOPQRSTUVWXYZ"}
    return lambda draw: "".join(draw.random.choice(alphabets.get(sign, sign)) for sign in pattern)


def _whole(low: int, high: int) -> _Maker:
    if low > high:
        raise ValueError(f"{low} is above {high}")
    return lambda draw: str(draw.random.randint(low, high))


def _days(first: dt.date, last: dt.date, pattern: str) -> _Maker:
    span = (last - first).days
    if span < 0:
        raise ValueError(f"{first} is after {last}")
    return lambda draw: (first + dt.timedelta(days=draw.random.randint(0, span))).strftime(pattern)


def _sometimes(share: float, twice: float, maker: _Maker) -> _Maker:
    """`share` percent of the values are there; `twice` percent are drawn twice, to be uncomfortably long."""
    if share == 100 and twice == 0:
        return maker

    def make(draw: _Draw) -> str:
        if draw.random.random() * 100 >= share:
            return ""
        text = maker(draw)
        return f"{text} {maker(draw)}" if draw.random.random() * 100 < twice else text

    return make


# -- reading what a hint holds ---------------------------------------------------------------------------------------


def _percent(hint: Mapping[str, Any], key: str, default: float) -> float:
    value = float(hint.get(key, default))
    if not 0 <= value <= 100:
        raise ValueError(f"'{key}' is a percentage from 0 to 100")
    return value


def _filled(value: Any, kind: type[list[Any]] | type[dict[str, Any]]) -> Any:
    if not isinstance(value, kind) or not value:
        raise ValueError(f"it holds a {'list' if kind is list else 'mapping'} with at least one entry")
    return value


def _day(value: Any) -> dt.date:
    return value if isinstance(value, dt.date) else dt.date.fromisoformat(str(value))


def _said(error: Exception) -> str:
    return f"{error} is missing" if isinstance(error, KeyError) else str(error)
