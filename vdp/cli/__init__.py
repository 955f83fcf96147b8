"""Words in, exit code out.  Heavy rooms are imported inside the commands, so that help answers at once.

Lives here: how the program ends.  Not here: the commands, a file for each kind of them.
Exit codes: 0 good; 1 findings; 2 the caller's mistake; 3 our bug.
"""

from __future__ import annotations

import signal
import sys
import traceback
from collections.abc import Sequence

import typer

from vdp.cli import audit, judging, laying, ledger, making, proof  # each adds its commands to the parser
from vdp.cli.words import BUG, CALLER, GOOD, ORDER, app

__all__ = ["app", "audit", "judging", "laying", "ledger", "main", "making", "proof"]

INTERRUPTED = 130

#: What the parser raises for a command or an option it does not know; typer names only the classes below it.
_UsageError: type[Exception] = typer.BadParameter.__bases__[0]


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
        command = f"{words[0]} " if words[0] in ORDER else ""
        return _refuse(words, [("command line", said, f"see vdp {command}--help")])
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
