"""Commands of the auditor: audit; and the key that seals (`vdp ledger key`)."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from vdp.cli.ledger import group
from vdp.cli.words import FINDINGS, GOOD, AsJson, Host, Operator, Password, Port, Serve, Workers, app, examples, screen


@app.command(
    epilog=examples(
        "vdp audit spring/out summer/out --key press.key.public --out filed",
        "vdp audit spring/out gala/out --key press.key.public --ledger spring.sqlite --ledger gala.sqlite",
        "vdp audit out --key press.key.public --prove TL27-000017Q --out proof",
        "vdp audit out --key press.key.public --ledger ledger.sqlite --serve",
        "vdp audit --proof proof/proof.json --key press.key.public",
    )
)
def audit(
    folders: Annotated[
        list[Path] | None, typer.Argument(metavar="DIR…", help="Run folders.", show_default=False)
    ] = None,
    key: Annotated[Path | None, typer.Option("--key", metavar="PUBLIC", help="The public key of who seals.")] = None,
    ledger: Annotated[
        list[str] | None,
        typer.Option("--ledger", metavar="URL", help="Look at this ledger too, again where jobs have several."),
    ] = None,
    decode: Annotated[bool, typer.Option("--decode/--no-decode", help="Read the finished pages again.")] = True,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="File audit.json and audit.pdf there.")
    ] = None,
    serial: Annotated[
        str | None, typer.Option("--prove", metavar="SERIAL", help="Write a proof that this serial was in the run.")
    ] = None,
    proof: Annotated[Path | None, typer.Option("--proof", metavar="FILE", help="Judge such a proof, offline.")] = None,
    serve: Serve = False,
    reads: Annotated[
        Path | None, typer.Option("--reads", metavar="CSV", help="With --serve: what the line's cameras read.")
    ] = None,
    host: Host = "127.0.0.1",
    port: Port = 0,
    password: Password = None,
    workers: Workers = 1,
    operator: Operator = None,
    as_json: AsJson = False,
) -> int:
    """The auditor's judgement, from folders and a public key alone: seals, hashes, counts, serials across runs."""
    if proof is not None:
        return _judge(proof, key, as_json)
    if not folders:
        raise typer.BadParameter("name at least one run folder")
    if serial is not None:
        return _prove(folders, serial, out, as_json)
    from vdp.run.desk import desk_of  # noqa: PLC0415  lazy: see the package's docstring

    if serve:
        from vdp.page.openings import Where, serve_audit  # noqa: PLC0415

        serve_audit(
            folders,
            key=key,
            ledgers=ledger or [],
            reads=reads,
            decode=decode,
            workers=workers,
            out=out,
            where=Where(host, port, password),
            screen=screen(),
            desk=desk_of(operator),
        )
        return GOOD
    from vdp.run.audit import audit_runs  # noqa: PLC0415

    found = audit_runs(
        folders,
        key=key,
        ledgers=ledger or [],
        decode=decode,
        workers=workers,
        out=out,
        screen=screen(),
        desk=desk_of(operator),
    )
    sys.stdout.write(found.to_json() if as_json else found.as_text())
    return GOOD if found.ok else FINDINGS


def _judge(proof: Path, key: Path | None, as_json: bool) -> int:
    """Judges a proof for one piece, and says what it is about."""
    from vdp.run.audit import check_proof  # noqa: PLC0415

    if key is None:
        raise typer.BadParameter("a proof is judged with the public key: --key")
    proven = check_proof(proof, key)
    sys.stdout.write(json.dumps(proven.as_dict(), ensure_ascii=False) + "\n" if as_json else proven.as_text())
    return GOOD if proven.ok else FINDINGS


def _prove(folders: list[Path], serial: str, out: Path | None, as_json: bool) -> int:
    """Writes a proof that a serial was in a run."""
    from vdp.audit.strict import written  # noqa: PLC0415
    from vdp.run.folder import prepare, put  # noqa: PLC0415
    from vdp.run.sealing import prove  # noqa: PLC0415

    folder = out or Path()
    told = written(prove(folders, serial))
    prepare(folder)
    put(folder / "proof.json", told)
    target = str(folder / "proof.json")
    sys.stdout.write(json.dumps({"ok": True, "files": [target]}) + "\n" if as_json else f"{target}\n")
    return GOOD


@group.command("key", epilog=examples("vdp ledger key press.key"))
def make_key(
    path: Annotated[Path, typer.Argument(metavar="FILE", help="Where the secret goes; FILE.public is for auditors.")],
) -> int:
    """Makes the key pair that seals runs; the secret is for its owner alone."""
    from vdp.run.sealing import make_key as make  # noqa: PLC0415

    sys.stdout.write(f"{path}: keep it secret\n{make(path)}: give it to auditors\n")
    return GOOD
