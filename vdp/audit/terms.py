"""The terms of a series, as report.json and the ledger tell them, and a serial read by them alone.

An arithmetic of its own, with no key: form, check characters and, where numbers are not shuffled, which number it is.
Not here: how serials are made (`vdp.numbering`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from vdp.audit.strict import text_of
from vdp.checkdigit import SCHEMES, check

#: How the terms say that a part comes with each piece.
VARYING = "(varying)"
_MOST_WIDTH = 64


class Reading(NamedTuple):
    """A serial read: which of its series it is, from 0 (None where only a key could tell), or what is wrong with it."""

    nth: int | None
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Terms:
    """`prefix` and `suffix` are None where they come with each piece; `gap` stands between the `groups`."""

    said: Mapping[str, str]
    alphabet: str
    scheme: str
    check_length: int
    code: int
    groups: tuple[int, ...]
    gap: str
    start: int
    step: int
    width: int
    last: int
    prefix: str | None
    suffix: str | None
    shuffled: bool
    values: Mapping[str, int]

    @classmethod
    def of(cls, said: Mapping[str, str]) -> Terms:
        """Raises ValueError or KeyError for terms that no series has."""
        alphabet, scheme = text_of(said["alphabet"]), text_of(said["check"])
        groups = said["groups"]
        gap = next((c for c in groups if not c.isdigit()), "")
        width, code = int(said["width"]), int(said["code"])
        if len(set(alphabet)) != len(alphabet) or len(alphabet) < 2 or not 0 < width <= _MOST_WIDTH or code < 0:
            raise ValueError("an alphabet, a width or a code is none")
        if scheme not in SCHEMES:
            raise ValueError(f"no check scheme is called '{scheme[:20]}'")
        start, step = int(said["start"]), int(said["step"])
        if start < 0 or step < 1:
            raise ValueError("a start or a step is none")
        most = len(alphabet) ** width - 1
        return cls(
            said=dict(said),
            alphabet=alphabet,
            scheme=scheme,
            check_length=0 if scheme == "none" else len(check(scheme, alphabet[0] * width)),
            code=code,
            groups=tuple(map(int, groups.split(gap))) if gap else (),
            gap=gap,
            start=start,
            step=step,
            width=width,
            last=min(most, int(said["last"])) if said["last"] else most,
            prefix=None if said["prefix"] == VARYING else said["prefix"],
            suffix=None if said["suffix"] == VARYING else said["suffix"],
            shuffled=said["shuffled"] == "yes",
            values={c: n for n, c in enumerate(alphabet)},
        )

    def read(self, text: str) -> Reading:
        """A serial by these terms."""
        if self.prefix is None and self.suffix is None:
            return Reading(None)  # nothing tells where the number begins
        body = self.width + self.check_length + self.code
        length = body + max(0, len(self.groups) - 1) * len(self.gap)
        begin = len(self.prefix or "") if self.suffix is None else len(text) - len(self.suffix) - length
        head, middle, tail = text[: max(0, begin)], text[max(0, begin) : begin + length], text[begin + length :]
        formed = self._joined(middle)
        if (
            begin < 0
            or (self.prefix is not None and head != self.prefix)
            or (self.suffix is not None and tail != self.suffix)
            or formed is None
            or len(formed) != body
        ):
            return Reading(None, "it has not the form of its series")
        return self._number(head, formed)

    def _joined(self, middle: str) -> str | None:
        """Without what stands between the groups; None where that is not as it should be."""
        if not self.groups:
            return middle
        parts = middle.split(self.gap)
        return "".join(parts) if tuple(map(len, parts)) == self.groups else None

    def _number(self, head: str, body: str) -> Reading:
        digits, ends = body[: self.width], self.width + self.check_length
        number, base = 0, len(self.alphabet)
        try:
            for character in digits:
                number = number * base + self.values[character]
        except KeyError as strange:
            return Reading(None, f"{strange} is not of its series' alphabet")
        if not self.values.keys() >= set(body[ends:]):
            return Reading(None, "its code is not of its series' alphabet")
        if self.check_length:
            takes = SCHEMES[self.scheme]
            letters = "".join(c for c in head.upper() if c in takes) if "A" in takes else ""
            try:
                due = check(self.scheme, letters + digits)
            except ValueError as error:
                return Reading(None, str(error))
            if body[self.width : ends] != due:
                return Reading(None, f"its check ({self.scheme}) is '{body[self.width : ends]}', and should be '{due}'")
        place, rest = divmod(number - self.start, self.step)
        if number < self.start or number > self.last or rest:
            return Reading(None, "it is none of the numbers that its series has")
        return Reading(None if self.shuffled else place)
