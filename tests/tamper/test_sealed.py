"""Strangers at a sealed folder: without the signing key nothing can be changed, added or taken away unseen, and nothing
that lies there can make the auditor stumble."""

from __future__ import annotations

import json
import os
import random
import shutil
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.commands import sealed_run
from tests.small import BACK, FRONT
from tests.tamper.sealed import DESK, PIECES, QUIET, Attacked
from vdp.audit.claims import read_claims
from vdp.audit.proof import judge_proof
from vdp.audit.seal import public_key, read_seal, signed
from vdp.audit.strict import read_strict, written
from vdp.run.audit import audit_runs
from vdp.run.sealed import judge_seal, open_sealed
from vdp.run.sealing import DATA, PUBLIC, SALTS, SEAL, prove, read_public

SEED = 20270301
STRANGER = b"\x09" * 32


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The smallest sealed run: its JSON files are a few kilobytes."""
    return sealed_run(tmp_path_factory.mktemp("small"), layout=FRONT + BACK)


@pytest.fixture
def copy(small: Path, tmp_path: Path) -> Path:
    shutil.copytree(small, tmp_path / "small")
    return tmp_path / "small"


# -- bytes -------------------------------------------------------------------------------------------------------------


def test_nothing_is_found_in_what_was_not_touched(attacked: Attacked) -> None:
    for folder in ("out", "again", "third", "next"):
        assert attacked.codes(folder) == set()


def test_every_byte_of_the_seal_counts(copy: Path) -> None:
    """Each byte changed to what a careless reader would take for the same, and in each of its bits."""
    key, path = read_public(copy / "press.key.public"), copy / "out" / SEAL
    whole = path.read_bytes()
    for at, byte in enumerate(whole):
        others = {byte ^ 1 << bit for bit in range(8)} | set(b' \n\t\r,"0aA')
        for other in others - {byte}:
            try:
                fault = read_seal(whole[:at] + bytes([other]) + whole[at + 1 :]).fault(key)
            except ValueError:
                continue
            assert fault, (at, chr(byte), chr(other))
    for changed in (whole + b"\n", whole[:-1], b" " + whole, b"\xef\xbb\xbf" + whole, whole.replace(b"\n", b"\r\n")):
        path.write_bytes(changed)
        assert [finding.code for finding in judge_seal(copy / "out", key)] == ["seal-broken"]


@pytest.mark.parametrize("name", ["report.json", DATA, PUBLIC, SALTS, "set_aside.csv"])
def test_every_byte_of_a_small_file_counts(name: str, copy: Path) -> None:
    key, path = read_public(copy / "press.key.public"), copy / "out" / name
    whole = path.read_bytes()
    draw = random.Random(SEED)
    for at, byte in enumerate(whole):
        path.write_bytes(whole[:at] + bytes([byte ^ draw.randrange(1, 256)]) + whole[at + 1 :])
        assert any(finding.code == "seal-differs" for finding in open_sealed(copy / "out", key).found), at


def test_bytes_of_large_files_count(attacked: Attacked) -> None:
    """A seeded sample, and each file's ends; every file that a run with sheets has."""
    key, draw = read_public(attacked.key), random.Random(SEED)
    for path in sorted(attacked.folder().iterdir()):
        whole = path.read_bytes()
        for at in {0, len(whole) - 1, *(draw.randrange(len(whole)) for _ in range(12))}:
            path.write_bytes(whole[:at] + bytes([whole[at] ^ draw.randrange(1, 256)]) + whole[at + 1 :])
            assert open_sealed(attacked.folder(), key).found, (path.name, at)
        for changed in (whole + b"\n", whole[:-1]):
            path.write_bytes(changed)
            assert open_sealed(attacked.folder(), key).found, path.name
        path.write_bytes(whole)
    assert attacked.codes() == set()


# -- files -------------------------------------------------------------------------------------------------------------


def test_a_file_that_is_gone_is_found(attacked: Attacked) -> None:
    for path in sorted(attacked.folder().iterdir()):
        whole = path.read_bytes()
        path.unlink()
        due = {SEAL: {"seal-missing"}, DATA: {"seal-salts"}, SALTS: set(), "report.json": {"seal-differs"}}
        found = attacked.codes() - {"file-unreadable"}
        assert found == due.get(path.name, {"seal-differs"}), path.name
        path.write_bytes(whole)


