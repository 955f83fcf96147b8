"""`vdp audit`: sealed runs judged from their folders and a public key alone, one by one and against one another.

Lives here: what is judged, in which order, and what is told.  Not here: seals (`sealing`), pages (`vdp.verify`).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vdp.audit.report import Check, Report, write_report
from vdp.audit.seal import proves
from vdp.errors import CallerError, Finding
from vdp.job.faces import builtin_faces
from vdp.numbering.ledger import open_ledger
from vdp.run.again import own_findings
from vdp.run.desk import desk_of
from vdp.run.folder import put_json
from vdp.run.screen import Screen
from vdp.run.sealing import PUBLIC, judge_seal, read_public
from vdp.verify.judge import verify_folder

REPORT, JSON = "audit.pdf", "audit.json"


@dataclass(slots=True)
class Audit:
    """What an audit came to; `checks` in the order in which they were made."""

    folders: list[str]
    pieces: int = 0
    serials: int = 0
    serials_unique: int = 0
    pages: int = 0
    findings: list[Finding] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    unchecked: list[str] = field(default_factory=list)

    @property
    def ok(self) -> bool:
        return not self.findings

    def as_dict(self) -> dict[str, Any]:
        return {
            "ok": self.ok,
            "runs": self.folders,
            "pieces": self.pieces,
            "serials": self.serials,
            "serials_unique": self.serials_unique,
            "pages": self.pages,
            "checks": [{"what": c.what, "how": c.how, "count": c.count, "good": c.good} for c in self.checks],
            "not_checked": self.unchecked,
            "findings": [finding.as_json() for finding in self.findings],
        }

    def to_json(self) -> str:
        return json.dumps(self.as_dict(), ensure_ascii=False) + "\n"

    def as_text(self) -> str:
        serials = f"{self.serials:,} serials, {self.serials_unique:,} unique"
        lines = [f"{len(self.folders)} runs, {self.pieces:,} pieces, {serials}"]
        lines += [f"  {'good' if c.good else 'bad ':<5}{c.what}: {c.count} ({c.how})" for c in self.checks]
        lines += [f"  not checked  {said}" for said in self.unchecked]
        lines += [f"  {f.code}  {f.where}: {f.message}" for f in self.findings[:40]]
        lines.append(
            "  nothing was found" if self.ok else f"  {len(self.findings)} findings: these runs cannot be relied on"
        )
        return "\n".join(lines) + "\n"


def audit_runs(
    folders: Sequence[Path],
    *,
    key: Path | None,
    ledger: str | None,
    decode: bool,
    workers: int,
    out: Path | None,
    screen: Screen,
) -> Audit:
    """Raises CallerError for what is no key, no ledger, or no run folder."""
    public = None if key is None else read_public(key)
    audit = Audit([str(folder) for folder in folders])
    for folder in folders:
        if not (folder / "report.json").is_file():
            raise CallerError.one(str(folder), "is not a run folder: it has no report.json", "name the folder of a run")
    seals, serials = _seals(folders, public), _serials(audit, folders)
    _step(audit, "Seals", "signature, hashes of every file, hash tree, counts", seals, lambda: f"{len(folders)} runs")
    _step(audit, "Serials", "each once, within and across the runs", serials, lambda: f"{audit.serials:,}")
    if ledger is None:
        audit.unchecked.append(
            "the ledger: none was named, so its chain and what it knows of these numbers were not looked at"
        )
    else:
        _step(audit, "Ledger", "every entry follows from the one before", _chain(ledger), lambda: ledger)
    if decode:
        found = _decoded(audit, folders, workers, screen)
        _step(audit, "Finished files", "pages read and symbols decoded again", found, lambda: f"{audit.pages:,} pages")
    else:
        audit.unchecked.append("the finished pages: they were not decoded again")
    audit.unchecked.append("what was printed: an audit sees files, not paper")
    if out is not None:
        _put(audit, out)
    return audit


def _step(audit: Audit, what: str, how: str, found: Iterator[Finding], count: Callable[[], str]) -> None:
    """Takes a check's findings; `count` is asked when they are all there."""
    findings = list(found)
    audit.findings += findings
    audit.checks.append(Check(what, how, count(), not findings))


def _seals(folders: Sequence[Path], key: bytes | None) -> Iterator[Finding]:
    for folder in folders:
        yield from judge_seal(folder, key)
        yield from own_findings(folder)


def _serials(audit: Audit, folders: Sequence[Path]) -> Iterator[Finding]:
    """By series and text: the same number in two series is two numbers."""
    seen: dict[tuple[str, str], str] = {}
    for folder in folders:
        path = folder / PUBLIC if (folder / PUBLIC).is_file() else folder / "pieces.jsonl"
        try:
            with path.open("rb") as lines:
                for line in lines:
                    told = json.loads(line)
                    audit.pieces += 1
                    for series, serial in told["serials"].items():
                        audit.serials += 1
                        where = f"{folder}, piece {told['piece']}"
                        before = seen.setdefault((series, serial), where)
                        if before != where and not _reprinted(told):
                            yield Finding("audit-serial-twice", where, f"{series} {serial} is also {before}")
        except (OSError, ValueError, KeyError, TypeError) as error:
            yield Finding("seal-broken", str(path), f"cannot be read: {type(error).__name__} {error}")
    audit.serials_unique = len(seen)


def _reprinted(told: dict[str, Any]) -> bool:
    """Whether the line says that it is a piece made good."""
    return bool(told.get("reprint"))


def _chain(ledger: str) -> Iterator[Finding]:
    desk = desk_of()
    with open_ledger(ledger, operator=desk.operator, now=desk.now, write=False) as opened:
        yield from opened.verify_chain()


def _decoded(audit: Audit, folders: Sequence[Path], workers: int, screen: Screen) -> Iterator[Finding]:
    for folder in folders:
        with screen.step("decoding", None, "pages") as tell:
            verdict = verify_folder(folder, workers=workers, progress=tell)
        audit.pages += verdict.pages
        for finding in verdict.findings:
            yield Finding(finding.code, f"{folder}: {finding.where}", finding.message)


def _put(audit: Audit, out: Path) -> None:
    out.mkdir(parents=True, exist_ok=True)
    put_json(out / JSON, audit.as_dict())
    report = Report(
        title="Audit of sealed runs",
        good=audit.ok,
        facts=(
            ("Runs", "; ".join(audit.folders)),
            ("Pieces", f"{audit.pieces:,}"),
            ("Serials", f"{audit.serials:,}, {audit.serials_unique:,} different"),
            ("Not checked", "; ".join(audit.unchecked)),
            ("Signed off", "name                                   date                          signature"),
        ),
        checks=tuple(audit.checks),
        findings=tuple(audit.findings),
        warnings=(),
        set_aside=(),
        shown=(),
    )
    write_report(out / REPORT, report, builtin_faces()["sans"].path)


def check_proof(path: Path, key: Path) -> bool:
    """Whether a proof for one piece holds.  Raises CallerError for what is no proof."""
    try:
        proof = json.loads(path.read_bytes())
    except (OSError, ValueError) as error:
        raise CallerError.one(
            str(path), f"is no proof: {error}", "name the file that vdp audit --prove wrote"
        ) from error
    return isinstance(proof, dict) and proves(proof, read_public(key))
