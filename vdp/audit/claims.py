"""What a run claims of itself in report.json, as far as an auditor holds it against other things.

Every field is checked for its kind before it is believed.  Not here: whether a claim is true.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from vdp.audit.seal import Copied, HeadSaid, copied_of, head_of
from vdp.audit.strict import count_of, hash_of, read_strict, table_of, text_of
from vdp.audit.terms import Terms

#: Largest report that is read, in bytes: a million findings fit.
MOST_REPORT = 500_000_000


@dataclass(frozen=True, slots=True)
class Given:
    """The numbers of one series that the run says it was given: `count` from the 0-based index `first` on, in the
    order of the pieces; with `column` they came with the records, in any order.  `kept_as` is the ledger's name of the
    series, where it is another than on the pieces."""

    first: int
    count: int
    column: bool
    terms: Terms
    kept_as: str = ""


class ApprovalSaid(NamedTuple):
    """The approval under which a run says that it was made: by whom, when, and of which proof (its hash)."""

    name: str
    time: str
    proof: str


@dataclass(frozen=True, slots=True)
class Claims:
    """report.json.  `copied`, `pieces_again` (their numbers) and `second` (the other person) are those of a reprint;
    `whole` is whether the run says that it came to a good end; `inputs_hash` what its name must be, None for a reprint;
    `sheets` its rolls' files, None for a run without sheets."""

    job: str
    run: str
    records: int
    pieces: int
    set_aside: int
    whole: bool
    files: Mapping[str, str]
    ledger: HeadSaid | None
    series: Mapping[str, Given]
    copied: Copied | None
    pieces_again: tuple[int, ...]
    inputs_hash: str | None
    sheets: frozenset[str] | None
    approval: ApprovalSaid | None = None
    second: str = ""

    def kept_as(self, series: str) -> str:
        """What the ledger calls a series of the pieces."""
        return self.series[series].kept_as or series

    @property
    def origin(self) -> str:
        """The run whose numbers these are."""
        return self.run if self.copied is None or self.copied.numbers == "replaced" else self.copied.origin

    @property
    def copy(self) -> int:
        """Which copy of its numbers it is, from 1."""
        return 1 if self.copied is None else self.copied.copy

    @property
    def same_numbers(self) -> bool:
        """Whether it is a reprint under the numbers of the first printing."""
        return self.copied is not None and self.copied.numbers == "same"

    def piece(self, place: int) -> int:
        """The number of the piece that is `place`th (from 1) in the folder."""
        if self.copied is None:
            return place
        return self.pieces_again[place - 1] if place <= len(self.pieces_again) else 0

    def index(self, series: str, place: int) -> int:
        """The index in its series that the `place`th piece (from 1) must have, where numbers are counted out."""
        return self.series[series].first + (self.piece(place) if self.same_numbers else place) - 1


def read_claims(data: bytes) -> Claims:
    """Raises ValueError for what is no report of a run."""
    try:
        told = table_of(read_strict(data, MOST_REPORT))
        return _claims(told)
    except KeyError as error:
        raise ValueError(f"it does not tell {error}") from error
    except (TypeError, AttributeError) as error:
        raise ValueError(str(error)) from error


def _claims(told: Mapping[str, Any]) -> Claims:
    ledger = None if told["ledger"] is None else table_of(told["ledger"])
    reprint = None if told["reprint"] is None else table_of(told["reprint"])
    series = {} if ledger is None else {name: _given(given) for name, given in table_of(ledger["series"]).items()}
    return Claims(
        job=text_of(told["job"]),
        run=hash_of(told["run"]),
        records=count_of(told["records"]),
        pieces=count_of(told["pieces"]),
        set_aside=count_of(told["set_aside"]),
        whole=told["ok"] is True and told["verified"] is True and told["composed"] is True,
        files={name: hash_of(digest) for name, digest in table_of(told["files"]).items()},
        ledger=None if ledger is None else head_of(ledger["head"]),
        series=series,
        copied=None if reprint is None else copied_of(reprint),
        pieces_again=() if reprint is None else tuple(map(count_of, reprint["pieces"])),
        inputs_hash=_named(text_of(told["vdp"]), told["inputs"]) if reprint is None else None,
        sheets=None if told["sheets"] is None else frozenset(text_of(roll["file"]) for roll in told["sheets"]["rolls"]),
        approval=_approval(told.get("approval")),
        second="" if reprint is None else text_of(reprint["second"]),
    )


def _approval(value: Any) -> ApprovalSaid | None:
    if value is None:
        return None
    told = table_of(value)
    return ApprovalSaid(*(text_of(told[key]) for key in ApprovalSaid._fields))


def _given(value: Any) -> Given:
    told = table_of(value)
    terms = Terms.of({name: text_of(term) for name, term in table_of(told["terms"]).items()})
    kept_as = text_of(told.get("kept_as", ""))
    return Given(count_of(told["first"]), count_of(told["count"]), told["column"] is True, terms, kept_as)


def _named(version: str, inputs: Any) -> str:
    """A run's name: the hash of the program's version and of everything that went in (`vdp.run.identity`)."""
    said = json.dumps([version, inputs], sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(said.encode()).hexdigest()
