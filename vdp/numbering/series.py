"""Serials: the text of the n-th number of a series.

Lives here: prefix, number, check characters and suffix put together.  Not here: who gets which index (`plan`, `run`),
the check schemes themselves (`checkdigit`).
"""

from __future__ import annotations

from dataclasses import dataclass, field

from vdp.checkdigit import SCHEMES, check
from vdp.errors import CallerError, OurBug


@dataclass(frozen=True, slots=True)
class Series:
    """prefix + number (start, start + step, …, zero-filled to `width` digits) + check characters + suffix.

    The check is taken over the number's digits; where the scheme takes letters it is taken over the prefix and the
    number, the prefix in capitals and without the characters that the scheme does not take (its punctuation).
    Raises CallerError for an unknown scheme, one that takes no digits, and sizes that are not counts.
    """

    name: str
    prefix: str
    start: int
    step: int
    width: int
    suffix: str
    check: str
    _checked_prefix: str = field(init=False, repr=False, compare=False, default="")

    def __post_init__(self) -> None:
        if self.start < 0 or self.step < 1 or self.width < 1:
            raise self._fault("start is 0 or more, step and width are 1 or more")
        takes = SCHEMES.get(self.check)
        if takes is None:
            raise self._fault(f"no check scheme is called '{self.check}'", f"use one of {', '.join(SCHEMES)}")
        if self.check == "none":
            return
        if not takes.startswith("0123456789"):
            raise self._fault(f"check scheme {self.check} takes no digits")
        if self.check == "upu_s10" and self.width != 8:
            raise self._fault("check scheme upu_s10 needs a number of 8 digits", "write 'width: 8'")
        if "A" in takes:
            object.__setattr__(self, "_checked_prefix", "".join(c for c in self.prefix.upper() if c in takes))

    @property
    def capacity(self) -> int:
        """How many numbers the series holds before its width is exhausted (0 when even the first is too long)."""
        return max(0, (int("9" * self.width) - self.start) // self.step + 1)

    def text(self, index: int) -> str:
        """The serial of the 0-based `index`.  Raises CallerError when its number needs more digits than the width."""
        if index < 0:
            raise OurBug(f"series {self.name} was asked for index {index}")
        digits = str(self.start + index * self.step).zfill(self.width)
        if len(digits) > self.width:
            raise self._fault(
                f"number {digits} needs {len(digits)} digits, the series has {self.width}: "
                f"it is exhausted after {self.capacity} serials",
                "use a larger width, or start lower",
            )
        if self.check == "none":
            return self.prefix + digits + self.suffix
        return self.prefix + digits + check(self.check, self._checked_prefix + digits) + self.suffix

    def _fault(self, message: str, mend: str = "") -> CallerError:
        return CallerError.one(f"series {self.name}", message, mend)
