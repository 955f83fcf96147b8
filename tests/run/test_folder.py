"""Files appear whole or not at all."""

from __future__ import annotations

import errno
import hashlib
import json
import os
from pathlib import Path

import pytest

from vdp.errors import CallerError
from vdp.run.folder import clear, held, keep_out, prepare, put, put_json, sha256_of


def test_a_file_is_put_in_place_whole(tmp_path: Path) -> None:
    put(tmp_path / "a", b"one")
    put(tmp_path / "a", b"two")
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a", b"two")]
    assert sha256_of(tmp_path / "a") == hashlib.sha256(b"two").hexdigest()


def test_json_is_readable_and_keeps_its_order(tmp_path: Path) -> None:
    put_json(tmp_path / "r.json", {"b": "ΰ", "a": 1})
    text = (tmp_path / "r.json").read_text(encoding="utf-8")
    assert "ΰ" in text
    assert list(json.loads(text)) == ["b", "a"]


def test_a_full_disk_leaves_the_old_file_and_no_part(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path / "a", b"old")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("vdp.run.folder.os.fsync", full)
    with pytest.raises(CallerError, match="No space left on device"):
        put(tmp_path / "a", b"new")
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a", b"old")]


def test_only_a_plain_file_is_replaced(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(CallerError, match=r"no plain file stands there .*choose another place"):
        put(tmp_path / "pipe", b"new")
    with pytest.raises(CallerError, match="choose another place"):
        put(tmp_path / "nowhere" / "a", b"new")


def test_a_sealed_run_takes_nothing_more(tmp_path: Path) -> None:
    sealed = tmp_path / "out"
    prepare(sealed)
    for name in ("report.json", "seal.json"):
        put(sealed / name, b"{}")
    with pytest.raises(CallerError, match="out: is a sealed run, and anything more"):
        prepare(sealed)
    for run in (False, True):
        with pytest.raises(CallerError, match="plates: lies in a sealed run"):
            keep_out(sealed / "x" / "plates", run=run)
    prepare(sealed, run=True)
    prepare(tmp_path / "plates")
    assert sorted(path.name for path in sealed.iterdir()) == ["report.json", "seal.json"]


def test_a_folder_is_made_and_tried(tmp_path: Path) -> None:
    prepare(tmp_path / "x/y")
    assert list((tmp_path / "x/y").iterdir()) == []
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(CallerError, match="is a file, not a folder"):
        prepare(tmp_path / "file")


def test_what_an_earlier_run_left_is_removed(tmp_path: Path) -> None:
    for name in ("a", "a.part", "mine"):
        (tmp_path / name).write_bytes(b"")
    clear(tmp_path, ["a", "b"])
    assert [path.name for path in tmp_path.iterdir()] == ["mine"]


def test_a_folder_where_a_file_should_go_is_said(tmp_path: Path) -> None:
    (tmp_path / "pieces.pdf").mkdir()
    with pytest.raises(CallerError, match="stands where a file of the run goes"):
        clear(tmp_path, ["pieces.pdf"])


def test_two_runs_never_write_into_one_folder(tmp_path: Path) -> None:
    with held(tmp_path), pytest.raises(CallerError, match="another run is writing into it"), held(tmp_path):
        pass
    with held(tmp_path):
        pass
    assert list(tmp_path.iterdir()) == []
