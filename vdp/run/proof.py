"""`vdp proof`: pictures of a finished run."""

from __future__ import annotations

from pathlib import Path

from vdp.job.load import load_job
from vdp.proof.plates import TABLE, draw_plates
from vdp.run.clock import Stopwatch
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.verify.inks import PROCESS
from vdp.verify.views import Lamp


def proof_plates(
    path: Path, *, run: Path | None, pieces: list[int], out: Path | None, dpi: int, screen: Screen
) -> Result:
    """Draws pieces of the job's run folder.  Raises CallerError when there is no such run or piece."""
    job, watch = load_job(path), Stopwatch()
    folder = run if run is not None else job.folder / "out"
    target = out if out is not None else folder / "plates"
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
