"""What the serials of a series look like, worked out once, and everything that can be wrong with a series.

Not here: the serials themselves (`series`).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from vdp.checkdigit import SCHEMES, check
from vdp.errors import Fault
from vdp.numbering.alphabet import ALPHANUMERIC, DECIMAL
from vdp.numbering.ff1 import LEAST_DOMAIN
from vdp.numbering.shuffle import LARGEST_SIZE

if TYPE_CHECKING:
    from vdp.numbering.series import Series

#: An authenticity code shorter than this is guessed too often.
LEAST_CODE = 4
#: The ledger holds indexes of sixty digits: more than 94 ** 30.
MOST_WIDTH = 30
#: A code is a part of 256 bits; beyond half of them its last digits would not be evenly spread.
_MOST_CODE_BITS = 128


class Shape(NamedTuple):
    """`body` characters of number, check and code, in `groups`; `letters`: what the check takes of the prefix."""

    body: int
    check_length: int
    groups: tuple[int, ...]
    length: int
    letters: str

    @classmethod
    def of(cls, series: Series) -> Shape:
        takes = SCHEMES[series.check]
        check_length = _check_length(series)
        body = series.width + check_length + series.code
        between = max(0, len(series.groups) - 1) * len(series.separator)
        return cls(body, check_length, series.groups, body + between, takes if "A" in takes else "")

    def checked(self, prefix: str) -> str:
        """The part of the prefix that goes into the check."""
        return "".join(c for c in prefix.upper() if c in self.letters) if self.letters else ""

    def spread(self, text: str, separator: str) -> str:
        """`body` characters in their groups."""
        return separator.join(self._cut(text, 0)) if self.groups else text

    def joined(self, text: str, separator: str) -> str | None:
        """The inverse of `spread`; None for what `spread` does not give."""
        if not self.groups:
            return text
        whole = "".join(self._cut(text, len(separator)))
        return whole if self.spread(whole, separator) == text else None

    def _cut(self, text: str, between: int) -> Iterator[str]:
        at = 0
        for size in self.groups:
            yield text[at : at + size]
            at += size + between


def shape_faults(series: Series) -> list[Fault]:
    """Everything that is wrong with the settings of a series."""
    said = [*_counts(series), *_alphabet(series)]
    if not said:
        said = [*_check(series)]
    if not said:
        said = [*_groups(series), *_secrets(series)]
    return [Fault(f"series {series.name}", message, mend) for message, mend in said]


def _counts(series: Series) -> Iterator[tuple[str, str]]:
    if series.start < 0 or series.step < 1 or series.width < 1:
        yield "start is 0 or more, step and width are 1 or more", ""
    if series.width > MOST_WIDTH:
        yield f"a number has at most {MOST_WIDTH} characters, this one {series.width}", ""
    if series.width >= 1 and len(series.alphabet) > 1 and series.start >= len(series.alphabet) ** series.width:
        yield f"its first number, {series.start}, is too large for a width of {series.width}", "use a larger width"
    if series.last is not None and series.last < series.start:
        yield f"the last number, {series.last}, comes before the first, {series.start}", ""
    if series.varying and series.prefix:
        yield "a prefix that comes with each piece leaves no room for one of the series", ""
    if series.varying_suffix and series.suffix:
        yield "a suffix that comes with each piece leaves no room for one of the series", ""


def _alphabet(series: Series) -> Iterator[tuple[str, str]]:
    alphabet = series.alphabet
    if len(alphabet) < 2 or len(set(alphabet)) < len(alphabet):
        yield (
            f"an alphabet has two or more characters, each once; this is '{alphabet}'",
            "or write decimal, alphanumeric",
        )
    if not all("!" <= c <= "~" for c in alphabet):
        yield "an alphabet is of printable ASCII without spaces", ""


def _check(series: Series) -> Iterator[tuple[str, str]]:
    scheme, alphabet = series.check, series.alphabet
    takes = SCHEMES.get(scheme)
    if takes is None:
        yield f"no check scheme is called '{scheme}'", f"use one of {', '.join(SCHEMES)}"
        return
    if scheme == "none":
        return
    strange = [c for c in alphabet if c not in takes]
    if strange and alphabet == DECIMAL:
        yield f"check scheme {scheme} takes no digits", "use an alphabet of letters"
    elif strange:
        yield f"check scheme {scheme} takes no '{strange[0]}', which the alphabet has", ""
    if scheme == "upu_s10" and series.width != 8:
        yield "check scheme upu_s10 needs a number of 8 digits", "write 'width: 8'"
    if alphabet == ALPHANUMERIC and scheme not in {"mod97_10", "icao_731"}:
        yield (
            f"check scheme {scheme} writes letters that the alphabet leaves out because they are mistaken for others",
            "use mod97_10, whose check characters are digits",
        )


def _groups(series: Series) -> Iterator[tuple[str, str]]:
    if not series.groups:
        return
    body = series.width + _check_length(series) + series.code
    written = "-".join(map(str, series.groups))
    if min(series.groups) < 1 or sum(series.groups) != body:
        parts = f"number {series.width} + check {_check_length(series)} + code {series.code}"
        yield f"the groups {written} hold {sum(series.groups)} characters, the serial has {body} ({parts})", ""
    separator = series.separator
    if len(separator) != 1 or not "!" <= separator <= "~" or separator.isalnum() or separator in series.alphabet:
        yield f"the separator is one sign that the alphabet has not; this is '{separator}'", "write '-'"


def _secrets(series: Series) -> Iterator[tuple[str, str]]:
    if (series.shuffled or series.code) and len(series.key) not in {16, 24, 32}:
        yield "shuffled numbers and authenticity codes need a key of 16, 24 or 32 bytes", "state where the key is"
    if series.shuffled and not LEAST_DOMAIN <= series.capacity <= LARGEST_SIZE:
        message = f"shuffled numbers are drawn from {LEAST_DOMAIN:,} or more, and from 10^30 at most"
        yield f"{message}; this series has {series.capacity:,}", "use another width"
    if series.code and series.code < LEAST_CODE:
        yield f"an authenticity code of {series.code} is guessed too easily", f"use {LEAST_CODE} characters or more"
    elif len(series.alphabet) ** series.code > 1 << _MOST_CODE_BITS:
        yield f"an authenticity code has at most {_MOST_CODE_BITS} bits", "use a shorter one"


def _check_length(series: Series) -> int:
    if series.check == "none":
        return 0
    return len(check(series.check, series.alphabet[0] * series.width))
