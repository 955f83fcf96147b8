"""The seal of a run: a signed statement of its files, its counts, and the root of a hash tree over its pieces.

Lives here: public lines, the statement and its signature, proofs for single pieces; all bytes in, bytes out.
Not here: files (`vdp.run.sealing`), the tree's arithmetic (`tree`).

A leaf is the canonical JSON (RFC 8785) of a piece's line in which each symbol's `data` has become a `data_hash`, so
that recipients' data can be removed later and the seal still holds.  `data_hash` is SHA-256 over a salt and the data;
salts come by HMAC from a key of their own, so nobody without it can try data out.  Signatures are Ed25519 (RFC 8032)
over the canonical JSON of the statement; algorithm and sizes are fixed here, and nothing in a seal is obeyed.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Mapping
from typing import Any

import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from vdp.audit.tree import included, leaf_hash

VERSION = 1
KEY_BYTES, SIGNATURE_BYTES = 32, 64
#: What separates a seal's signature from any other that the key may make.
CONTEXT = b"vdp seal 1\n"


def public_key(secret: bytes) -> bytes:
    """The public half of a 32-byte secret."""
    return Ed25519PrivateKey.from_private_bytes(secret).public_key().public_bytes_raw()


def salt_key(secret: bytes) -> bytes:
    """The key that salts come from: derived, so that it is worth nothing for signing."""
    return HKDF(hashes.SHA256(), 32, salt=None, info=b"vdp salts 1").derive(secret)


def public_line(line: Mapping[str, Any], salts: bytes) -> bytes:
    """A piece's line without data, in canonical form."""
    symbols = []
    for symbol in line["symbols"]:
        said = f"{line['piece']}\n{symbol['name']}".encode()
        salt = hmac.digest(salts, said, "sha256")
        told = {key: value for key, value in symbol.items() if key != "data"}
        symbols.append(told | {"data_hash": hashlib.sha256(salt + str(symbol["data"]).encode()).hexdigest()})
    return rfc8785.dumps({**line, "symbols": symbols})


def signed(statement: Mapping[str, Any], secret: bytes) -> dict[str, Any]:
    """seal.json: the statement, and who signed it."""
    key = Ed25519PrivateKey.from_private_bytes(secret)
    signature = key.sign(CONTEXT + rfc8785.dumps(dict(statement)))
    return {"seal": dict(statement), "public_key": public_key(secret).hex(), "signature": signature.hex()}


def is_signed_by(seal: Mapping[str, Any], key: bytes) -> bool:
    """Whether `key`, and no key that the seal names, signed its statement."""
    try:
        signature = bytes.fromhex(seal["signature"])
        if len(signature) != SIGNATURE_BYTES or len(key) != KEY_BYTES:
            return False
        Ed25519PublicKey.from_public_bytes(key).verify(signature, CONTEXT + rfc8785.dumps(seal["seal"]))
    except (InvalidSignature, KeyError, TypeError, ValueError, rfc8785.CanonicalizationError):
        return False
    return True


def proof_for(seal: Mapping[str, Any], line: bytes, index: int, path: list[bytes]) -> dict[str, Any]:
    """What shows, without the other pieces, that a piece was in the run."""
    return {
        "proof": VERSION,
        "index": index,
        "line": line.decode(),
        "path": [step.hex() for step in path],
        "seal": seal,
    }


def proves(proof: Mapping[str, Any], key: bytes) -> bool:
    """Whether a proof holds under `key`."""
    try:
        seal, line = proof["seal"], str(proof["line"]).encode()
        tree = seal["seal"]["tree"]
        path = [bytes.fromhex(step) for step in proof["path"]]
        index, size = proof["index"], tree["size"]
        whole = (
            type(index) is int and type(size) is int and all(len(step) == hashes.SHA256.digest_size for step in path)
        )
        root = bytes.fromhex(tree["root"])
    except (KeyError, TypeError, ValueError):
        return False
    return whole and is_signed_by(seal, key) and included(leaf_hash(line), index, size, path, root)
