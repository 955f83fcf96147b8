"""The job's rules about fields, held against one record after the other.

Lives here: what makes a record unfit whatever the layout, and the same recipient found twice.  Not here: whether
the layout can set it (compose), writing it aside (`setaside`), the list's own shape (`table`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache
from hashlib import blake2b
from unicodedata import category, normalize

from vdp.records.faults import Faults, did_you_mean, place, quote
from vdp.records.spec import FieldRule, Records
from vdp.records.table import UNPRINTABLE, Row

PATTERN_LIMIT = 1_000
"""Characters of a value that a pattern is tried on.  A longer value is refused: it is the only guard against
patterns that take exponential time, so a job's patterns must still be written with care."""


class _Seen:
    """Which row a text was first seen in, remembered by 16-byte hashes: about 170 bytes a text, whatever its length.

    Two different texts among n share a hash with odds of n²/2¹²⁹: 10⁻²³ for ten million rows.
    """

    def __init__(self) -> None:
        self._rows: dict[bytes, int] = {}

    def first(self, text: str, row: int) -> int:
        """The row that had `text` first; `row` itself if none had."""
        return self._rows.setdefault(blake2b(text.encode("utf-8", "surrogatepass"), digest_size=16).digest(), row)


@dataclass(frozen=True, slots=True)
class _Check:
    """One field's rule, made ready: compiled pattern, choices in NFC, memory of what was seen; `plainly` is whether
    there is surely nothing to say of a value."""

    name: str
    rule: FieldRule
    pattern: re.Pattern[str] | None
    choices: tuple[str, ...]
    plainly: Callable[[str], bool]
    seen: _Seen = field(default_factory=_Seen)

    def reasons(self, value: str, row: int) -> list[str]:
        """Why the value is unfit, in whole sentences.  An empty value breaks no rule but `required`."""
        rule = self.rule
        if not value or value.isspace():
            return [f"Field {quote(self.name)} is required but empty"] if rule.required else []
        found = []
        if rule.length is not None and not rule.length[0] <= len(value) <= rule.length[1]:
            least, most = rule.length
            allowed = str(least) if least == most else f"{least} to {most}"
            found.append(f"Field {quote(self.name)} has {len(value)} characters, allowed are {allowed}")
        if self.pattern is not None:
            if len(value) > PATTERN_LIMIT:
                found.append(
                    f"Field {quote(self.name)} is too long to try its pattern on (over {PATTERN_LIMIT} characters)"
                )
            elif self.pattern.fullmatch(value) is None:
                found.append(f"Field {quote(self.name)} is {quote(value)}, which does not match {self.pattern.pattern}")
        if self.choices and value not in self.choices:
            some = ", ".join(quote(choice) for choice in self.choices[:8])
            more = ", …" if len(self.choices) > 8 else ""
            found.append(f"Field {quote(self.name)} is {quote(value)}, allowed are {some}{more}")
        if rule.date is not None and not _is_date(value, rule.date):
            found.append(f"Field {quote(self.name)} is {quote(value)}, which is no date written as {rule.date}")
        if rule.unique and (first := self.seen.first(value, row)) != row:
            found.append(f"Field {quote(self.name)} is {quote(value)}, as in row {first}; it must be unique")
        return found


def _plainly(rule: FieldRule, pattern: re.Pattern[str] | None, choices: Sequence[str]) -> Callable[[str], bool]:
    """A look that most values pass; whoever does not is judged in words."""
    some = frozenset(choice for choice in choices if choice and not choice.isspace())
    if rule.unique or rule.date is not None or rule.length is not None or (some and pattern is not None):
        return lambda _: False
    if choices:
        return some.__contains__
    if pattern is not None:
        match = pattern.fullmatch
        return lambda value: len(value) <= PATTERN_LIMIT and match(value) is not None and bool(value.strip())
    return (lambda value: bool(value) and not value.isspace()) if rule.required else lambda _: True


