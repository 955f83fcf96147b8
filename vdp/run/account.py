"""Destruction with witnesses, and the account of a ledger: what became of every number and of every copy.

Numbers: allocated = good + replaced + voided + missing + outstanding.  Copies: printed = good + retained samples +
spoiled awaiting destruction + destroyed + missing.  Each side is counted from other entries, so that an account that
does not balance is found.  Not here: the ledger (`vdp.numbering`), reprints (`reprint`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

from vdp.errors import CallerError, Fault, Finding
from vdp.job.load import load_job
from vdp.numbering.entry import Entry, Event
from vdp.numbering.ledger import open_ledger
from vdp.numbering.store import ledger_place
from vdp.run.desk import Desk
from vdp.run.result import Result
from vdp.run.told import read_serial

#: People who must have seen a destruction.
WITNESSES = 2


def destroy(
    path: Path,
    serials: Sequence[str],
    *,
    batch: str,
    method: str,
    day: str,
    witnesses: Sequence[str],
    place: str | None,
    desk: Desk,
) -> Result:
    """Tells the ledger that spoiled copies were destroyed.  Raises CallerError, and tells nothing, when one of them was
    never issued or no spoiled copy of it is left, or when two people did not see it."""
    people = sorted({name.strip().casefold(): name.strip() for name in witnesses if name.strip()}.values())
    faults = []
    if len(people) < WITNESSES:
        faults.append(
            Fault("--witness", f"a destruction has {WITNESSES} witnesses, not {len(people)}", "name two people")
        )
    faults += [
        Fault(f"--{name}", "says nothing") for name, said in (("batch", batch), ("method", method)) if not said.strip()
    ]
    try:
        date.fromisoformat(day)
    except ValueError:
        faults.append(Fault("--date", f"'{day}' is no date", "write it as 2027-03-09"))
    job = load_job(path)
    where = place if place is not None else str(ledger_place(job.folder, job.model.ledger, desk.environ))
    detail = {"batch": batch, "method": method, "date": day, "witnesses": "; ".join(people)}
    events: list[Event] = []
    with open_ledger(where, operator=desk.operator, now=desk.now, timeout=desk.timeout) as ledger:
        for serial in dict.fromkeys(serials):
            series, index = read_serial(job, serial, None)
            history = ledger.history(series.name, index)
            kinds = Counter(entry.kind for entry in history)
            once = f"destroyed/{batch}/{series.name}/{index}"
            if not kinds["issued"]:
                faults.append(Fault(f"serial {serial}", "was never issued"))
            elif kinds["spoiled"] <= kinds["destroyed"] and once not in {entry.once for entry in history}:
                faults.append(Fault(f"serial {serial}", "no spoiled copy of it awaits destruction"))
            else:
                run = next(entry.run for entry in reversed(history) if entry.kind == "issued")
                events.append(Event("destroyed", series.name, index, index, run, job.model.job, detail, once))
        if faults:
            raise CallerError(faults)
        ledger.append(events)
        shown = ledger.shown
    return Result(
        ok=True,
        title=f"ledger {shown}",
        told=[
            ("batch", f"{batch}: {len(events)} copies destroyed by {method} on {day}, seen by {' and '.join(people)}")
        ],
        entries=[],
        last="told",
    )


def account(path: Path, *, place: str | None, desk: Desk) -> Result:
    """The account of every series of the job's ledger; not ok where it does not balance."""
    job = load_job(path)
    where = place if place is not None else str(ledger_place(job.folder, job.model.ledger, desk.environ))
    rows: list[tuple[str, str]] = []
    listed = []
    findings: list[Finding] = []
    with open_ledger(where, operator=desk.operator, now=desk.now, write=False, timeout=desk.timeout) as ledger:
        by_series: dict[str, list[Entry]] = defaultdict(list)
        for entry in ledger.entries():
            by_series[entry.series].append(entry)
        shown = ledger.shown
    for name, entries in sorted(by_series.items()):
        numbers, copies = _numbers(entries), _copies(entries)
        listed.append({"series": name, "numbers": numbers, "copies": copies})
        rows.append((name, _sum("numbers", numbers, "allocated")))
        rows.append(("", _sum("copies", copies, "printed")))
        for what, told, total in (("numbers", numbers, "allocated"), ("copies", copies, "printed")):
            rest = sum(count for key, count in told.items() if key != total)
            if rest != told[total]:
                findings.append(
                    Finding("ledger-account", f"series {name}", f"{told[total]} {what} {total}, {rest} accounted for")
                )
    return Result(
        ok=not findings,
        title=f"account of ledger {shown}",
        told=rows,
        entries=listed,
        findings=findings,
        last="every number and every copy is accounted for" if not findings else "the account does not balance",
    )


def _each(entries: Iterable[Entry], *kinds: str) -> Counter[int]:
    """How often each number had one of these events."""
    return Counter(index for e in entries if e.kind in kinds for index in range(e.first, e.last + 1))


def _numbers(entries: list[Entry]) -> dict[str, int]:
    allocated = sum(entry.count for entry in entries if entry.kind == "allocated")
    issued = _each(entries, "issued")
    replaced, voided, missing = (set(_each(entries, kind)) for kind in ("replaced", "voided", "missing"))
    gone = replaced | voided | missing
    spoiled, again = _each(entries, "spoiled"), _each(entries, "made_good")
    # A number is good when the last copy made of it was not spoiled.
    good = sum(number not in gone and spoiled[number] <= again[number] for number in issued)
    waiting = sum(number not in gone and spoiled[number] > again[number] for number in issued)
    return {
        "allocated": allocated,
        "good": good,
        "replaced": len(replaced),
        "voided": len(voided - replaced),
        "missing": len(missing - replaced - voided),
        "outstanding": allocated - len(issued) + waiting,
    }


def _copies(entries: list[Entry]) -> dict[str, int]:
    issued, again = _each(entries, "issued"), _each(entries, "made_good")
    spoiled, destroyed = _each(entries, "spoiled"), _each(entries, "destroyed")
    retained, missing = _each(entries, "retained"), _each(entries, "missing")
    gone = set(_each(entries, "replaced", "voided"))
    good = 0
    for number in issued:
        held = 1 + again[number] - spoiled[number] - retained[number] - missing[number]
        good += held if number not in gone else 0
    return {
        "printed": sum(issued.values()) + sum(again.values()),
        "good": good,
        "retained": sum(retained.values()),
        "awaiting destruction": sum(spoiled.values()) - sum(destroyed.values()),
        "destroyed": sum(destroyed.values()),
        "missing": sum(missing.values()),
    }


def _sum(what: str, told: dict[str, int], total: str) -> str:
    parts = " + ".join(f"{count:,} {key}" for key, count in told.items() if key != total)
    return f"{told[total]:,} {what} {total} = {parts}"
