"""A customer's answer to a proof: approved or returned, signed, and bound to the hash of what was proofed.

Lives here: the statement, its signature, the answers before it, reading them back; bytes in, bytes out.  Not here:
files and keys (`vdp.run.signoff`), what is approved (`basis`).

Signatures are Ed25519 (RFC 8032) over a context of their own and the canonical JSON (RFC 8785) of the statement, so
that a seal never counts as an approval, nor the other way round.  Nothing in the file is obeyed: who must have signed
is the caller's to say.

A file keeps every answer, the last one first: ``earlier`` are those before it, from the first on.  Each says which
answer it follows, by hash, so that none can be taken out or put in without the last signature's failing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vdp.audit.canonical import canonical
from vdp.audit.seal import KEY_BYTES, SIGNATURE_BYTES, public_key, signed_by
from vdp.audit.strict import read_strict, text_of
from vdp.proof.basis import proof_hash
from vdp.proof.comments import Comment, comment_from

VERSION = 1
CONTEXT = b"vdp approval 1\n"
#: Separates the hash of an answer that is followed from every other use of SHA-256.
_FOLLOWED = b"vdp answer 1\n"
#: The largest file that is read as one, in bytes, and the longest name that signs.
MOST, LONGEST_NAME = 10_000_000, 200

Decision = Literal["approved", "returned"]


@dataclass(frozen=True, slots=True)
class Answer:
    """`basis` is what was proofed (see `basis`), `name` who answers, `time` when (ISO 8601, UTC); `follows` is the hash
    of the answer before, "" for the first."""

    job: str
    decision: Decision
    basis: Mapping[str, Any]
    name: str
    time: str
    comments: tuple[Comment, ...] = ()
    follows: str = ""

    @property
    def proof(self) -> str:
        """The hash that the answer is bound to."""
        return proof_hash(self.basis)

    def as_json(self) -> dict[str, Any]:
        """The statement that is signed."""
        told = {
            "version": VERSION,
            "job": self.job,
            "decision": self.decision,
            "proof": self.proof,
            "name": self.name,
            "time": self.time,
            "comments": [comment.as_json() for comment in self.comments],
            "basis": dict(self.basis),
        }
        return told | ({"follows": self.follows} if self.follows else {})


@dataclass(frozen=True, slots=True)
class Signed:
    """An answer as it was read: not believed before `is_signed_by` says so.  `key` is the public key it names,
    `earlier` are the answers before it, from the first on."""

    answer: Answer
    statement: Mapping[str, Any]
    key: bytes
    signature: bytes
    earlier: tuple[Signed, ...] = ()

    def is_signed_by(self, key: bytes) -> bool:
        """Whether `key` signed it."""
        return signed_by(key, self.signature, _said(self.statement))

    @property
    def holds(self) -> bool:
        """Whether the key that it names signed it: what it says was not changed."""
        return self.is_signed_by(self.key)

    def as_json(self) -> dict[str, Any]:
        """The answer alone, as it is kept."""
        return {"approval": dict(self.statement), "public_key": self.key.hex(), "signature": self.signature.hex()}

    @property
    def sha256(self) -> str:
        """What the next answer says that it follows."""
        return hashlib.sha256(_FOLLOWED + canonical(self.as_json())).hexdigest()


def sign(answer: Answer, secret: bytes, before: Signed | None = None) -> dict[str, Any]:
    """approval.json: the statement, the public half of the 32-byte `secret`, the signature; and, where it follows
    `before`, every earlier answer."""
    statement = replace(answer, follows=before.sha256 if before is not None else "").as_json()
    signature = Ed25519PrivateKey.from_private_bytes(secret).sign(_said(statement))
    told = {"approval": statement, "public_key": public_key(secret).hex(), "signature": signature.hex()}
    if before is None:
        return told
    return told | {"earlier": [one.as_json() for one in (*before.earlier, before)]}


def read_answer(data: bytes) -> Signed:
    """The last answer, with those before it.  Raises ValueError for what is no approval.json, is not bound to the basis
    that it holds, or does not follow the earlier answers."""
    told = read_strict(data, MOST)
    try:
        earlier = tuple(_one(each) for each in _answers(told.get("earlier", [])))
        last = _one({name: value for name, value in told.items() if name != "earlier"})
    except (KeyError, TypeError, AttributeError, IndexError) as error:
        raise ValueError(f"it holds no answer: {type(error).__name__} {error}") from error
    follows = ""
    for one in (*earlier, last):
        if one.answer.follows != follows:
            raise ValueError("an answer before it was changed, taken out or put in")
        follows = one.sha256
    return replace(last, earlier=earlier)


def _answers(value: Any) -> Iterable[Any]:
    if not isinstance(value, list):
        raise TypeError("earlier answers are a list")
    return value


def _one(told: Any) -> Signed:
    """One answer with its signature.  Raises ValueError, and what odd values raise."""
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
        follows=text_of(statement.get("follows", "")),
    )
    key, signature = bytes.fromhex(told["public_key"]), bytes.fromhex(told["signature"])
    if len(key) != KEY_BYTES or len(signature) != SIGNATURE_BYTES:
        raise ValueError("its key or its signature has another length")
    if answer.as_json() != statement or len(told) != len(Signed(answer, statement, key, signature).as_json()):
        raise ValueError("it is not bound to what it says was proofed")
    return Signed(answer, statement, key, signature)


def _said(statement: Mapping[str, Any]) -> bytes:
    return CONTEXT + canonical(dict(statement))


def _decision(value: Any) -> Decision:
    if value == "approved":
        return "approved"
    if value == "returned":
        return "returned"
    raise ValueError(f"{value!r} is no decision")
