"""The seal of a run: a signed statement of its files, its counts, and the root of a hash tree over its pieces.

Lives here: public lines, the statement and its signature; all bytes in, bytes out.  Not here: files
(`vdp.run.sealing`), the tree's arithmetic (`tree`), proofs for single pieces (`proof`).

A leaf is the canonical JSON (RFC 8785) of a piece's line in which each symbol's `data` has become a `data_hash`, so
that recipients' data can be removed later and the seal still holds.  `data_hash` is SHA-256 over a salt and the data;
salts come by HMAC from a key that each run has for itself, so nobody without it can try data out, and equal data of two
runs have nothing in common.  Signatures are Ed25519 (RFC 8032) over the canonical JSON of the statement; algorithm and
sizes are fixed here, and nothing in a seal is obeyed.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import orjson
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from vdp.audit.canonical import canonical, plain, read_canonical, sorted_json
from vdp.audit.strict import count_of, hash_of, read_strict, table_of, text_of, written

VERSION = 2
KEY_BYTES, SIGNATURE_BYTES = 32, 64
#: What separates a seal's signature from any other that the key may make.
CONTEXT = b"vdp seal 2\n"
#: Largest seal that is read, in bytes.
MOST_SEAL = 1_000_000
_SIGNATURE = re.compile(r"[0-9a-f]{128}")
_LINE = frozenset({"piece", "row", "language", "serials", "symbols", "place", "sha256"})
_SYMBOL = frozenset({"name", "symbology", "identifier", "plate", "page", "box", "data_hash"})
_PLACE = frozenset({"roll", "frame", "lane", "along"})


def public_key(secret: bytes) -> bytes:
    """The public half of a 32-byte secret."""
    return Ed25519PrivateKey.from_private_bytes(secret).public_key().public_bytes_raw()


def signed_by(key: bytes, signature: bytes, message: bytes) -> bool:
    """Whether the holder of a public key signed a message (Ed25519, RFC 8032)."""
    try:
        Ed25519PublicKey.from_public_bytes(key).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


# -- lines without data ------------------------------------------------------------------------------------------------


def salt_key(secret: bytes, run: str) -> bytes:
    """The key that one run's salts come from: derived, so that it is worth nothing for signing, nor for other runs."""
    return HKDF(hashes.SHA256(), 32, salt=None, info=b"vdp salts 2\n" + run.encode()).derive(secret)


def data_hash(salts: bytes, piece: int, at: int, name: str, data: str) -> str:
    """What stands for the data of the symbol that is `at`th (from 0) of a piece."""
    salt = hmac.digest(salts, f"{piece}\n{at}\n{name}".encode(), "sha256")
    return hashlib.sha256(salt + data.encode()).hexdigest()


def public_line(line: Mapping[str, Any], salts: bytes) -> bytes:
    """A piece's line without data, in canonical form.  Raises ValueError, KeyError or TypeError for what is no line."""
    piece, symbols, fast = count_of(line["piece"]), [], _is_plain(line)
    for at, symbol in enumerate(line["symbols"]):
        told = dict(symbol)
        told["data_hash"] = data_hash(salts, piece, at, text_of(told["name"]), text_of(told.pop("data")))
        box = [plain(edge) for edge in told["box"]]
        fast = fast and None not in box and told.keys() == _SYMBOL and type(told["page"]) is int
        if fast:
            told["box"] = box
        symbols.append(told)
    public = {**line, "symbols": symbols}
    return sorted_json(public) if fast else canonical(public)


def read_public(raw: bytes) -> Any:
    """A public line.  Raises ValueError for a text that is not canonical, or no JSON."""
    line = orjson.loads(raw)
    try:
        fast = _is_plain(line) and all(map(_is_plain_symbol, line["symbols"]))
    except (KeyError, TypeError, AttributeError, ValueError):
        fast = False  # it is no line, as whoever asked will see
    return line if fast and sorted_json(line) == raw else read_canonical(raw)


def _is_plain(line: Mapping[str, Any]) -> bool:
    """Whether a line holds, symbols aside, what the fast way writes canonically: ASCII keys, whole numbers."""
    place = line["place"]
    return (
        line.keys() == _LINE
        and all(map(str.isascii, line["serials"]))
        and type(line["row"]) is int
        and (place is None or (place.keys() == _PLACE and all(type(value) is int for value in place.values())))
    )


def _is_plain_symbol(symbol: Mapping[str, Any]) -> bool:
    if symbol.keys() != _SYMBOL or type(symbol["page"]) is not int:
        return False
    return all(type(short := plain(edge)) is type(edge) and short == edge for edge in symbol["box"])


# -- the statement -----------------------------------------------------------------------------------------------------


class Copied(NamedTuple):
    """What a seal says of a reprint: the run whose copies it makes good, the first printing, which copy it is (from
    1), and whether its numbers are the same or replaced."""

    of: str
    origin: str
    copy: int
    numbers: str


