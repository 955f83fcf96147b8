"""What an audit came to: its scope, what was checked and how, what was counted, found, and left out.

Not here: making it (`vdp.run.audit`), setting it on paper (`paper`).
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any

from vdp import __version__
from vdp.audit.account import Account
from vdp.audit.claims import ApprovalSaid
from vdp.audit.register import Span
from vdp.audit.report import Check
from vdp.errors import Finding

#: Findings that the text shows.
_MOST_SHOWN = 40


@dataclass(frozen=True, slots=True)
class Run:
    """One folder, and what it says of itself: `seal` is the SHA-256 of seal.json, empty where there is none."""

    folder: str
    job: str = ""
    run: str = ""
    copy: int = 1
    of: str = ""
    pieces: int = 0
    set_aside: int = 0
    seal: str = ""
    head: tuple[int, str] | None = None
    numbers: tuple[Span, ...] = ()
    approval: ApprovalSaid | None = None

    def as_dict(self) -> dict[str, Any]:
        return {
            "folder": self.folder,
            "job": self.job,
            "run": self.run,
            "copy": self.copy,
            "reprint_of": self.of or None,
            "pieces": self.pieces,
            "set_aside": self.set_aside,
            "seal_sha256": self.seal or None,
            "ledger_head": None if self.head is None else {"seq": self.head[0], "hash": self.head[1]},
            "approval": None if self.approval is None else self.approval._asdict(),
            "numbers": [span._asdict() for span in self.numbers],
        }


@dataclass(slots=True)
class Audit:
    """What an audit came to; `checks` in the order in which they were made, `figures` what was counted (label, value),
    `accounts` what the ledgers say became of the runs' numbers and copies, `unchecked` what was not looked at."""

    runs: list[Run] = field(default_factory=list)
    pieces: int = 0
    serials: int = 0
    serials_unique: int = 0
    reprinted: int = 0
    pages: int = 0
    findings: list[Finding] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    figures: list[tuple[str, str]] = field(default_factory=list)
    accounts: list[Account] = field(default_factory=list)
    unchecked: list[str] = field(default_factory=list)
    key: str = ""
    ledgers: tuple[str, ...] = ()
    auditor: str = ""
    time: str = ""

    @property
    def ok(self) -> bool:
        return not self.findings

    def as_dict(self) -> dict[str, Any]:
        return {
            "ok": self.ok,
            "vdp": __version__,
            "audited": {
                "by": self.auditor,
                "time": self.time,
                "key": self.key or None,
                "ledgers": list(self.ledgers),
            },
            "runs": [run.as_dict() for run in self.runs],
            "pieces": self.pieces,
            "serials": self.serials,
            "serials_unique": self.serials_unique,
            "reprinted": self.reprinted,
            "pages": self.pages,
            "checks": [{"what": c.what, "how": c.how, "count": c.count, "good": c.good} for c in self.checks],
            "figures": dict(self.figures),
            "accounts": [account.as_dict() for account in self.accounts],
            "not_checked": self.unchecked,
            "findings": [finding.as_json() for finding in self.findings],
        }

    def to_json(self) -> str:
        return json.dumps(self.as_dict(), ensure_ascii=False) + "\n"

    def as_text(self) -> str:
        copies = f", {self.reprinted:,} of them reprints" if self.reprinted else ""
        serials = f"{self.serials:,} serials{copies}, {self.serials_unique:,} different"
        lines = [f"{len(self.runs)} runs, {self.pieces:,} pieces, {serials}"]
        lines += [f"  {'good' if c.good else 'bad ':<5}{c.what}: {c.count} ({c.how})" for c in self.checks]
        lines += [f"  {label}: {value}" for label, value in self.figures]
        lines += [f"  not checked  {said}" for said in self.unchecked]
        lines += [f"  {f.code}  {f.where}: {f.message}" for f in self.findings[:_MOST_SHOWN]]
        if len(self.findings) > _MOST_SHOWN:
            lines.append(f"  … and {len(self.findings) - _MOST_SHOWN} more findings: see --json, or --out")
        lines.append(
            "  nothing was found" if self.ok else f"  {len(self.findings)} findings: these runs cannot be relied on"
        )
        return "\n".join(lines) + "\n"
