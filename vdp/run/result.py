"""What a run or a verification came to, as one JSON object or as a short text."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from vdp.errors import Finding

MOST_SHOWN = 20
#: So many rows that share a reason are told one by one.
_ALONE = 3


@dataclass(slots=True)
class Result:
    """The figures of the contract; `seconds` by step, `told` what else the text says (label, value), `entries`
    those of the ledger, where a command is about them."""

    ok: bool
    pieces: int = 0
    set_aside: int = 0
    symbols_expected: int = 0
    symbols_decoded: int = 0
    serials: int = 0
    serials_unique: int = 0
    findings: list[Finding] = field(default_factory=list)
    warnings: list[Finding] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    seconds: dict[str, float] = field(default_factory=dict)
    title: str = ""
    records: int = 0
    folder: str = ""
    refused: list[tuple[int, str]] = field(default_factory=list)
    last: str = ""
    told: list[tuple[str, str]] = field(default_factory=list)
    entries: list[dict[str, Any]] | None = None
    proof: str | None = None

    def as_dict(self) -> dict[str, Any]:
        """The JSON object, keys in the contract's order."""
        return {
            "ok": self.ok,
            "pieces": self.pieces,
            "set_aside": self.set_aside,
            "symbols_expected": self.symbols_expected,
            "symbols_decoded": self.symbols_decoded,
            "serials": self.serials,
            "serials_unique": self.serials_unique,
            "findings": [f.as_json() for f in self.findings],
            "files": self.files,
            "seconds": {step: round(value, 3) for step, value in self.seconds.items()},
            "warnings": [w.as_json() for w in self.warnings],
            **({"entries": self.entries} if self.entries is not None else {}),
            **({"proof": self.proof} if self.proof is not None else {}),
        }

    def to_json(self) -> str:
        return json.dumps(self.as_dict(), ensure_ascii=False) + "\n"


def refusal_json(faults: Sequence[tuple[str, str, str]], code: str = "input-refused") -> str:
    """The same object when nothing came of it: the caller's mistakes, or ours, as findings."""
    findings = [Finding(code, where, f"{message}{f' ({mend})' if mend else ''}") for where, message, mend in faults]
    return Result(ok=False, findings=findings).to_json()


def as_text(result: Result) -> str:
    """A summary people read at the end of a run."""
    lines: list[str] = [result.title] if result.title else []
    unread = " read off the pages" if result.serials < result.serials_unique else ""
    rows = [
        ("records", f"{result.records} = {result.pieces} pieces + {result.set_aside} set aside"),
        ("symbols", f"{result.symbols_decoded} of {result.symbols_expected} decoded, each on its own plate"),
        ("serials", f"{result.serials}{unread}, {result.serials_unique} unique"),
    ]
    if not result.symbols_expected and not result.serials:
        rows = rows[:1] if result.entries is None and (result.records or not result.pieces) else []
    rows += result.told
    if result.files:
        rows.append(("files", f"{', '.join(result.files)} in {result.folder}"))
    if result.seconds:
        rows.append(("seconds", ", ".join(f"{step} {value:.1f}" for step, value in result.seconds.items())))
    lines += [f"  {label:<8} {value}" for label, value in rows]
    lines += _listed("set aside", list(_together(result.refused)), len(result.refused))
    lines += _listed("warnings", [f"{w.code}  {w.where}: {w.message}" for w in result.warnings])
    lines += _listed("findings", [f"{f.code}  {f.where}: {f.message}" for f in result.findings])
    if result.last:
        lines.append(f"  {result.last}")
    return "\n".join(lines) + "\n"


def _together(refused: Sequence[tuple[int, str]]) -> Iterator[str]:
    """Rows with their reasons; many rows that share one are told together."""
    rows: dict[str, list[int]] = {}
    for row, reason in refused:
        rows.setdefault(reason, []).append(row)
    for reason, those in rows.items():
        if len(those) <= _ALONE:
            yield from (f"row {row}: {reason}" for row in those)
        else:
            yield f"{len(those)} rows, {', '.join(map(str, those[:_ALONE]))}, …: {reason}"


def _listed(title: str, rows: list[str], count: int | None = None) -> list[str]:
    if not rows:
        return []
    more = [f"    … and {len(rows) - MOST_SHOWN} more"] if len(rows) > MOST_SHOWN else []
    told = len(rows) if count is None else count
    return [f"  {title} ({told})", *(f"    {row}" for row in rows[:MOST_SHOWN]), *more]
