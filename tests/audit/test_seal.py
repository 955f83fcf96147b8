"""Signatures against RFC 8032's own vectors; what a seal is and what is none."""

from __future__ import annotations

from typing import Any

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from tests.audit.vectors import vectors
from vdp.audit.seal import CONTEXT, data_hash, public_key, public_line, read_seal, salt_key, seal_of, signed, statement
from vdp.audit.strict import written

SECRET = b"\x05" * 32
HASH = "ab" * 32


def said(**more: Any) -> dict[str, Any]:
    told = statement(
        job="Small",
        run=HASH,
        counts={"records": 3, "pieces": 2, "set_aside": 1, "symbols": 9},
        size=2,
        root=b"\0" * 32,
        files={"report.json": HASH},
        private={},
        ledger={"seq": 4, "hash": HASH},
        reprint=None,
    )
    return {**told, **more}


@pytest.mark.parametrize("vector", vectors("rfc8032")["vectors"], ids=lambda vector: vector["name"])
def test_published_signatures(vector: dict[str, str]) -> None:
    secret, message = bytes.fromhex(vector["secret"]), bytes.fromhex(vector["message"])
    assert public_key(secret).hex() == vector["public"]
    assert Ed25519PrivateKey.from_private_bytes(secret).sign(message).hex() == vector["signature"]
    key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(vector["public"]))
    key.verify(bytes.fromhex(vector["signature"]), message)
    with pytest.raises(InvalidSignature):
        key.verify(bytes.fromhex(vector["signature"]), CONTEXT + message)


def test_a_seal_is_read_as_it_was_signed() -> None:
    seal = read_seal(written(signed(said(), SECRET)))
    assert seal.fault(public_key(SECRET)) == ""
    assert (seal.job, seal.run, seal.records, seal.pieces, seal.set_aside, seal.size) == ("Small", HASH, 3, 2, 1, 2)
    assert seal.ledger == (4, HASH)
    assert seal.fault(public_key(b"\6" * 32)) == "it names another key than the one given"
    assert "32 bytes" in seal.fault(b"")


@pytest.mark.parametrize(
    "more",
    [
        {"version": 1}, {"version": True}, {"job": None}, {"run": "AB" * 32}, {"run": HASH + "\n"},
        {"counts": {"records": 3, "pieces": 2}}, {"counts": {"records": True, "pieces": 2, "set_aside": 1}},
        {"counts": {"records": 2**53, "pieces": 2, "set_aside": 1}}, {"tree": {"size": -1, "root": HASH}},
        {"tree": {"size": 2, "root": HASH, "more": 1}}, {"files": [HASH]}, {"files": {"a": "no"}}, {"private": None},
        {"ledger": {"seq": "4", "hash": HASH}}, {"ledger": {}}, {"reprint": {}}, {"more": 1},
        {"reprint": {"of": HASH, "origin": HASH, "copy": 2, "numbers": "other"}},
    ],
    ids=str,
)  # fmt: skip
def test_what_is_no_statement_is_refused_though_it_is_signed(more: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        seal_of(signed(said(**more), SECRET))


def test_a_seal_without_reprint_is_none() -> None:
    told = said()
    del told["reprint"]
    with pytest.raises(ValueError, match="missing or too many: 'reprint'"):
        seal_of(signed(told, SECRET))


def test_hashes_of_data_depend_on_everything_but_nothing_else() -> None:
    salts = salt_key(SECRET, HASH)
    one = data_hash(salts, 1, 0, "gate", "V1")
    assert one == data_hash(salts, 1, 0, "gate", "V1")
    others = {
        data_hash(salts, 2, 0, "gate", "V1"),
        data_hash(salts, 1, 1, "gate", "V1"),
        data_hash(salts, 1, 0, "bars", "V1"),
        data_hash(salts, 1, 0, "gate", "V2"),
        data_hash(salt_key(SECRET, "cd" * 32), 1, 0, "gate", "V1"),
        data_hash(salt_key(b"\6" * 32, HASH), 1, 0, "gate", "V1"),
    }
    assert len(others - {one}) == 6


@pytest.mark.parametrize("line", [{}, {"piece": -1}, {"piece": 1, "serials": {}, "place": None, "symbols": [{}]}])
def test_what_is_no_line_has_no_public_one(line: dict[str, Any]) -> None:
    with pytest.raises((ValueError, KeyError, TypeError)):
        public_line(line, SECRET)
