"""What every command shares: the parser, options that mean the same everywhere, how a result is told."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

if TYPE_CHECKING:
    from vdp.run.result import Result
    from vdp.run.screen import Screen

GOOD, FINDINGS, CALLER, BUG = 0, 1, 2, 3

#: Commands in the order in which a job meets them; others follow.
ORDER = ("check", "plan", "run", "proof", "verify", "reprint", "reconcile", "audit", "ledger", "impose", "fake")


class Commands(TyperGroup):
    """Tells what each command does in whole sentences, on as many lines as that takes."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        commands = [(name, self.get_command(ctx, name)) for name in self.list_commands(ctx)]
        rows = [(name, (command.help or "").partition("\n\n")[0]) for name, command in commands if command is not None]
        with formatter.section("Commands"):
            formatter.write_dl(rows)


class _InOrder(Commands):
    """Tells commands in the order of the work, not of the files they stand in."""

    def list_commands(self, ctx: Any) -> list[str]:
        names = super().list_commands(ctx)
        return sorted(names, key=lambda name: ORDER.index(name) if name in ORDER else len(ORDER))


app = typer.Typer(
    cls=_InOrder,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    # Help as plain text: what draws it in boxes takes longer to load than everything else that help needs.
    rich_markup_mode=None,
    help=(
        "Composes one personalised piece per record, and checks its own finished files.\n\n"
        "Start with vdp check JOB, then vdp run JOB."
    ),
)


def _tell_version(wanted: bool) -> None:
    if wanted:
        from vdp import __version__  # noqa: PLC0415

        sys.stdout.write(f"vdp {__version__}\n")
        raise typer.Exit(GOOD)


@app.callback()
def program(
    version: Annotated[
        bool, typer.Option("--version", callback=_tell_version, is_eager=True, help="Tell the version and leave.")
    ] = False,
) -> None:
    """The program itself, with its help as above."""


JobFile = Annotated[Path, typer.Argument(help="The job file (YAML).", metavar="JOB", show_default=False)]
RecordsFile = Annotated[
    Path | None, typer.Option("--records", metavar="FILE", help="The recipient list, instead of the job's own.")
]
Workers = Annotated[int, typer.Option("--workers", min=1, max=256, help="Processes that share the work.")]
Operator = Annotated[
    str | None,
    typer.Option(
        "--operator", metavar="NAME", help="Who is named in the ledger (default: VDP_OPERATOR, else the login)."
    ),
]
SealKey = Annotated[
    Path | None,
    typer.Option("--key", metavar="SECRET", envvar="VDP_SEAL_KEY", help="Seal a good run with this key file."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else; progress to stderr.")]


Serve = Annotated[bool, typer.Option("--serve", help="Show it all on a local page, until Ctrl+C.")]
Host = Annotated[
    str,
    typer.Option(
        "--host", metavar="ADDRESS", help="With --serve: bind there (beyond this machine only with --password)."
    ),
]
Port = Annotated[int, typer.Option("--port", min=0, max=65535, help="With --serve: the port (0: a free one).")]
Password = Annotated[
    Path | None,
    typer.Option("--password", metavar="FILE", help="With --serve: let in by the password in FILE, not by a link."),
]


def examples(*lines: str) -> str:
    # \b: these lines are kept as they are.
    return "\b\nExamples:\n" + "\n".join(f"  {line}" for line in lines)


def screen() -> Screen:
    from vdp.run.screen import Screen  # noqa: PLC0415

    return Screen(sys.stderr)


def judge_key(key: Path | None) -> None:
    """Refuses a key that cannot seal before anything is made."""
    from vdp.run.sealing import read_secret  # noqa: PLC0415

    if key is not None:
        read_secret(key)


def seal(result: Result, key: Path | None) -> None:
    """Seals the folder of a good result, where a key is given."""
    from vdp.run.sealing import seal_run  # noqa: PLC0415

    if key is not None and result.ok:
        result.files = [*result.files, *seal_run(Path(result.folder), key)]


def tell(result: Result, as_json: bool) -> int:
    from vdp.run.result import as_text  # noqa: PLC0415

    sys.stdout.write(result.to_json() if as_json else as_text(result))
    return GOOD if result.ok else FINDINGS
