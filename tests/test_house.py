"""The house's own rules: what lies where, how large a room may be, what README must document."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest
from typer.main import get_command

from vdp.cli import app

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
ROOMS = sorted((ROOT / "vdp").rglob("*.py"))


def tracked() -> list[str]:
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout.splitlines()


def test_the_top_level_holds_what_the_design_card_names() -> None:
    names = {path.split("/")[0] for path in tracked()}
    extra = {n for n in names if not n.startswith(".")} - {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "vdp",
        "layouts",
        "tests",
        "demo_records",
    }
    assert extra == set()


def test_import_contracts_hold() -> None:
    command = [
        sys.executable,
        "-c",
        "from importlinter.cli import lint_imports_command; lint_imports_command()",
        "--no-cache",
    ]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("path", ROOMS, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_room_is_one_idea_of_readable_size(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


@pytest.mark.parametrize("path", ROOMS, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_room_says_what_lives_there(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert not source.strip() or ast.get_docstring(ast.parse(source))


def test_every_command_is_documented_and_every_documented_command_exists() -> None:
    command = get_command(app)
    built = set(command.list_commands(None))  # type: ignore[attr-defined]  # a group; no context is needed
    documented = set(re.findall(r"^\| `vdp ([a-z]+)[ `]", README, re.M))
    assert documented == built


def test_every_finding_code_is_documented_once_and_nothing_else_is() -> None:
    from vdp.numbering.chain import CODES as LEDGER_CODES
    from vdp.run.codes import RUN_CODES, WARNINGS
    from vdp.verify.codes import CODES

    documented = re.findall(r"^\| `([a-z]+(?:-[a-z]+)+)` \|", README, re.M)
    assert sorted(documented) == sorted({**CODES, **RUN_CODES, **LEDGER_CODES, **WARNINGS})


def test_readme_opens_with_the_job_and_two_commands() -> None:
    blocks = re.findall(r"^```sh\n(.*?)^```", README, re.M | re.S)
    assert "vdp run layouts/ferry_pass/job.yaml" in blocks[0]
    assert "tests/all.sh" in blocks[1]


def test_the_version_is_told_once() -> None:
    assert '__version__ = "' in (ROOT / "vdp/__init__.py").read_text(encoding="utf-8")
