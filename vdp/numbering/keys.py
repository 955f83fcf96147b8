"""Secret keys: read from a file or an environment variable, never from a job file; one key derived for each purpose.

Not here: signing keys (the seal's), what the keys are used for (`shuffle`, `series`).
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Mapping
from pathlib import Path

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from vdp.errors import CallerError

ENVIRONMENT = "env:"
#: Hexadecimal digits of 16, 24 and 32 bytes.
LENGTHS = (32, 48, 64)
_HEX = re.compile(r"[0-9A-Fa-f]+")
#: The longest file that is read: a key is 64 characters, and a wrong path may name anything.
_MOST = 4096


def read_key(said: str, where: str, folder: Path, environ: Mapping[str, str]) -> bytes:
    """The key that `said` points at: ``env:NAME``, or a file's path relative to `folder`.

    It is 16, 24 or 32 bytes in hexadecimal.  `where` is the place of `said`, for the message.  Raises CallerError for
    what is missing, malformed or readable by others, and for a key written out where only its place may stand.
    """
    if said.startswith(ENVIRONMENT):
        return key_from_environment(said.removeprefix(ENVIRONMENT), where, environ)
    if len(said) in LENGTHS and _HEX.fullmatch(said):
        raise CallerError.one(
            where,
            "this is a key itself, and whoever reads the job file would have it",
            "put it in a file of mode 0600 and name the file here, or write env:NAME; and make a new key",
        )
    return key_from_file(folder / said, where)


def key_from_environment(name: str, where: str, environ: Mapping[str, str]) -> bytes:
    """The key in environment variable `name`."""
    text = environ.get(name, "")
    if not text:
        raise CallerError.one(where, f"the environment variable '{name}' is not set", "it holds the key in hexadecimal")
    return _parse(text, f"environment variable {name}")


def key_from_file(path: Path, where: str) -> bytes:
    """The key in the file `path`, which only its owner may read or write (mode 0600 or less)."""
    mend = "name a file that holds the key in hexadecimal, readable by its owner alone"
    try:
        handle = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else "no such path"
        raise CallerError.one(where, f"the key file {path} cannot be read: {reason}", mend) from None
    try:
        # Of the opened file, not of the path: a path can be made to name another file in between.
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode):
            raise CallerError.one(where, f"the key file {path} is not a regular file", mend)
        mode = stat.S_IMODE(found.st_mode)
        if mode & 0o177:
            raise CallerError.one(
                where,
                f"the key file {path} has mode {mode:04o}, wider than 0600",
                f"chmod 600 {path}; and make a new key if others could have read it",
            )
        text = os.read(handle, _MOST)
    finally:
        os.close(handle)
    return _parse(text.decode("latin-1").strip(), f"key file {path}")


def derive(key: bytes, purpose: str, series: str) -> bytes:
    """32 bytes for one purpose and one series: HKDF-SHA-256 (RFC 5869) without salt.

    Series of one key then share no permutation, and no code of one holds in another.
    """
    info = b"vdp\x00" + purpose.encode() + b"\x00" + series.encode()
    return HKDF(algorithm=hashes.SHA256(), length=32, salt=None, info=info).derive(key)


def _parse(text: str, shown: str) -> bytes:
    """Never repeats the text: a mistyped key is still most of a key."""
    if not _HEX.fullmatch(text) or len(text) not in LENGTHS:
        raise CallerError.one(
            shown,
            f"a key is 32, 48 or 64 hexadecimal digits (16, 24 or 32 bytes); this has {len(text)} characters"
            + ("" if _HEX.fullmatch(text) else ", not all of them hexadecimal"),
        )
    return bytes.fromhex(text)
