"""Sealed runs: any changed byte is found, recipients' data can go, proofs stand alone, keys are kept from others."""

from __future__ import annotations

import io
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from tests.run.test_plan import ROWS, WEB
from tests.small import BACK, FRONT, JOB, write_job
from vdp import cli
from vdp.audit.seal import public_key, signed
from vdp.audit.tree import leaf_hash, root_of
from vdp.errors import CallerError
from vdp.run.audit import audit_runs, check_proof
from vdp.run.folder import sha256_of
from vdp.run.screen import Screen
from vdp.run.sealing import PUBLIC, SEAL, judge_seal, make_key, prove, read_public

SCREEN = Screen(io.StringIO())


def ended(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, Any]:
    with pytest.raises(SystemExit) as caught:
        cli.main([*words, "--json"])
    assert isinstance(caught.value.code, int)
    return caught.value.code, json.loads(capsys.readouterr().out)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job, a key, and a sealed run."""
    folder = tmp_path_factory.mktemp("sealed")
    job = write_job(folder, layout=FRONT + BACK, job=JOB + WEB + "packing: {band: 5}\n", records=ROWS)
    make_key(folder / "press.key")
    with pytest.raises(SystemExit) as caught:
        cli.main(["run", str(job), "--key", str(folder / "press.key"), "--json"])
    assert caught.value.code == 0
    return folder


@pytest.fixture
def copy(home: Path, tmp_path: Path) -> Path:
    shutil.copytree(home / "out", tmp_path / "out")
    return tmp_path / "out"


def codes(folder: Path, home: Path) -> list[str]:
    return [finding.code for finding in judge_seal(folder, read_public(home / "press.key.public"))]


def test_a_sealed_run_is_good(home: Path) -> None:
    assert codes(home / "out", home) == []
    names = {path.name for path in (home / "out").iterdir()}
    assert {"seal.json", PUBLIC, "packing.csv", "sheets.pdf"} <= names
    assert (home / "out" / "pieces.jsonl").stat().st_mode & 0o077 == 0


def test_any_changed_byte_of_any_file_is_found(copy: Path, home: Path) -> None:
    for path in sorted(copy.iterdir()):
        before = path.read_bytes()
        for at in {0, len(before) // 2, len(before) - 1}:
            path.write_bytes(before[:at] + bytes([before[at] ^ 1]) + before[at + 1 :])
            assert codes(copy, home), (path.name, at)
        path.write_bytes(before)
        path.unlink()
        # The file with recipients' data is the only one that may go.
        assert bool(codes(copy, home)) == (path.name != "pieces.jsonl"), path.name
        path.write_bytes(before)
    (copy / "labels.pdf").rename(copy / "sheets-001.pdf")
    assert "seal-differs" in codes(copy, home)


def test_data_is_not_in_public_lines_and_cannot_be_tried_out(home: Path) -> None:
    public = (home / "out" / PUBLIC).read_text()
    private = [json.loads(line) for line in (home / "out" / "pieces.jsonl").read_text().splitlines()]
    hashes = [symbol["data_hash"] for line in public.splitlines() for symbol in json.loads(line)["symbols"]]
    assert '"data":' not in public
    assert "Guest" not in public
    import hashlib

    plain = {hashlib.sha256(s["data"].encode()).hexdigest() for line in private for s in line["symbols"]}
    assert not plain & set(hashes)
    assert len(set(hashes)) == len(hashes)  # the same data on two symbols gives two hashes


def resigned(folder: Path, secret: bytes, change: Callable[[dict[str, Any]], None]) -> None:
    """Signs the seal anew, after a change."""
    statement = json.loads((folder / SEAL).read_bytes())["seal"]
    change(statement)
    (folder / SEAL).write_text(json.dumps(signed(statement, secret)))


def test_another_key_is_not_believed(copy: Path, home: Path) -> None:
    stranger = Ed25519PrivateKey.generate().private_bytes_raw()
    resigned(copy, stranger, lambda _: None)
    assert codes(copy, home) == ["seal-broken"]


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda s: s["tree"].update(size=s["tree"]["size"] - 1), "seal-differs"),
        (lambda s: s["tree"].update(root="00" * 32), "seal-differs"),
        (lambda s: s["counts"].update(pieces=1), "seal-differs"),
        (lambda s: s["files"].pop("pieces.pdf"), "seal-differs"),
        (lambda s: s["files"].update({"../job.yaml": "00"}), "seal-broken"),
        (lambda s: s.update(version=2), "seal-broken"),
        (lambda s: s.update(files=[]), "seal-broken"),
    ],
)
def test_a_false_statement_is_found_though_the_key_signed_it(
    change: Callable[[dict[str, Any]], None], code: str, copy: Path, home: Path
) -> None:
    secret = bytes.fromhex((home / "press.key").read_text().strip())
    resigned(copy, secret, change)
    assert code in codes(copy, home)


def test_a_piece_left_out_by_who_holds_the_key_is_found_when_pages_are_read(copy: Path, home: Path) -> None:
    secret = bytes.fromhex((home / "press.key").read_text().strip())
    for name in ("pieces.jsonl", PUBLIC):
        lines = (copy / name).read_bytes().splitlines(keepends=True)
        (copy / name).write_bytes(b"".join(lines[:-1]))
    kept = (copy / PUBLIC).read_bytes().splitlines()

    def change(statement: dict[str, Any]) -> None:
        statement["tree"] = {"size": len(kept), "root": root_of(map(leaf_hash, kept)).hex()}
        statement["counts"] = {"records": len(kept), "pieces": len(kept), "set_aside": 0}
        statement["files"][PUBLIC] = sha256_of(copy / PUBLIC)
        statement["private"]["pieces.jsonl"] = sha256_of(copy / "pieces.jsonl")

    resigned(copy, secret, change)
    assert codes(copy, home) == []  # the seal is of what is there …
    found = audit_runs(
        [copy], key=home / "press.key.public", ledger=None, decode=True, workers=1, out=None, screen=SCREEN
    )
    assert not found.ok  # … and the pages say that a piece is gone


def test_proofs_stand_alone(home: Path, tmp_path: Path) -> None:
    serial = json.loads((home / "out" / PUBLIC).read_text().splitlines()[6])["serials"]["voucher"]
    proof = prove(home / "out", serial)
    path = tmp_path / "proof.json"
    path.write_text(json.dumps(proof))
    key = home / "press.key.public"
    assert check_proof(path, key)
    assert len(path.read_bytes()) < 10_000
    for change in (
        {"index": 5},
        {"line": proof["line"].replace(serial, "V9999")},
        {"path": proof["path"][:-1]},
        {"path": "no"},
        {"seal": {**proof["seal"], "signature": "00" * 64}},
        {"index": True},
    ):
        path.write_text(json.dumps({**proof, **change}))
        assert not check_proof(path, key), change
    other = tmp_path / "other.public"
    other.write_text(public_key(b"\1" * 32).hex())
    path.write_text(json.dumps(proof))
    assert not check_proof(path, other)
    with pytest.raises(CallerError, match="no piece"):
        prove(home / "out", "V9999")
    with pytest.raises(CallerError, match="no sealed run"):
        prove(tmp_path, "V9999")


def test_keys_are_kept_from_others(tmp_path: Path) -> None:
    beside = make_key(tmp_path / "a.key")
    assert (tmp_path / "a.key").stat().st_mode & 0o777 == 0o600
    assert len(read_public(beside)) == 32
    with pytest.raises(CallerError, match="there already"):
        make_key(tmp_path / "a.key")
    with pytest.raises(CallerError, match="cannot be written"):
        make_key(tmp_path / "absent" / "a.key")
    for text in ("zz", "00" * 16):
        (tmp_path / "b").write_text(text)
        with pytest.raises(CallerError, match="public key"):
            read_public(tmp_path / "b")


def test_a_key_that_others_may_read_seals_nothing(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = write_job(tmp_path, layout=FRONT + BACK)
    shutil.copy(home / "press.key", tmp_path / "wide.key")
    (tmp_path / "wide.key").chmod(0o644)
    code, _ = ended(["run", str(job), "--key", str(tmp_path / "wide.key")], capsys)
    assert code == 2
    assert not (tmp_path / "out" / SEAL).exists()


def test_an_audit_of_runs(home: Path, copy: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    key, filed = str(home / "press.key.public"), tmp_path / "filed"
    code, told = ended(["audit", str(home / "out"), "--key", key, "--out", str(filed)], capsys)
    assert (code, told["findings"], told["pieces"], told["serials_unique"]) == (0, [], 19, 19)
    assert [check["good"] for check in told["checks"]] == [True] * 3
    assert any("ledger" in said for said in told["not_checked"])
    assert json.loads((filed / "audit.json").read_text())["ok"] is True
    assert (filed / "audit.pdf").read_bytes().startswith(b"%PDF")
    code, told = ended(["audit", str(home / "out"), "--ledger", str(home / "ledger.sqlite"), "--no-decode"], capsys)
    assert (code, [finding["code"] for finding in told["findings"]]) == (1, ["seal-unchecked"])
    code, told = ended(["audit", str(home / "out"), str(copy), "--key", key, "--no-decode"], capsys)
    assert {finding["code"] for finding in told["findings"]} == {"audit-serial-twice"}
    assert len(told["findings"]) == 19
    (copy / SEAL).unlink()
    code, told = ended(["audit", str(copy), "--key", key, "--no-decode"], capsys)
    assert [finding["code"] for finding in told["findings"]] == ["seal-missing"]
    assert ended(["audit", str(tmp_path), "--key", key], capsys)[0] == 2
    assert ended(["audit"], capsys)[0] == 2


def test_proofs_by_words(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    key = str(home / "press.key.public")
    serial = json.loads((home / "out" / PUBLIC).read_text().splitlines()[0])["serials"]["voucher"]
    assert ended(["audit", str(home / "out"), "--prove", serial, "--out", str(tmp_path)], capsys)[0] == 0
    assert ended(["audit", "--proof", str(tmp_path / "proof.json"), "--key", key], capsys) == (0, {"ok": True})
    (tmp_path / "proof.json").write_text("{}")
    assert ended(["audit", "--proof", str(tmp_path / "proof.json"), "--key", key], capsys) == (1, {"ok": False})
    assert ended(["audit", "--proof", str(tmp_path / "proof.json")], capsys)[0] == 2
