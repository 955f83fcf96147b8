"""The run folder: files appear whole or not at all, and their hashes are told."""

from __future__ import annotations

import errno
import fcntl
import hashlib
import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from vdp.errors import CallerError

#: Everything a run may put into its folder, in the order it is told.
FILES = (
    *("pieces.pdf", "sheets.pdf", "pieces.jsonl", "set_aside.csv", "report.json", "report.pdf"),
    *("ticket.xjdf", "packing.csv", "labels.pdf", "pieces.public.jsonl", "pieces.salts", "seal.json"),
)

_REPORTED, _SEALED = "report.json", "seal.json"

#: Files of a roll or a press, beside the one that is for all.
_APART = {
    "sheets.pdf": ("sheets-[0-9][0-9][0-9].pdf", "sheets-[0-9][0-9][0-9][0-9]*.pdf"),
    "ticket.xjdf": ("ticket-*.xjdf",),
}


def present(folder: Path) -> list[str]:
    """What of a run is in its folder, in the order it is told; files of one roll or press after that of the whole."""
    found = []
    for name in FILES:
        found += [name] if (folder / name).exists() else []
        found += sorted(path.name for pattern in _APART.get(name, ()) for path in folder.glob(pattern))
    return found


def sha256_of(path: Path) -> str:
    """SHA-256 of a file, in hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def prepare(folder: Path, *, run: bool = False) -> None:
    """Makes a folder: a run's own with `run`, else one for what is told of a run.

    Raises CallerError when it cannot be written to, or lies in a sealed run, whose seal it would break.
    """
    keep_out(folder, run=run)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        trial = folder / ".writable"
        trial.write_bytes(b"")
        trial.unlink()
    except OSError as error:
        raise CallerError.one(
            str(folder),
            "is a file, not a folder" if folder.is_file() else f"cannot be written to: {error.strerror}",
            "choose another folder with --out",
        ) from error


def keep_out(folder: Path, *, run: bool = False) -> None:
    """Raises CallerError for a place in a sealed run: whatever is put there breaks its seal."""
    whole = folder.absolute()
    for place in whole.parents if run else (whole, *whole.parents):
        if (place / _SEALED).exists() and (place / _REPORTED).exists():
            message = f"{'is' if place == whole else 'lies in'} a sealed run, and anything more in it breaks the seal"
            raise CallerError.one(str(folder), message, "choose a folder beside the run's")


def spare_sealed(folder: Path, run: Callable[[], str]) -> None:
    """Raises CallerError where the folder holds the sealed run of another name: it is evidence, and may be printed."""
    if not (folder / _SEALED).exists():
        return
    try:
        held_run = str(json.loads((folder / _REPORTED).read_bytes())["run"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        held_run = "of a report that cannot be read"
    if held_run != run():
        message = f"holds the sealed run {held_run[:12]}…, which this one would replace"
        raise CallerError.one(str(folder), message, "choose another folder with --out, or move that one")


def owners_own(path: str, flags: int) -> int:
    """Opens a file that its owner alone may read (an `opener`): recipients' data, or a key."""
    handle = os.open(path, flags, 0o600)
    os.fchmod(handle, 0o600)
    return handle


def put(path: Path, data: bytes, *, private: bool = False) -> None:
    """Writes a file aside, flushes it to disk, then renames it into place.  Raises CallerError on a full disk."""
    part = path.with_name(path.name + ".part")
    try:
        if path.exists() and not path.is_file():
            raise FileExistsError(errno.EEXIST, "something that is no plain file stands there")
        with open(part, "wb", opener=owners_own if private else None) as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        full = error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EIO)
        mend = "free some space" if full else "choose another place"
        raise CallerError.one(str(path), f"cannot be written: {error.strerror}", mend) from error


def put_json(path: Path, value: Mapping[str, Any]) -> None:
    """A JSON file people can read: two spaces, UTF-8, keys in the order given."""
    put(path, in_json(value))


def in_json(value: Mapping[str, Any]) -> bytes:
    """What `put_json` writes."""
    return json.dumps(value, ensure_ascii=False, indent=2).encode() + b"\n"


def clear(folder: Path, names: Iterable[str]) -> None:
    """Removes what an earlier run left, so that a folder never mixes two runs."""
    for name in names:
        for path in (folder / name, folder / f"{name}.part"):
            try:
                path.unlink(missing_ok=True)
            except OSError as error:
                raise CallerError.one(
                    str(path),
                    f"stands where a file of the run goes: {error.strerror}",
                    "move it, or choose another --out",
                ) from error


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Holds the folder, so that two runs never write into it at once.  Raises CallerError when another run does."""
    with (folder / ".lock").open("wb") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise CallerError.one(
                str(folder), "another run is writing into it", "wait for it, or choose another folder with --out"
            ) from error
        try:
            yield
        finally:
            (folder / ".lock").unlink(missing_ok=True)
