"""Serials: the text of the n-th number of a series, and back.

Lives here: prefix, number, check characters, authenticity code and suffix put together and taken apart.  Not here: who
gets which index (`ledger`), the check schemes themselves (`checkdigit`), alphabets (`alphabet`), the permutation
(`shuffle`), where keys come from (`keys`).
"""

from __future__ import annotations

import hmac
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache

from vdp.checkdigit import check, check_digits
from vdp.errors import CallerError, OurBug
from vdp.numbering.alphabet import ALPHABETS, DECIMAL, read, write
from vdp.numbering.keys import derive
from vdp.numbering.shape import Shape, shape_faults
from vdp.numbering.shuffle import Shuffle

#: How many serials `texts` shuffles at once.
_BLOCK = 8192


@dataclass(frozen=True, slots=True)
class Series:
    """prefix + number (start, start + step, …, filled to `width`) + check + code + suffix.

    `alphabet` is the name of one of `ALPHABETS`, or the characters themselves, zero first.  `last` is the highest
    number allowed, where less than the width holds.  `varying`: the prefix comes with each piece (year, depot) and
    `prefix` stays empty; `varying_suffix`: the same of the suffix; the number alone is then unique.  `groups` and
    `separator` write number, check and code in groups ("4-4-4"); the groups' sum is exactly their length.

    The check is taken over the number; where the scheme takes letters, over the prefix and the number, the prefix in
    capitals and without the characters that the scheme does not take (its punctuation).

    `shuffled`: the n-th serial has the number at the place of n in a permutation of the whole series (`Shuffle`).
    `code` is the length of the authenticity code: HMAC-SHA-256 (RFC 2104) of all that is printed but the code and the
    separators, as a number, its last `code` digits in the series' alphabet.  One guess in (alphabet's length ** code)
    hits.  Both need `key`, from which each takes a key of its own (`derive`).

    Raises CallerError with everything that is wrong with the series.
    """

    name: str
    prefix: str
    start: int
    step: int
    width: int
    suffix: str
    check: str
    last: int | None = None
    alphabet: str = DECIMAL
    groups: tuple[int, ...] = ()
    separator: str = "-"
    varying: bool = False
    varying_suffix: bool = False
    shuffled: bool = False
    code: int = 0
    key: bytes = field(default=b"", repr=False)
    _shape: Shape = field(init=False, repr=False, compare=False)
    _shuffle: Shuffle | None = field(init=False, repr=False, compare=False, default=None)
    _code_key: bytes = field(init=False, repr=False, compare=False, default=b"")

    def __post_init__(self) -> None:
        object.__setattr__(self, "alphabet", ALPHABETS.get(self.alphabet, self.alphabet))
        faults = shape_faults(self)
        if faults:
            raise CallerError(faults)
        object.__setattr__(self, "_shape", Shape.of(self))
        if self.shuffled:
            object.__setattr__(self, "_shuffle", Shuffle(derive(self.key, "shuffle", self.name), self.capacity))
        if self.code:
            object.__setattr__(self, "_code_key", derive(self.key, "code", self.name))

    @property
    def _plain(self) -> bool:
        """Whether a serial is prefix, decimal number, check and suffix, the check over the number alone."""
        return self.alphabet == DECIMAL and not (self.groups or self.code or self._shape.letters)

    @property
    def capacity(self) -> int:
        """How many numbers the series holds before it is exhausted."""
        highest: int = len(self.alphabet) ** self.width - 1
        if self.last is not None:
            highest = min(highest, self.last)
        return (highest - self.start) // self.step + 1

    def text(self, index: int, prefix: str | None = None, suffix: str | None = None) -> str:
        """The serial of the 0-based `index`; `prefix` and `suffix` are given exactly when they vary.

        Raises CallerError when the series is exhausted before `index`.
        """
        return self.written(self.number(index), prefix, suffix)

    def numbers(self, first: int, count: int) -> Iterator[int]:
        """`number` of `count` indexes from `first` on (faster than one by one where the series is shuffled)."""
        if self._shuffle is None or not count:
            yield from (self.number(index) for index in range(first, first + count))
            return
        self.number(first + count - 1)
        for begun in range(first, first + count, _BLOCK):
            for place in self._shuffle.many(begun, min(_BLOCK, first + count - begun)):
                yield self.start + place * self.step

    def texts(self, first: int, count: int) -> Iterator[str]:
        """The serials of `count` indexes from `first` on, where nothing varies."""
        self._refuse_parts(None, None)
        head, tail, width = self.prefix, self.suffix, self.width
        for begun in range(first, first + count, _BLOCK):
            numbers = [*self.numbers(begun, min(_BLOCK, first + count - begun))]
            checks = check_digits(self.check, numbers, width) if self._plain else None
            if checks is None:
                yield from (self._put_together(number, head, tail) for number in numbers)
            else:
                yield from (f"{head}{n:0{width}d}{check}{tail}" for n, check in zip(numbers, checks, strict=True))

    def number(self, index: int) -> int:
        """The number that the 0-based `index` prints, before it is written in the alphabet."""
        if index < 0:
            raise OurBug(f"series {self.name} was asked for index {index}")
        if index >= self.capacity:
            raise self._exhausted(self.start + index * self.step)
        place = index if self._shuffle is None else self._shuffle.at(index)
        return self.start + place * self.step

    def outside(self) -> int:
        """The least number that the width can write and the series never gives: for specimens.

        Raises CallerError when the series has every one of them.
        """
        if self.start > 0:
            return 0
        beyond = 1 if self.step > 1 else self.start + self.capacity * self.step
        if beyond < len(self.alphabet) ** self.width:
            return beyond
        raise self._fault("it has every number of its width, and leaves none for specimens", "start it at 1")

    def parse(self, text: str, prefix: str | None = None, suffix: str | None = None) -> int:
        """The 0-based index of a serial: the inverse of `text`.

        A varying prefix is found from the text's end unless it is given, a varying suffix from its beginning; where
        both vary, every place is tried.  Raises CallerError saying what does not hold: form, number, check, code.
        """
        if not self.varying_suffix or suffix is not None:
            return self._parse(text, prefix, self.suffix if suffix is None else suffix)
        length = self._shape.length
        if prefix is not None or not self.varying:
            begins = [len(self.prefix if prefix is None else prefix)]
        else:
            begins = list(range(len(text) - length + 1))
        found: set[int] = set()
        faults: CallerError | None = None
        for begin in begins:
            try:
                found.add(self._parse(text, prefix, text[begin + length :]))
            except CallerError as error:
                faults = faults or error
        if len(found) == 1:
            return found.pop()
        if found or faults is None:
            raise self._fault(f"'{text}' can be read as {len(found)} serials of this series")
        raise faults

    def _parse(self, text: str, prefix: str | None, suffix: str) -> int:
        head, body = self._take_apart(text, prefix, suffix)
        if not _printable(head + suffix):
            raise self._fault(f"'{text}' is no serial of this series: no serial has spaces, or other than ASCII")
        digits = body[: self.width]
        try:
            number = read(digits, self.alphabet)
        except ValueError as error:
            raise self._fault(f"'{text}' is no serial of this series: {error}") from None
        ends = self.width + self._shape.check_length
        expected = self._check(head, digits)
        if body[self.width : ends] != expected:
            raise self._fault(
                f"'{text}' fails its check ({self.check}): it ends in '{body[self.width : ends]}', not in '{expected}'"
            )
        if not hmac.compare_digest(body[ends:].encode(), self._code(head, digits + expected, suffix).encode()):
            raise self._fault(f"'{text}' carries a wrong authenticity code: it is forged or misread")
        place, rest = divmod(number - self.start, self.step)
        if number < self.start or rest or place >= self.capacity:
            raise self._fault(f"'{text}' is none of the numbers that this series has")
        return place if self._shuffle is None else self._shuffle.index(place)

    def terms(self) -> dict[str, str]:
        """Everything that decides what index gives what serial; the key only as a fingerprint.

        Two series of the same name whose terms differ could print a number twice: the ledger refuses that.
        """
        return {
            "alphabet": self.alphabet,
            "check": self.check,
            "code": str(self.code),
            "groups": self.separator.join(map(str, self.groups)),
            "key": derive(self.key, "fingerprint", self.name)[:8].hex() if self.shuffled or self.code else "",
            "last": "" if self.last is None else str(self.last),
            "prefix": "(varying)" if self.varying else self.prefix,
            "shuffled": "yes" if self.shuffled else "no",
            "start": str(self.start),
            "step": str(self.step),
            "suffix": "(varying)" if self.varying_suffix else self.suffix,
            "width": str(self.width),
        }

    # -- putting together --------------------------------------------------------------------------------------------

    def written(self, number: int, prefix: str | None = None, suffix: str | None = None) -> str:
        """The serial of a number that `number` or `numbers` gave."""
        self._refuse_parts(prefix, suffix)
        head = self.prefix if prefix is None else prefix
        return self._put_together(number, head, self.suffix if suffix is None else suffix)

    def _refuse_parts(self, prefix: str | None, suffix: str | None) -> None:
        """Raises CallerError for parts that cannot be printed, OurBug for others than vary."""
        if (prefix is not None, suffix is not None) != (self.varying, self.varying_suffix):
            raise OurBug(f"series {self.name} was written with other parts than vary: {prefix!r}, {suffix!r}")
        for part, said in ((prefix or self.prefix, "prefix"), (suffix or self.suffix, "suffix")):
            if not _printable(part):
                raise self._fault(f"the {said} '{part}' is not printable ASCII without spaces")

    def _put_together(self, number: int, head: str, tail: str) -> str:
        digits = write(number, self.alphabet, self.width)
        checked = digits + self._check(head, digits)
        return head + self._shape.spread(checked + self._code(head, checked, tail), self.separator) + tail

    def _check(self, head: str, digits: str) -> str:
        if self.check == "none":
            return ""
        return check(self.check, self._shape.checked(head) + digits)

    def _code(self, head: str, checked: str, tail: str) -> str:
        if not self.code:
            return ""
        digest = hmac.digest(self._code_key, (head + checked + tail).encode(), "sha256")
        base = len(self.alphabet)
        return write(int.from_bytes(digest, "big") % base**self.code, self.alphabet, self.code)

    # -- taking apart ------------------------------------------------------------------------------------------------

    def _take_apart(self, text: str, prefix: str | None, suffix: str) -> tuple[str, str]:
        """Prefix, and number + check + code without separators."""
        length = self._shape.length
        begins = len(text) - len(suffix) - length
        head, body = text[: max(0, begins)], text[max(0, begins) : begins + length]
        wanted = prefix if prefix is not None or self.varying else self.prefix
        joined = self._shape.joined(body, self.separator)
        if begins < 0 or not text.endswith(suffix) or (wanted is not None and head != wanted) or joined is None:
            form = ("" if self.varying else self.prefix) + self._shape.spread("#" * self._shape.body, self.separator)
            form += "" if self.varying_suffix else self.suffix
            raise self._fault(f"'{text}' is no serial of this series", f"its serials have the form {form}")
        return head, joined

    def _exhausted(self, number: int) -> CallerError:
        written = write(number, self.alphabet, self.width)
        digits = "digits" if self.alphabet == DECIMAL else "characters"
        if len(written) > self.width:
            reason = f"number {written} needs {len(written)} {digits}, the series has {self.width}"
        else:
            reason = f"number {written} lies beyond the last, {write(self.last or 0, self.alphabet, self.width)}"
        return self._fault(
            f"{reason}: it is exhausted after {self.capacity} serials", "use a larger width, or start lower"
        )

    def _fault(self, message: str, mend: str = "") -> CallerError:
        return CallerError.one(f"series {self.name}", message, mend)


@lru_cache(maxsize=1024)
def _printable(text: str) -> bool:
    return all("!" <= c <= "~" for c in text)
