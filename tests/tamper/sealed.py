"""Sealed runs under attack, by strangers and by those who hold the signing key: the job, its runs, seals made anew.

Not here: the deeds (`test_sealed`, `test_insider`).
"""

from __future__ import annotations

import io
import json
import shutil
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from contextlib import closing
from dataclasses import fields, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.run.test_sheets import RECORDS, WEB
from tests.small import JOB, write_job
from vdp.audit.opinion import Audit
from vdp.audit.seal import signed
from vdp.audit.strict import written
from vdp.audit.tree import leaf_hash, root_of
from vdp.numbering.ledger import open_ledger
from vdp.run import run_job
from vdp.run.audit import audit_runs
from vdp.run.desk import Desk
from vdp.run.folder import sha256_of
from vdp.run.reprint import reprint
from vdp.run.screen import Screen
from vdp.run.sealed import judge_seal
from vdp.run.sealing import DATA, PRIVATE, PUBLIC, SEAL, make_key, read_public, seal_run
from vdp.run.spoiled import Wish

NOW = datetime(2026, 3, 1, 12, 30, tzinfo=UTC)
DESK = Desk("anna", lambda: NOW, {}, timeout=1)
QUIET = Screen(io.StringIO())
#: Pieces of each run.
PIECES = RECORDS.count("\n") - 1
Change = Callable[[dict[str, Any]], object]


def make_sealed(home: Path) -> Path:
    """In `home`: a key, a job, its run ``out``, another one ``next`` of a changed list, and reprints of ``out``:
    ``again`` (copy 2 of two pieces), ``third`` (copy 3 of one), all sealed; and ledgers as they were before each."""
    job = write_job(home, job=JOB + WEB, records=RECORDS)
    make_key(home / "press.key")
    _run(home, job, "out")
    shutil.copy(home / "ledger.sqlite", home / "after-out.sqlite")
    serials = [line["serials"]["voucher"] for line in lines_of(home / "out" / DATA)]
    _again(home, "out", "again", serials[1], serials[4])
    shutil.copy(home / "ledger.sqlite", home / "after-again.sqlite")
    _again(home, "again", "third", serials[4])
    (home / "list.csv").write_text(RECORDS.replace("Guest", "Friend"), encoding="utf-8", newline="")
    _run(home, job, "next")
    return home


def _run(home: Path, job: Path, name: str) -> None:
    made = run_job(job, records=None, out=home / name, workers=1, screen=QUIET, desk=DESK)
    assert made.ok, made.findings
    seal_run(home / name, home / "press.key")


def _again(home: Path, source: str, name: str, *serials: str) -> None:
    wish = Wish(serials)
    made = reprint(home / source, wish, second="Bo", out=home / name, job=None, records=None, desk=DESK, screen=QUIET)
    assert made.ok, made.findings
    seal_run(home / name, home / "press.key")


def lines_of(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()]


def put_senseless(ledger: Path) -> None:
    """One more entry about the last one's numbers, well chained, of which nobody can read what it tells."""
    with open_ledger(ledger, operator="anna", now=lambda: NOW) as opened:
        last = list(opened.entries())[-1]
    entry = replace(last, seq=last.seq + 1, kind="spoiled", detail="[]", once=None, previous=last.hash, hash="")
    entry = replace(entry, hash=entry.computed())
    told = {each.name: getattr(entry, each.name) for each in fields(entry)}
    told |= {name: f"{told[name]:060d}" for name in ("first", "last")}
    names, marks = (", ".join(f"{mark}{name}{end}" for name in told) for mark, end in (('"', '"'), (":", "")))
    with closing(sqlite3.connect(ledger)) as store, store:
        store.execute(f"INSERT INTO ledger_entries ({names}) VALUES ({marks})", told)  # noqa: S608  names of the fields


class Attacked:
    """A copy of the home in which everything may be changed."""

    def __init__(self, home: Path, into: Path) -> None:
        self.home = into / "home"
        shutil.copytree(home, self.home)
        self.key = self.home / "press.key.public"

    def folder(self, name: str = "out") -> Path:
        return self.home / name

    # -- what an attacker does ---------------------------------------------------------------------------------------

    def file(self, name: str, change: Callable[[bytes], bytes], folder: str = "out") -> None:
        path = self.folder(folder) / name
        before = path.read_bytes()
        assert change(before) != before, "nothing was changed"
        path.write_bytes(change(before))

    def lines(self, change: Callable[[list[bytes]], list[bytes]], *names: str, folder: str = "out") -> None:
        """Changes the lines of both lists of pieces, or of those named."""
        for name in names or (DATA, PUBLIC):
            self.file(name, lambda data: b"".join(change(data.splitlines(keepends=True))), folder)

    def report(self, change: Change, folder: str = "out") -> None:
        path = self.folder(folder) / "report.json"
        report = json.loads(path.read_bytes())
        change(report)
        path.write_text(json.dumps(report, ensure_ascii=False, indent=2) + "\n", "utf-8")

    def reseal(self, change: Change = lambda _: None, folder: str = "out", secret: bytes | None = None) -> None:
        """Hashes, tree and counts made right again, then a change of the statement, and all of it signed."""
        at = self.folder(folder)
        secret = bytes.fromhex((self.home / "press.key").read_text().strip()) if secret is None else secret

        def hashed(report: dict[str, Any]) -> None:
            report["files"] = {name: sha256_of(at / name) for name in report["files"] if (at / name).exists()}

        self.report(hashed, folder)
        public = (at / PUBLIC).read_bytes().splitlines()
        said = json.loads((at / SEAL).read_bytes())["seal"]
        said["tree"] = {"size": len(public), "root": root_of(map(leaf_hash, public)).hex()}
        said["files"] = {name: sha256_of(at / name) for name in said["files"] if (at / name).exists()}
        said["private"] = {name: sha256_of(at / name) for name in PRIVATE}
        change(said)
        (at / SEAL).write_bytes(written(signed(said, secret)))

    # -- what an auditor sees ----------------------------------------------------------------------------------------

    def codes(self, folder: str = "out") -> set[str]:
        """What a folder gives by itself."""
        return {finding.code for finding in judge_seal(self.folder(folder), read_public(self.key))}

    def audit(self, *folders: str, ledger: str | None = None, decode: bool = False) -> Audit:
        return audit_runs(
            [self.folder(name) for name in folders or ("out",)],
            key=self.key,
            ledgers=[] if ledger is None else [str(self.home / ledger)],
            decode=decode,
            workers=1,
            out=None,
            screen=QUIET,
            desk=DESK,
        )

    def found(self, *folders: str, ledger: str | None = None, decode: bool = False) -> set[str]:
        return codes_of(self.audit(*folders, ledger=ledger, decode=decode))


def codes_of(audit: Audit) -> set[str]:
    return {finding.code for finding in audit.findings}


def without(keys: Iterable[str]) -> Change:
    """A change that takes keys out."""

    def change(value: dict[str, Any]) -> None:
        for key in keys:
            del value[key]

    return change


def swapped(lines: Sequence[bytes], old: str, new: str) -> list[bytes]:
    return [line.replace(old.encode(), new.encode()) for line in lines]
