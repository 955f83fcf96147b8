"""Commands as a user gives them, and the sealed run that several tests begin with."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.small import write_job
from vdp import cli
from vdp.run.sealing import make_key


def ended(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, Any]:
    """The exit code, and what ``--json`` prints."""
    code = exit_code([*words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def said(told: dict[str, Any]) -> str:
    """The findings that a command told, a line each."""
    return "\n".join(f"{each['where']}: {each['message']}" for each in told["findings"])


def exit_code(words: list[str]) -> int:
    with pytest.raises(SystemExit) as caught:
        cli.main(words)
    assert isinstance(caught.value.code, int)
    return caught.value.code


def sealed_run(folder: Path, **kinds: str) -> Path:
    """The folder with a small job, a key (press.key) and the sealed run `out`; `kinds` as for `write_job`."""
    job = write_job(folder, **kinds)
    make_key(folder / "press.key")
    assert exit_code(["run", str(job), "--key", str(folder / "press.key"), "--json"]) == 0
    return folder
