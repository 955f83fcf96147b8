"""A sealed folder judged: its seal by the key, its files by the seal, its report and its lines by one another.

Lives here: one folder by itself.  Not here: sealing and proofs (`sealing`), numbers, other folders and the ledger
(`audit`), the finished pages (`vdp.verify`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import orjson

from vdp.audit.claims import MOST_REPORT, Claims, read_claims
from vdp.audit.seal import KEY_BYTES, Seal, public_line, read_public
from vdp.audit.several import Several
from vdp.audit.strict import count_of, text_of
from vdp.audit.tree import leaf_hash, root_of
from vdp.errors import Finding
from vdp.numbering.entry import Head
from vdp.run.folder import FILES, sha256_of
from vdp.run.sealing import DATA, PRIVATE, PUBLIC, SALTS, SEAL, lines_of, open_seal
from vdp.verify.doubt import Unreadable
from vdp.verify.rows import read_set_aside

REPORT, ASIDE = "report.json", "set_aside.csv"
_ROLL = re.compile(r"sheets-[0-9]{3}\.pdf")
#: What every run has; the other files are named in its report.
_ALWAYS = frozenset({REPORT, PUBLIC, "report.pdf", "pieces.pdf", ASIDE})
_LINE = frozenset({"piece", "row", "language", "serials", "symbols", "place", "sha256"})

#: Takes the place of a piece in its folder, from 1, and its line.
Take = Callable[[int, Mapping[str, Any]], None]


@dataclass(slots=True)
class Sealed:
    """A folder and what can be read of it.  `seal` and `claims` are None where there is none that can be read; `found`
    is everything but what `judge_lines` finds; `pieces` counts the lines that were read."""

    folder: Path
    seal: Seal | None = None
    claims: Claims | None = None
    found: list[Finding] = field(default_factory=list)
    salts: bytes | None = None
    with_data: bool = False
    pieces: int = 0

    @property
    def due(self) -> int:
        """How many pieces the report claims."""
        return self.claims.pieces if self.claims is not None else 0

    @property
    def heads(self) -> set[Head]:
        """The heads of ledgers that seal and report attest."""
        said = (
            self.seal.ledger if self.seal is not None else None,
            self.claims.ledger if self.claims is not None else None,
        )
        return {Head(head.seq, head.hash) for head in said if head is not None}

    def tell(self, code: str, name: str, message: str) -> None:
        self.found.append(Finding(code, str(self.folder / name) if name else str(self.folder), message))


def judge_seal(folder: Path, key: bytes | None, take: Take | None = None) -> Iterator[Finding]:
    """Everything in which a folder is not what its seal says, and a seal not what the key holder signed."""
    sealed = open_sealed(folder, key)
    yield from sealed.found
    yield from judge_lines(sealed, take)


def open_sealed(folder: Path, key: bytes | None) -> Sealed:
    """The folder with all but its lines judged; never raises for what is in it."""
    sealed = Sealed(folder)
    try:
        with (folder / REPORT).open("rb") as file:
            sealed.claims = read_claims(file.read(MOST_REPORT + 1))
    except (OSError, ValueError) as error:
        sealed.tell("file-unreadable", REPORT, f"it is not the report of a run: {_said(error)}")
    sealed.with_data = (folder / DATA).is_file()
    try:
        sealed.seal = open_seal(folder)
    except FileNotFoundError:
        sealed.tell("seal-missing", "", "the run was not sealed")
        return sealed
    except (OSError, ValueError) as error:
        sealed.tell("seal-broken", SEAL, f"it cannot be read: {_said(error)}")
        return sealed
    if key is None:
        sealed.tell("seal-unchecked", "", "no public key was given, so who sealed the run is not known")
    elif fault := sealed.seal.fault(key):
        sealed.tell("seal-broken", SEAL, fault)
    _files(sealed, sealed.seal)
    _strays(sealed, sealed.seal)
    _salts(sealed)
    _claims(sealed, sealed.seal)
    return sealed


def _said(error: Exception) -> str:
    return error.strerror or "" if isinstance(error, OSError) else str(error)


# -- files -------------------------------------------------------------------------------------------------------------


def _is_known(name: str) -> bool:
    """Whether a run has such a file: no other name is looked for, whatever a seal says."""
    return name in FILES or bool(_ROLL.fullmatch(name))


def _files(sealed: Sealed, seal: Seal) -> None:
    if set(seal.private) != set(PRIVATE) or not seal.files.keys() >= _ALWAYS or SEAL in seal.files:
        sealed.tell("seal-broken", SEAL, "it does not name the files that a sealer names")
    for name, told in {**seal.files, **seal.private}.items():
        path = sealed.folder / name if _is_known(name) else None
        if path is None:
            sealed.tell("seal-broken", SEAL, f"it names '{name[:60]}', which is no file of a run")
        elif path.is_symlink():
            sealed.tell("seal-differs", name, "it is a link, and no file of this folder")
        elif not path.is_file():
            if name not in PRIVATE:
                sealed.tell("seal-differs", name, "it was sealed, and is not there")
        else:
            _held(sealed, name, told)


def _held(sealed: Sealed, name: str, told: str) -> None:
    try:
        if sha256_of(sealed.folder / name) != told:
            sealed.tell("seal-differs", name, "it is not the file that was sealed")
    except OSError as error:
        sealed.tell("seal-differs", name, f"it cannot be read: {error.strerror}")


def _strays(sealed: Sealed, seal: Seal) -> None:
    own = {*seal.files, *seal.private, SEAL}
    for name in sorted(path.name for path in sealed.folder.iterdir()):
        if name not in own:
            sealed.tell("seal-stray", name, "it lies in the folder, and was not sealed")


def _salts(sealed: Sealed) -> None:
    """Without salts nobody can hold data against their hashes; without data nobody may be able to guess them."""
    path = sealed.folder / SALTS
    if not path.is_file():
        return
    if not sealed.with_data:
        sealed.tell("seal-salts", SALTS, f"{DATA} was removed, and can be guessed by the salts: remove these as well")
        return
    try:
        with path.open("rb") as file:
            salts = bytes.fromhex(file.read(100).decode("ascii"))
    except (OSError, ValueError):
        salts = b""
    if len(salts) == KEY_BYTES:
        sealed.salts = salts
    else:
        sealed.tell("file-unreadable", SALTS, "it is not the salts of a run")


# -- what the report claims --------------------------------------------------------------------------------------------


def _claims(sealed: Sealed, seal: Seal) -> None:
    """The seal against itself and against the report."""
    if seal.size != seal.pieces or seal.records != seal.pieces + seal.set_aside:
        sealed.tell("seal-differs", SEAL, "records, pieces and rows set aside do not add up in the seal")
    claims = sealed.claims
    if claims is None:
        return
    pairs: dict[str, tuple[Any, Any]] = {
        "job": (seal.job, claims.job),
        "run": (seal.run, claims.run),
        "count of records": (seal.records, claims.records),
        "count of pieces": (seal.pieces, claims.pieces),
        "count of rows set aside": (seal.set_aside, claims.set_aside),
        "ledger's head": (seal.ledger, claims.ledger),
        "reprint": (seal.reprint, claims.copied),
    }
    for what, (told, claimed) in pairs.items():
        if told != claimed:
            sealed.tell(
                "seal-report", SEAL, f"its {what} is not that of {REPORT}: {_short(told)}, not {_short(claimed)}"
            )
    aside = _rows_aside(sealed)
    if aside is not None and aside != claims.set_aside:
        sealed.tell("seal-report", ASIDE, f"it holds {aside:,} rows, {REPORT} tells of {claims.set_aside:,}")
    hashes = {**seal.files, **seal.private}
    for name, digest in claims.files.items():
        if hashes.get(name) != digest:
            sealed.tell("seal-report", REPORT, f"its hash of {name[:60]} is not that of the seal")
    for name in sorted((claims.sheets or frozenset()) - seal.files.keys()):
        sealed.tell("seal-report", REPORT, f"it tells of sheets in {name[:60]}, which was not sealed")
    if not claims.whole:
        sealed.tell("seal-report", REPORT, "it does not say that the run came to a good end, and the run was sealed")
    if claims.inputs_hash not in (None, claims.run):
        sealed.tell("seal-report", REPORT, "the run's name is not the hash of what it says went in")


def _rows_aside(sealed: Sealed) -> int | None:
    """How many rows were set aside; None where that cannot be read, which is told."""
    path = sealed.folder / ASIDE
    try:
        return len(read_set_aside(path)) if path.is_file() else None
    except Unreadable as doubt:
        sealed.tell("file-unreadable", ASIDE, str(doubt))
        return None


def _short(value: object) -> str:
    said = str(value)
    return said if len(said) <= 80 else said[:77] + "…"


# -- lines -------------------------------------------------------------------------------------------------------------


def judge_lines(sealed: Sealed, take: Take | None = None) -> Iterator[Finding]:
    """The lines of the folder in order, each given to `take`: the public ones where they are, held against the tree,
    against the report and, where data and salts are there, against pieces.jsonl."""
    public = sealed.folder / PUBLIC
    several = Several(str(public))
    leaves: list[bytes] = []
    data = _data_lines(sealed)
    try:
        if public.is_file():
            for raw in lines_of(public):
                leaves.append(leaf_hash(raw))
                _public_line(sealed, raw, data, several, take)
            if data is not None and next(data, None) is not None:
                several.tell("seal-lines", str(sealed.folder / DATA), "it has more lines than there are public ones")
        elif sealed.with_data:
            for raw in lines_of(sealed.folder / DATA):
                _counted(sealed, _line_of(orjson.loads(raw)), several, take)
    except (OSError, ValueError) as error:
        several.tell("file-unreadable", f"{public}, line {sealed.pieces + 1}", _said(error))
    yield from several.all()
    if sealed.seal is not None and public.is_file():
        yield from _tree(sealed, sealed.seal, leaves)


def _tree(sealed: Sealed, seal: Seal, leaves: list[bytes]) -> Iterator[Finding]:
    if seal.size != len(leaves) or seal.root != root_of(leaves).hex():
        where = str(sealed.folder / PUBLIC)
        yield Finding("seal-differs", where, "its lines do not make the tree that was sealed")


def _data_lines(sealed: Sealed) -> Iterator[bytes] | None:
    return lines_of(sealed.folder / DATA) if sealed.with_data and sealed.salts is not None else None


def _public_line(sealed: Sealed, raw: bytes, data: Iterator[bytes] | None, several: Several, take: Take | None) -> None:
    kept = _kept(sealed, raw, data, several) if data is not None else None
    line = kept if kept is not None else read_public(raw)
    _counted(sealed, _line_of(line), several, take)


def _kept(sealed: Sealed, raw: bytes, data: Iterator[bytes], several: Several) -> dict[str, Any] | None:
    """The piece's own line, where the public one was made of it; None, and a finding, where it was not."""
    where = f"{sealed.folder}, line {sealed.pieces + 1}"
    kept = next(data, None)
    if kept is None or sealed.salts is None:
        several.tell("seal-lines", where, f"{DATA} has no such line")
        return None
    try:
        line: dict[str, Any] = orjson.loads(kept)
        if public_line(line, sealed.salts) == raw:
            return line
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        several.tell("seal-lines", where, f"{DATA}: its line is no piece: {error}")
    else:
        several.tell("seal-lines", where, f"the public line is not that of {DATA}")
    return None


def _line_of(value: Any) -> dict[str, Any]:
    """Raises ValueError for what is no line of a piece."""
    if not isinstance(value, dict) or value.keys() != _LINE or not isinstance(value["serials"], dict):
        raise ValueError("it is no line of a piece")
    count_of(value["piece"])
    count_of(value["row"])
    for serial in value["serials"].values():
        text_of(serial)
    return value


def _counted(sealed: Sealed, line: dict[str, Any], several: Several, take: Take | None) -> None:
    sealed.pieces += 1
    due = sealed.claims.piece(sealed.pieces) if sealed.claims is not None else line["piece"]
    if line["piece"] != due:
        where = f"{sealed.folder}, line {sealed.pieces}"
        several.tell("seal-lines", where, f"it is of piece {line['piece']}, and should be of piece {due}")
    if sealed.claims is not None and (line["place"] is None) != (sealed.claims.sheets is None):
        several.tell(
            "seal-lines", f"{sealed.folder}, line {sealed.pieces}", "only a run with sheets has places on them"
        )
    if take is not None:
        take(sealed.pieces, line)
