"""audit.pdf: an audit as it is filed and signed off.

Lives here: the order of its parts.  Not here: the house's type and tables (`report`), what the audit came to
(`opinion`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer

from vdp import __version__
from vdp.audit.account import COPIES, NUMBERS
from vdp.audit.opinion import Audit, Run
from vdp.audit.report import check_table
from vdp.audit.setting import BAD, GOOD, HEAD, INK, NOTE, SMALL, flowing, grid, put_story, style, text

#: Findings, runs and stretches of numbers that the paper shows; audit.json has them all.
MOST_SHOWN = 200

METHOD = (
    (
        "Each folder was judged by itself: the signature (Ed25519, RFC 8032) over the canonical JSON (RFC 8785) of its "
        "statement, with the public key named above and no other; the SHA-256 of every file; nothing unsealed in the "
        "folder; the statement against the run's own report; the hash tree (RFC 9162) over the public line of every "
        "piece; and, where the recipients' data is still there, each public line against its piece."
    ),
    (
        "Then the runs together: every serial read by the terms of its series (form, check characters, number), held "
        "against the number that its piece was allotted, and against every other serial; reprints against what they "
        "repeat."
    ),
)


#: Added where a ledger was named, and where pages were read.
LEDGER = (
    "Then the ledger, read only: the database's own guards, every entry's hash and its link to the one before, ranges "
    "that meet, the heads that were sealed, whose the numbers are, what was told of reprints and by how many people; "
    "and what became of every number and copy was added up."
)
PAGES = (
    "Last the finished files, as if nothing were known of how they were made: every page drawn, every code decoded on "
    "its own plate, every serial read, each piece's contents held against its line, each place on the sheets against "
    "its piece."
)


def write_audit(path: Path, audit: Audit, face: Path) -> None:
    """Sets the audit in `face` (a TrueType file) and writes it whole.  Same audit, same bytes."""
    put_story(path, f"Audit of {len(audit.runs)} runs", lambda: _story(audit), face)


def _story(audit: Audit) -> Iterator[Flowable]:
    yield text("Audit of sealed runs", style(20, after=4))
    found = len(audit.findings)
    counted = "1 finding" if found == 1 else f"{found:,} findings"
    verdict = (
        "Nothing was found in what was checked."
        if audit.ok
        else f"{counted}: these runs cannot be relied on as they are."
    )
    yield text(verdict, style(12.5, GOOD if audit.ok else BAD, after=8))
    yield grid([[text(key, SMALL), text(value)] for key, value in _facts(audit)], (45, 125))
    yield text("Scope", HEAD)
    yield from flowing([[text(said, SMALL) for said in _HEADINGS], *map(_run, audit.runs[:MOST_SHOWN])], _WIDTHS)
    yield from _more(len(audit.runs), "runs")
    yield text("Method", HEAD)
    yield from (text(said) for said in _method(audit))
    yield text(_extent(audit))
    yield text("What was checked", HEAD)
    yield check_table(audit.checks)
    yield from _findings(audit)
    yield KeepTogether([text("What was not checked", HEAD), *(text(f"– {said}.") for said in audit.unchecked)])
    yield from _numbers(audit)
    yield from _accounts(audit)
    yield _signatures()


def _method(audit: Audit) -> Iterator[str]:
    yield from METHOD
    if audit.ledgers:
        yield LEDGER
    if audit.pages:
        yield PAGES


def _facts(audit: Audit) -> Iterator[tuple[str, str]]:
    yield "Audited", f"{audit.time} by {audit.auditor or 'nobody named'}"
    yield "Program", f"vdp {__version__}"
    yield "Public key", audit.key or "none was given: who sealed these runs is not known"
    yield ("Ledger" if len(audit.ledgers) < 2 else "Ledgers"), "; ".join(audit.ledgers) or "none was named"
    yield "Pieces", f"{audit.pieces:,} in {len(audit.runs):,} folders"
    yield "Serials", f"{audit.serials:,}, {audit.serials_unique:,} different, {audit.reprinted:,} of them on reprints"
    yield "Pages read", f"{audit.pages:,}"
    yield from audit.figures


_HEADINGS = ("folder", "job and run", "pieces, set aside", "SHA-256 of the seal; ledger's head")
_WIDTHS = (38.0, 52.0, 25.0, 55.0)


def _run(run: Run) -> list[Flowable]:
    copy = f"; reprint of {run.of[:12]}…, copy {run.copy}" if run.of else ""
    if run.approval is not None:
        copy += f"; by its own report approved by {run.approval.name}, {run.approval.time}"
    head = "" if run.head is None else f"; entry {run.head[0]}, {run.head[1][:16]}…"
    return [
        text(run.folder, NOTE),
        text(f"{run.job or 'unknown'}, run {run.run[:16]}…{copy}", NOTE),
        text(f"{run.pieces:,}, {run.set_aside:,}", NOTE),
        text(f"{run.seal or 'not sealed'}{head}", NOTE),
    ]


def _extent(audit: Audit) -> str:
    pages = (
        f"{audit.pages:,} pages were drawn and decoded again" if audit.pages else "no finished page was decoded again"
    )
    return f"Extent: in full, not by sample. All files were hashed, all {audit.pieces:,} lines read; {pages}."


def _findings(audit: Audit) -> Iterator[Flowable]:
    yield text(f"Findings ({len(audit.findings):,})", HEAD)
    rows = [
        [text(found.code), text(found.where, NOTE), text(found.message, NOTE)] for found in audit.findings[:MOST_SHOWN]
    ]
    yield from flowing(rows, (38, 50, 82))
    yield from _more(len(audit.findings), "findings")


def _numbers(audit: Audit) -> Iterator[Flowable]:
    rows = [
        [
            text(span.series, NOTE),
            text(run.folder, NOTE),
            text(span.first),
            text(span.last),
            text(f"{span.pieces:,}{' (copies)' if run.of and run.copy > 1 else ''}", NOTE),
        ]
        for run in audit.runs
        for span in run.numbers
    ]
    if rows:
        yield text("Numbers", HEAD)
        heads = [text(said, SMALL) for said in ("series", "folder", "first piece's", "last piece's", "count")]
        yield from flowing([heads, *rows[:MOST_SHOWN]], (22, 50, 37, 37, 24))
        yield from _more(len(rows), "stretches")


def _accounts(audit: Audit) -> Iterator[Flowable]:
    """What the ledger says became of every number and copy, by series and run."""
    if not audit.accounts:
        return
    folders = {run.run: run.folder for run in audit.runs}
    yield text("Reconciled by the ledger", HEAD)
    numbers, copies = "Numbers: {} = {}.", "Copies: {} = {}; unseen are those of which nothing was told yet."
    for said, keys in ((numbers, NUMBERS), (copies, (*COPIES, "unseen"))):
        due = keys[1:] if keys == NUMBERS else COPIES[1:]
        yield text(said.format(keys[0], " + ".join(due)), SMALL)
        rows = [[text(key, SMALL) for key in ("series, folder", *keys)]]
        for account in audit.accounts[:MOST_SHOWN]:
            counts = {**account.copies, "unseen": account.unseen} if keys != NUMBERS else account.numbers
            where = text(f"{account.series}, {folders.get(account.run, account.run[:12])}", NOTE)
            rows.append([where, *(text(f"{counts.get(key, 0):,}", NOTE) for key in keys)])
        width = 126 / len(keys)
        yield from flowing(rows, (44, *(width for _ in keys)))
        yield Spacer(1, 3 * mm)
    yield from _more(len(audit.accounts), "accounts")


def _more(count: int, what: str) -> Sequence[Flowable]:
    return [text(f"… and {count - MOST_SHOWN:,} more {what} in audit.json", SMALL)] if count > MOST_SHOWN else []


def _signatures() -> Flowable:
    """Lines to sign on, for two people."""
    rows: list[list[Flowable]] = []
    for who in ("auditor", "second person"):
        rows.append([Spacer(1, 11 * mm)] * 5)
        rows.append([text(f"{who}, name", SMALL), text(""), text("date", SMALL), text(""), text("signature", SMALL)])
    table = grid(rows, (62, 5, 31, 5, 67), ruled=())
    table.setStyle([("LINEBELOW", (at, row), (at, row), 0.5, INK) for row in (0, 2) for at in (0, 2, 4)])
    said = "Signed for the scope, the extent and the findings told here, and for nothing that was not checked."
    return KeepTogether([text("Signed off", HEAD), text(said), table])
