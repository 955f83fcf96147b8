"""A customer's answer to a proof: approved or returned, signed, and bound to the hash of what was proofed.

Lives here: the statement, its signature, reading it back; bytes in, bytes out.  Not here: files and keys
(`vdp.run.signoff`), what is approved (`basis`).

Signatures are Ed25519 (RFC 8032) over a context of their own and the canonical JSON (RFC 8785) of the statement, so
that a seal never counts as an approval, nor the other way round.  Nothing in the file is obeyed: who must have signed
is the caller's to say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vdp.audit.canonical import canonical
from vdp.audit.seal import KEY_BYTES, SIGNATURE_BYTES, public_key, signed_by
from vdp.audit.strict import read_strict, text_of
from vdp.proof.basis import proof_hash
from vdp.proof.comments import Comment, comment_from

VERSION = 1
CONTEXT = b"vdp approval 1\n"
#: The largest file that is read as one, in bytes, and the longest name that signs.
MOST, LONGEST_NAME = 10_000_000, 200

Decision = Literal["approved", "returned"]


@dataclass(frozen=True, slots=True)
class Answer:
    """`basis` is what was proofed (see `basis`), `name` who answers, `time` when (ISO 8601, UTC)."""

    job: str
    decision: Decision
    basis: Mapping[str, Any]
    name: str
    time: str
    comments: tuple[Comment, ...] = ()

    @property
    def proof(self) -> str:
        """The hash that the answer is bound to."""
        return proof_hash(self.basis)

    def as_json(self) -> dict[str, Any]:
        """The statement that is signed."""
        return {
            "version": VERSION,
            "job": self.job,
            "decision": self.decision,
            "proof": self.proof,
            "name": self.name,
            "time": self.time,
            "comments": [comment.as_json() for comment in self.comments],
            "basis": dict(self.basis),
        }


@dataclass(frozen=True, slots=True)
class Signed:
    """An answer as it was read: not believed before `is_signed_by` says so.  `key` is the public key it names."""

    answer: Answer
    statement: Mapping[str, Any]
    key: bytes
    signature: bytes

    def is_signed_by(self, key: bytes) -> bool:
        """Whether `key` signed it."""
        return signed_by(key, self.signature, _said(self.statement))


def sign(answer: Answer, secret: bytes) -> dict[str, Any]:
    """approval.json: the statement, the public half of the 32-byte `secret`, the signature."""
    statement = answer.as_json()
    signature = Ed25519PrivateKey.from_private_bytes(secret).sign(_said(statement))
    return {"approval": statement, "public_key": public_key(secret).hex(), "signature": signature.hex()}


def read_answer(data: bytes) -> Signed:
    """Raises ValueError for what is no approval.json, or is not bound to the basis that it holds."""
    told = read_strict(data, MOST)
    try:
        statement = told["approval"]
        if statement["version"] != VERSION:
            raise ValueError(f"it is of version {statement['version']}")
        answer = Answer(
            job=text_of(statement["job"]),
            decision=_decision(statement["decision"]),
            basis=dict(statement["basis"]),
            name=text_of(statement["name"]),
            time=text_of(statement["time"]),
            comments=tuple(comment_from(comment) for comment in statement["comments"]),
        )
        key, signature = bytes.fromhex(told["public_key"]), bytes.fromhex(told["signature"])
        if len(key) != KEY_BYTES or len(signature) != SIGNATURE_BYTES:
            raise ValueError("its key or its signature has another length")
        if answer.as_json() != statement:
            raise ValueError("it is not bound to what it says was proofed")
    except (KeyError, TypeError, AttributeError, IndexError) as error:
        raise ValueError(f"it holds no answer: {type(error).__name__} {error}") from error
    return Signed(answer, statement, key, signature)


def _said(statement: Mapping[str, Any]) -> bytes:
    return CONTEXT + canonical(dict(statement))


def _decision(value: Any) -> Decision:
    if value == "approved":
        return "approved"
    if value == "returned":
        return "returned"
    raise ValueError(f"{value!r} is no decision")
