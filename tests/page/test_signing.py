"""Sign-off at the screen: comments pinned to a place, answers that are bound to what was seen."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.commands import ended
from tests.page.made import At, client_of, house_for
from vdp.job.load import load_job
from vdp.run.sealing import make_key
from vdp.run.signoff import last_answer


def key_in(home: Path) -> Path:
    make_key(home / "customer.key")
    return home / "customer.key"


def seen(at: At) -> str:
    return at.get("/sign").text.split('name="seen" value="')[1][:64]


def test_an_approval_is_signed_and_kept_beside_the_job(copy: Path) -> None:
    with client_of(house_for(copy, key=key_in(copy))) as at:
        at.come_in()
        assert "Nobody has answered yet" in at.get("/sign").text
        text = at.post("/sign/answer", decision="approved", name="A. Marsh", seen=seen(at)).text
        assert "Approved by A. Marsh" in text
        assert "It is the answer to the job as it is now" in text
        assert "signed: approved" in at.log
    signed = last_answer(load_job(copy / "job.yaml"))
    assert signed is not None
    assert signed.is_signed_by(bytes.fromhex((copy / "customer.key.public").read_text().strip()))
    assert (signed.answer.decision, signed.answer.comments) == ("approved", ())


def test_a_run_that_is_still_to_be_made_is_answered_too(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By the hash that its numbering proof carries; the run under that answer then has it."""
    shutil.rmtree(copy / "out")
    (copy / "ledger.sqlite").unlink()
    with client_of(house_for(copy, key=key_in(copy))) as at:
        at.come_in()
        text = at.get("/sign").text
        assert "The run is still to be made" in text
        code, made = ended(["proof", str(copy / "job.yaml"), "--sample", "0"], capsys)
        assert (code, made["proof"]) == (0, seen(at))
        assert (
            "Approved by A. Marsh" in at.post("/sign/answer", decision="approved", name="A. Marsh", seen=seen(at)).text
        )
        words = ["run", str(copy / "job.yaml"), "--approved", "--customer-key", str(copy / "customer.key.public")]
        assert ended(words, capsys)[0] == 0
        text = at.get("/sign").text
        assert "still to be made" not in text
        assert "It is the answer to the job as it is now" in text


def test_comments_are_pinned_taken_back_and_returned(copy: Path) -> None:
    with client_of(house_for(copy, key=key_in(copy))) as at:
        at.come_in()
        text = at.post("/run/1/piece/3/pin", side="back", words="the <b>seal</b> is cut", x="20.5", y="10").text
        assert '<circle cx="969" cy="472"' in text
        assert "the &lt;b&gt;seal" in text
        assert "<circle" not in at.get("/run/1/piece/3").text
        at.post("/run/1/piece/4/pin", side="front", words="too pale", x="", y="")
        assert "2 comments, not signed yet" in at.get("/sign").text
        at.post("/sign/unpin", number="1")
        at.post("/sign/unpin", number="7")
        assert "1 comment, not signed yet" in at.get("/sign").text
        text = at.post(
            "/sign/answer", decision="returned", name="A. Marsh", seen=seen(at), words="and all too dark"
        ).text
        assert "Returned by A. Marsh" in text
        spot = (
            '<a href="/run/1/piece/3?side=back&amp;x=969&amp;y=472">piece 3, back, 20.5 mm from the left and 10 mm down'
        )
        assert f"{spot}</a>: the &lt;b&gt;seal" in text
        assert "the job: and all too dark" in text
        assert "0 comments, not signed yet" in text
        assert "seal" not in "\n".join(at.log)


def test_earlier_answers_stay_readable_and_a_changed_one_is_told(copy: Path) -> None:
    with client_of(house_for(copy, key=key_in(copy))) as at:
        at.come_in()
        at.post("/sign/answer", decision="returned", name="A. Marsh", seen=seen(at), words="too dark")
        for decision, words in (("returned", "still too dark"), ("approved", "")):
            assert "2 earlier answers" not in at.get("/sign").text
            at.post("/sign/answer", decision=decision, name="A. Marsh", seen=seen(at), words=words)
        text = at.get("/sign").text
        assert "2 earlier answers" in text
        order = [text.index(words) for words in ("Approved by A. Marsh", "still too dark", "the job: too dark")]
        assert order == sorted(order)
        assert "Its signature does not hold" not in text
        place = copy / "approval.json"
        place.write_text(place.read_text("utf-8").replace('"time": "2', '"time": "3', 1), "utf-8")
        assert at.get("/sign").text.count("Its signature does not hold") == 1


def test_what_is_not_pinned(copy: Path) -> None:
    with client_of(house_for(copy, key=key_in(copy))) as at:
        at.come_in()
        for piece, status, fields in (
            (99, 404, {"side": "front", "words": "x"}),
            (3, 404, {"side": "top", "words": "x"}),
            (3, 422, {"side": "front", "words": " "}),
            (3, 422, {"side": "front", "words": "x", "x": "900", "y": "1"}),
        ):
            assert at.post(f"/run/1/piece/{piece}/pin", **fields).status_code == status


def test_nothing_is_signed_that_was_not_seen(copy: Path) -> None:
    with client_of(house_for(copy, key=key_in(copy))) as at:
        at.come_in()
        good = seen(at)
        for fields in (
            {"decision": "approved", "seen": "0" * 64},
            {"decision": "perhaps", "seen": good},
            {"decision": "approved", "seen": ""},
            {"decision": "returned", "seen": good},  # without a word about why
        ):
            assert at.post("/sign/answer", name="A. Marsh", **fields).status_code == 422
        (copy / "layout.yaml").write_text((copy / "layout.yaml").read_text().replace("Dear", "Dearest"))
        answer = at.post("/sign/answer", decision="approved", name="A. Marsh", seen=good)
        assert answer.status_code == 422
        assert "layout.yaml" in answer.text
    assert not (copy / "approval.json").exists()


def test_without_a_key_nobody_signs_and_an_auditor_never_does(copy: Path) -> None:
    with client_of(house_for(copy)) as at:
        at.come_in()
        assert "start the page with --key" in at.get("/sign").text
        assert at.post("/sign/answer", decision="approved", name="x", seen=seen_in(at)).status_code == 422
    with client_of(house_for(copy, audited=True)) as at:
        at.come_in()
        assert at.get("/sign").status_code == 404
        assert "Sign off" not in at.get("/").text


def seen_in(at: At) -> str:
    return at.get("/sign").text.split('<dd class="mono">')[1][:64]
