"""`vdp proof JOB`: the numbering proof, of a run that is still to be made or of a finished one.

Only the chosen pieces are composed, into a file that is thrown away; no number is taken.  Not here: the choice, the
looking and the document (`vdp.proof`), the answer (`signoff`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from vdp.compose.piece import Accepted
from vdp.errors import Finding
from vdp.job.faces import job_faces
from vdp.press.drawing import draw_stacks
from vdp.proof.approval import Signed
from vdp.proof.basis import SHORT
from vdp.proof.comments import Comment
from vdp.proof.document import MOST, Proof, Shown, proof_pdf
from vdp.run.again import own_findings
from vdp.run.clock import Stopwatch
from vdp.run.drawn import picture_of
from vdp.run.expected import Expected, expect
from vdp.run.folder import prepare, put
from vdp.run.prooffacts import Fact, facts_of
from vdp.run.proofpieces import look_at
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.run.signoff import last_answer

NAME = "proof.pdf"


def prove_numbers(
    path: Path,
    *,
    records: Path | None,
    run: Path | None,
    out: Path | None,
    pieces: Sequence[int],
    sample: int,
    seed: int,
    secrets: bool,
    screen: Screen,
    answer: Path | None = None,
) -> Result:
    """Writes the proof, and says its hash.  What codes do not say as they must is a finding.

    Raises CallerError for the caller's mistakes; `answer` is where the customer's last answer is kept.
    """
    watch = Stopwatch()
    with watch("check"):
        expected = expect(path, records=records, screen=screen, run=run)
    job = expected.opened.job
    target = out if out is not None else job.folder / NAME
    prepare(target.parent)
    wanted: dict[int, str] = dict.fromkeys(pieces, "it was asked for")
    kept = last_answer(job, answer)
    told = kept if kept is not None and kept.is_signed_by(kept.key) else None
    comments = _commented(expected, told)
    for comment, words in comments:
        earlier = wanted.get(comment.piece)
        wanted[comment.piece] = f"{earlier}; {words}" if earlier is not None else words
    known: dict[int, str] = {}
    with watch("choose"):
        choice = expected.choose(screen, sample=sample, seed=seed, wanted=wanted, note=_noting(expected, known))
    with watch("look"):
        shown = look_at(expected, choice, [each for each, _ in comments], secrets=secrets, screen=screen)
    with watch("write"):
        proof = Proof(
            title=job.model.job,
            hash=expected.proof,
            state=_state(expected),
            facts=(*facts_of(expected, choice.pieces[0].record, len(shown)), *_answered(expected, kept, told)),
            troubles=tuple(_troubles(expected, shown)),
            notes=(*choice.notes, *_left_out(expected, secrets=secrets)),
            stacks=_stacks(expected, known),
            shown=shown,
            command=f"vdp proof {job.path.name} --approve --seen {expected.proof[:SHORT]} --key KEY --name NAME",
        )
        put(target, proof_pdf(proof, job_faces(job)))
    findings = [found for each in shown for found in each.looked.findings]
    findings += own_findings(run) if run is not None else []
    codes = [code for each in shown for code in each.looked.codes]
    intake = expected.intake
    return Result(
        ok=not findings,
        title=f"{job.model.job}: numbering proof",
        records=intake.records,
        pieces=intake.pieces,
        set_aside=len(intake.refused),
        findings=findings,
        warnings=list(intake.warnings),
        refused=[(row.row, "; ".join(reasons)) for row, reasons in intake.refused],
        files=[target.name],
        folder=str(target.parent),
        seconds=watch.seconds,
        proof=expected.proof,
        told=[
            ("proof", expected.proof),
            ("shown", f"{len(shown)} pieces, {sum(code.good for code in codes)} of {len(codes)} codes read"),
            ("numbers", "none was taken"),
        ],
        last=_way_on(expected, findings),
    )


def _way_on(expected: Expected, findings: Sequence[Finding]) -> str:
    """What the proof can be used for."""
    if findings:
        return "see the findings"
    if expected.intake.refused and expected.opened.job.model.set_aside == "stop":
        return "it cannot be approved: the job says set_aside: stop, so nothing would be made (mend the rows)"
    return f"approve it with --approve --seen {expected.proof[:SHORT]}"


def _answered(expected: Expected, kept: Signed | None, told: Signed | None) -> Iterator[Fact]:
    """The last answer, and what it says of the whole job; one that is kept and not signed as it says tells nothing."""
    if told is None:
        if kept is not None:
            yield "Last answer", ("what is kept as the last answer was changed: its signature does not hold",)
        return
    answer = told.answer
    which = "this proof" if answer.proof == expected.proof else f"proof {answer.proof[:SHORT]}, which is not this one,"
    lines = [f"{answer.name} {answer.decision} {which} on {answer.time}, signed by key {told.key.hex()[:SHORT]}…"]
    lines += [comment.words for comment in answer.comments if not comment.piece]
    if told.earlier:
        lines.append(f"{len(told.earlier)} earlier answer{'s' * (len(told.earlier) > 1)} in the same file")
    yield "Last answer", tuple(lines)


def _commented(expected: Expected, told: Signed | None) -> list[tuple[Comment, str]]:
    """Comments of the last answer that are pinned to pieces, each with words for it: they are looked at again."""
    if told is None:
        return []
    pinned = [comment for comment in told.answer.comments if 1 <= comment.piece <= expected.intake.pieces]
    return [
        (comment, f"comment {number}, by {told.answer.name}, {comment.place}: {comment.words}")
        for number, comment in enumerate(pinned, 1)
    ]


def _noting(expected: Expected, known: dict[int, str]) -> Callable[[Accepted], None]:
    """Keeps the serials that the stack map names."""
    if expected.laid is None:
        return lambda _: None
    order = expected.laid.run
    wanted = {
        piece
        for roll in range(1, order.rolls + 1)
        for stack in order.stacks(roll)
        if stack.pieces
        for piece in (stack.pieces[0], stack.pieces[-1])
    }

    def note(record: Accepted) -> None:
        if record.nth + 1 in wanted:
            known[record.nth + 1] = next(iter(record.serials.values()), "")

    return note


def _stacks(expected: Expected, known: Mapping[int, str]) -> bytes:
    if expected.laid is None:
        return b""
    job = expected.opened.job
    svg = draw_stacks(expected.laid.run, job.model.job, lambda piece: known.get(piece) or str(piece))
    return picture_of(svg, job)


def _state(expected: Expected) -> str:
    if expected.folder is not None:
        return f"Of the finished run in {expected.folder.name}: these are its pieces and its numbers."
    if not expected.opened.job.model.series:
        return "Of a run that is still to be made."
    return (
        "Of a run that is still to be made: it would have these numbers if it were made now. None of them is taken "
        "yet; a run under this proof's approval has these and no others."
    )


def _troubles(expected: Expected, shown: Sequence[Shown]) -> Iterator[str]:
    """What speaks against printing."""
    bad = [each.title for each in shown if each.looked.findings]
    if bad:
        yield f"Not everything on the pieces shown is as it must be: see {', '.join(bad[:MOST])}."
    refused = expected.intake.refused
    if refused:
        stops = expected.opened.job.model.set_aside == "stop"
        some = "1 row is" if len(refused) == 1 else f"{len(refused):,} rows are"
        yield f"{some} set aside{', and the job says that nothing is made then' if stops else ''}:"
        yield from (f"row {row.row}: {'; '.join(reasons)}" for row, reasons in refused[:MOST])
        if len(refused) > MOST:
            yield f"… and {len(refused) - MOST:,} more"


def _left_out(expected: Expected, *, secrets: bool) -> Iterator[str]:
    hidden = [name for name, spot in expected.opened.job.model.spots.items() if spot.hidden]
    if hidden and not secrets:
        yield f"What {', '.join(hidden)} says is left out; shown is only where it prints."
    yield "Colours are those of a screen: no proof of colour."
