"""Destruction with witnesses, and the account of a ledger as a table.

Not here: how numbers and copies are added up (`vdp.audit.account`), reprints (`reprint`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path

from vdp.audit.account import COPIES, NUMBERS, Account, Number, accounts
from vdp.errors import CallerError, Fault
from vdp.job.load import load_job
from vdp.numbering.entry import Event
from vdp.numbering.ledger import open_ledger
from vdp.numbering.store import ledger_place
from vdp.run.desk import Desk, person
from vdp.run.ledgers import WITNESSES
from vdp.run.reconcile import put_csv, summed
from vdp.run.result import Result
from vdp.run.told import read_serial


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
    people = sorted({person(name): name.strip() for name in witnesses if name.strip()}.values())
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
            number = Number.of(ledger.history(series.name, index))
            waiting = next((run for run, left in number.awaiting().items() if left > 0), None)
            once = f"destroyed/{batch}/{series.name}/{index}"
            if not number.made:
                faults.append(Fault(f"serial {serial}", "was never issued"))
            elif any(entry.once == once for entry in ledger.history(series.name, index)):
                continue  # told before
            elif waiting is None:
                faults.append(Fault(f"serial {serial}", "no spoiled copy of it awaits destruction"))
            else:
                events.append(Event("destroyed", series.name, index, index, waiting, job.model.job, detail, once))
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


def account(path: Path, *, place: str | None, table: Path | None, desk: Desk) -> Result:
    """The account of every series of the job's ledger, by run; not ok where it does not balance.  `table`: a CSV file
    to write it into as well."""
    job = load_job(path)
    where = place if place is not None else str(ledger_place(job.folder, job.model.ledger, desk.environ))
    with open_ledger(where, operator=desk.operator, now=desk.now, write=False, timeout=desk.timeout) as ledger:
        by_run = accounts(ledger.entries())
        shown = ledger.shown
    rows: list[tuple[str, str]] = []
    for name in dict.fromkeys(each.series for each in by_run):
        whole = Account(name, "")
        for each in by_run:
            if each.series == name:
                whole.add(each)
        rows += [(name, line) for line in _lines(whole)]
        rows += [
            ("", f"run {each.run[:12]}: {line}") for each in by_run if each.series == name for line in _lines(each)
        ]
    if table is not None:
        put_csv(table, [_HEAD, *map(_row, by_run)])
    findings = [finding for each in by_run for finding in each.findings()]
    return Result(
        ok=not findings,
        title=f"account of ledger {shown}",
        told=rows,
        entries=[each.as_dict() for each in by_run],
        files=[table.name] if table is not None else [],
        folder=str(table.absolute().parent) if table is not None else "",
        findings=findings,
        last="every number and every copy is accounted for" if not findings else "the account does not balance",
    )


_HEAD = ["series", "run", "job", *(f"numbers {key}" for key in NUMBERS), *(f"copies {key}" for key in COPIES), "unseen"]


def _row(each: Account) -> list[str]:
    numbers, copies = (each.numbers[key] for key in NUMBERS), (each.copies[key] for key in COPIES)
    return [each.series, each.run, each.job, *map(str, numbers), *map(str, copies), str(each.unseen)]


def _lines(each: Account) -> Iterator[str]:
    yield f"numbers {summed({key: each.numbers[key] for key in NUMBERS}, 'allocated')}"
    unseen = f"; {each.unseen:,} more were made and are not told of yet" if each.unseen else ""
    yield f"copies {summed({key: each.copies[key] for key in COPIES}, 'printed')}{unseen}"
