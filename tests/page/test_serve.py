"""Serving: a real server on a real port, its link, its password, and what it refuses to do."""

from __future__ import annotations

import json
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import httpx2 as httpx
import pytest

from tests.page.made import PASSWORD
from vdp import cli
from vdp.errors import CallerError
from vdp.page.serve import read_password


@contextmanager
def served(*words: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The page of a command: what it says to open."""
    command = [sys.executable, "-m", "vdp.cli", *words, "--serve"]
    with subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        try:
            address = ""
            while not address:
                line = process.stderr.readline()
                assert line, "the page ended"
                address = "".join(re.findall(r"open (http\S+)", line))
            yield address, process
        finally:
            process.send_signal(signal.SIGINT)
            process.communicate(timeout=20)
        assert process.returncode == 0


def test_a_job_is_served_by_a_link_on_this_machine_alone(sealed: Path) -> None:
    with served("proof", str(sealed / "job.yaml")) as (address, _), httpx.Client(follow_redirects=True) as client:
        assert address.startswith("http://127.0.0.1:")
        assert "Every check passed" in client.get(address).text
        assert client.get(address).status_code == 403


def test_an_audit_is_served_by_password(sealed: Path, tmp_path: Path) -> None:
    secret = tmp_path / "password"
    secret.write_text(PASSWORD + "\n", "utf-8")
    secret.chmod(0o600)
    words = (
        *("audit", str(sealed / "out"), "--key", str(sealed / "press.key.public"), "--no-decode"),
        *("--ledger", str(sealed / "ledger.sqlite"), "--password", str(secret)),
    )
    with served(*words) as (address, _), httpx.Client(follow_redirects=True, base_url=address) as client:
        assert client.get("/").url.path == "/enter"
        assert "What the audit found" in client.post("/enter", data={"password": PASSWORD}).text


def refused(words: Sequence[str], capsys: pytest.CaptureFixture[str]) -> str:
    with pytest.raises(SystemExit) as caught:
        cli.main([*words, "--serve", "--json"])
    assert caught.value.code == 2
    return str(json.loads(capsys.readouterr().out)["findings"])


def test_what_is_refused(sealed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = str(sealed / "job.yaml")
    assert "there is no password" in refused(["proof", job, "--host", "0.0.0.0"], capsys)  # noqa: S104  refused
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        assert "cannot be used" in refused(["proof", job, "--port", str(taken.getsockname()[1])], capsys)
    assert "--reads" in refused(["audit", str(sealed / "out"), str(sealed / "out"), "--reads", job], capsys)
    assert "four things" in refused(["proof", job, "--plates"], capsys)
    assert "is not a run folder" in refused(["audit", str(tmp_path)], capsys)


def test_a_password_file_is_for_its_owner_and_long_enough(tmp_path: Path) -> None:
    path = tmp_path / "password"
    for text, mode, said in (
        (PASSWORD, 0o644, "read by others"),
        ("short", 0o600, "fewer than"),
        ("", 0o600, "fewer than"),
    ):
        path.write_text(text, "utf-8")
        path.chmod(mode)
        with pytest.raises(CallerError, match=said):
            read_password(path)
    with pytest.raises(CallerError, match="cannot be read"):
        read_password(tmp_path / "nothing")
    path.write_text(f"  {PASSWORD} \nmore\n", "utf-8")
    assert read_password(path) == PASSWORD
