"""An approval holds for exactly what was approved, by who approved it; whatever changed afterwards is named."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from tests.commands import ended, said
from tests.small import BACK, FRONT, JOB, write_job
from vdp.audit.seal import signed as sealed
from vdp.errors import CallerError
from vdp.job.load import load_job
from vdp.numbering.allot import NumbersMoved
from vdp.proof.approval import Answer, read_answer, sign
from vdp.run import Approval, run_job
from vdp.run.desk import desk_of
from vdp.run.expected import expect
from vdp.run.screen import Screen
from vdp.run.sealing import make_key
from vdp.run.signoff import last_answer, read_approval, sign_off

SCREEN = Screen(io.StringIO())
LAYOUT = FRONT + '  - {name: face, image: "face.png", box: [46 mm, 28 mm, 8 mm, 8 mm]}\n' + BACK
NAME = ["--name", "A. Marsh"]


@pytest.fixture(scope="module")
def approved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job with its approval, and two key pairs."""
    folder = tmp_path_factory.mktemp("approved")
    job = write_job(folder, layout=LAYOUT)
    Image.new("L", (200, 200), 90).save(folder / "face.png")
    make_key(folder / "customer.key")
    make_key(folder / "other.key")
    sign_off(
        expect(job, records=None, screen=SCREEN), "approved", key=folder / "customer.key", name="A. Marsh", desk=DESK
    )
    return folder


DESK = desk_of("O. Perator")


@pytest.fixture
def home(approved: Path, tmp_path: Path) -> Path:
    shutil.copytree(approved, tmp_path / "job")
    return tmp_path / "job"


def run(home: Path, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, Any]:
    words = ["run", str(home / "job.yaml"), "--approved", "--customer-key", str(home / "customer.key.public")]
    return ended([*words, *more], capsys)


