"""`vdp proof`: pictures of a finished run, and the customer's answer.  Not here: the numbering proof."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from vdp.job.load import load_job
from vdp.proof.approval import Decision
from vdp.proof.basis import SHORT
from vdp.proof.comments import parse_comment
from vdp.proof.plates import TABLE, draw_plates
from vdp.run.clock import Stopwatch
from vdp.run.desk import Desk
from vdp.run.expected import expect
from vdp.run.folder import keep_out
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.run.signoff import sign_off
from vdp.verify.inks import PROCESS
from vdp.verify.views import Lamp


def proof_plates(
    path: Path, *, run: Path | None, pieces: list[int], out: Path | None, dpi: int, screen: Screen
) -> Result:
    """Draws pieces of the job's run folder.  Raises CallerError when there is no such run or piece."""
    job, watch = load_job(path), Stopwatch()
    folder = run if run is not None else job.folder / "out"
    target = out if out is not None else folder.absolute().parent / "plates"
    keep_out(target)
    model = job.model
    glow = {name: (s.glow[0] / 100, s.glow[1] / 100, s.glow[2] / 100) for name, s in model.spots.items() if s.glow}
    lamp = Lamp(model.lamp.dim / 100, model.lamp.bright_stock, glow)
    counted = (*PROCESS, *(model.spots if model.toner.count_spots else ()))
    chosen = sorted(set(pieces))
    with watch("proof"), screen.step("drawing", 2 * len(chosen), "pages") as tell:
        drawn = draw_plates(
            folder, chosen, target, lamp=lamp, limit=model.toner.limit, counted=counted, dpi=dpi, tell=tell
        )
    most = max(drawn, key=lambda page: page.coverage.most)
    return Result(
        ok=True,
        title=f"{model.job}: plates of {len(chosen)} pieces",
        pieces=len(chosen),
        files=[name for page in drawn for name in page.files] + [TABLE],
        folder=str(target),
        seconds=watch.seconds,
        last=f"most toner {most.coverage.most:.0f} % on the {most.side} of piece {most.piece}; areas are in {TABLE}",
    )


def answer_proof(
    path: Path,
    *,
    records: Path | None,
    run: Path | None,
    decision: Decision,
    comments: Sequence[str],
    key: Path,
    name: str,
    seen: str | None,
    place: Path | None,
    desk: Desk,
    screen: Screen,
) -> Result:
    """Signs the customer's answer to the proof of the job as it is now; see `sign_off`."""
    watch = Stopwatch()
    said = [parse_comment(comment) for comment in comments]
    with watch("check"):
        expected = expect(path, records=records, screen=screen, run=run, desk=desk)
    file = sign_off(expected, decision, key=key, name=name, desk=desk, comments=said, seen=seen, place=place)
    intake = expected.intake
    return Result(
        ok=True,
        title=f"{expected.opened.job.model.job}: {decision} by {name.strip()}",
        records=intake.records,
        pieces=intake.pieces,
        set_aside=len(intake.refused),
        files=[file.name],
        folder=str(file.parent),
        seconds=watch.seconds,
        proof=expected.proof,
        told=[("proof", expected.proof), *(("comment", f"{comment.place}: {comment.words}") for comment in said)],
        last=f"vdp run --approved now makes exactly proof {expected.proof[:SHORT]}"
        if decision == "approved"
        else "vdp run --approved refuses until a new proof is approved",
    )
