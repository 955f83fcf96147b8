"""Sign-off: a job approved or returned, kept beside the job, and held against the run that is to be made under it.

Not here: what an approval is (`vdp.proof.approval`), what it is bound to (`basis`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import Any

from vdp.audit.seal import KEY_BYTES
from vdp.errors import CallerError, Fault, Finding
from vdp.job.load import Job
from vdp.numbering.keys import key_from_file
from vdp.proof.approval import LONGEST_NAME, MOST, Answer, Decision, Signed, read_answer, sign
from vdp.proof.basis import LEAST, SHORT, changes
from vdp.proof.comments import Comment, check_comments
from vdp.run.basis import basis_before, basis_of
from vdp.run.desk import Desk
from vdp.run.expected import Expected
from vdp.run.folder import in_json, put_json, sha256_of
from vdp.run.intake import Intake
from vdp.run.numbers import Numbers
from vdp.run.opening import Opened
from vdp.run.sealing import read_public
from vdp.units import mm

APPROVAL = "approval.json"


@dataclass(frozen=True, slots=True)
class Approved:
    """An approval that a run is to be made under: where it is, whether a public key was given to judge it by."""

    path: Path
    signed: Signed
    checked: bool

    def as_json(self) -> dict[str, Any]:
        """For report.json; `answer` is the hash of the answer alone, which stays when others follow it in the file."""
        answer = self.signed.answer
        return {
            "proof": answer.proof,
            "name": answer.name,
            "time": answer.time,
            "public_key": self.signed.key.hex(),
            "key_given": self.checked,
            "sha256": sha256_of(self.path),
            "answer": self.signed.sha256,
        }

    def warnings(self) -> list[Finding]:
        if self.checked:
            return []
        message = f"signed by key {self.signed.key.hex()[:SHORT]}…; whose key that is, was not asked"
        return [Finding("approval-unchecked", str(self.path), message)]


def approval_place(job: Job, said: Path | None) -> Path:
    """Where the job's approval is kept: beside the job file, unless another place is said."""
    return said if said is not None else job.folder / APPROVAL


def last_answer(job: Job, said: Path | None = None) -> Signed | None:
    """The answer to the last proof of this job, whoever signed it; None where there is none, or of another job.

    Raises CallerError for a file that is no answer.
    """
    path = approval_place(job, said)
    if not path.exists():
        return None
    signed = _read(path)
    return signed if signed.answer.job == job.model.job else None


def sign_off(
    expected: Expected,
    decision: Decision,
    *,
    key: Path,
    name: str,
    desk: Desk,
    comments: Sequence[Comment] = (),
    seen: str | None = None,
    place: Path | None = None,
) -> Path:
    """Signs and keeps the answer, with the earlier ones of the same job after it; returns its file.

    `seen` is the hash on the proof that was looked at, or its beginning.  Raises CallerError, and keeps nothing, when
    it is another proof's, when something would stop the run, for a key that others may read, for comments that do not
    go with the decision or with the pieces, and where the approval of another job is kept.
    """
    job = expected.opened.job
    path = approval_place(job, place)
    faults = [*_words(decision, name, comments), *_not_seen(expected, seen), *_stopping(expected, decision)]
    faults += _of_another_job(path, job)
    try:
        trim = job.layout.trim
        check_comments(list(comments), expected.intake.pieces, (mm(trim[0]), mm(trim[1])))
    except CallerError as error:
        faults += error.faults
    if faults:
        raise CallerError(faults)
    secret = key_from_file(key, "--key")
    if len(secret) != KEY_BYTES:
        raise CallerError.one(
            "--key", f"a signing key has {KEY_BYTES} bytes, not {len(secret)}", "vdp ledger key makes one"
        )
    time = desk.now().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    answer = Answer(job.model.job, decision, expected.basis, name.strip(), time, tuple(comments))
    told = sign(answer, secret, last_answer(job, place))
    if len(in_json(told)) > MOST:
        count = len(told["earlier"]) + 1
        raise CallerError.one(
            str(path),
            f"{count:,} answers are more than one file holds",
            "move it away, and keep it: a new one is begun",
        )
    put_json(path, told)
    return path


