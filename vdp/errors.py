"""What can go wrong, in two families that never mix, and the findings a checker reports.

Lives here: the exception tree, `Fault` (one thing wrong in what the caller gave us), `Finding` (one thing
wrong with a finished artefact).  Not here: wording of any particular rule, exit codes (see `cli`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in the caller's input.

    `where` is what a person can go to: ``file:line:column`` for YAML, ``file, row 7, column name`` for records.
    `message` says what is wrong; `mend` what to do about it (may be empty).
    """

    where: str
    message: str
    mend: str = ""

    def __str__(self) -> str:
        tail = f" ({self.mend})" if self.mend else ""
        return f"{self.where}: {self.message}{tail}"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong with a finished artefact, as a checker saw it.

    `code` is stable and never reused (table in README).  `where` names file, page, piece or mark.
    """

    code: str
    where: str
    message: str

    def as_json(self) -> dict[str, str]:
        return {"code": self.code, "where": self.where, "message": self.message}


class VdpError(Exception):
    """Base of everything `vdp` raises on purpose."""


class CallerError(VdpError):
    """The caller's mistake: a bad job, layout, record file, artwork or option.  Carries every fault found."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(f) for f in self.faults))

    def __reduce__(self) -> tuple[type[CallerError], tuple[tuple[Fault, ...]]]:
        return type(self), (self.faults,)  # raised in a worker, told by the parent

    @classmethod
    def one(cls, where: str, message: str, mend: str = "") -> CallerError:
        """Shorthand for the common case of a single fault."""
        return cls((Fault(where, message, mend),))


class RowRefused(VdpError):
    """A record cannot be set.  `reasons` are whole sentences naming the field or the layout item."""

    def __init__(self, reasons: Iterable[str]) -> None:
        self.reasons: tuple[str, ...] = tuple(reasons)
        super().__init__("; ".join(self.reasons))


class OurBug(VdpError):
    """An invariant of `vdp` itself does not hold; never the caller's fault."""
