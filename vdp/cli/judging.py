"""Commands that judge what is finished: verify, reconcile."""

from __future__ import annotations

import sys
from enum import Enum
from pathlib import Path
from typing import Annotated

import typer

from vdp.cli.words import FINDINGS, GOOD, AsJson, Operator, RecordsFile, Workers, app, examples, screen, tell


class Sides(Enum):
    """Of a piece."""

    FRONT = "front"
    BACK = "back"


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


@app.command(
    epilog=examples(
        "vdp reconcile out --reads camera.csv --out floor",
        "vdp reconcile out --reads so_far.csv --unfinished",
        "vdp reconcile out --reads camera.csv --side front --out floor",
        "vdp reconcile out --reads camera.csv --record --operator 'A. Marsh'",
    )
)
def reconcile(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A run folder.", show_default=False)],
    reads: Annotated[Path, typer.Option("--reads", metavar="CSV", help="What the cameras read, in order.")],
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Write status.csv (customer), reprint.csv and reconcile.csv there."),
    ] = None,
    unfinished: Annotated[
        bool, typer.Option("--unfinished", help="The run is still on the press: the rest is outstanding, not missing.")
    ] = False,
    side: Annotated[
        list[Sides] | None,
        typer.Option("--side", help="The side that has a camera (default: every side with codes), again for both."),
    ] = None,
    record: Annotated[
        bool, typer.Option("--record", help="Tell the ledger what became of the copies; told again, nothing is added.")
    ] = False,
    job: Annotated[
        Path | None,
        typer.Option("--job", metavar="JOB", help="Whose ledger is told (default: the job file near the folder)."),
    ] = None,
    operator: Operator = None,
    as_json: AsJson = False,
) -> int:
    """Camera reads and press stops against a run: missing, double, out of order, wrong back; a list to reprint."""
    from vdp.audit.copies import SIDES  # noqa: PLC0415  lazy: see the package's docstring
    from vdp.run.desk import desk_of  # noqa: PLC0415
    from vdp.run.reconcile import reconcile_run  # noqa: PLC0415
    from vdp.run.recorded import open_recorder  # noqa: PLC0415

    sides = tuple(each for each in SIDES if Sides(each) in (side or ()))
    recorder = open_recorder(folder, job, desk_of(operator), reads).tell if record else None
    told = reconcile_run(folder, reads, out=out, finished=not unfinished, screen=screen(), sides=sides, record=recorder)
    sys.stdout.write(told.to_json() if as_json else told.as_text())
    return GOOD if told.ok else FINDINGS
