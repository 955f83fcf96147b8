"""Sealing a finished run: keys in files, pieces.public.jsonl, pieces.salts, seal.json; and proofs for single pieces.

Not here: what a seal is (`vdp.audit.seal`), judging one (`sealed`).
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import orjson

from vdp.audit.proof import proof_for
from vdp.audit.seal import (
    KEY_BYTES,
    MOST_SEAL,
    Seal,
    public_key,
    public_line,
    read_seal,
    salt_key,
    signed,
    statement,
)
from vdp.audit.strict import written
from vdp.audit.tree import inclusion, leaf_hash, root_of
from vdp.errors import CallerError
from vdp.numbering.keys import key_from_file
from vdp.run.folder import present, put, sha256_of

SEAL, PUBLIC = "seal.json", "pieces.public.jsonl"
#: Hold recipients' data, and what they could be guessed by; may be removed after a time: their hashes are told apart.
DATA, SALTS = "pieces.jsonl", "pieces.salts"
PRIVATE = (DATA, SALTS)
#: Longest line of pieces that is read, in bytes.
MOST_LINE = 10_000_000
#: Largest key file that is read.
_MOST_KEY = 1024


def make_key(path: Path) -> Path:
    """A new signing key: the secret in `path`, for its owner alone, the public half beside it.  Returns the latter.

    Raises CallerError when either is there already, or cannot be written.
    """
    beside = path.with_name(path.name + ".public")
    secret = secrets.token_bytes(KEY_BYTES)
    try:
        for where, text, mode in ((path, secret.hex(), 0o600), (beside, public_key(secret).hex(), 0o644)):
            handle = os.open(where, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
            with os.fdopen(handle, "w") as file:
                file.write(text + "\n")
    except FileExistsError as error:
        raise CallerError.one(
            str(error.filename), "is there already", "a key is never overwritten: name another"
        ) from error
    except OSError as error:
        raise CallerError.one(str(path), f"cannot be written: {error.strerror}", "name another place") from error
    return beside


def read_public(path: Path) -> bytes:
    """Raises CallerError for what is no public key."""
    try:
        with path.open("rb") as file:
            key = bytes.fromhex(file.read(_MOST_KEY).decode("ascii").strip())
    except (OSError, ValueError) as error:
        raise CallerError.one(
            str(path), "is no public key", "name the .public file that vdp ledger key made"
        ) from error
    if len(key) != KEY_BYTES:
        raise CallerError.one(str(path), f"a public key has {KEY_BYTES} bytes, not {len(key)}", "name the .public file")
    return key


def read_secret(path: Path) -> bytes:
    """Raises CallerError for what is no signing key, and for one that others may read."""
    secret = key_from_file(path, "--key")
    if len(secret) != KEY_BYTES:
        raise CallerError.one(
            "--key", f"a signing key has {KEY_BYTES} bytes, not {len(secret)}", "vdp ledger key makes one"
        )
    return secret


def seal_run(folder: Path, key: Path) -> tuple[str, ...]:
    """Seals a folder whose report says that it is good; returns the files made.

    Raises CallerError for a key that others may read, and for a folder that is no good run's.
    """
    secret = read_secret(key)
    report = _good_report(folder)
    salts = salt_key(secret, report["run"])
    root, size = _put_public(folder, salts)
    put(folder / SALTS, salts.hex().encode() + b"\n", private=True)
    (folder / DATA).chmod(0o600)
    said = statement(
        job=report["job"],
        run=report["run"],
        counts=report,
        size=size,
        root=root,
        files={name: sha256_of(folder / name) for name in present(folder) if name not in (*PRIVATE, SEAL)},
        private={name: sha256_of(folder / name) for name in PRIVATE},
        ledger=(report["ledger"] or {}).get("head"),
        reprint=report["reprint"],
    )
    put(folder / SEAL, written(signed(said, secret)))
    return PUBLIC, SALTS, SEAL


def _good_report(folder: Path) -> dict[str, Any]:
    try:
        report: dict[str, Any] = json.loads((folder / "report.json").read_bytes())
        good = report["ok"] is True and report["composed"] is True
        _ = report["ledger"], report["reprint"], report["run"], report["job"]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CallerError.one(str(folder), "is not the folder of a run", "name one that vdp run made") from error
    if not good:
        raise CallerError.one(str(folder), "this run did not come to a good end: it is not sealed")
    return report


def _put_public(folder: Path, salts: bytes) -> tuple[bytes, int]:
    """Writes pieces.public.jsonl; the tree's root and size."""
    hashes: list[bytes] = []
    part = folder / (PUBLIC + ".part")
    try:
        with part.open("wb") as out:
            for raw in lines_of(folder / DATA):
                public = public_line(orjson.loads(raw), salts)
                out.write(public + b"\n")
                hashes.append(leaf_hash(public))
        part.replace(folder / PUBLIC)
    except (ValueError, KeyError, TypeError) as error:
        raise CallerError.one(str(folder / DATA), f"line {len(hashes) + 1} is no piece: {error}") from error
    except OSError as error:
        raise CallerError.one(str(folder), f"cannot be written: {error.strerror}", "free some space") from error
    finally:
        part.unlink(missing_ok=True)
    return root_of(hashes), len(hashes)


def lines_of(path: Path) -> Iterator[bytes]:
    """The lines of a file, without their ends.  Raises OSError, and ValueError for a line that is too long or not
    ended."""
    with path.open("rb") as file:
        while line := file.readline(MOST_LINE):
            if not line.endswith(b"\n"):
                raise ValueError("a line does not end, or is far too long")
            yield line[:-1]


def open_seal(folder: Path) -> Seal:
    """The seal of a folder.  Raises OSError, and ValueError for what is no seal."""
    with (folder / SEAL).open("rb") as file:
        return read_seal(file.read(MOST_SEAL + 1))


def prove(folders: Sequence[Path], serial: str) -> dict[str, Any]:
    """A proof that the piece with that serial was in one of the sealed runs.

    Raises CallerError when it was not, or was in several of them.
    """
    found: list[dict[str, Any]] = []
    for folder in folders:
        try:
            found.extend(_proofs(folder, serial))
        except (OSError, ValueError, KeyError, TypeError) as error:
            mend = "vdp run --key seals one; vdp audit tells what is wrong with it"
            raise CallerError.one(str(folder), "is no sealed run", mend) from error
    if not found:
        shown = ", ".join(map(str, folders))
        raise CallerError.one("--prove", f"no piece of {shown} has the serial '{serial}'", "is it of another run?")
    if len(found) > 1:
        raise CallerError.one("--prove", f"'{serial}' is on {len(found)} pieces of these runs", "name one run folder")
    return found[0]


def _proofs(folder: Path, serial: str) -> Iterator[dict[str, Any]]:
    seal, lines = open_seal(folder), list(lines_of(folder / PUBLIC))
    leaves = list(map(leaf_hash, lines))
    if root_of(leaves).hex() != seal.root:
        raise ValueError("its lines do not make the tree that was sealed")
    for index, line in enumerate(lines):
        if serial in orjson.loads(line)["serials"].values():
            yield proof_for(seal, line, index, inclusion(leaves, index))
