"""Keys: from a file that only its owner reads, from the environment, and from nowhere else."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from vdp.errors import CallerError
from vdp.numbering.keys import derive, read_key

HEX = "00112233445566778899aabbccddeeff"
WHERE = "job.yaml:3:8"


def written(folder: Path, text: str, mode: int = 0o600) -> str:
    path = folder / "key"
    path.write_text(text)
    path.chmod(mode)
    return "key"


@pytest.mark.parametrize("text", [HEX, HEX.upper() + "\n", HEX + HEX[:16], HEX * 2])
def test_a_key_from_a_file(tmp_path: Path, text: str) -> None:
    assert read_key(written(tmp_path, text), WHERE, tmp_path, {}) == bytes.fromhex(text)


def test_a_key_may_be_locked_even_for_its_owner(tmp_path: Path) -> None:
    assert read_key(written(tmp_path, HEX, 0o400), WHERE, tmp_path, {}) == bytes.fromhex(HEX)


def test_a_key_from_the_environment(tmp_path: Path) -> None:
    assert read_key("env:PASS_KEY", WHERE, tmp_path, {"PASS_KEY": HEX}) == bytes.fromhex(HEX)


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o644, 0o660, 0o620, 0o601, 0o700])
def test_a_key_that_others_may_read_is_refused(tmp_path: Path, mode: int) -> None:
    with pytest.raises(CallerError, match=f"has mode {mode:04o}, wider than 0600"):
        read_key(written(tmp_path, HEX, mode), WHERE, tmp_path, {})


@pytest.mark.parametrize("text", ["", HEX[:-1], HEX + "0", HEX[:-1] + "g", HEX[:16] + " " + HEX[16:], "0x" + HEX[2:]])
def test_what_is_no_key_is_refused_and_not_repeated(tmp_path: Path, text: str) -> None:
    with pytest.raises(CallerError, match="32, 48 or 64 hexadecimal digits") as met:
        read_key(written(tmp_path, text), WHERE, tmp_path, {})
    assert "aabbcc" not in str(met.value)
    if text:
        with pytest.raises(CallerError, match="32, 48 or 64 hexadecimal digits"):
            read_key("env:K", WHERE, tmp_path, {"K": text})


def test_a_key_in_the_job_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CallerError, match="this is a key itself") as met:
        read_key(HEX, WHERE, tmp_path, {})
    assert met.value.faults[0].where == WHERE
    assert HEX not in str(met.value)


def test_what_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(CallerError, match="cannot be read: No such file"):
        read_key("key", WHERE, tmp_path, {})
    with pytest.raises(CallerError, match="no such path"):
        read_key("ke\0y", WHERE, tmp_path, {})
    for environ in ({}, {"K": ""}):
        with pytest.raises(CallerError, match="'K' is not set"):
            read_key("env:K", WHERE, tmp_path, environ)


def test_only_regular_files_hold_keys(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe", 0o600)
    for name in ("pipe", "."):
        with pytest.raises(CallerError, match="is not a regular file"):
            read_key(name, WHERE, tmp_path, {})


def test_each_purpose_and_series_has_a_key_of_its_own() -> None:
    key = bytes.fromhex(HEX)
    made = {derive(key, purpose, series) for purpose in ("shuffle", "code") for series in ("a", "b", "ab")}
    assert len(made) == 6
    assert {len(each) for each in made} == {32}
    assert derive(key, "a", "b") == derive(key, "a", "b") != derive(bytes(16), "a", "b")
