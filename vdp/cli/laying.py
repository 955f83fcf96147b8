"""Commands that lay pieces on the web: plan, impose."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from vdp.cli.words import GOOD, AsJson, JobFile, RecordsFile, app, examples, screen


@app.command(
    epilog=examples(
        "vdp plan layouts/theatre_voucher/job.yaml",
        "vdp plan job.yaml --serial LH-000120 --place 1/20/3/2 --out plan",
        "vdp plan job.yaml --test-frame --out plan",
    )
)
def plan(
    job: JobFile,
    records: RecordsFile = None,
    serial: Annotated[
        list[str] | None, typer.Option("--serial", metavar="S", help="Where this serial will lie; again for more.")
    ] = None,
    place: Annotated[
        list[str] | None,
        typer.Option("--place", metavar="R/F/L/A", help="What lies at roll/frame/lane/along; again for more."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Draw the stacks (SVG, PNG) and write plan.csv there.")
    ] = None,
    test_frame: Annotated[
        bool,
        typer.Option("--test-frame", help="Also draw the numbered frame that proves the duplex (true size, PDF)."),
    ] = False,
    as_json: AsJson = False,
) -> int:
    """Where each number will lie: web, rolls, lanes, stacks, presses; paper, toner, weight and time."""
    from vdp.run.plan import plan_job  # noqa: PLC0415  lazy: see the package's docstring

    planned = plan_job(
        job,
        records=records,
        serials=serial or [],
        places=place or [],
        out=out,
        screen=screen(),
        test_frame=test_frame,
    )
    sys.stdout.write(planned.to_json() if as_json else planned.as_text())
    return GOOD


@app.command(
    epilog=examples("vdp impose vouchers.pdf --web web.yaml", "vdp impose in.pdf --web web.yaml --out /tmp/web")
)
def impose(
    pdf: Annotated[Path, typer.Argument(metavar="PDF", help="A finished PDF: fronts and backs in turn.")],
    web: Annotated[Path, typer.Option("--web", metavar="FILE", help="How the web is laid out (YAML).")],
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Where the sheets go (default: NAME-sheets/ beside the PDF)."),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Lays a finished PDF from elsewhere on the web: lanes, backs, marks, rolls."""
    from vdp.run.folder import prepare  # noqa: PLC0415  lazy: see the package's docstring
    from vdp.run.impose import impose as lay  # noqa: PLC0415

    folder = out if out is not None else pdf.parent / f"{pdf.stem}-sheets"
    prepare(folder)
    with screen().step("imposing", None, "frames") as tell:
        imposed = lay(pdf, web, folder, tell)
    sys.stdout.write(imposed.to_json() if as_json else imposed.as_text())
    return GOOD
