"""The web: rolls, stretches, frames, places."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.page.made import At, client_of, house_for
from tests.small import write_job
from vdp import cli


def test_a_roll_is_cut_where_its_blocks_end(proof: At) -> None:
    text = proof.get("/run/1/web").text
    frames = [int(number) for number in re.findall(r'<th scope="row"><a href="/run/1/web/1/(\d+)">', text)]
    assert frames == list(range(1, 13))
    assert text.count('href="/run/1/piece/') == 19
    assert text.count('class="blank"') == 5
    assert "Stacks, as they are cut" in text


def test_a_stretch_says_which_pieces_it_holds(proof: At, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("vdp.page.webbing.STRETCHES", 2)
    text = proof.get("/run/1/web").text
    stretches = re.findall(r"from=(\d+)&(?:amp;)?to=(\d+)", text)
    # Half of twelve frames each, and blocks of four end between.
    assert list(dict.fromkeys(stretches)) == [("1", "4"), ("5", "6"), ("7", "8"), ("9", "12")]
    assert "frames 5 to 6" in proof.get("/run/1/web?roll=1&from=5&to=6").text


def test_a_frame_shows_each_place_with_its_piece(proof: At) -> None:
    text = proof.get("/run/1/web/1/3").text
    assert text.count("<image ") == 2
    assert re.findall(r'aria-label="Piece (\d+), [^"]*lane (\d)', text) == [("3", "1"), ("7", "2")]
    back = proof.get("/run/1/web/1/3?side=back").text
    assert "back.png" in back
    front_x, back_x = (float(re.findall(r'class="spot" x="(\d+)"', side)[0]) for side in (text, back))
    assert front_x != back_x  # the back is mirrored: lane 1 lies at the other edge
    assert ">blank<" in proof.get("/run/1/web/1/12").text


def test_frames_of_specimens_say_so(copy: Path) -> None:
    report = json.loads((copy / "out" / "report.json").read_bytes())
    report["sheets"]["rolls"][0] |= {"frames": 14, "leader": 2}
    (copy / "out" / "report.json").write_text(json.dumps(report), "utf-8")
    lines = [json.loads(line) for line in (copy / "out" / "pieces.jsonl").read_text("utf-8").splitlines()]
    for line in lines:
        line["place"]["frame"] += 2
    (copy / "out" / "pieces.jsonl").write_text("".join(json.dumps(line) + "\n" for line in lines), "utf-8")
    with client_of(house_for(copy)) as at:
        at.come_in()
        assert at.get("/run/1/web?from=1&to=14").text.count(">specimen<") == 4
        assert ">specimen<" not in at.get("/run/1/web").text
        assert "With its specimens" in at.get("/run/1/web").text
        assert ">specimen<" in at.get("/run/1/web/1/2").text
        assert ">specimen<" not in at.get("/run/1/web/1/3").text


def test_a_place_that_is_typed_leads_to_its_piece(proof: At) -> None:
    for said, piece in (("1/3/2/1", 7), ("roll 1 frame 3 lane 2", 7)):
        answer = proof.client.post(
            "/run/1/web/place", data={"token": proof.token(), "place": said}, follow_redirects=False
        )
        assert answer.headers["location"] == f"/run/1/piece/{piece}"
    for said in ("", "1/2", "1/12/2/1", "9/9/9/9"):
        assert proof.post("/run/1/web/place", place=said).status_code == 404


def test_the_stacks_are_drawn(proof: At) -> None:
    answer = proof.get("/run/1/web/stacks.svg")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert b"block 1" in answer.content


def test_what_is_not_on_the_web_is_not_found(proof: At, audit: At) -> None:
    for path in ("/run/1/web?roll=2", "/run/1/web/1/13", "/run/1/web/1/0", "/run/1/web/2/1"):
        assert proof.get(path).status_code == 404
    assert audit.get("/run/1/web/stacks.svg").status_code == 404
    assert "Stacks" not in audit.get("/run/1/web").text


def test_a_report_that_says_nonsense_of_its_sheets_is_refused(copy: Path) -> None:
    report = json.loads((copy / "out" / "report.json").read_bytes())
    report["sheets"]["places"] = [1, 2]
    (copy / "out" / "report.json").write_text(json.dumps(report), "utf-8")
    with client_of(house_for(copy)) as at:
        at.come_in()
        assert at.get("/run/1/web").status_code == 422


def test_a_run_without_a_web_says_so(tmp_path: Path) -> None:
    job = write_job(tmp_path)
    with pytest.raises(SystemExit) as caught:
        cli.main(["run", str(job), "--json"])
    assert caught.value.code == 0
    with client_of(house_for(tmp_path)) as at:
        at.come_in()
        assert "No web" in at.get("/run/1/web").text
        assert at.get("/run/1/web/1/1").status_code == 404
        assert at.get("/run/1/web/stacks.svg").status_code == 404
