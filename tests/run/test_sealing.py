"""Sealed runs: any changed byte is found, recipients' data can go, proofs stand alone, keys are kept from others."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import pytest

from tests.commands import ended, sealed_run
from tests.run.test_plan import ROWS, WEB
from tests.small import BACK, FRONT, JOB, write_job
from vdp import cli
from vdp.audit.seal import public_key, public_line, salt_key
from vdp.errors import CallerError
from vdp.run.audit import check_proof
from vdp.run.sealed import judge_seal
from vdp.run.sealing import PUBLIC, SALTS, SEAL, make_key, prove, read_public, seal_run


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job, a key, and a sealed run."""
    said = JOB + WEB + "packing: {band: 5}\n"
    return sealed_run(tmp_path_factory.mktemp("sealed"), layout=FRONT + BACK, job=said, records=ROWS)


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


def test_data_is_not_in_public_lines_and_cannot_be_tried_out(home: Path) -> None:
    public = (home / "out" / PUBLIC).read_text()
    private = [json.loads(line) for line in (home / "out" / "pieces.jsonl").read_text().splitlines()]
    hashes = [symbol["data_hash"] for line in public.splitlines() for symbol in json.loads(line)["symbols"]]
    assert '"data":' not in public
    assert "Guest" not in public
    plain = {hashlib.sha256(s["data"].encode()).hexdigest() for line in private for s in line["symbols"]}
    assert not plain & set(hashes)
    assert len(set(hashes)) == len(hashes)  # the same data on two symbols gives two hashes


def test_salts_differ_from_run_to_run_under_one_key() -> None:
    secret = b"\7" * 32
    line = {
        "piece": 1, "row": 2, "language": "en", "serials": {"s": "V1"}, "place": None, "sha256": "ab" * 32,
        "symbols": [
            {"name": name, "symbology": "qr", "identifier": "]Q1", "plate": "Black", "page": 1,
             "box": [0.0, 1.5, 2.25, 3.0], "data": "the same"} for name in ("a", "a", "b")
        ],
    }  # fmt: skip
    hashes = {
        symbol["data_hash"]
        for run in ("00" * 32, "01" * 32)
        for symbol in json.loads(public_line(line, salt_key(secret, run)))["symbols"]
    }
    assert len(hashes) == 6  # equal data of equal pieces: neither in another run nor in another symbol


def test_proofs_stand_alone(home: Path, tmp_path: Path) -> None:
    serial = json.loads((home / "out" / PUBLIC).read_text().splitlines()[6])["serials"]["voucher"]
    proof = prove([home / "out"], serial)
    path = tmp_path / "proof.json"
    path.write_text(json.dumps(proof))
    key = home / "press.key.public"
    proven = check_proof(path, key)
    assert proven.ok
    assert (proven.serials, proven.piece, proven.row, proven.index, proven.pieces) == (
        {"voucher": serial}, 7, 8, 6, 19,
    )  # fmt: skip
    report = json.loads((home / "out/report.json").read_bytes())
    assert (proven.run, proven.job, proven.reprint) == (report["run"], "Small", None)
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
        prove([home / "out"], "V9999")
    with pytest.raises(CallerError, match="no sealed run"):
        prove([tmp_path], "V9999")


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


