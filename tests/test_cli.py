"""Every way the program can end is one of four exit codes, and JSON stays JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.commands import exit_code
from tests.small import write_job
from vdp import __version__, cli


@pytest.mark.parametrize(
    "words", [["--help"], ["run", "--help"], ["check", "--help"], ["verify", "--help"], ["fake", "--help"]]
)
def test_help_is_good_and_shows_examples(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert exit_code(words) == 0
    assert "vdp" in capsys.readouterr().out


def test_a_run_a_check_and_a_verification_by_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = str(write_job(tmp_path))
    assert exit_code(["check", job]) == 0
    assert "checked, nothing composed" in capsys.readouterr().out
    assert exit_code(["run", job, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["symbols_decoded"] == 9
    assert exit_code(["verify", str(tmp_path / "out"), "--job", job]) == 0
    assert "each piece held against its own row" in capsys.readouterr().out


@pytest.mark.parametrize("json_too", [False, True])
def test_a_fault_of_our_own_is_exit_3_and_still_one_json_object(
    json_too: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("in the middle")

    monkeypatch.setattr(cli, "app", fail)
    assert exit_code(["run", "job.yaml", *(["--json"] if json_too else [])]) == 3
    told = capsys.readouterr()
    assert "ZeroDivisionError" in told.err
    assert "please report it" in told.err
    if json_too:
        assert json.loads(told.out)["findings"][0]["code"] == "our-fault"


def test_the_version_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        cli.main(["--version"])
    assert (done.value.code, capsys.readouterr().out) == (0, f"vdp {__version__}\n")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["run", "--nope"], "see vdp run --help"),
        (["--nope"], "see vdp --help"),
        (["chek"], "Did you mean 'check'? (see vdp --help)"),
    ],
)
def test_a_wrong_word_says_whose_help_to_read(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        cli.main(words)
    assert done.value.code == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(("raised", "code"), [(KeyboardInterrupt(), 2), (BrokenPipeError(), 2)])
def test_being_stopped_is_not_a_traceback(
    raised: BaseException, code: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stop(*_: Any, **__: Any) -> None:
        raise raised

    class Stream:
        def close(self) -> None:
            pass

        def write(self, text: str) -> int:
            return len(text)

    monkeypatch.setattr(cli, "app", stop)
    monkeypatch.setattr("sys.stderr", Stream())
    assert exit_code(["run"]) == code