def _words(decision: Decision, name: str, comments: Sequence[Comment]) -> list[Fault]:
    faults = []
    if not name.strip() or len(name) > LONGEST_NAME or not name.isprintable():
        faults.append(Fault("--name", "whoever answers a proof is named, in one line", "write --name NAME"))
    if decision == "approved" and comments:
        faults.append(Fault("--comment", "an approval has no comments", "return the proof with --return"))
    if decision == "returned" and not comments:
        faults.append(Fault("--return", "says nothing about why", "write --comment 'piece 12 front 20,30: …'"))
    return faults


def _not_seen(expected: Expected, seen: str | None) -> list[Fault]:
    if seen is None:
        return []
    said = "".join(seen.split()).lower()
    if len(said) < LEAST:
        return [Fault("--seen", f"'{seen}' is too short to tell proofs apart", f"give {LEAST} characters or more")]
    if not expected.proof.startswith(said):
        message = f"the proof that was looked at is {said[:SHORT]}, the job as it is now makes {expected.proof[:SHORT]}"
        return [Fault("--seen", message, "something has changed since: make a new proof and look at that")]
    return []


def _stopping(expected: Expected, decision: Decision) -> list[Fault]:
    """An approval of what no run will make is none."""
    refused = len(expected.intake.refused)
    if decision == "returned" or not refused or expected.opened.job.model.set_aside != "stop":
        return []
    some = "1 row is" if refused == 1 else f"{refused:,} rows are"
    message = f"{some} refused and the job says set_aside: stop, so nothing would be made"
    return [Fault(expected.opened.table.shown, message, "mend the rows, or say set_aside: continue")]


def _of_another_job(path: Path, job: Job) -> list[Fault]:
    if not path.exists():
        return []
    other = _read(path).answer.job
    if other == job.model.job:
        return []
    return [Fault(str(path), f"holds the answer for another job, '{other}'", "name another file with --approval")]


def read_approval(job: Job, place: Path | None, customer: Path | None) -> Approved:
    """The approval that a run asks for, before anything is known of the run.

    Raises CallerError when there is none, when it cannot be believed, is of another job, or is a return.
    """
    path = approval_place(job, place)
    if not path.exists():
        raise CallerError.one(str(path), "there is no approval", "vdp proof JOB --approve makes one")
    signed = _read(path)
    answer = signed.answer
    key = read_public(customer) if customer is not None else None
    if not signed.holds:
        raise CallerError.one(str(path), "its signature does not hold: it was changed", "ask for a new approval")
    if key is not None and key != signed.key:
        raise CallerError.one(
            str(path),
            f"it is signed by key {signed.key.hex()[:SHORT]}…, not by the key of {customer}",
            "ask the customer for an approval, or name the right public key",
        )
    if answer.job != job.model.job:
        raise CallerError.one(str(path), f"it is the approval of another job, '{answer.job}'", "proof this job")
    if answer.decision != "approved":
        said = "; ".join(f"{comment.place}: {comment.words}" for comment in answer.comments[:3])
        raise CallerError.one(str(path), f"{answer.name} returned the proof ({said})", "mend it, and proof it again")
    return Approved(path, signed, key is not None)


def check_before(approved: Approved, opened: Opened, numbers: Numbers) -> None:
    """Raises CallerError naming everything that has changed since the approval, as far as it is known before a record
    is tried: files, terms, and where numbers would begin."""
    _same(approved, basis_before(opened, numbers, approved.signed.answer.basis))


def check_approved(approved: Approved, opened: Opened, intake: Intake) -> None:
    """Raises CallerError naming everything that has changed since the approval."""
    _same(approved, basis_of(opened, intake))


def _same(approved: Approved, now: Mapping[str, Any]) -> None:
    answer = approved.signed.answer
    changed = changes(answer.basis, now)
    if changed:
        mend = f"{answer.name} approved proof {answer.proof[:SHORT]}: proof it again, or take the change back"
        raise CallerError(Fault(f"{change.part} {change.what}", change.message, mend) for change in changed)


def _read(path: Path) -> Signed:
    try:
        with path.open("rb") as file:
            return read_answer(file.read(MOST + 1))
    except OSError as error:
        mend = "name the file that holds the approval" if path.is_dir() else "let this user read it"
        raise CallerError.one(str(path), f"cannot be read: {error.strerror}", mend) from error
    except ValueError as error:
        raise CallerError.one(str(path), f"is no approval: {error}", "take it away, and proof the job again") from error
