"""Commands that show: proof, and what the customer answers to it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from vdp.cli.words import (
    GOOD,
    AsJson,
    Host,
    JobFile,
    Password,
    Port,
    RecordsFile,
    Serve,
    app,
    examples,
    screen,
    tell,
)


@app.command(
    epilog=examples(
        "vdp proof layouts/ferry_pass/job.yaml",
        "vdp proof job.yaml --run out --piece 17 --secrets --out for_the_customer.pdf",
        "vdp proof job.yaml --approve --seen 3fa91c0788d2 --key customer.key --name 'A. Marsh'",
        "vdp proof job.yaml --return --comment 'piece 12 front 20,30: cut' --key customer.key --name 'A. Marsh'",
        "vdp proof job.yaml --serve",
        "vdp proof job.yaml --plates --piece 17 --piece 204 --dpi 300 --pictures plates",
    )
)
def proof(
    job: JobFile,
    records: RecordsFile = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="PDF", help="The proof (default: proof.pdf beside the job file).")
    ] = None,
    run: Annotated[
        Path | None,
        typer.Option("--run", metavar="DIR", help="Proof this finished run (--plates: default out/ beside the job)."),
    ] = None,
    piece: Annotated[
        list[int] | None, typer.Option("--piece", min=1, help="Show this piece too, again for more.")
    ] = None,
    sample: Annotated[int, typer.Option("--sample", min=0, max=200, help="Pieces drawn at random.")] = 5,
    seed: Annotated[int | None, typer.Option("--seed", help="Draw others.")] = None,
    secrets: Annotated[
        bool, typer.Option("--secrets", help="Show what hidden plates say; without it only where they print.")
    ] = False,
    approve: Annotated[bool, typer.Option("--approve", help="Sign that the job as it is now is approved.")] = False,
    send_back: Annotated[bool, typer.Option("--return", help="Sign that it is not, and why: --comment.")] = False,
    comment: Annotated[
        list[str] | None,
        typer.Option("--comment", metavar="WORDS", help="'piece 12 front 20,30: …', mm from the trim's upper left."),
    ] = None,
    key: Annotated[
        Path | None, typer.Option("--key", metavar="SECRET", help="The key file that signs (vdp ledger key makes one).")
    ] = None,
    name: Annotated[str, typer.Option("--name", metavar="NAME", help="Who answers.")] = "",
    seen: Annotated[
        str | None, typer.Option("--seen", metavar="HASH", help="The hash on the proof that was looked at.")
    ] = None,
    approval: Annotated[
        Path | None,
        typer.Option("--approval", metavar="FILE", help="The answer (default: approval.json beside the job file)."),
    ] = None,
    plates: Annotated[
        bool, typer.Option("--plates", help="Draw each plate alone, all together, under a UV lamp, and toner as heat.")
    ] = False,
    pictures: Annotated[
        Path | None,
        typer.Option("--pictures", metavar="DIR", help="With --plates: where (default: plates/ beside the run)."),
    ] = None,
    dpi: Annotated[int, typer.Option("--dpi", min=30, max=1200, help="With --plates: pixels an inch.")] = 150,
    serve: Serve = False,
    host: Host = "127.0.0.1",
    port: Port = 0,
    password: Password = None,
    as_json: AsJson = False,
) -> int:
    """The numbering proof (PDF) that the customer approves before anything is printed, and the answer to it."""
    if plates + approve + send_back + serve > 1:
        raise typer.BadParameter("--plates, --approve, --return and --serve are four things: say one")
    if (comment or seen or ((key or name) and not serve)) and not (approve or send_back):
        raise typer.BadParameter("--comment, --key, --name and --seen are for an answer: --approve or --return")
    if serve:
        from vdp.page.openings import Where, serve_proof  # noqa: PLC0415
        from vdp.run.desk import desk_of  # noqa: PLC0415

        serve_proof(
            job,
            records=records,
            run=run,
            where=Where(host, port, password),
            desk=desk_of(),
            key=key,
            name=name,
            approval=approval,
        )
        return GOOD
    if plates:
        from vdp.run.proof import proof_plates  # noqa: PLC0415  lazy: see the package's docstring

        return tell(proof_plates(job, run=run, pieces=piece or [1], out=pictures, dpi=dpi, screen=screen()), as_json)
    if approve or send_back:
        from vdp.run.desk import desk_of  # noqa: PLC0415
        from vdp.run.proof import answer_proof  # noqa: PLC0415

        if key is None:
            raise typer.BadParameter("an answer is signed: --key, and --name")
        result = answer_proof(
            job,
            records=records,
            run=run,
            decision="approved" if approve else "returned",
            comments=comment or [],
            key=key,
            name=name,
            seen=seen,
            place=approval,
            desk=desk_of(),
            screen=screen(),
        )
        return tell(result, as_json)
    from vdp.proof.choose import SEED  # noqa: PLC0415
    from vdp.run.numberproof import prove_numbers  # noqa: PLC0415

    made = prove_numbers(
        job,
        records=records,
        run=run,
        out=out,
        pieces=piece or [],
        sample=sample,
        seed=seed if seed is not None else SEED,
        secrets=secrets,
        answer=approval,
        screen=screen(),
    )
    return tell(made, as_json)