class HeadSaid(NamedTuple):
    """The ledger's head that a run attests."""

    seq: int
    hash: str


@dataclass(frozen=True, slots=True)
class Seal:
    """A seal as it was read; every field has its kind, nothing is believed yet."""

    job: str
    run: str
    records: int
    pieces: int
    set_aside: int
    size: int
    root: str
    files: Mapping[str, str]
    private: Mapping[str, str]
    ledger: HeadSaid | None
    reprint: Copied | None
    public_key: str
    signature: str
    raw: Mapping[str, Any]

    def fault(self, key: bytes) -> str:
        """Why `key` did not make this seal; empty when it did."""
        if len(key) != KEY_BYTES:
            return f"a public key has {KEY_BYTES} bytes, not {len(key)}"
        if self.public_key != key.hex():
            return "it names another key than the one given"
        try:
            good = signed_by(key, bytes.fromhex(self.signature), CONTEXT + canonical(self.raw["seal"]))
        except ValueError:
            good = False
        return "" if good else "the key given did not sign it"


def statement(
    *,
    job: str,
    run: str,
    counts: Mapping[str, int],
    size: int,
    root: bytes,
    files: Mapping[str, str],
    private: Mapping[str, str],
    ledger: Mapping[str, Any] | None,
    reprint: Mapping[str, Any] | None,
) -> dict[str, Any]:
    """What is signed; `counts` are those of the report, `ledger` and `reprint` as it tells them."""
    return {
        "version": VERSION,
        "job": job,
        "run": run,
        "counts": {key: counts[key] for key in ("records", "pieces", "set_aside")},
        "tree": {"size": size, "root": root.hex()},
        "files": dict(files),
        "private": dict(private),
        "ledger": None if ledger is None else {key: ledger[key] for key in HeadSaid._fields},
        "reprint": None if reprint is None else {key: reprint[key] for key in Copied._fields},
    }


def signed(said: Mapping[str, Any], secret: bytes) -> dict[str, Any]:
    """The statement, and who signed it.  seal.json is this, as `written` writes it."""
    signature = Ed25519PrivateKey.from_private_bytes(secret).sign(CONTEXT + canonical(dict(said)))
    return {"seal": dict(said), "public_key": public_key(secret).hex(), "signature": signature.hex()}


def read_seal(data: bytes) -> Seal:
    """seal.json, byte for byte as a sealer writes it.  Raises ValueError for anything else."""
    value = read_strict(data, MOST_SEAL)
    seal = seal_of(value)
    if written(value) != data:
        raise ValueError("its bytes are not those that a sealer writes")
    return seal


def seal_of(value: Any) -> Seal:
    """Raises ValueError for what is no seal."""
    whole = table_of(value, "seal", "public_key", "signature")
    said = table_of(whole["seal"])
    if said.get("version") != VERSION or type(said["version"]) is not int:
        raise ValueError(f"it is no seal of version {VERSION}")
    table_of(said, "version", "job", "run", "counts", "tree", "files", "private", "ledger", "reprint")
    counts = table_of(said["counts"], "records", "pieces", "set_aside")
    tree = table_of(said["tree"], "size", "root")
    if not _SIGNATURE.fullmatch(text_of(whole["signature"])):
        raise ValueError("its signature is none")
    return Seal(
        job=text_of(said["job"]),
        run=hash_of(said["run"]),
        records=count_of(counts["records"]),
        pieces=count_of(counts["pieces"]),
        set_aside=count_of(counts["set_aside"]),
        size=count_of(tree["size"]),
        root=hash_of(tree["root"]),
        files={name: hash_of(digest) for name, digest in table_of(said["files"]).items()},
        private={name: hash_of(digest) for name, digest in table_of(said["private"]).items()},
        ledger=head_of(said["ledger"]),
        reprint=_copied(said["reprint"]),
        public_key=hash_of(whole["public_key"]),
        signature=whole["signature"],
        raw=whole,
    )


def head_of(value: Any) -> HeadSaid | None:
    """Raises ValueError for what is no head of a ledger."""
    if value is None:
        return None
    told = table_of(value, *HeadSaid._fields)
    return HeadSaid(count_of(told["seq"]), hash_of(told["hash"]))


def _copied(value: Any) -> Copied | None:
    return None if value is None else copied_of(table_of(value, *Copied._fields))


def copied_of(told: Mapping[str, Any]) -> Copied:
    """Raises ValueError or KeyError for what tells of no reprint."""
    if told["numbers"] not in ("same", "replaced"):
        raise ValueError("a reprint's numbers are the same or replaced")
    return Copied(hash_of(told["of"]), hash_of(told["origin"]), count_of(told["copy"]), told["numbers"])
