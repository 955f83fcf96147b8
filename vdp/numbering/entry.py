"""An entry of the ledger and the chain that it is a link of.

Lives here: what an entry says, the kinds there are, its hash.  Not here: how entries are stored (`schema`, `store`),
who may add one (`ledger`), whether a whole chain holds (`chain`).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import NamedTuple

import rfc8785

from vdp.errors import CallerError

#: What stands for the hash before the first entry.
GENESIS = "0" * 64

STARTED, ALLOCATED = "started", "allocated"
#: A copy that a restarted press printed once more, and the detail that counts the copies of a number from there: 2, 3 …
EXTRA = "extra"
#: A reprint begins.
AGAIN = "again"

#: What may happen to numbers.  The first two are written by allotting alone; the others as events.
KINDS: Mapping[str, str] = MappingProxyType(
    {
        STARTED: "a series was begun; the detail holds its terms, which never change",
        ALLOCATED: "numbers were given to a run, and will be given to no other",
        "issued": "pieces with these numbers were made",
        EXTRA: "a restarted press printed pieces once more",
        "good": "pieces were seen whole at the end of the line",
        "spoiled": "pieces were spoiled, and await destruction",
        AGAIN: "a reprint was begun of pieces that were spoiled, missing or kept",
        "made_good": "spoiled pieces were made again under the same numbers",
        "replaced": "spoiled numbers were given up, and others stand for them",
        "voided": "numbers are valid no more",
        "retained": "pieces were kept as samples",
        "destroyed": "spoiled pieces were destroyed",
        "missing": "pieces were looked for and not found",
        "recovered": "a run that had been cut off was done again with its numbers",
        "noted": "a remark",
    }
)


class SenselessEntry(CallerError):
    """An entry says what no ledger lets anyone say: it was written by other hands."""


class Head(NamedTuple):
    """The chain's last entry: its place, counted from 1, and its hash; (0, GENESIS) of an empty ledger."""

    seq: int
    hash: str


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to the numbers with the 0-based indexes `first` … `last` of a series.

    `once`, where given, names the occasion: a second event of the same `once` is the first one told again, and is not
    written twice.
    """

    kind: str
    series: str
    first: int
    last: int
    run: str = ""
    job: str = ""
    detail: Mapping[str, str] = field(default_factory=dict)
    once: str | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One link: all that is stored.  `time` is RFC 3339 in UTC, `detail` canonical JSON, hashes are hexadecimal."""

    seq: int
    kind: str
    series: str
    first: int
    last: int
    job: str
    run: str
    operator: str
    time: str
    detail: str
    once: str | None
    previous: str
    hash: str = ""

    @property
    def count(self) -> int:
        """How many numbers it is about."""
        return self.last - self.first + 1

    @property
    def head(self) -> Head:
        return Head(self.seq, self.hash)

    def details(self) -> dict[str, str]:
        """`detail`, read.  Raises SenselessEntry for one that no ledger wrote."""
        try:
            read = json.loads(self.detail)
        except (ValueError, TypeError, RecursionError):
            read = None
        if not isinstance(read, dict) or not all(isinstance(value, str) for value in read.values()):
            message, mend = (
                "its detail tells no names and texts",
                "vdp ledger verify tells what is wrong with the ledger",
            )
            raise SenselessEntry.one(f"ledger entry {self.seq}", message, mend)
        return read

    def computed(self) -> str:
        """SHA-256 of the entry's canonical JSON (RFC 8785), the hash before it included, its own left out.

        Numbers go in as text: RFC 8785 holds integers only to 2 ** 53.  Raises ValueError for values that JSON cannot
        hold, as only a tampered row has them.
        """
        said = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "hash"}
        said |= {"seq": str(self.seq), "first": str(self.first), "last": str(self.last)}
        try:
            return hashlib.sha256(rfc8785.dumps(said)).hexdigest()
        except rfc8785.CanonicalizationError as error:
            raise ValueError(str(error)) from error


def canonical(detail: Mapping[str, str]) -> str:
    """A detail as it is stored."""
    return rfc8785.dumps(dict(detail)).decode()
