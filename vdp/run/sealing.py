"""Sealing a finished run, and judging seals: keys in files, pieces.public.jsonl, seal.json, proofs for single pieces.

Not here: what a seal is (`vdp.audit.seal`).
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from vdp.audit.manifest import read_lines
from vdp.audit.seal import KEY_BYTES, VERSION, is_signed_by, proof_for, public_key, public_line, salt_key, signed
from vdp.audit.tree import inclusion, leaf_hash, root_of
from vdp.errors import CallerError, Finding
from vdp.numbering.keys import key_from_file
from vdp.run.folder import present, put_json, sha256_of

SEAL, PUBLIC = "seal.json", "pieces.public.jsonl"
#: Holds recipients' data, and may be removed after a time: its hash is told apart.
PRIVATE = "pieces.jsonl"
#: Largest seal that is read, in bytes.
MOST = 10_000_000


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
        key = bytes.fromhex(path.read_text(encoding="ascii").strip())
    except (OSError, ValueError) as error:
        raise CallerError.one(
            str(path), "is no public key", "name the .public file that vdp ledger key made"
        ) from error
    if len(key) != KEY_BYTES:
        raise CallerError.one(str(path), f"a public key has {KEY_BYTES} bytes, not {len(key)}", "name the .public file")
    return key


def seal_run(folder: Path, key: Path) -> tuple[str, str]:
    """Seals a folder whose report says that it is good; returns the files made.

    Raises CallerError for a key that others may read.
    """
    secret = key_from_file(key, "--key")
    if len(secret) != KEY_BYTES:
        raise CallerError.one(
            "--key", f"a signing key has {KEY_BYTES} bytes, not {len(secret)}", "vdp ledger key makes one"
        )
    (folder / PRIVATE).chmod(0o600)
    salts = salt_key(secret)
    hashes = []
    part = folder / (PUBLIC + ".part")
    with part.open("wb") as out:
        for line in read_lines(folder / PRIVATE):
            public = public_line(line, salts)
            out.write(public + b"\n")
            hashes.append(leaf_hash(public))
    part.replace(folder / PUBLIC)
    report = json.loads((folder / "report.json").read_bytes())
    files = {name: sha256_of(folder / name) for name in present(folder) if name not in (PRIVATE, SEAL)}
    statement = {
        "version": VERSION,
        "job": report["job"],
        "run": report["run"],
        "counts": {key: report[key] for key in ("records", "pieces", "set_aside")},
        "tree": {"size": len(hashes), "root": root_of(hashes).hex()},
        "files": files,
        "private": {PRIVATE: sha256_of(folder / PRIVATE)},
        "ledger": (report.get("ledger") or {}).get("head"),
    }
    put_json(folder / SEAL, signed(statement, secret))
    return PUBLIC, SEAL


def read_seal(path: Path) -> dict[str, Any]:
    """Raises ValueError for what is no seal."""
    if path.stat().st_size > MOST:
        raise ValueError(f"it is larger than {MOST:,} bytes")
    seal = json.loads(path.read_bytes())
    statement = seal["seal"]
    if statement["version"] != VERSION:
        raise ValueError(f"it is a seal of version {statement['version']}")
    for part in ("files", "private", "tree", "counts"):
        if not isinstance(statement[part], dict):
            raise TypeError(f"its {part} are none")
    return dict(seal)


def judge_seal(folder: Path, key: bytes | None) -> Iterator[Finding]:
    """Everything in which a folder is not what its seal says, and a seal not what the key holder signed."""
    where = str(folder)
    try:
        seal = read_seal(folder / SEAL)
    except FileNotFoundError:
        yield Finding("seal-missing", where, "the run was not sealed")
        return
    except (OSError, ValueError, KeyError, TypeError) as error:
        yield Finding("seal-broken", where, f"seal.json cannot be read: {type(error).__name__} {error}")
        return
    if key is None:
        yield Finding("seal-unchecked", where, "no public key was given, so who sealed the run is not known")
    elif not is_signed_by(seal, key):
        yield Finding("seal-broken", where, "the key given did not sign this seal")
    statement = seal["seal"]
    yield from _files(folder, statement)
    yield from _pieces(folder, statement)


def _files(folder: Path, statement: dict[str, Any]) -> Iterator[Finding]:
    for name, told in {**statement["files"], **statement["private"]}.items():
        path = folder / str(name)
        if "/" in str(name) or "\\" in str(name):
            yield Finding("seal-broken", str(folder), f"it names '{name}', which is no file of the folder")
        elif not path.is_file():
            if name not in statement["private"]:
                yield Finding("seal-differs", str(path), "it was sealed, and is not there")
        elif sha256_of(path) != told:
            yield Finding("seal-differs", str(path), "it is not the file that was sealed")
    for name in present(folder):
        if name != SEAL and name not in statement["files"] and name not in statement["private"]:
            yield Finding("seal-differs", str(folder / name), "it is there, and was not sealed")


def _pieces(folder: Path, statement: dict[str, Any]) -> Iterator[Finding]:
    try:
        leaves = [leaf_hash(line) for line in _lines(folder / PUBLIC)]
    except OSError:
        return  # that it is missing was told
    tree, counts = statement["tree"], statement["counts"]
    if tree.get("size") != len(leaves) or tree.get("root") != root_of(leaves).hex():
        yield Finding("seal-differs", str(folder / PUBLIC), "its lines do not make the tree that was sealed")
    if counts.get("pieces") != len(leaves) or counts.get("records") != len(leaves) + counts.get("set_aside", 0):
        yield Finding("seal-differs", str(folder), "records, pieces and rows set aside do not add up in the seal")


def _lines(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        for line in file:
            yield line.rstrip(b"\n")


def prove(folder: Path, serial: str) -> dict[str, Any]:
    """A proof that the piece with that serial was in the sealed run.  Raises CallerError when it was not."""
    try:
        seal = read_seal(folder / SEAL)
        lines = list(_lines(folder / PUBLIC))
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CallerError.one(str(folder), "is no sealed run", "vdp run --key seals one") from error
    for index, line in enumerate(lines):
        if serial in json.loads(line)["serials"].values():
            return proof_for(seal, line, index, inclusion([leaf_hash(each) for each in lines], index))
    raise CallerError.one("--prove", f"no piece of {folder} has the serial '{serial}'", "is it of another run?")
