"""Words in, exit code out.  Heavy rooms are imported inside the commands, so that help answers at once.

Exit codes: 0 good; 1 findings; 2 the caller's mistake; 3 our bug.
"""

from __future__ import annotations

import signal
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from vdp.run.result import Result
    from vdp.run.screen import Screen

GOOD, FINDINGS, CALLER, BUG = 0, 1, 2, 3
INTERRUPTED = 130

#: What the parser raises for a command or an option it does not know; typer names only the classes below it.
_UsageError: type[Exception] = typer.BadParameter.__bases__[0]

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    help=(
        "Composes one personalised piece per record, and checks its own finished files.\n\n"
        "Start with [bold]vdp check JOB[/bold], then [bold]vdp run JOB[/bold]."
    ),
)

JobFile = Annotated[Path, typer.Argument(help="The job file (YAML).", metavar="JOB", show_default=False)]
RecordsFile = Annotated[
    Path | None, typer.Option("--records", metavar="FILE", help="The recipient list, instead of the job's own.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else; progress to stderr.")]


def _examples(*lines: str) -> str:
    return "[dim]Examples:[/dim]\n\n" + "\n\n".join(f"  {line}" for line in lines)


@app.command(
    epilog=_examples(
        "vdp run layouts/ferry_pass/job.yaml", "vdp run job.yaml --records list.csv --out /tmp/run --workers 2"
    )
)
def run(
    job: JobFile,
    records: RecordsFile = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="The run folder (default: out/ beside the job file).")
    ] = None,
    workers: Annotated[int, typer.Option("--workers", min=1, max=256, help="Processes that compose and verify.")] = 1,
    as_json: AsJson = False,
) -> int:
    """The whole job: read, compose, write the run folder, verify the finished files, report."""
    from vdp.run import run_job  # noqa: PLC0415  lazy: see the file's docstring

    return _tell(run_job(job, records=records, out=out, workers=workers, screen=_screen()), as_json)


@app.command(
    epilog=_examples(
        "vdp check layouts/ferry_pass/job.yaml",
        "vdp check layouts/ferry_pass/job.yaml --records demo_records/ferry_pass_bad.csv",
    )
)
def check(job: JobFile, records: RecordsFile = None, as_json: AsJson = False) -> int:
    """Reads everything and composes nothing: every fault of job, layout, art and records."""
    from vdp.run.check import check_job  # noqa: PLC0415

    return _tell(check_job(job, records=records, screen=_screen()), as_json)


@app.command(
    epilog=_examples(
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
    workers: Annotated[int, typer.Option("--workers", min=1, max=256, help="Processes that verify.")] = 1,
    as_json: AsJson = False,
) -> int:
    """Judges the finished files again, from the files alone, or against job and records."""
    from vdp.run.again import verify_again  # noqa: PLC0415

    return _tell(verify_again(folder, job=job, records=records, workers=workers, screen=_screen()), as_json)


@app.command(
    epilog=_examples(
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


def _screen() -> Screen:
    from vdp.run.screen import Screen  # noqa: PLC0415

    return Screen(sys.stderr)


def _tell(result: Result, as_json: bool) -> int:
    from vdp.run.result import as_text  # noqa: PLC0415

    sys.stdout.write(result.to_json() if as_json else as_text(result))
    return GOOD if result.ok else FINDINGS


def main(arguments: Sequence[str] | None = None) -> None:
    """The program.  Every way it can end is one of the four exit codes."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    signal.signal(signal.SIGTERM, _terminated)
    sys.exit(_outcome(words or ["--help"]))


def _outcome(words: list[str]) -> int:  # noqa: PLR0911  one return a way to end
    from vdp.errors import CallerError, VdpError  # noqa: PLC0415

    try:
        code = app(words, prog_name="vdp", standalone_mode=False)
    except CallerError as error:
        return _refuse(words, [(f.where, f.message, f.mend) for f in error.faults])
    except _UsageError as error:
        said = getattr(error, "format_message", error.__str__)()
        return _refuse(words, [("command line", said, "see vdp --help")])
    except SystemExit as stopped:  # the parser's own way of saying that it was interrupted
        if stopped.code != INTERRUPTED:
            raise
        return _stopped(words)
    except (typer.Abort, KeyboardInterrupt):
        return _stopped(words)
    except BrokenPipeError:
        sys.stderr.close()
        return CALLER
    except (VdpError, Exception) as error:
        traceback.print_exc()
        sys.stderr.write(f"vdp: this is a fault of vdp itself ({type(error).__name__}); please report it\n")
        if "--json" in words:
            from vdp.run.result import refusal_json  # noqa: PLC0415

            sys.stdout.write(refusal_json([("vdp", type(error).__name__, "please report it")], code="our-fault"))
        return BUG
    return code if isinstance(code, int) else GOOD


def _stopped(words: list[str]) -> int:
    return _refuse(words, [("vdp", "stopped by the operator", "what it had begun is worthless; run it again")])


def _terminated(*_: object) -> None:
    """SIGTERM ends a run as Ctrl-C does, so that workers are not left behind."""
    raise KeyboardInterrupt


def _refuse(words: list[str], faults: list[tuple[str, str, str]]) -> int:
    if "--json" in words:
        from vdp.run.result import refusal_json  # noqa: PLC0415

        sys.stdout.write(refusal_json(faults))
    for where, message, mend in faults:
        sys.stderr.write(f"{where}: {message}{f' ({mend})' if mend else ''}\n")
    return CALLER


if __name__ == "__main__":
    main()
