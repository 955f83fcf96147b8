"""Between the passes: the numbers of a run, taken from the ledger once and for all.

The first pass sets rows with the numbers that the run would be given (`foreseen`); then exactly these are taken, or the
first pass is done again with others (`NumbersMoved`).  The same run, and one that was cut off anywhere, is given the
same numbers again.  Not here: the ledger (`vdp.numbering`), serials (`numbers`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from vdp.errors import Finding
from vdp.numbering.entry import Entry, Event, Head
from vdp.numbering.ledger import Ledger
from vdp.run.identity import identity_of, inputs_of
from vdp.run.intake import Intake
from vdp.run.numbers import Numbers
from vdp.run.opening import Opened

#: How often the first pass is done again because other runs took numbers meanwhile.
TRIES = 5
#: Stretches of missing numbers that are named.
_NAMED = 5


@dataclass(frozen=True, slots=True)
class Allotted:
    """What the ledger gave to a run: its entries in each series, the chain's head as of the last of them.

    `fresh` is false where the same run had its numbers already; `finished` where it had also come to its end.
    """

    run: str
    job: str
    entries: Mapping[str, tuple[Entry, ...]]
    head: Head
    fresh: bool
    finished: bool
    numbers: Numbers

    def as_json(self) -> dict[str, Any]:
        """For report.json: nothing in it tells whether the run was made before."""
        return {
            "head": {"seq": self.head.seq, "hash": self.head.hash},
            "series": {name: self._series(name, entries) for name, entries in self.entries.items()},
        }

    def _series(self, name: str, entries: tuple[Entry, ...]) -> dict[str, Any]:
        return {
            "first": min(entry.first for entry in entries),
            "count": sum(entry.count for entry in entries),
            "column": name in self.numbers.columns,
            "terms": self.numbers.series[name].terms(),
        }


def foreseen(opened: Opened, ledger: Ledger | None) -> dict[str, int]:
    """The 0-based index at which each counted series would begin: 0 where there is no ledger yet."""
    counted = [name for name, spec in opened.job.model.series.items() if spec.column is None]
    if ledger is None:
        return dict.fromkeys(counted, 0)
    return ledger.foresee(counted, _inputs(opened))


def allot_run(opened: Opened, intake: Intake, ledger: Ledger | None) -> Allotted | None:
    """The numbers of the run whose rows were taken in; None for a job without series.

    Raises NumbersMoved when they begin elsewhere than the first pass took them to, and CallerError when there are none:
    nothing is allotted then.
    """
    if ledger is None:
        return None
    numbers, job = intake.numbers, opened.job.model.job
    run = run_of(opened, intake)
    taken = ledger.take(
        [(series, intake.pieces) for series in numbers.counted.values()],
        [(numbers.series[name], column.indexes) for name, column in numbers.columns.items()],
        run=run,
        job=job,
        expected={name: numbers.firsts.get(name, 0) for name in numbers.counted},
        inputs=_inputs(opened),
    )
    finished = any(entry.kind == "issued" for entry in ledger.of_run(run))
    allotted = Allotted(run, job, taken.entries, taken.head, taken.fresh, finished, numbers)
    if not taken.fresh and not finished:
        ledger.append(_events("recovered", allotted, {}))
    return allotted


def issue(allotted: Allotted | None, ledger: Ledger | None, pieces: str) -> None:
    """The run came to a good end: its pieces, by the SHA-256 of pieces.jsonl, count as made.  Told once a run."""
    if allotted is not None and ledger is not None:
        ledger.append(_events("issued", allotted, {"pieces": pieces}, once=True))


def run_of(opened: Opened, intake: Intake) -> str:
    """The run's name in the ledger: the hash of everything that goes in."""
    return identity_of(inputs_of(opened.job, opened.table, intake.plan, intake.plan.pictures)).hex()


def _inputs(opened: Opened) -> str:
    """The same before the pictures are known."""
    return identity_of(inputs_of(opened.job, opened.table, opened.plan, ())).hex()


def _events(kind: str, allotted: Allotted, detail: Mapping[str, str], *, once: bool = False) -> list[Event]:
    return [
        Event(
            kind,
            entry.series,
            entry.first,
            entry.last,
            allotted.run,
            allotted.job,
            detail,
            f"{kind}/{allotted.run}/{entry.series}/{entry.first}" if once else None,
        )
        for entries in allotted.entries.values()
        for entry in entries
    ]


def missing_numbers(intake: Intake) -> list[Finding]:
    """The stretches of a column's stated range that no accepted record has, told once a series."""
    stretches: dict[str, list[str]] = {}
    for name, first, last in intake.numbers.gaps():
        stretches.setdefault(name, []).append(str(first) if first == last else f"{first} … {last}")
    return [
        Finding("numbers-missing", f"series {name}", f"no record has number {_some(found)}")
        for name, found in stretches.items()
    ]


def _some(found: list[str]) -> str:
    more = f", and {len(found) - _NAMED} more stretches" if len(found) > _NAMED else ""
    return ", ".join(found[:_NAMED]) + more


def numbers_told(allotted: Allotted, intake: Intake) -> Iterator[tuple[str, str]]:
    """For people: which numbers the run has, and whether they are new."""
    how = "new" if allotted.fresh else "the same run again, the same numbers" if allotted.finished else _RECOVERED
    for name in allotted.entries:
        first, last = (serials.get(name, "") for serials in intake.ends)
        yield "numbers", f"{name} {first} to {last} ({how})"


_RECOVERED = "the run that was cut off before, the same numbers"


def follows(allotted: Allotted, ledger: Ledger) -> list[Finding]:
    """Whether the job has numbers from runs of other inputs: the operator may have meant to repeat one of them."""
    found = []
    for name, entries in allotted.entries.items():
        others = {e.run for e in ledger.ranges(name) if e.job == allotted.job and e.seq < entries[0].seq} - {
            allotted.run
        }
        if others and allotted.fresh and name not in allotted.numbers.columns:
            message = (
                f"{len(others)} earlier {'run' if len(others) == 1 else 'runs'} of this job had numbers; "
                "something that went in has changed since, so this is a new run with the next numbers"
            )
            found.append(Finding("numbers-next", f"series {name}", message))
    return found