def test_recipients_data_may_go_with_its_salts_and_the_rest_is_still_judged(attacked: Attacked) -> None:
    for name in (DATA, SALTS):
        (attacked.folder() / name).unlink()
    audit = attacked.audit(decode=True)
    assert audit.ok, audit.findings
    assert audit.serials == PIECES
    assert any("data was removed, as it may be" in said for said in audit.unchecked)
    attacked.file(PUBLIC, lambda data: data.replace(b'"row":3,', b'"row":4,'))
    assert attacked.codes() == {"seal-differs"}


@pytest.mark.parametrize("kind", ["file", "folder", "link", "hidden", "roll"])
def test_what_was_not_sealed_is_found(kind: str, attacked: Attacked) -> None:
    at = attacked.folder()
    match kind:
        case "file":
            (at / "extra.pdf").write_bytes(b"x")
        case "folder":
            (at / "more").mkdir()
        case "link":
            (at / "pieces-2.pdf").symlink_to("pieces.pdf")
        case "hidden":
            (at / ".pieces.pdf").write_bytes(b"")
        case _:
            shutil.copy(at / "pieces.pdf", at / "sheets-009.pdf")
    assert attacked.codes() == {"seal-stray"}


def test_a_pipe_or_a_folder_in_a_files_place_is_found_and_not_waited_for(attacked: Attacked) -> None:
    for name, put in (("set_aside.csv", os.mkfifo), (PUBLIC, os.mkdir), (SEAL, os.mkdir), (DATA, os.mkfifo)):
        path = attacked.folder() / name
        whole = path.read_bytes()
        path.unlink()
        put(path)
        assert attacked.codes() & {"seal-differs", "seal-broken", "seal-salts"}, name
        path.rmdir() if path.is_dir() else path.unlink()
        path.write_bytes(whole)


# -- other keys --------------------------------------------------------------------------------------------------------


def test_another_key_is_not_believed(attacked: Attacked) -> None:
    attacked.reseal(secret=STRANGER)
    assert attacked.codes() == {"seal-broken"}
    # Nor is the key holder's name on a stranger's signature.
    path = attacked.folder() / SEAL
    value = json.loads(path.read_bytes())
    path.write_bytes(written({**value, "public_key": read_public(attacked.key).hex()}))
    assert attacked.codes() == {"seal-broken"}


def test_no_key_is_told(attacked: Attacked) -> None:
    assert [finding.code for finding in judge_seal(attacked.folder(), None)] == ["seal-unchecked"]


def test_a_signature_of_another_kind_is_none(small: Path) -> None:
    """The same statement signed without the seal's context, or a seal of another version."""
    value = json.loads((small / "out" / SEAL).read_bytes())
    for version in (1, 3, 2.0, True, "2"):
        with pytest.raises(ValueError, match="version"):
            read_seal(written(signed({**value["seal"], "version": version}, STRANGER)))


# -- hostile JSON ------------------------------------------------------------------------------------------------------