class RowRules:
    """The rules of one job over one list.  It remembers: every record is judged once, in the list's order.

    `seeds` counts the seed records judged so far (`Records.seeds` names the field that marks them).
    """

    def __init__(self, spec: Records, header: tuple[str, ...], shown: str) -> None:
        """Raises CallerError for every field the job names and the list has not."""
        faults = Faults()
        known = frozenset(header)

        def settle(name: str, role: str) -> str:
            name = normalize("NFC", name)
            if name not in known:
                mend = did_you_mean(name, header) or "the columns are " + ", ".join(quote(column) for column in header)
                faults.add(place(shown, 1), f"there is no column {quote(name)}, which the job names in {role}", mend)
            return name

        self._checks = tuple(self._check(settle(name, "records.fields"), rule) for name, rule in spec.fields.items())
        self._recipient = tuple(settle(name, "records.recipient") for name in spec.recipient)
        self._seed = settle(spec.seeds, "records.seeds") if spec.seeds is not None else None
        if spec.language is not None:
            settle(spec.language, "records.language")
        faults.raise_any(shown)
        self._set_aside = spec.repeated == "set_aside"
        self._recipients = _Seen()
        self.seeds = 0

    @staticmethod
    def _check(name: str, rule: FieldRule) -> _Check:
        pattern = re.compile(rule.pattern) if rule.pattern is not None else None
        choices = tuple(normalize("NFC", choice) for choice in rule.one_of or ())
        return _Check(name, rule, pattern, choices, _plainly(rule, pattern, choices))

    def judge(self, row: Row) -> tuple[list[str], list[str]]:
        """(why the record must be set aside, what to warn of), each in whole sentences; both empty if it is fit."""
        values = row.values
        refusals: list[str] = []
        warnings: list[str] = []
        joined = "".join(values.values())
        if not joined or joined.isspace():
            return ["Every field is empty"], []
        # Most text is printable in Python's sense, and this is quicker than the pattern; the rest is looked at.
        if (not joined.isprintable() and UNPRINTABLE.search(joined)) or "\ufffd" in joined:
            refusals += _unprintable(values)
        for check in self._checks:
            value = values[check.name]
            if not check.plainly(value):
                refusals += check.reasons(value, row.row)
        if self._seed is not None and values[self._seed].strip():
            self.seeds += 1
        elif self._recipient:
            parts = [" ".join(values[name].casefold().split()) for name in self._recipient]
            # U+0000 is in no value, so different records cannot join to the same text.
            if any(parts) and (first := self._recipients.first("\0".join(parts), row.row)) != row.row:
                fields = ", ".join(self._recipient)
                found = f"Rows {first} and {row.row} are for the same recipient (equal in {fields})"
                (refusals if self._set_aside else warnings).append(found)
        return refusals, warnings


def _sort(char: str) -> str:
    """What kind of character is never set."""
    return "a byte order mark inside text" if char == "\ufeff" else _SORTS[category(char)]


_SORTS = {
    "Cc": "a control character",
    "Cs": "half of a surrogate pair",
    "Cf": "a control that turns text around",
    "Cn": "a noncharacter",
    "So": "the sign another program left where it lost a character",
}


def _unprintable(values: dict[str, str]) -> list[str]:
    reasons = []
    for name, value in values.items():
        if found := UNPRINTABLE.search(value):
            char = found[0]
            hint = "; was the list saved in another encoding?" if "\x80" <= char <= "\x9f" else ""
            where = f"at character {found.start() + 1}"
            reasons.append(f"Field {quote(name)} holds U+{ord(char):04X} {where}, {_sort(char)}{hint}")
    return reasons


@lru_cache(maxsize=4096)
def _is_date(value: str, pattern: str) -> bool:
    try:
        datetime.strptime(value, pattern)  # noqa: DTZ007 - only whether it is a date; a record has no zone
    except ValueError:
        return False
    return True
