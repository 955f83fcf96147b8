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
    stretches = re.findall(r'<th scope="row"><a href="[^"]*from=(\d+)&amp;to=(\d+)"', text)
    # Half of twelve frames each, and blocks of four end between.
    assert list(dict.fromkeys(stretches)) == [("1", "4"), ("5", "6"), ("7", "8"), ("9", "12")]
    assert "frames 5 to 6" in proof.get("/run/1/web?roll=1&from=5&to=6").text


HTMX = {"hx-request": "true"}


def test_any_place_that_is_pointed_at_tells_its_piece(proof: At) -> None:
    """By its place on the web, and by its number, as lanes and stacks ask; blocks of four frames, lanes of twelve."""
    by_place = proof.client.get("/run/1/web/told?roll=1&frame=6&lane=2&along=1", headers=HTMX).text
    by_piece = proof.client.get("/run/1/web/told?piece=14", headers=HTMX).text
    assert by_place == by_piece
    assert "<h2>Piece 14</h2>" in by_place
    assert "roll 1, frame 6, lane 2, place 1" in by_place
    assert "block 2, stack 2, number 2 of 4" in by_place
    assert "<html" not in by_place
    # Block 3 has three pieces, which fill lane 1: lane 2 is blank.
    for query in ("roll=1&frame=9&lane=2&along=1", "roll=7&frame=1&lane=1&along=1", "piece=20", ""):
        said = proof.client.get(f"/run/1/web/told?{query}", headers=HTMX).text
        assert "No piece" in said
        assert "A blank" in said
    assert proof.get("/run/1/web/told?piece=14").url.path == "/run/1/piece/14"  # without a script
    assert proof.get("/run/1/web/told?piece=20").status_code == 404


def test_lanes_and_stacks_are_drawn_with_a_place_for_every_piece(proof: At, audit: At) -> None:
    text = proof.get("/run/1/web").text
    piles = re.findall(r'aria-label="([^"]+)" aria-valuemin="(\d+)" aria-valuemax="(\d+)"', text)
    assert piles == [
        ("Lane 1, place 1", "1", "12"),
        ("Lane 2, place 1", "1", "12"),
        ("Stack 1: lane 1, place 1", "1", "4"),
        ("Stack 2: lane 2, place 1", "5", "8"),
    ]
    assert "block 1 of 3" in text
    last = proof.get("/run/1/web?block=3").text
    assert re.findall(r'aria-label="(Stack[^"]+)" aria-valuemin="(\d+)" aria-valuemax="(\d+)"', last) == [
        ("Stack 1: lane 1, place 1", "17", "20"),
        ("Stack 2: lane 2, place 1", "21", "24"),
    ]
    assert last.count('class="empty"') == 2
    assert "block=2" in last
    assert "block 1 of 3" in proof.get("/run/1/web?block=9").text
    # An auditor has no job: lanes are told by the run itself, stacks are not.
    seen = audit.get("/run/1/web").text
    assert seen.count('class="pile"') == 2
    assert "Stacks, as they are cut" not in seen
    said = audit.client.get("/run/1/web/told?piece=14", headers=HTMX).text
    assert "Piece 14" in said
    assert "In the stacks" not in said


def test_a_run_of_another_layout_of_the_web_has_no_stacks(copy: Path) -> None:
    job = copy / "job.yaml"
    for old, new in (("height: 4", "height: 3"), ("width: 200 mm", "width: 20 mm")):
        said = job.read_text("utf-8")
        assert old in said
        job.write_text(said.replace(old, new), "utf-8")
        with client_of(house_for(copy)) as at:
            at.come_in()
            assert at.get("/run/1/web").text.count('class="pile"') == (4 if "20 mm" not in new else 2)
        job.write_text(said, "utf-8")


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
