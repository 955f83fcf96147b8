"""Commands that judge what is finished: verify."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from vdp.cli.words import AsJson, RecordsFile, Workers, app, examples, screen, tell


@app.command(
    epilog=examples(
        "vdp verify layouts/ferry_pass/out",
        "vdp verify out --job layouts/ferry_pass/job.yaml --records demo_records/ferry_pass.csv",
    )
)
def verify(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A run folder.", show_default=False)],
    job: Annotated[
        Path | None, typer.Option("--job", metavar="JOB", help="Hold each piece against its own row of this job.")
    ] = None,
    records: RecordsFile = None,
    workers: Workers = 1,
    as_json: AsJson = False,
) -> int:
    """Judges the finished files again, from the files alone, or against job and records."""
    from vdp.run.again import verify_again  # noqa: PLC0415

    return tell(verify_again(folder, job=job, records=records, workers=workers, screen=screen()), as_json)
