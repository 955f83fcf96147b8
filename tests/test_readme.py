"""README's own job, taken from its pages and followed to the audit, word for word."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel
from typer.main import get_command

from tests.commands import ended
from tests.test_house import README
from vdp.cli import app, main
from vdp.job.items import LayoutModel
from vdp.job.load import load_job
from vdp.job.model import JobModel

PATH = README[README.index("## From a list") : README.index("## What a run leaves")]
FILES = dict(
    zip(("guests.csv", "job.yaml", "layout.yaml"), re.findall(r"```(?:csv|yaml)\n(.*?)```", PATH, re.S), strict=True)
)


def test_the_job_in_readme_goes_all_the_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    code, told = ended(["check", "job.yaml"], capsys)
    assert (code, told["pieces"], told["warnings"]) == (0, 3, [])
    assert ended(["proof", "job.yaml"], capsys)[0] == 0
    for key in ("customer.key", "press.key"):
        with pytest.raises(SystemExit) as done:
            main(["ledger", "key", key])
        assert done.value.code == 0
    capsys.readouterr()
    answer = ["--approve", "--key", "customer.key", "--name", "A. Marsh"]
    assert ended(["proof", "job.yaml", *answer], capsys)[0] == 0
    code, told = ended(["run", "job.yaml", "--approved", "--key", "press.key"], capsys)
    assert (code, told["pieces"], told["findings"]) == (0, 3, [])
    serials = [json.loads(line)["serials"]["voucher"] for line in Path("out/pieces.jsonl").read_text().splitlines()]
    Path("camera.csv").write_text("code\n" + "".join(f"{serial}\n" for serial in serials[:2]))
    code, told = ended(["reconcile", "out", "--reads", "camera.csv", "--side", "front", "--out", "floor"], capsys)
    assert code == 1
    assert [finding["code"] for finding in told["findings"]] == ["line-missing"]
    again = ["reprint", "out", "--list", "floor/reprint.csv", "--second", "B. Ito", "--key", "press.key"]
    assert ended([*again, "--out", "again"], capsys)[0] == 0
    audit = ["audit", "out", "again", "--key", "press.key.public", "--ledger", "ledger.sqlite", "--out", "filed"]
    assert ended(audit, capsys)[0] == 0
    assert sorted(path.name for path in Path("filed").iterdir()) == ["audit.json", "audit.pdf"]


def models_in(annotation: object) -> list[type[BaseModel]]:
    """The models that a key may hold."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for inner in get_args(annotation) for model in models_in(inner)]


def keys_of(model: type[BaseModel], seen: set[type[BaseModel]]) -> set[str]:
    """Every key that a file of that model may have, at any depth."""
    keys: set[str] = set()
    for name, field in model.model_fields.items():
        keys.add(field.alias or name)
        for inner in models_in(field.annotation):
            if inner not in seen:
                seen.add(inner)
                keys |= keys_of(inner, seen)
    return keys


@pytest.mark.parametrize("model", [JobModel, LayoutModel])
def test_every_key_of_a_job_and_a_layout_stands_in_readme(model: type[BaseModel]) -> None:
    code = "\n".join(re.findall(r"`([^`\n]+)`", README) + re.findall(r"```yaml\n(.*?)```", README, re.S))
    assert keys_of(model, set()) - set(re.findall(r"[a-z_]+", code)) == set()


def options_of(command: Any) -> set[str]:
    """Long options of a command, and what they say when they are off."""
    said = {word for option in command.params for word in (*option.opts, *option.secondary_opts)}
    return {word for word in said if word.startswith("--")} - {"--help", "--decode"}


def commands() -> dict[str, Any]:
    """Every command by its words, such as `ledger list`."""
    found: dict[str, Any] = {}
    for name, command in get_command(app).commands.items():  # type: ignore[attr-defined]  # a group of commands
        inner = getattr(command, "commands", None)
        found |= {name: command} if inner is None else {f"{name} {word}": one for word, one in inner.items()}
    return found


def test_every_option_stands_in_the_table_of_commands() -> None:
    documented: dict[str, set[str]] = {}
    for row in re.findall(r"^\| `vdp (.*?)` \|", README, re.M):
        name = re.match(r"ledger [a-z]+|[a-z]+", row)
        assert name is not None
        documented.setdefault(name[0], set()).update(re.findall(r"--[a-z-]+", row))
    assert documented == {name: options_of(command) for name, command in commands().items()}


LATER = README[README.index("## What a run leaves") :]
BLOCKS = [
    block for block in re.findall(r"```yaml\n(.*?)```", LATER, re.S) if not block.startswith(("finish:", "sides:"))
]


@pytest.mark.parametrize("block", BLOCKS, ids=[block.split("\n")[0][:30] for block in BLOCKS])
def test_what_readme_says_of_a_job_can_be_written_so(block: str, tmp_path: Path) -> None:
    own = {line.split(":")[0] for line in block.splitlines() if re.match(r"[a-z]", line)}
    # The last two keys of the web's example are for `vdp impose`, which has no job around them.
    block = re.sub(r"^(?:sides|resolution):.*\n", "", block, flags=re.M)
    head = "".join(
        part for part in re.split(r"^(?=[a-z])", FILES["job.yaml"], flags=re.M) if part.split(":")[0] not in own
    )
    for name, text in (FILES | {"job.yaml": f"{head}\n{block}"}).items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    job = load_job(tmp_path / "job.yaml")
    assert own - {"sides", "resolution"} <= set(job.model.model_fields_set)
