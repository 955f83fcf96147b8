"""A proof for one piece: that it was in a sealed run, without the other pieces, and what exactly is proved.

Not here: finding the piece in a folder (`vdp.run.sealing`), the tree's arithmetic (`tree`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from vdp.audit.canonical import read_canonical
from vdp.audit.seal import VERSION, Copied, Seal, seal_of
from vdp.audit.strict import count_of, hash_of, read_strict, table_of, text_of
from vdp.audit.tree import MOST_STEPS, included, leaf_hash

#: Largest proof that is read, in bytes.
MOST_PROOF = 1_000_000
#: What a leaf says, symbols aside.
_LINE = ("piece", "row", "language", "serials", "symbols", "place", "sha256")


@dataclass(frozen=True, slots=True)
class Proven:
    """What a proof came to.  Only of one that holds is anything told but `reason`: nothing else is to be believed.

    `index` is the leaf's, from 0; `pieces` the run's; `sha256` that of the piece's two content streams.
    """

    ok: bool
    reason: str = ""
    serials: Mapping[str, str] | None = None
    piece: int = 0
    row: int = 0
    sha256: str = ""
    place: Mapping[str, int] | None = None
    index: int = 0
    pieces: int = 0
    job: str = ""
    run: str = ""
    reprint: Copied | None = None
    public_key: str = ""

    def __bool__(self) -> bool:
        return self.ok

    def as_dict(self) -> dict[str, Any]:
        if not self.ok:
            return {"ok": False, "findings": [self._finding()]}
        return {
            "ok": True,
            "serials": dict(self.serials or {}),
            "piece": self.piece,
            "row": self.row,
            "sha256": self.sha256,
            "place": self.place,
            "index": self.index,
            "pieces": self.pieces,
            "job": self.job,
            "run": self.run,
            "reprint": None if self.reprint is None else self.reprint._asdict(),
            "public_key": self.public_key,
            "findings": [],
        }

    def _finding(self) -> dict[str, str]:
        return {"code": "proof-broken", "where": "proof", "message": self.reason}

    def as_text(self) -> str:
        if not self.ok:
            return f"it does NOT hold: {self.reason}\n"
        named = ", ".join(f"{series} {serial}" for series, serial in (self.serials or {}).items()) or "no serial"
        copy = "" if self.reprint is None else f", a reprint (copy {self.reprint.copy})"
        return (
            f"it holds: {named}\n"
            f"  is piece {self.piece} (row {self.row}), leaf {self.index + 1} of {self.pieces:,}\n"
            f"  of run {self.run}{copy}\n"
            f"  of job '{self.job}'\n"
            f"  sealed by key {self.public_key}\n"
        )


def proof_for(seal: Seal, line: bytes, index: int, path: Sequence[bytes]) -> dict[str, Any]:
    """What shows, without the other pieces, that a piece was in the run."""
    return {
        "proof": VERSION,
        "index": index,
        "line": line.decode(),
        "path": [step.hex() for step in path],
        "seal": seal.raw,
    }


class _Told(NamedTuple):
    """A proof as it was read; every field has its kind, nothing is believed yet."""

    seal: Seal
    leaf: int
    raw: bytes
    path: list[bytes]
    line: Mapping[str, Any]


def judge_proof(data: bytes, key: bytes) -> Proven:
    """A proof held against `key`, whatever its bytes are."""
    try:
        told = _read(data)
    except (ValueError, TypeError) as error:
        return Proven(False, f"it cannot be read: {error}")
    seal, line = told.seal, told.line
    if fault := seal.fault(key):
        return Proven(False, fault)
    if seal.size != seal.pieces:
        return Proven(False, "the seal counts other pieces than its tree")
    if not included(leaf_hash(told.raw), told.leaf, seal.size, told.path, bytes.fromhex(seal.root)):
        return Proven(False, "its hashes do not lead to the root that was sealed")
    return Proven(
        ok=True,
        serials=line["serials"],
        piece=line["piece"],
        row=line["row"],
        sha256=line["sha256"],
        place=line["place"],
        index=told.leaf,
        pieces=seal.pieces,
        job=seal.job,
        run=seal.run,
        reprint=seal.reprint,
        public_key=seal.public_key,
    )


def _read(data: bytes) -> _Told:
    """Raises ValueError for what is no proof."""
    told = table_of(read_strict(data, MOST_PROOF), "proof", "index", "line", "path", "seal")
    if told["proof"] != VERSION or type(told["proof"]) is not int:
        raise ValueError(f"it is no proof of version {VERSION}")
    if not isinstance(told["path"], list) or len(told["path"]) > MOST_STEPS:
        raise ValueError(f"a path has at most {MOST_STEPS} hashes")
    raw = text_of(told["line"]).encode()
    line = table_of(read_canonical(raw), *_LINE)
    for serial in table_of(line["serials"]).values():
        text_of(serial)
    for number in (line["piece"], line["row"], *table_of(line["place"] or {}).values()):
        count_of(number)
    hash_of(line["sha256"])
    path = [bytes.fromhex(hash_of(step)) for step in told["path"]]
    return _Told(seal_of(told["seal"]), count_of(told["index"]), raw, path, line)