def test_a_sealed_run_is_not_replaced_by_another(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, key = write_job(tmp_path, layout=FRONT + BACK), str(home / "press.key")
    assert ended(["run", str(job), "--key", key], capsys)[0] == 0
    sealed = (tmp_path / "out" / SEAL).read_bytes()
    assert ended(["run", str(job), "--key", key], capsys)[0] == 0, "the same run again"
    assert (tmp_path / "out" / SEAL).read_bytes() == sealed
    job.write_text(job.read_text(encoding="utf-8") + "toner: {limit: 300}\n", encoding="utf-8")
    for words in ([], ["--records", str(tmp_path / "list.csv")]):
        code, told = ended(["run", str(job), *words], capsys)
        assert (code, "holds the sealed run" in told["findings"][0]["message"]) == (2, True)
    (tmp_path / "out" / "report.json").write_text("{", encoding="utf-8")
    assert ended(["run", str(job)], capsys)[0] == 2
    assert (tmp_path / "out" / SEAL).read_bytes() == sealed
    code, told = ended(["ledger", "list", str(job), "--events"], capsys)
    assert [entry["kind"] for entry in told["entries"]].count("allocated") == 1, "no number was taken"


def test_an_audit_of_runs(home: Path, copy: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    key, filed = str(home / "press.key.public"), tmp_path / "filed"
    code, told = ended(["audit", str(home / "out"), "--key", key, "--out", str(filed)], capsys)
    assert (code, told["findings"], told["pieces"], told["serials_unique"]) == (0, [], 19, 19)
    assert [check["good"] for check in told["checks"]] == [True] * 4
    assert any("ledger" in said for said in told["not_checked"])
    assert json.loads((filed / "audit.json").read_text())["ok"] is True
    assert (filed / "audit.pdf").read_bytes().startswith(b"%PDF")
    code, told = ended(["audit", str(home / "out"), "--ledger", str(home / "ledger.sqlite"), "--no-decode"], capsys)
    assert (code, [finding["code"] for finding in told["findings"]]) == (1, ["seal-unchecked"])
    code, told = ended(["audit", str(home / "out"), str(copy), "--key", key, "--no-decode"], capsys)
    assert [finding["code"] for finding in told["findings"]] == ["audit-run-twice"]
    assert (told["pieces"], told["serials"]) == (19, 19)  # a run that is given twice is not counted twice
    (tmp_path / "again").symlink_to(home / "out")
    code, told = ended(["audit", str(home / "out"), str(tmp_path / "again"), "--key", key, "--no-decode"], capsys)
    assert (code, told["pieces"]) == (0, 19)
    (copy / SEAL).unlink()
    code, told = ended(["audit", str(copy), "--key", key, "--no-decode"], capsys)
    assert [finding["code"] for finding in told["findings"]] == ["seal-missing"]
    assert ended(["audit", str(tmp_path), "--key", key], capsys)[0] == 2
    assert ended(["audit"], capsys)[0] == 2


def test_proofs_by_words(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    key = str(home / "press.key.public")
    serial = json.loads((home / "out" / PUBLIC).read_text().splitlines()[0])["serials"]["voucher"]
    assert ended(["audit", str(home / "out"), "--prove", serial, "--out", str(tmp_path)], capsys)[0] == 0
    code, told = ended(["audit", "--proof", str(tmp_path / "proof.json"), "--key", key], capsys)
    assert (code, told["ok"], told["serials"], told["piece"]) == (0, True, {"voucher": serial}, 1)
    for bad in ("{}", "[" * 200_000, '{"proof":2,"proof":2}', "é"):
        (tmp_path / "proof.json").write_text(bad)
        code, told = ended(["audit", "--proof", str(tmp_path / "proof.json"), "--key", key], capsys)
        assert (code, told["ok"], told["findings"][0]["code"]) == (1, False, "proof-broken")
    assert ended(["audit", "--proof", str(tmp_path / "proof.json")], capsys)[0] == 2
    assert ended(["audit", "--proof", str(tmp_path / "absent.json"), "--key", key], capsys)[0] == 2
    code, _ = ended(["audit", str(home / "out"), "--prove", "V9999"], capsys)
    assert code == 2


def test_a_proof_is_told_in_words(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    serial = json.loads((home / "out" / PUBLIC).read_text().splitlines()[2])["serials"]["voucher"]
    path = tmp_path / "proof.json"
    path.write_text(json.dumps(prove([home / "out"], serial)))
    for words, code in (("it holds: voucher " + serial, 0), ("it does NOT hold", 1)):
        with pytest.raises(SystemExit) as caught:
            cli.main(["audit", "--proof", str(path), "--key", str(home / "press.key.public")])
        said = capsys.readouterr().out
        assert (caught.value.code, words in said) == (code, True)
        assert ("is piece 3 (row 4), leaf 3 of 19" in said) == (code == 0)
        path.write_text("{}")


def test_a_serial_of_two_runs_needs_one_folder(home: Path, copy: Path) -> None:
    serial = json.loads((home / "out" / PUBLIC).read_text().splitlines()[0])["serials"]["voucher"]
    with pytest.raises(CallerError, match="is on 2 pieces"):
        prove([home / "out", copy], serial)
    lines = (copy / PUBLIC).read_bytes().splitlines(keepends=True)
    (copy / PUBLIC).write_bytes(b"".join(lines[:-1]))
    with pytest.raises(CallerError, match="no sealed run"):
        prove([copy], serial)


def test_only_a_good_run_is_sealed(home: Path, copy: Path, tmp_path: Path) -> None:
    with pytest.raises(CallerError, match="is not the folder of a run"):
        seal_run(tmp_path, home / "press.key")
    report = json.loads((copy / "report.json").read_bytes())
    (copy / "report.json").write_text(json.dumps({**report, "ok": False}))
    with pytest.raises(CallerError, match="did not come to a good end"):
        seal_run(copy, home / "press.key")
    (copy / "report.json").write_text(json.dumps(report))
    with (copy / "pieces.jsonl").open("ab") as file:
        file.write(b'{"piece":"x"}\n')
    with pytest.raises(CallerError, match="line 20 is no piece"):
        seal_run(copy, home / "press.key")
    assert not (copy / f"{PUBLIC}.part").exists()


def test_recipients_data_is_for_its_owner_alone_sealed_or_not(tmp_path: Path) -> None:
    job = write_job(tmp_path, layout=FRONT + BACK)
    with pytest.raises(SystemExit):
        cli.main(["run", str(job), "--json"])
    assert (tmp_path / "out/pieces.jsonl").stat().st_mode & 0o777 == 0o600


def test_the_same_run_is_sealed_in_the_same_bytes(copy: Path, home: Path) -> None:
    before = {path.name: path.read_bytes() for path in copy.iterdir()}
    assert seal_run(copy, home / "press.key") == (PUBLIC, SALTS, SEAL)
    assert {path.name: path.read_bytes() for path in copy.iterdir()} == before
