"""Commands about numbers: reprint, and the group `ledger`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from vdp.cli.words import AsJson, Commands, Operator, RecordsFile, SealKey, app, examples, judge_key, screen, seal, tell

group = typer.Typer(
    cls=Commands,
    no_args_is_help=True,
    rich_markup_mode=None,
    help="What was issued, spoiled, made good: list, history, check, verify.",
)
app.add_typer(group, name="ledger")

Job = Annotated[Path, typer.Argument(help="The job file (YAML).", metavar="JOB", show_default=False)]
SomeJob = Annotated[
    Path | None, typer.Argument(help="The job whose ledger it is, or --ledger.", metavar="[JOB]", show_default=False)
]
Place = Annotated[
    str | None, typer.Option("--ledger", metavar="PLACE", help="The ledger itself: a SQLite file, or a PostgreSQL URL.")
]
SeriesName = Annotated[
    str | None, typer.Option("--series", metavar="NAME", help="The series, where the job has several.")
]


@app.command(
    epilog=examples(
        "vdp reprint out --serial TL27-000017V --second 'B. Ito'",
        "vdp reprint out --range TL27-000017V TL27-000029N --second 'B. Ito'",
        "vdp reprint out --place 'roll 2 frames 120-131 lane 1' --second 'B. Ito'",
        "vdp reprint out --list floor/reprint.csv --second 'B. Ito'",
    )
)
def reprint(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Where the spoiled copies were made.", show_default=False)
    ],
    second: Annotated[
        str,
        typer.Option("--second", metavar="NAME", help="A reprint needs two people.", show_default=False),
    ],
    serial: Annotated[list[str] | None, typer.Option("--serial", metavar="S", help="A serial, again for more.")] = None,
    span: Annotated[
        tuple[str, str] | None,
        typer.Option("--range", metavar="FIRST LAST", help="All pieces from one serial to another."),
    ] = None,
    place: Annotated[
        list[str] | None,
        typer.Option("--place", metavar="WORDS", help='Such as "roll 2 frames 120-131 lane 1", again for more.'),
    ] = None,
    listed: Annotated[
        Path | None,
        typer.Option("--list", metavar="CSV", help="The reprint.csv of vdp reconcile, or a column of serials."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="The reprint's folder (default: beside the run's).")
    ] = None,
    job: Annotated[
        Path | None, typer.Option("--job", metavar="JOB", help="The job file (default: the one near the folder).")
    ] = None,
    records: RecordsFile = None,
    operator: Operator = None,
    key: SealKey = None,
    as_json: AsJson = False,
) -> int:
    """Makes spoiled pieces again, each as it was or under a replacement number, and counts them in the ledger."""
    from vdp.run.desk import desk_of  # noqa: PLC0415  lazy: see the package's docstring
    from vdp.run.reprint import reprint as make_again  # noqa: PLC0415
    from vdp.run.spoiled import Wish, read_list, read_place  # noqa: PLC0415

    judge_key(key)
    several = read_list(listed) if listed is not None else {}
    wish = Wish(tuple(serial or ()), span, tuple(map(read_place, place or ())), several)
    result = make_again(
        folder, wish, second=second, out=out, job=job, records=records, desk=desk_of(operator), screen=screen()
    )
    seal(result, key)
    return tell(result, as_json)


@group.command(
    "list", epilog=examples("vdp ledger list layouts/ferry_pass/job.yaml", "vdp ledger list --ledger l.sqlite --events")
)
def listing(
    job: SomeJob = None,
    ledger: Place = None,
    series: SeriesName = None,
    events: Annotated[bool, typer.Option("--events", help="Every entry, not only ranges.")] = False,
    as_json: AsJson = False,
) -> int:
    """Series, how many numbers are left, and which run has which."""
    from vdp.run.told import told_list  # noqa: PLC0415

    return tell(told_list(job, ledger, series, events=events), as_json)


@group.command(epilog=examples("vdp ledger history layouts/ferry_pass/job.yaml TL27-000017V"))
def history(
    job: Job,
    serial: Annotated[str, typer.Argument(metavar="SERIAL", help="As it is printed.", show_default=False)],
    ledger: Place = None,
    series: SeriesName = None,
    as_json: AsJson = False,
) -> int:
    """Everything that is told of one number, from its run on.  A number that was never issued is exit 1."""
    from vdp.run.told import told_history  # noqa: PLC0415

    return tell(told_history(job, serial, ledger, series), as_json)


@group.command(epilog=examples("vdp ledger check layouts/ferry_pass/job.yaml TL27-000017V-K4PA"))
def check(
    job: Job,
    serial: Annotated[str, typer.Argument(metavar="SERIAL", help="As it is printed.", show_default=False)],
    series: SeriesName = None,
    as_json: AsJson = False,
) -> int:
    """Whether a serial is genuine: form, check characters and, with the key at hand, authenticity code."""
    from vdp.run.told import told_check  # noqa: PLC0415

    return tell(told_check(job, serial, series), as_json)


@group.command(
    epilog=examples(
        "vdp ledger verify layouts/ferry_pass/job.yaml",
        "vdp ledger verify --ledger postgresql://auditor@db/ledger --run out",
    )
)
def verify(
    job: SomeJob = None,
    ledger: Place = None,
    run: Annotated[
        list[Path] | None,
        typer.Option("--run", metavar="DIR", help="A run folder whose attested head must be in it, again for more."),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Judges the chain: guards of the database, links, ranges, events, and heads that run folders attest."""
    from vdp.run.told import told_verify  # noqa: PLC0415

    return tell(told_verify(job, ledger, run or []), as_json)


@group.command(
    epilog=examples(
        "vdp ledger destroy job.yaml TL27-000017V --batch B7 --method shredded --date 2027-03-09 "
        "--witness 'A. Marsh' --witness 'B. Ito'"
    )
)
def destroy(
    job: Job,
    serials: Annotated[list[str], typer.Argument(metavar="SERIAL…", help="As they are printed.", show_default=False)],
    batch: Annotated[str, typer.Option("--batch", metavar="NAME", help="The batch that was destroyed.")],
    method: Annotated[str, typer.Option("--method", metavar="WORDS", help="How.")],
    day: Annotated[str, typer.Option("--date", metavar="DAY", help="When, as 2027-03-09.")],
    witness: Annotated[list[str], typer.Option("--witness", metavar="NAME", help="Who saw it: two people.")],
    ledger: Place = None,
    operator: Operator = None,
    as_json: AsJson = False,
) -> int:
    """Tells that spoiled copies were destroyed: batch, method, date and two witnesses."""
    from vdp.run.account import destroy as told  # noqa: PLC0415
    from vdp.run.desk import desk_of  # noqa: PLC0415

    desk = desk_of(operator)
    result = told(job, serials, batch=batch, method=method, day=day, witnesses=witness, place=ledger, desk=desk)
    return tell(result, as_json)


@group.command(
    epilog=examples(
        "vdp ledger account layouts/ferry_pass/job.yaml",
        "vdp ledger account layouts/ferry_pass/job.yaml --csv account.csv",
    )
)
def account(
    job: Job,
    ledger: Place = None,
    table: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write it as a table too, a line a series and run.")
    ] = None,
    as_json: AsJson = False,
) -> int:
    """What became of every number and every copy, by series and run; one that does not balance is exit 1."""
    from vdp.run.account import account as told  # noqa: PLC0415
    from vdp.run.desk import desk_of  # noqa: PLC0415

    return tell(told(job, place=ledger, table=table, desk=desk_of()), as_json)
