"""Commands that make: run, check, fake."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from vdp.cli.words import (
    GOOD,
    AsJson,
    JobFile,
    Operator,
    RecordsFile,
    SealKey,
    Workers,
    app,
    examples,
    judge_key,
    screen,
    seal,
    tell,
)


@app.command(
    epilog=examples(
        "vdp run layouts/ferry_pass/job.yaml", "vdp run job.yaml --records list.csv --out /tmp/run --workers 2"
    )
)
def run(
    job: JobFile,
    records: RecordsFile = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="The run folder (default: out/ beside the job file).")
    ] = None,
    workers: Workers = 1,
    cluster: Annotated[
        str | None,
        typer.Option("--cluster", metavar="ADDRESS", help="A Dask scheduler (tcp://host:8786) instead of --workers."),
    ] = None,
    operator: Operator = None,
    key: SealKey = None,
    approved: Annotated[
        bool,
        typer.Option("--approved", help="Only if everything is as it was approved (vdp proof --approve)."),
    ] = False,
    customer_key: Annotated[
        Path | None,
        typer.Option("--customer-key", metavar="PUBLIC", help="The public key that must have signed the approval."),
    ] = None,
    approval: Annotated[
        Path | None,
        typer.Option("--approval", metavar="FILE", help="The approval (default: approval.json beside the job file)."),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """The whole job: read, take numbers, compose, write the run folder, verify the finished files, report."""
    judge_key(key)
    from vdp.run import Approval, run_job  # noqa: PLC0415  lazy: see the file's docstring
    from vdp.run.desk import desk_of  # noqa: PLC0415

    if not approved and (customer_key is not None or approval is not None):
        raise typer.BadParameter("--customer-key and --approval go with --approved")
    desk = desk_of(operator)
    result = run_job(
        job,
        records=records,
        out=out,
        workers=workers,
        screen=screen(),
        cluster=cluster,
        desk=desk,
        approval=Approval(approval, customer_key) if approved else None,
    )
    seal(result, key)
    return tell(result, as_json)


@app.command(
    epilog=examples(
        "vdp check layouts/ferry_pass/job.yaml",
        "vdp check layouts/ferry_pass/job.yaml --records demo_records/ferry_pass_bad.csv",
    )
)
def check(
    job: JobFile,
    records: RecordsFile = None,
    pictures: Annotated[
        Path | None,
        typer.Option("--pictures", metavar="DIR", help="Write a picture of each place that artwork is blamed for."),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Reads everything and composes nothing: every fault of job, layout, art and records."""
    from vdp.run.check import check_job  # noqa: PLC0415

    return tell(check_job(job, records=records, screen=screen(), pictures=pictures), as_json)


@app.command(
    epilog=examples(
        "vdp fake layouts/ferry_pass/job.yaml --count 1000 --seed 7",
        "vdp fake job.yaml --count 300 --seed 1 --out list.csv",
    )
)
def fake(
    job: JobFile,
    count: Annotated[int, typer.Option("--count", min=1, max=10_000_000, help="How many records.")],
    seed: Annotated[int, typer.Option("--seed", help="The same seed gives the same records.")],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Where to write (default: standard output).")
    ] = None,
) -> int:
    """Invented records for a job, before the real list may be seen."""
    from vdp.fake import write_fake  # noqa: PLC0415
    from vdp.job.load import load_job  # noqa: PLC0415

    write_fake(load_job(job), count, seed, out)
    return GOOD
