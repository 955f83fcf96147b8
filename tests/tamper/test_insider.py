"""Insiders with the signing key: what they change and sign again is found by the folder itself, by the other runs, by
the ledger, or by the finished pages; each code of an audit has a deed."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing
from typing import Any, NamedTuple

import pytest

from tests.tamper.sealed import NOW, PIECES, Attacked, codes_of, lines_of, put_senseless, swapped
from vdp.numbering.entry import AGAIN, Event
from vdp.numbering.ledger import open_ledger
from vdp.run.codes import RUN_CODES
from vdp.run.folder import sha256_of
from vdp.run.sealing import DATA, PUBLIC, SALTS, SEAL

Deed = Callable[[Attacked], None]


class Case(NamedTuple):
    """A deed, and what an audit must then find: of which folders, with which ledger, with the pages decoded or not."""

    title: str
    deed: Deed
    gives: frozenset[str]
    folders: tuple[str, ...]
    ledger: str | None
    decode: bool


CASES: list[Case] = []


def case(
    title: str, gives: Iterable[str], *folders: str, ledger: str | None = None, decode: bool = False
) -> Callable[[Deed], Deed]:
    def keep(deed: Deed) -> Deed:
        CASES.append(Case(title, deed, frozenset(gives), folders, ledger, decode))
        return deed

    return keep


LEDGER = "ledger.sqlite"


def said(**more: Any) -> Callable[[dict[str, Any]], None]:
    return lambda value: value.update(more)


# -- without the key ---------------------------------------------------------------------------------------------------


@case("no seal", ["seal-missing"])
def _(a: Attacked) -> None:
    (a.folder() / SEAL).unlink()


@case("a seal cut short", ["seal-broken"])
def _(a: Attacked) -> None:
    a.file(SEAL, lambda data: data[:-20])


@case("a file changed", ["seal-differs"])
def _(a: Attacked) -> None:
    a.file("report.pdf", lambda data: data + b" ")


@case("a file beside the others", ["seal-stray"])
def _(a: Attacked) -> None:
    (a.folder() / "notes.txt").write_bytes(b"")


@case("data removed, and its salts left", ["seal-salts"])
def _(a: Attacked) -> None:
    (a.folder() / DATA).unlink()


# -- the statement -----------------------------------------------------------------------------------------------------


@case("another run in the seal", ["seal-report"])
def _(a: Attacked) -> None:
    a.reseal(said(run="00" * 32))


@case("another run in seal and report", ["seal-report", "seal-lines"])
def _(a: Attacked) -> None:
    a.report(said(run="00" * 32))
    a.reseal(said(run="00" * 32))
    # The salts are not those of that run; but nobody without the secret could tell, were they left as they are.
    a.file(SALTS, lambda _: b"11" * 32 + b"\n")
    a.reseal()


@case("another job in the seal", ["seal-report"])
def _(a: Attacked) -> None:
    a.reseal(said(job="Gala"))


@case("another job in seal and report", ["audit-ledger-differs"], ledger=LEDGER)
def _(a: Attacked) -> None:
    a.report(said(job="Gala"))
    a.reseal(said(job="Gala"))


@case("another head in the seal", ["seal-report"])
def _(a: Attacked) -> None:
    a.reseal(said(ledger={"seq": 9, "hash": "00" * 32}))


@case("a head that never was, in seal and report", ["ledger-head"], ledger=LEDGER)
def _(a: Attacked) -> None:
    head = {"seq": 9, "hash": "00" * 32}
    a.report(lambda report: report["ledger"].update(head=head))
    a.reseal(said(ledger=head))


@case("a head before the numbers were allotted", ["audit-ledger-differs"], "next", ledger=LEDGER)
def _(a: Attacked) -> None:
    head = json.loads((a.folder() / "report.json").read_bytes())["ledger"]["head"]
    a.report(lambda report: report["ledger"].update(head=head), "next")
    a.reseal(said(ledger=head), "next")


@case("a count in the seal", ["seal-differs", "seal-report"])
def _(a: Attacked) -> None:
    a.reseal(lambda seal: seal["counts"].update(records=40))


@case("a file left out of the seal", ["seal-stray", "seal-report"])
def _(a: Attacked) -> None:
    a.reseal(lambda seal: seal["files"].pop("sheets.pdf"))


@case("sheets taken away, and out of the seal", ["seal-report"])
def _(a: Attacked) -> None:
    (a.folder() / "sheets.pdf").unlink()
    a.reseal()


@case("sheets taken away, and out of seal and report", ["seal-lines"])
def _(a: Attacked) -> None:
    (a.folder() / "sheets.pdf").unlink()
    a.report(said(sheets=None))
    a.reseal()


@case("a report taken away, and out of the seal", ["seal-broken"])
def _(a: Attacked) -> None:
    (a.folder() / "report.pdf").unlink()
    a.reseal()


@case("a seal that names a file elsewhere", ["seal-broken"])
def _(a: Attacked) -> None:
    a.reseal(lambda seal: seal["files"].update({"../job.yaml": "00" * 32}))


@case("a seal that does not name the private files", ["seal-broken", "seal-report", "seal-stray"])
def _(a: Attacked) -> None:
    a.reseal(said(private={}))


@case("a report that says the run is no good", ["seal-report", "run-unfinished"])
def _(a: Attacked) -> None:
    a.report(said(verified=False))
    a.reseal()


@case("a report cut short", ["file-unreadable", "seal-differs"])
def _(a: Attacked) -> None:
    a.file("report.json", lambda data: data[:-40])


@case("a row set aside that is in no file", ["seal-report"])
def _(a: Attacked) -> None:
    a.report(lambda report: report.update(set_aside=1, records=PIECES + 1))
    a.reseal(lambda seal: seal["counts"].update(set_aside=1, records=PIECES + 1))


@case("rows set aside that cannot be read", ["file-unreadable"])
def _(a: Attacked) -> None:
    a.file("set_aside.csv", lambda data: data + b"one more\r\n")
    a.reseal()


@case("a link in the place of a file", ["seal-differs"])
def _(a: Attacked) -> None:
    shutil.move(a.folder() / "pieces.pdf", a.home / "elsewhere.pdf")
    (a.folder() / "pieces.pdf").symlink_to(a.home / "elsewhere.pdf")


# -- the lines ---------------------------------------------------------------------------------------------------------


@case("the last public line twice", ["seal-lines", "seal-differs", "audit-serial-twice", "audit-serial-range"])
def _(a: Attacked) -> None:
    a.lines(lambda lines: [*lines, lines[-1]], PUBLIC)
    a.reseal()


@case("a line left out of both lists", ["seal-differs", "audit-serial-gap"])
def _(a: Attacked) -> None:
    a.lines(lambda lines: lines[:-1])
    a.reseal()


def shortened(a: Attacked) -> None:
    """The last piece left out of everything that is easily made right again."""
    a.lines(lambda lines: lines[:-1])
    a.report(lambda report: report.update(records=report["records"] - 1, pieces=report["pieces"] - 1))
    a.reseal(lambda seal: seal["counts"].update(records=PIECES - 1, pieces=PIECES - 1))


@case("a piece left out everywhere", ["audit-serial-gap"])
def _(a: Attacked) -> None:
    shortened(a)


def hidden(a: Attacked) -> None:
    shortened(a)
    a.report(lambda report: report["ledger"]["series"]["voucher"].update(count=PIECES - 1))
    a.reseal()


@case(
    "a piece left out, and its number hidden",
    ["audit-serial-gap", "audit-ledger-differs"],
    ledger=LEDGER,
)
def _(a: Attacked) -> None:
    hidden(a)


@case("a public serial with a wrong check", ["seal-lines", "audit-serial-check"])
def _(a: Attacked) -> None:
    serial = lines_of(a.folder() / DATA)[2]["serials"]["voucher"]
    a.lines(lambda lines: swapped(lines, serial, serial[:-1] + str((int(serial[-1]) + 1) % 10)), PUBLIC)
    a.reseal()


@case("a serial of another form everywhere", ["audit-serial-check"])
def _(a: Attacked) -> None:
    serial = lines_of(a.folder() / DATA)[2]["serials"]["voucher"]
    a.lines(lambda lines: swapped(lines, f'"voucher":"{serial}"', '"voucher":"X1"'))
    a.reseal()


@case("two public serials exchanged", ["seal-lines", "audit-serial-range"])
def _(a: Attacked) -> None:
    one, other = (lines_of(a.folder() / DATA)[at]["serials"]["voucher"] for at in (2, 3))
    a.lines(lambda lines: swapped(swapped(swapped(lines, one, "?"), other, one), "?", other), PUBLIC)
    a.reseal()


@case("a serial that was given to another run", ["audit-serial-range", "audit-serial-twice"], "out", "next")
def _(a: Attacked) -> None:
    theirs = lines_of(a.folder("next") / DATA)[0]["serials"]["voucher"]
    own = lines_of(a.folder() / DATA)[2]["serials"]["voucher"]
    a.lines(lambda lines: swapped(lines, f'"voucher":"{own}"', f'"voucher":"{theirs}"'))
    a.reseal()


@case("a series that no line has", ["audit-serial-check", "audit-ledger-differs"], ledger=LEDGER)
def _(a: Attacked) -> None:
    def more(report: dict[str, Any]) -> None:
        report["ledger"]["series"]["seat"] = dict(report["ledger"]["series"]["voucher"])

    a.report(more)
    a.reseal()


@case("other terms of a series", ["audit-ledger-differs"], ledger=LEDGER)
def _(a: Attacked) -> None:
    a.report(lambda report: report["ledger"]["series"]["voucher"]["terms"].update(last="9000"))
    a.reseal()


@case("a hash of data", ["seal-lines"])
def _(a: Attacked) -> None:
    mark = lines_of(a.folder() / PUBLIC)[4]["symbols"][0]["data_hash"]
    a.lines(lambda lines: swapped(lines, mark, "ab" * 32), PUBLIC)
    a.reseal()


@case("lines in another order", ["seal-lines", "audit-serial-range"])
def _(a: Attacked) -> None:
    a.lines(lambda lines: [lines[1], lines[0], *lines[2:]])
    a.reseal()


@case("a list with more lines than the public one", ["seal-lines"])
def _(a: Attacked) -> None:
    a.lines(lambda lines: [*lines, lines[-1]], DATA)
    a.reseal()


@case("a row in both lists, which only the ledger knows", ["audit-ledger-differs"], ledger=LEDGER)
def _(a: Attacked) -> None:
    a.lines(lambda lines: swapped(lines, '"row":5,', '"row":500,'))
    a.reseal()


@case("content in both lists, which the pages know", ["place-wrong", "content-changed"], decode=True)
def _(a: Attacked) -> None:
    mark = lines_of(a.folder() / DATA)[4]["sha256"]
    a.lines(lambda lines: swapped(lines, mark, "ab" * 32))
    a.reseal()


# -- the ledger --------------------------------------------------------------------------------------------------------


@case("a ledger whose end was cut off", ["ledger-head", "audit-ledger-differs"], "next", ledger="after-again.sqlite")
def _(a: Attacked) -> None:
    """Nothing but the head that was sealed tells of it."""


@case("a ledger that knows no reprint", ["ledger-head", "audit-reprint-unrecorded"], "again", ledger="after-out.sqlite")
def _(a: Attacked) -> None:
    """The reprint was made without it."""


@case("a ledger of which entries cannot be read", ["ledger-entry", "ledger-guard"], ledger=LEDGER)
def _(a: Attacked) -> None:
    with closing(sqlite3.connect(a.home / LEDGER)) as store, store:
        for (name,) in store.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            store.execute(f'DROP TRIGGER "{name}"')
        store.execute("UPDATE ledger_entries SET detail = '[' WHERE kind = 'issued'")


def tell(a: Attacked, kind: str, index: int, operator: str = "anna", **detail: str) -> None:
    """One more entry, as whoever may write into the ledger tells it: the chain stays whole."""
    run = json.loads((a.folder() / "report.json").read_bytes())["run"]
    with open_ledger(a.home / LEDGER, operator=operator, now=lambda: NOW) as ledger:
        ledger.append([Event(kind, "voucher", index, index, run, "Small", detail)])


@case("a reprint that nobody else saw", ["audit-person"], ledger=LEDGER)
def _(a: Attacked) -> None:
    tell(a, "spoiled", 7)
    tell(a, AGAIN, 7, operator="A.  Marsh", second=" a. MARSH", reprint="22" * 32)


@case("a reprint that names no second person", ["audit-person"], ledger=LEDGER)
def _(a: Attacked) -> None:
    tell(a, "spoiled", 7)
    tell(a, AGAIN, 7, reprint="22" * 32)


@case("a destruction with one witness, named twice", ["audit-person"], ledger=LEDGER)
def _(a: Attacked) -> None:
    tell(a, "spoiled", 7)
    tell(a, "destroyed", 7, batch="B7", method="shredded", date="2027-03-09", witnesses="A. Marsh; a. marsh")


@case("a copy made good of which no reprint was begun", ["audit-reprint-unrecorded"], ledger=LEDGER)
def _(a: Attacked) -> None:
    tell(a, "made_good", 7, second="Bo", reprint="22" * 32, copy="2")


@case("another second person than the ledger has", ["audit-reprint-unrecorded"], "again", ledger=LEDGER)
def _(a: Attacked) -> None:
    a.report(lambda report: report["reprint"].update(second="Nobody"), "again")
    a.reseal(folder="again")


@case("a good copy that was destroyed", ["ledger-account"], ledger=LEDGER)
def _(a: Attacked) -> None:
    tell(a, "good", 7)
    tell(a, "destroyed", 7, batch="B7", method="shredded", date="2027-03-09", witnesses="A. Marsh; B. Ito")


@case("an entry that is well chained, and tells nothing that can be read", ["ledger-entry"], ledger=LEDGER)
def _(a: Attacked) -> None:
    put_senseless(a.home / LEDGER)


# -- runs and reprints -------------------------------------------------------------------------------------------------


@case("a run given twice", ["audit-run-twice"], "out", "copy")
def _(a: Attacked) -> None:
    shutil.copytree(a.folder(), a.folder("copy"))


@case("a second copy made apart", ["audit-serial-twice"], "out", "again", "more")
def _(a: Attacked) -> None:
    """As a reprint of its own: the same copy of the same pieces."""
    shutil.copytree(a.folder("again"), a.folder("more"))
    a.report(said(run="22" * 32), "more")
    a.reseal(said(run="22" * 32), "more")


@case("a reprint that passes for the first printing", ["audit-serial-twice", "seal-lines", "seal-report",
      "audit-serial-range"], "out", "again")  # fmt: skip
def _(a: Attacked) -> None:
    a.report(said(reprint=None), "again")
    a.reseal(said(reprint=None), "again")


@case("a reprint of pieces that the run has not", ["audit-reprint-wrong", "audit-serial-range", "seal-lines"],
      "out", "again")  # fmt: skip
def _(a: Attacked) -> None:
    a.report(lambda report: report["reprint"].update(pieces=[2, 99]), "again")
    a.lines(lambda lines: swapped(lines, '"piece":5,', '"piece":99,'), PUBLIC, folder="again")
    a.reseal(folder="again")


@case("a reprint with other content", ["audit-reprint-wrong", "seal-lines"], "out", "again")
def _(a: Attacked) -> None:
    mark = lines_of(a.folder("again") / DATA)[0]["sha256"]
    a.lines(lambda lines: swapped(lines, mark, "ab" * 32), PUBLIC, folder="again")
    a.reseal(folder="again")


@case("a reprint that counts itself wrongly", ["audit-reprint-wrong"], "out", "again")
def _(a: Attacked) -> None:
    a.report(lambda report: report["reprint"].update(copy=3), "again")
    a.reseal(lambda seal: seal["reprint"].update(copy=3), "again")


@case("a reprint that was never told", ["audit-reprint-unrecorded"], "out", "more", ledger=LEDGER)
def _(a: Attacked) -> None:
    shutil.copytree(a.folder("again"), a.folder("more"))
    a.report(said(run="22" * 32), "more")
    a.reseal(said(run="22" * 32), "more")


@case("a reprint of more copies than were told as spoiled", ["audit-reprint-unrecorded", "seal-lines",
      "audit-serial-range"], "again", ledger=LEDGER)  # fmt: skip
def _(a: Attacked) -> None:
    line = (a.folder() / PUBLIC).read_bytes().splitlines(keepends=True)[6]
    a.lines(lambda lines: [*lines, line], PUBLIC, folder="again")
    a.report(lambda report: report["reprint"].update(pieces=[2, 5, 7]), "again")
    a.report(lambda report: report.update(records=3, pieces=3), "again")
    a.reseal(lambda seal: seal["counts"].update(records=3, pieces=3), "again")


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.title)
def test_a_deed_is_found(case: Case, attacked: Attacked) -> None:
    case.deed(attacked)
    audit = attacked.audit(*case.folders, ledger=case.ledger, decode=case.decode)
    assert codes_of(audit) == case.gives, [f"{f.code} {f.where}: {f.message}" for f in audit.findings]
    assert [check.good for check in audit.checks].count(False) >= 1


OWN = [code for code in RUN_CODES if code.startswith(("seal-", "audit-"))]


@pytest.mark.parametrize("code", [code for code in OWN if code != "seal-unchecked"])
def test_every_code_has_a_deed_that_gives_it(code: str) -> None:
    """`seal-unchecked` and `proof-broken` are in `test_sealed`."""
    assert any(code in case.gives for case in CASES)


# -- what is right -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ledger", [None, LEDGER])
def test_reprints_beside_what_they_repeat_are_copies_and_no_doubles(ledger: str | None, attacked: Attacked) -> None:
    for folders in (("out", "again", "third", "next"), ("third", "next", "again", "out"), ("out", "third")):
        audit = attacked.audit(*folders, ledger=ledger)
        assert audit.ok, audit.findings
        copies = 2 * ("again" in folders) + 1
        runs = 1 + ("next" in folders)
        assert (audit.serials, audit.serials_unique, audit.reprinted) == (PIECES * runs + copies, PIECES * runs, copies)
        assert [run.copy for run in audit.runs] == [{"again": 2, "third": 3}.get(name, 1) for name in folders]


def test_a_reprint_by_itself_is_told_as_one(attacked: Attacked) -> None:
    audit = attacked.audit("again", decode=True)
    assert (audit.ok, audit.reprinted, audit.pages > 0) == (True, 2, True)
    assert any("what" in told and "repeats" in told for told in audit.unchecked)
    audit = attacked.audit("out", ledger=LEDGER)
    assert audit.ok, audit.findings
    assert any(told.startswith("reprints of these runs that the ledger knows, 1 (") for told in audit.unchecked)
    assert any(told.startswith("other runs that have numbers") for told in audit.unchecked)
    assert ("By the ledger, of these runs", f"{PIECES} issued, 2 spoiled") in audit.figures


def test_runs_between_which_numbers_lie_are_told(attacked: Attacked) -> None:
    shutil.copytree(attacked.folder("next"), attacked.folder("last"))
    audit = attacked.audit("out", "next")
    assert not any("of no run given" in told for told in audit.unchecked)
    spans = {run.folder: run.numbers for run in audit.runs}
    assert [(span.lowest, span.highest, span.pieces) for spans in spans.values() for span in spans] == [
        (0, PIECES - 1, PIECES),
        (PIECES, 2 * PIECES - 1, PIECES),
    ]


def test_files_are_as_they_were(attacked: Attacked) -> None:
    """An audit changes nothing."""
    before = {path: sha256_of(path) for path in attacked.home.rglob("*") if path.is_file()}
    attacked.audit("out", "again", "next", ledger=LEDGER, decode=False)
    assert {path: sha256_of(path) for path in attacked.home.rglob("*") if path.is_file()} == before
