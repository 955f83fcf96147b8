"""Commands that show: proof."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from vdp.cli.words import AsJson, JobFile, app, examples, screen, tell


@app.command(
    epilog=examples(
        "vdp proof layouts/ferry_pass/job.yaml --plates",
        "vdp proof job.yaml --plates --piece 17 --piece 204 --dpi 300 --pictures plates",
    )
)
def proof(
    job: JobFile,
    plates: Annotated[
        bool, typer.Option("--plates", help="Draw each plate alone, all together, under a UV lamp, and toner as heat.")
    ] = False,
    piece: Annotated[
        list[int] | None, typer.Option("--piece", min=1, help="A piece to draw, again for more (default: the first).")
    ] = None,
    run: Annotated[
        Path | None, typer.Option("--run", metavar="DIR", help="The run folder (default: out/ beside the job file).")
    ] = None,
    pictures: Annotated[
        Path | None,
        typer.Option("--pictures", metavar="DIR", help="Where to draw (default: plates/ in the run folder)."),
    ] = None,
    dpi: Annotated[int, typer.Option("--dpi", min=30, max=1200, help="Pixels an inch.")] = 150,
    as_json: AsJson = False,
) -> int:
    """Shows finished pieces to people, before anything is printed."""
    from vdp.run.proof import proof_plates  # noqa: PLC0415  lazy: see the package's docstring

    if not plates:
        raise typer.BadParameter("say what to show: --plates")
    result = proof_plates(job, run=run, pieces=piece or [1], out=pictures, dpi=dpi, screen=screen())
    return tell(result, as_json)