HOSTILE = {
    "deep lists": b"[" * 400_000,
    "deep objects": b'{"seal":' * 200_000,
    "a list": b"[]",
    "null": b"null",
    "nothing": b"",
    "not UTF-8": b"\xff\xfe{}",
    "a lone surrogate": b'{"seal":"\\ud800","public_key":"","signature":""}',
    "no number": b'{"seal":NaN}',
    "a long number": b'{"seal":' + b"9" * 10_000 + b"}",
    "too large": b" " * 1_000_001,
    "keys told twice": b'{"seal":{},"seal":{},"public_key":"","signature":""}',
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_hostile_json_is_a_finding_in_every_place(text: bytes, copy: Path) -> None:
    key = read_public(copy / "press.key.public")
    for name, code in ((SEAL, "seal-broken"), ("report.json", "file-unreadable"), (PUBLIC, "seal-differs")):
        path = copy / "out" / name
        whole = path.read_bytes()
        path.write_bytes(text)
        assert code in {finding.code for finding in judge_seal(copy / "out", key)}, name
        path.write_bytes(whole)
    assert not judge_proof(text, key)


@pytest.mark.parametrize("name", ["report.json", DATA, PUBLIC, SALTS, SEAL, "set_aside.csv", "pieces.pdf"])
def test_an_audit_in_full_of_a_hostile_file_ends_with_findings(name: str, copy: Path) -> None:
    for text in (HOSTILE["deep lists"], HOSTILE["nothing"], b'{"piece":1,"piece":1}\n'):
        (copy / "out" / name).write_bytes(text)
        audit = audit_runs(
            [copy / "out"],
            key=copy / "press.key.public",
            ledgers=[str(copy / "ledger.sqlite")],
            decode=True,
            workers=1,
            out=None,
            screen=QUIET,
            desk=DESK,
        )
        assert not audit.ok


def changed(value: Any, draw: random.Random) -> Any:
    """A value with something in it, somewhere, of another kind."""
    strange: tuple[Any, ...] = (
        None,
        True,
        -1,
        1.5,
        2**70,
        "",
        "x" * 5000,
        "a\0b",
        "../x",
        [],
        {},
        [[]],
        "00" * 32,
        "é",
    )
    if isinstance(value, dict) and value and draw.random() < 0.85:
        name = draw.choice(sorted(value))
        match draw.randrange(8):
            case 0:
                return {key: each for key, each in value.items() if key != name}
            case 1:
                return {**value, draw.choice(["x" * 5000, "a\0b", "../job.yaml", "sheets-001.pdf", ""]): value[name]}
            case _:
                return {**value, name: changed(value[name], draw)}
    if isinstance(value, list) and value and draw.random() < 0.85:
        at = draw.randrange(len(value))
        return [*value[:at], changed(value[at], draw), *value[at + 1 :]]
    return draw.choice(strange)


def test_statements_of_any_shape_are_findings_though_the_key_signed_them(copy: Path) -> None:
    """What an insider may sign: 300 statements, each changed in one or more places."""
    key, secret = read_public(copy / "press.key.public"), bytes.fromhex((copy / "press.key").read_text().strip())
    path, draw = copy / "out" / SEAL, random.Random(SEED)
    said = json.loads(path.read_bytes())["seal"]
    for _ in range(300):
        other = said
        while other == said:
            for _ in range(draw.randrange(1, 4)):
                other = changed(other, draw)
        try:
            path.write_bytes(written(signed(other, secret)))
        except (TypeError, ValueError, AttributeError):
            continue  # not even a signer could make it
        assert list(judge_seal(copy / "out", key)), other


def test_reports_and_lines_of_any_shape_make_no_auditor_stumble(copy: Path) -> None:
    key, draw = read_public(copy / "press.key.public"), random.Random(SEED)
    report = json.loads((copy / "out/report.json").read_bytes())
    lines = {name: (copy / "out" / name).read_text("utf-8").splitlines() for name in (PUBLIC, DATA)}
    for _ in range(150):
        (copy / "out/report.json").write_text(json.dumps(changed(report, draw)))
        for name, texts in lines.items():
            others = [json.dumps(changed(json.loads(text), draw)) for text in texts]
            (copy / "out" / name).write_text("\n".join(others) + draw.choice(["\n", ""]), "utf-8")
        assert list(judge_seal(copy / "out", key))


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=200) | st.text(alphabet='[]{}",:0123456789.eE-+ntf\\u', max_size=60).map(str.encode))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    for reader in (read_claims, read_seal, lambda raw: read_strict(raw, 1000)):
        try:
            reader(data)
        except ValueError:
            continue
    assert not judge_proof(data, public_key(STRANGER))


# -- proofs ------------------------------------------------------------------------------------------------------------


def test_a_proof_with_anything_changed_does_not_hold(copy: Path) -> None:
    key, draw = read_public(copy / "press.key.public"), random.Random(SEED)
    serials = [json.loads(line)["serials"]["voucher"] for line in (copy / "out" / PUBLIC).read_text().splitlines()]
    proof = prove([copy / "out"], serials[1])
    assert judge_proof(written(proof), key)
    for _ in range(400):
        other = changed(proof, draw)
        if other != proof:
            assert not judge_proof(json.dumps(other).encode(), key), other
    whole = written(proof)
    for at in range(len(whole)):
        raw = whole[:at] + bytes([whole[at] ^ draw.randrange(1, 256)]) + whole[at + 1 :]
        proven = judge_proof(raw, key)
        assert not proven or proven.serials == {"voucher": serials[1]}  # white space between values is free
    other = prove([copy / "out"], serials[2])
    for part in ("index", "line", "path"):
        assert not judge_proof(written({**proof, part: other[part]}), key)
    assert not judge_proof(written({**proof, "path": ["00" * 32] * 65}), key)
    assert not judge_proof(written(proof), public_key(STRANGER))
    assert not judge_proof(written(proof), b"short")