def test_what_was_approved_is_made_and_the_report_says_so(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = run(home, capsys)
    assert (code, found["ok"]) == (0, True)
    report = json.loads((home / "out" / "report.json").read_text())
    told = json.loads((home / "approval.json").read_text())
    assert report["approval"] == {
        "proof": told["approval"]["proof"],
        "name": "A. Marsh",
        "time": told["approval"]["time"],
        "public_key": (home / "customer.key.public").read_text().strip(),
        "key_given": True,
        "sha256": hashlib.sha256((home / "approval.json").read_bytes()).hexdigest(),
        "answer": read_answer((home / "approval.json").read_bytes()).sha256,
    }
    assert not [each for each in found["warnings"] if each["code"] == "approval-unchecked"]
    # The answer is found by that hash when others have followed it.
    key = ["--key", str(home / "other.key"), "--name", "B. Ito"]
    assert answer(home, capsys, "--return", "--comment", "too late", *key)[0] == 0
    followed = read_answer((home / "approval.json").read_bytes())
    assert [one.sha256 for one in followed.earlier] == [report["approval"]["answer"]]
    (home / "approval.json").write_text(json.dumps(told), "utf-8")
    # The same run again has the numbers that were approved.
    assert run(home, capsys)[0] == 0


def test_an_audit_tells_the_approval_and_that_it_was_not_judged(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    make_key(home / "press.key")
    assert run(home, capsys, "--key", str(home / "press.key"))[0] == 0
    words = ["audit", str(home / "out"), "--key", str(home / "press.key.public"), "--no-decode"]
    code, found = ended([*words, "--out", str(tmp_path / "filed")], capsys)
    report = json.loads((home / "out" / "report.json").read_text())["approval"]
    assert (code, found["runs"][0]["approval"]) == (0, {key: report[key] for key in ("name", "time", "proof")})
    (told,) = (each for each in found["not_checked"] if each.startswith("the approval of"))
    assert "A. Marsh approved proof" in told
    assert "was not held against it" in told


def test_without_a_key_the_run_warns(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = ended(["run", str(home / "job.yaml"), "--approved"], capsys)
    assert code == 0
    assert [each["code"] for each in found["warnings"]].count("approval-unchecked") == 1
    assert json.loads((home / "out" / "report.json").read_text())["approval"]["key_given"] is False


def test_a_run_that_asks_for_none_says_none(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "approval.json").unlink()
    assert ended(["run", str(home / "job.yaml")], capsys)[0] == 0
    assert json.loads((home / "out" / "report.json").read_text())["approval"] is None


def edit(name: str, old: str, new: str) -> Callable[[Path], None]:
    def change(home: Path) -> None:
        text = (home / name).read_text("utf-8")
        assert old in text
        (home / name).write_text(text.replace(old, new), "utf-8")

    return change


def repaint(home: Path) -> None:
    Image.new("L", (200, 200), 91).save(home / "face.png")


def take_numbers(home: Path) -> None:
    """Another job of the same ledger and series comes first."""
    said = JOB.replace("job: Small", "job: Other") + f"ledger: {home / 'ledger.sqlite'}\n"
    other = write_job(home / "other", job=said)
    assert run_job(other, records=None, out=None, workers=1, screen=SCREEN).ok


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (edit("layout.yaml", "Dear {{", "Hello {{"), "layout layout.yaml: changed: item front hello"),
        (edit("layout.yaml", "bleed: 2 mm", "bleed: 2.5 mm"), "layout layout.yaml: changed: item bleed"),
        (edit("layout.yaml", "bleed: 2 mm", "bleed:  2 mm"), "changed, although it says the same"),
        (edit("list.csv", "Bo,en", "Bob,en"), "records list.csv: the list changed, with as many rows"),
        (edit("list.csv", "Bo,en\n", ""), "3 rows then and 2 now"),
        (edit("job.yaml", "job: Small", "job: Small \ndate: 2026-03-09"), "job job.yaml: changed: key date"),
        (edit("job.yaml", "width: 4", "width: 5"), "series voucher: its terms changed: width"),
        (repaint, "images face.png: this picture changed"),
        (take_numbers, "series voucher: V00076 to V00092 were approved, and the run would have V00101 to V00125"),
    ],
)
def test_whatever_has_changed_is_named_and_nothing_is_made(
    home: Path, capsys: pytest.CaptureFixture[str], change: Callable[[Path], None], words: str
) -> None:
    change(home)
    before = (home / "ledger.sqlite").read_bytes() if (home / "ledger.sqlite").exists() else b""
    code, found = run(home, capsys)
    assert code == 2
    assert words in said(found)
    assert "A. Marsh approved proof" in said(found)
    assert not (home / "out").exists()
    assert not before or (home / "ledger.sqlite").read_bytes() == before, "a number was taken"


def test_what_changed_is_told_before_a_record_is_tried(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An earlier run's folder stays as it is, and no row is read, whatever is known to have changed by then."""
    assert run(home, capsys)[0] == 0
    before = {path.name: path.read_bytes() for path in (home / "out").iterdir()}

    def never(*_: object) -> None:
        raise AssertionError("a row was tried")

    monkeypatch.setattr("vdp.run.take_in", never)
    repaint(home)
    edit("list.csv", "Bo,en", "Bo,fr")(home)  # no wording in that language: it would be set aside
    edit("layout.yaml", "Dear {{", "Hello {{")(home)
    code, found = run(home, capsys)
    assert code == 2
    for words in ("layout layout.yaml: changed", "records list.csv: the list changed", "images face.png: this picture"):
        assert words in said(found)
    assert {path.name: path.read_bytes() for path in (home / "out").iterdir()} == before


def test_numbers_with_parts_of_records_are_held_once_they_are_known(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Before the first pass such serials are not known, only where the numbers begin."""
    said_job = JOB.replace("prefix: V", 'prefix: "{{ lang }}-"')
    assert "{{ lang }}" in said_job
    write_job(tmp_path, job=said_job)
    make_key(tmp_path / "customer.key")
    key = ["--key", str(tmp_path / "customer.key"), *NAME]
    assert answer(tmp_path, capsys, "--approve", *key)[0] == 0
    assert run(tmp_path, capsys)[0] == 0
    take = JOB.replace("job: Small", "job: Other").replace("prefix: V", 'prefix: "{{ lang }}-"')
    other = write_job(tmp_path / "other", job=f"{take}ledger: {tmp_path / 'ledger.sqlite'}\n")
    (tmp_path / "ledger.sqlite").unlink(missing_ok=True)
    assert run_job(other, records=None, out=None, workers=1, screen=SCREEN).ok
    code, found = run(tmp_path, capsys)
    assert (code, "were approved, and the run would begin 3 numbers later" in said(found)) == (2, True)


def test_numbers_that_move_while_the_run_is_made_are_not_taken(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another run takes numbers between the first pass and the allotment: the approval does not hold for the next."""

    def moved(*_: object) -> None:
        raise NumbersMoved({"voucher": 40})

    monkeypatch.setattr("vdp.run.allot_run", moved)
    code, found = run(home, capsys)
    assert code == 2
    assert "V00076 to V00092 were approved, and the run would have V0047" in said(found)
    assert not (home / "out" / "pieces.pdf").exists()


def test_other_faces_and_other_versions_are_named(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("vdp.run.basis.__version__", "99.0")
    monkeypatch.setattr("vdp.run.basis._faces", lambda _: {"sans": "0"})
    code, found = run(home, capsys)
    assert code == 2
    assert "this is 99.0" in said(found)
    assert "faces sans: this face changed" in said(found)
    assert "faces serif: this face is no longer used" in said(found)


# -- tampering with the answer -----------------------------------------------------------------------------------------


def tampered(home: Path, change: Callable[[dict[str, Any]], None]) -> None:
    told = json.loads((home / "approval.json").read_bytes())
    change(told)
    (home / "approval.json").write_text(json.dumps(told), "utf-8")


def rename(told: dict[str, Any]) -> None:
    told["approval"]["name"] = "B. Ito"


def other_proof(told: dict[str, Any]) -> None:
    told["approval"]["proof"] = "0" * 64


def other_basis(told: dict[str, Any]) -> None:
    told["approval"]["basis"]["records"]["rows"] = 7


def other_signature(told: dict[str, Any]) -> None:
    told["signature"] = "00" * 64


def short_signature(told: dict[str, Any]) -> None:
    told["signature"] = "00"


def other_version(told: dict[str, Any]) -> None:
    told["approval"]["version"] = 2


def no_decision(told: dict[str, Any]) -> None:
    told["approval"]["decision"] = "perhaps"


def nothing(told: dict[str, Any]) -> None:
    told.clear()


def no_text(told: dict[str, Any]) -> None:
    told["approval"]["name"] = 7


def one_more(told: dict[str, Any]) -> None:
    told["approval"]["note"] = "x"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (rename, "its signature does not hold: it was changed"),
        (other_signature, "its signature does not hold"),
        (other_proof, "is no approval: it is not bound to what it says was proofed"),
        (other_basis, "is no approval: it is not bound to what it says was proofed"),
        (one_more, "is no approval: it is not bound"),
        (short_signature, "another length"),
        (other_version, "it is of version 2"),
        (no_decision, "'perhaps' is no decision"),
        (no_text, "7 is no text"),
        (nothing, "is no approval: it holds no answer"),
    ],
)
def test_a_changed_approval_is_none(
    home: Path, capsys: pytest.CaptureFixture[str], change: Callable[[dict[str, Any]], None], words: str
) -> None:
    tampered(home, change)
    code, found = run(home, capsys)
    assert code == 2
    assert words in said(found)
    assert not (home / "out").exists()


def test_a_file_that_is_no_answer_at_all(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for data in (b"", b"[" * 9000, b"\xff\xfe", b"[]"):
        (home / "approval.json").write_bytes(data)
        code, found = run(home, capsys)
        assert code == 2
        assert "is no approval" in said(found)
    with pytest.raises(ValueError, match="larger"):
        read_answer(b" " * 10_000_001)
    (home / "approval.json").unlink()
    (home / "approval.json").mkdir()
    assert "cannot be read: Is a directory (name the file that holds the approval)" in said(run(home, capsys)[1])


@pytest.mark.parametrize(("answers", "step"), [(1, 1), (2, 13)])
def test_any_changed_byte_is_found(home: Path, capsys: pytest.CaptureFixture[str], answers: int, step: int) -> None:
    job, path, key = load_job(home / "job.yaml"), home / "approval.json", home / "customer.key.public"
    if answers == 2:
        assert answer(home, capsys, "--approve", "--key", str(home / "customer.key"), *NAME)[0] == 0
        told = json.loads(path.read_bytes())
        path.write_text(json.dumps(told, separators=(",", ":"), ensure_ascii=False), "utf-8")
    assert read_approval(job, None, key).checked
    before = path.read_bytes()
    for at in range(0, len(before), step):
        path.write_bytes(before[:at] + bytes([before[at] ^ 1]) + before[at + 1 :])
        with pytest.raises(CallerError):
            read_approval(job, None, key)


def test_another_key_signed_it(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Somebody signs the very same statement with a key of their own."""
    answer = read_answer((home / "approval.json").read_bytes()).answer
    forged = sign(answer, bytes.fromhex((home / "other.key").read_text().strip()))
    (home / "approval.json").write_text(json.dumps(forged), "utf-8")
    code, found = run(home, capsys)
    assert code == 2
    assert "not by the key of" in said(found)
    # With the customer's key written over theirs the signature no longer holds.
    forged["public_key"] = (home / "customer.key.public").read_text().strip()
    (home / "approval.json").write_text(json.dumps(forged), "utf-8")
    assert "its signature does not hold" in said(run(home, capsys)[1])


def test_a_seal_is_no_approval(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A seal's signature over the same words, made with the customer's key, does not count."""
    told = json.loads((home / "approval.json").read_bytes())
    seal = sealed(told["approval"], bytes.fromhex((home / "customer.key").read_text().strip()))
    told["signature"] = seal["signature"]
    (home / "approval.json").write_text(json.dumps(told), "utf-8")
    assert "its signature does not hold" in said(run(home, capsys)[1])


def test_without_an_approval_and_under_another_jobs(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = write_job(home / "other", job=JOB.replace("job: Small", "job: Other"))
    words = ["run", str(other), "--approved"]
    code, found = ended(words, capsys)
    assert code == 2
    assert "there is no approval" in said(found)
    code, found = ended([*words, "--approval", str(home / "approval.json")], capsys)
    assert code == 2
    assert "it is the approval of another job, 'Small'" in said(found)
    # Nor is it written over by the other's.
    with pytest.raises(CallerError, match="holds the answer for another job, 'Small'"):
        sign_off(
            expect(other, records=None, screen=SCREEN),
            "approved",
            key=home / "customer.key",
            name="A. Marsh",
            desk=DESK,
            place=home / "approval.json",
        )


def test_a_job_of_the_same_name_that_is_another(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = write_job(home / "other", records="name,lang\nZoë,en\n")
    shutil.copy(home / "approval.json", home / "other" / "approval.json")
    code, found = ended(["run", str(other), "--approved"], capsys)
    assert code == 2
    assert "records list.csv: the list changed" in said(found)


# -- answering ---------------------------------------------------------------------------------------------------------


def answer(home: Path, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, Any]:
    return ended(["proof", str(home / "job.yaml"), *words], capsys)


def test_a_returned_proof_is_no_approval(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    key = ["--key", str(home / "customer.key"), *NAME]
    comments = ["--comment", "piece 2 front 20,10: the name is cut", "--comment", "too pale"]
    code, found = answer(home, capsys, "--return", *comments, *key)
    assert (code, found["files"]) == (0, ["approval.json"])
    told = read_answer((home / "approval.json").read_bytes())
    assert told.is_signed_by(bytes.fromhex((home / "customer.key.public").read_text().strip()))
    assert not told.is_signed_by(b"short")
    assert [comment.words for comment in told.answer.comments] == ["the name is cut", "too pale"]
    assert told.answer.comments[0].at == (20.0, 10.0)
    code, found = run(home, capsys)
    assert code == 2
    assert "A. Marsh returned the proof (piece 2, front, 20 mm from the left and 10 mm down: the name" in said(found)
    # Approved after all, in its place.
    assert answer(home, capsys, "--approve", *key)[0] == 0
    assert run(home, capsys)[0] == 0


def test_every_answer_is_kept_and_says_which_it_follows(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The file of one answer is read as before; the second has the first behind it, signed as it was."""
    path, other = home / "approval.json", ["--key", str(home / "other.key"), "--name", "B. Ito"]
    first = json.loads(path.read_bytes())
    assert "earlier" not in first
    assert "follows" not in first["approval"]
    assert answer(home, capsys, "--return", "--comment", "too pale", *other)[0] == 0
    key = ["--key", str(home / "customer.key"), *NAME]
    assert answer(home, capsys, "--approve", *key)[0] == 0
    told = read_answer(path.read_bytes())
    assert [(one.answer.name, one.answer.decision, one.holds) for one in (*told.earlier, told)] == [
        ("A. Marsh", "approved", True),
        ("B. Ito", "returned", True),
        ("A. Marsh", "approved", True),
    ]
    assert told.earlier[0].as_json() == first
    assert told.earlier[1].answer.follows == told.earlier[0].sha256
    assert told.answer.follows == told.earlier[1].sha256
    assert run(home, capsys)[0] == 0


def taken_out(told: dict[str, Any]) -> None:
    del told["earlier"][0]


def all_taken_out(told: dict[str, Any]) -> None:
    del told["earlier"]


def turned_round(told: dict[str, Any]) -> None:
    told["earlier"].reverse()


def signed_again(told: dict[str, Any]) -> None:
    told["earlier"][1]["signature"] = "00" * 64


def no_list(told: dict[str, Any]) -> None:
    told["earlier"] = {"0": told["earlier"][0]}


@pytest.mark.parametrize("change", [taken_out, all_taken_out, turned_round, signed_again, no_list])
def test_earlier_answers_cannot_be_changed(
    home: Path, capsys: pytest.CaptureFixture[str], change: Callable[[dict[str, Any]], None]
) -> None:
    key = ["--key", str(home / "customer.key"), *NAME]
    for words in (["--return", "--comment", "too pale"], ["--approve"]):
        assert answer(home, capsys, *words, *key)[0] == 0
    tampered(home, change)
    code, found = run(home, capsys)
    assert code == 2
    assert "is no approval" in said(found)


def test_a_file_of_answers_has_an_end(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    before = (home / "approval.json").read_bytes()
    monkeypatch.setattr("vdp.run.signoff.MOST", len(before) + 100)
    code, found = answer(home, capsys, "--approve", "--key", str(home / "customer.key"), *NAME)
    assert (code, "2 answers are more than one file holds (move it away, and keep it" in said(found)) == (2, True)
    assert (home / "approval.json").read_bytes() == before


def test_only_what_was_seen_is_approved(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    key = ["--key", str(home / "customer.key"), *NAME]
    proof = read_answer((home / "approval.json").read_bytes()).answer.proof
    assert ended(["proof", str(home / "job.yaml"), "--sample", "0"], capsys)[1]["proof"] == proof
    spaced = f"{proof[:8].upper()} {proof[8:16]}"
    code, found = answer(home, capsys, "--approve", "--seen", spaced, *key)
    assert (code, found["proof"]) == (0, proof)
    before = (home / "approval.json").read_bytes()
    edit("list.csv", "Bo,en", "Bob,en")(home)
    for seen, words in ((spaced, "something has changed since"), (proof[:11], "too short to tell proofs apart")):
        code, found = answer(home, capsys, "--approve", "--seen", seen, *key)
        assert code == 2
        assert words in said(found)
    assert (home / "approval.json").read_bytes() == before


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--approve", "--comment", "but paler", *NAME], "an approval has no comments"),
        (["--return", *NAME], "says nothing about why"),
        (["--approve"], "whoever answers a proof is named"),
        (["--approve", "--name", "A\nB"], "whoever answers a proof is named"),
        (["--return", "--comment", "piece 9: x", *NAME], "there is no piece 9: the run has 3"),
        (["--return", "--comment", "piece 1 front 61,1: x", *NAME], "lies beside the piece, which is 60 × 40 mm"),
    ],
)
def test_bad_answers_are_refused(home: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str) -> None:
    (home / "approval.json").unlink()
    code, found = answer(home, capsys, *words, "--key", str(home / "customer.key"))
    assert code == 2
    assert told in said(found)
    assert not (home / "approval.json").exists()


def test_keys_that_are_none(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = answer(home, capsys, "--approve", *NAME)
    assert (code, "an answer is signed: --key" in said(found)) == (2, True)
    (home / "short.key").write_text("00" * 16)
    (home / "short.key").chmod(0o600)
    code, found = answer(home, capsys, "--approve", *NAME, "--key", str(home / "short.key"))
    assert (code, "a signing key has 32 bytes, not 16" in said(found)) == (2, True)
    (home / "customer.key").chmod(0o644)
    code, found = answer(home, capsys, "--approve", *NAME, "--key", str(home / "customer.key"))
    assert (code, "wider than 0600" in said(found)) == (2, True)


def test_words_that_do_not_go_together(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "say one" in said(answer(home, capsys, "--approve", "--return")[1])
    assert "are for an answer" in said(answer(home, capsys, "--comment", "piece 1: too pale")[1])
    code, found = ended(["run", str(home / "job.yaml"), "--customer-key", "x"], capsys)
    assert (code, "go with --approved" in said(found)) == (2, True)


def test_what_no_run_would_make_is_not_approved(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, records="name,lang\nAnna,en\nBo,fr\n")
    make_key(tmp_path / "k")
    key = ["--key", str(tmp_path / "k"), *NAME]
    code, found = answer(tmp_path, capsys, "--approve", *key)
    assert (code, "1 row is refused and the job says set_aside: stop" in said(found)) == (2, True)
    assert answer(tmp_path, capsys, "--return", "--comment", "row 3", *key)[0] == 0
    edit("job.yaml", "job: Small", "job: Small\nset_aside: continue")(tmp_path)
    assert answer(tmp_path, capsys, "--approve", *key)[0] == 0
    result = run_job(job, records=None, out=None, workers=1, screen=SCREEN, approval=Approval())
    assert (result.ok, result.pieces) == (True, 1)


def test_the_last_answer(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = expect(home / "job.yaml", records=None, screen=SCREEN).opened.job
    told = last_answer(job)
    assert told is not None
    assert told.answer.decision == "approved"
    assert last_answer(job, home / "nowhere.json") is None
    other = sign(Answer("Other", "approved", {}, "x", "2026"), bytes(32))
    (home / "approval.json").write_text(json.dumps(other), "utf-8")
    assert last_answer(job) is None
