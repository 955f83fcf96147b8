"""Every screen of a finished run, by its words; pictures by their pixels."""

from __future__ import annotations

import html
import io
import json
import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.page.made import At, client_of, house_for
from vdp.page.easel import GLASS


def pixels(at: At, path: str) -> np.ndarray:
    answer = at.get(path)
    assert (answer.status_code, answer.headers["content-type"]) == (200, "image/png")
    return np.asarray(Image.open(io.BytesIO(answer.content)).convert("RGB"))


def test_the_overview_tells_what_the_run_came_to(proof: At) -> None:
    text = proof.get("/").text
    assert "Every check passed" in text
    assert "20 = 19 pieces + 1 set aside" in text
    assert "Cyan, Magenta, Yellow, Black, Clear" in text


def test_pieces_are_listed_sheet_by_sheet(proof: At) -> None:
    first, second = proof.get("/run/1/pieces").text, proof.get("/run/1/pieces?sheet=2").text
    assert [int(n) for n in re.findall(r"<span>piece (\d+)", first + second)] == list(range(1, 20))
    assert proof.get("/run/1/pieces?sheet=999").text == second
    assert proof.get("/run/1/pieces?sheet=nought").text == first


@pytest.mark.parametrize(
    ("asked", "piece"),
    [("V0007", 1), (" V 0007 ", 1), ("row 4", 3), ("piece 19", 19), ("Guest 12", 12), ("guest 19", 19)],
)
def test_a_search_that_finds_one_piece_leads_there(proof: At, asked: str, piece: int) -> None:
    asked = asked.replace("V0007", serial(proof, 1)).replace("V 0007", f"V {serial(proof, 1)[1:]}")
    answer = proof.client.post("/run/1/find", data={"token": proof.token(), "asked": asked}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/run/1/piece/{piece}")


def serial(at: At, piece: int) -> str:
    found = re.search(r'<dd class="mono">(V[^<]+)</dd>', at.get(f"/run/1/piece/{piece}").text)
    assert found is not None
    return found[1]


def test_a_search_that_finds_many_says_why_each(proof: At) -> None:
    text = proof.post("/run/1/find", asked="guest 1").text
    assert "11 pieces" in text  # Guest 1 and Guest 10 … 19
    assert "piece 10, row 11: Guest 10" in text
    text = proof.post("/run/1/find", asked="4").text
    assert "row 5: piece 4" in text
    assert "piece 3, row 4: row 4" in text
    assert "Nothing was found" in proof.post("/run/1/find", asked="<b>nobody</b>").text
    assert "<b>nobody" not in proof.post("/run/1/find", asked="<b>nobody</b>").text
    assert "Row 21" in proof.post("/run/1/find", asked="far too long").text


def test_names_are_not_searched_in_another_list(copy: Path) -> None:
    (copy / "list.csv").write_text("name,lang\nStranger,en\n", encoding="utf-8")
    with client_of(house_for(copy)) as at:
        at.come_in()
        text = at.post("/run/1/find", asked="Stranger").text
    assert "Names were not searched" in text
    assert "Nothing was found" in text


def test_a_piece_shows_its_codes_its_plates_and_its_place(proof: At) -> None:
    text = proof.get("/run/1/piece/3").text
    assert "roll 1, frame 3, lane 1, place 1" in text
    assert text.count("data-said") == 2
    assert "Code bars, code128 on Black" in text
    back = proof.get("/run/1/piece/3?side=back&lamp=1").text
    assert "Code hidden, datamatrix on Clear" in back
    assert "under the lamp" in back


def test_first_and_last_piece_lead_no_further(proof: At) -> None:
    assert 'rel="prev"' not in proof.get("/run/1/piece/1").text
    assert 'rel="next"' not in proof.get("/run/1/piece/19").text


def test_a_part_is_given_where_a_part_is_asked_for(proof: At) -> None:
    for path, words in (("/run/1/piece/3", "<svg"), ("/run/1/piece/3/code/0", "Says what it must")):
        part = proof.client.get(path, headers={"hx-request": "true"}).text
        assert words in part
        assert "<html" not in part
        assert "<html" in proof.get(path).text
        back = {"hx-request": "true", "hx-history-restore-request": "true"}
        assert "<html" in proof.client.get(path, headers=back).text


def test_plates_go_on_and_off(proof: At) -> None:
    whole = pixels(proof, "/run/1/piece/1/front.png?wide=400")
    assert whole.shape == (267, 400, 3)
    none = pixels(proof, "/run/1/piece/1/front.png?wide=400&off=1")
    black = pixels(proof, "/run/1/piece/1/front.png?wide=400&p=3")
    cyan = pixels(proof, "/run/1/piece/1/front.png?wide=400&p=0&p=2")
    assert none.min() == 255
    assert (black == black[..., :1]).all()
    assert black[60:].min() < 60
    assert cyan[60:].min() == 255  # type and codes are on Black alone
    assert (whole[:30] == cyan[:30]).mean() > 0.9  # the band above is cyan and yellow


def test_clear_is_seen_by_day_and_shines_under_the_lamp(proof: At) -> None:
    day = pixels(proof, "/run/1/piece/1/back.png?wide=400&p=4&p=0")
    dark = pixels(proof, "/run/1/piece/1/back.png?wide=400&lamp=1")
    assert (day.min(axis=(0, 1)) == [222, 0, 128]).all()  # solid magenta: what a job that says nothing shows
    assert (dark == [89, 255, 158]).all(axis=2).any()  # percent 35, 100, 62 of light
    assert dark[0, 0, 2] > dark[0, 0, 0]


def test_the_glass_shows_dots_that_are_inked_or_not(proof: At) -> None:
    text = proof.get("/run/1/piece/1?p=3").text
    box = re.search(r'Code square[^>]*>.*?x="(\d+)" y="(\d+)" width="(\d+)"', text)
    assert box is not None
    x, y, width = (int(edge) for edge in box.groups())
    dots = pixels(proof, f"/run/1/piece/1/front/dots.png?p=3&x={x + width // 2}&y={y + width // 2}")
    assert dots.shape == (GLASS, GLASS, 3)
    assert set(np.unique(dots)) == {0, 255}
    # Modules are 24 dots (0.508 mm at 1200 dpi): every edge lies on that grid.
    edges = np.flatnonzero((dots[1:, :, 0] != dots[:-1, :, 0]).any(axis=1))
    assert len({int(edge) % 24 for edge in edges}) == 1
    assert pixels(proof, "/run/1/piece/1/front/dots.png?x=0&y=0").shape == (GLASS, GLASS, 3)
    assert pixels(proof, "/run/1/piece/1/front/dots.png?x=999999999&y=x").shape == (GLASS, GLASS, 3)


@pytest.mark.parametrize(
    ("code", "words"),
    [(0, ("]C0", "X of 12 dots", "of 4")), (1, ("]Q1", "/Guest 3", "X of 24 dots")), (2, ("]d1", "on Clear, back"))],
)
def test_a_code_tells_text_identifier_size_and_grade(proof: At, code: int, words: tuple[str, ...]) -> None:
    text = proof.get(f"/run/1/piece/3/code/{code}").text
    assert "Says what it must" in text
    assert "a prediction from a simulated print" in text
    for word in words:
        assert word in text


def test_the_grade_of_a_code_is_the_one_in_the_report(proof: At, sealed: Path) -> None:
    """The lowest of each symbol, of its own piece: the page prints it on the same press, with the same chance."""
    graded = json.loads((sealed / "out" / "report.json").read_text())["grades"]["symbols"]
    assert graded
    for place, name in enumerate(("bars", "square", "hidden")):
        one = graded[name]
        text = proof.get(f"/run/1/piece/{one['piece']}/code/{place}").text
        assert f"<dd>{one['grade']:.1f} of 4, " in text, name


def test_rows_set_aside_are_shown_with_their_reasons(proof: At) -> None:
    text = proof.get("/run/1/aside").text
    assert 'id="row21"' in text
    assert "hello" in text  # the item that the name does not fit into


def test_findings_lead_to_what_they_are_about(copy: Path) -> None:
    report = json.loads((copy / "out" / "report.json").read_bytes())
    said = [
        ("symbol-damaged", "page 4 (back)", "it is covered"),
        ("serial-wrong", "piece 3", "another"),
        ("row-missing", "row 21", "gone"),
        ("row-swapped", "row 5", "another's"),
        ("frame-wrong", "roll 1, frame 2", "another frame"),
        ("file-changed", "pieces.pdf", "page 400 does not exist"),
    ]
    report["findings"] = [{"code": code, "where": where, "message": message} for code, where, message in said]
    report["warnings"] = [{"code": "list-noted", "where": "list.csv", "message": "<i>odd</i>"}]
    report["ok"] = False
    (copy / "out" / "report.json").write_text(json.dumps(report), "utf-8")
    with client_of(house_for(copy)) as at:
        at.come_in()
        text, home = at.get("/run/1/findings").text, at.get("/").text
        assert "serial-wrong" in at.get("/run/1/piece/3").text
    links = re.findall(r'href="(/run/1/(?:piece|web|aside)[/?#][^"]+)"', text)
    assert links == [
        *("/run/1/piece/2?side=back&amp;finding=0", "/run/1/piece/3?side=front&amp;finding=1", "/run/1/aside#row21"),
        *("/run/1/piece/4?side=front&amp;finding=3", "/run/1/web/1/2"),
    ]
    assert "&lt;i&gt;odd" in text
    assert "Do not print: 6 findings" in home


PLACED = [
    # code, where, message, what is shown of the piece, and where: the trim is 60 × 40 mm at 1200 dpi
    ("symbol-misread", "piece 3, front (page 5)", "square: it reads 'x: y'", "square on piece 3", "front", (38, 6)),
    ("symbol-misread", "piece 3, back (page 6)", "hidden: it reads 'x'", "hidden on piece 3", "back", (44, 14)),
    (
        "text-missing",
        "piece 3, front (page 5)",
        "hello: 1 words are not there: Dear",
        "hello on piece 3",
        "front",
        (4, 6),
    ),
    ("symbol-moved", "piece 3", "bars: on page 5 at 28.35, 28.35 pt", "the place on piece 3", "front", (5.88, 29.88)),
    (
        "place-wrong",
        "roll 1, frame 2, lane 1, place 1, back",
        "secret: not there",
        "secret on piece 2",
        "back",
        (4, 20),
    ),
    ("serial-wrong", "piece 3", "'a: b' is none of the piece's serials", "piece 3", "front", None),
    ("serial-wrong", "piece 3", "nothing: of that name", "piece 3", "front", None),
]


@pytest.mark.parametrize("nth", range(len(PLACED)))
def test_a_finding_that_names_a_place_leads_to_it(copy: Path, nth: int) -> None:
    code, where, message, words, side, corner = PLACED[nth]
    report = json.loads((copy / "out" / "report.json").read_bytes())
    report["findings"] = [{"code": code, "where": where, "message": message}]
    (copy / "out" / "report.json").write_text(json.dumps(report), "utf-8")
    with client_of(house_for(copy)) as at:
        at.come_in()
        found = re.search(r'<a href="(/run/1/piece/[^"]+)">Show ([^<]+)</a>', at.get("/run/1/findings").text)
        assert found is not None
        assert found[2] == words
        assert f"side={side}" in found[1]
        text = at.get(html.unescape(found[1])).text
        outlined = re.search(r'<g class="here"><title>(.*?)</title><rect x="(\d+)" y="(\d+)" width="(\d+)"', text)
        assert (outlined is None) == (corner is None)
        if outlined is not None and corner is not None:
            assert [int(outlined[2]), int(outlined[3])] == pytest.approx([each * 1200 / 25.4 for each in corner], abs=2)
            assert outlined[1].startswith(f"{code}: ")
            middle = int(outlined[2]) + int(outlined[4]) // 2
            assert f'data-x="{middle}"' in text  # the glass lies there
        # The other side has no such place, and a number that is no finding's says nothing.
        other = "front" if side == "back" else "back"
        assert 'class="here"' not in at.get(f"/run/1/piece/3?side={other}&finding=0").text
        assert 'class="here"' not in at.get("/run/1/piece/3?finding=7").text


def test_items_of_another_layout_lead_nowhere(copy: Path) -> None:
    """Their places may be others now; symbols are told by the run itself."""
    report = json.loads((copy / "out" / "report.json").read_bytes())
    said = [("piece 3, front (page 5)", f"{name}: gone") for name in ("hello", "square")]
    report["findings"] = [{"code": "text-missing", "where": where, "message": message} for where, message in said]
    (copy / "out" / "report.json").write_text(json.dumps(report), "utf-8")
    layout = copy / "layout.yaml"
    layout.write_text(layout.read_text("utf-8") + "# moved\n", "utf-8")
    with client_of(house_for(copy)) as at:
        at.come_in()
        assert re.findall(r">Show ([^<]+)</a>", at.get("/run/1/findings").text) == ["piece 3", "square on piece 3"]
        layout.unlink()
    with client_of(house_for(copy, audited=True)) as at:
        at.come_in()
        assert re.findall(r">Show ([^<]+)</a>", at.get("/run/1/findings").text) == ["piece 3", "square on piece 3"]


def test_a_place_in_dots_is_outlined(proof: At) -> None:
    text = proof.get("/run/1/piece/3?side=back&x=100&y=200").text
    assert '<rect x="60" y="160" width="80" height="80"' in text
    assert 'data-x="100" data-y="200"' in text
    assert 'class="here"' not in proof.get("/run/1/piece/3?x=100").text


def test_what_is_not_there_is_not_found(proof: At) -> None:
    for path in (
        *("/run/2/pieces", "/run/1/piece/20", "/run/1/piece/0", "/run/1/piece/3/code/3", "/run/1/piece/3/top.png"),
        *("/run/1/piece/99999999999999999999", "/run/1/piece/x", "/nowhere", "/look-up", "/account"),
    ):
        answer = proof.get(path)
        assert answer.status_code == 404, path
        assert "Traceback" not in answer.text


def test_a_page_that_cannot_be_read_says_so(copy: Path) -> None:
    (copy / "out" / "pieces.pdf").write_bytes(b"%PDF-1.6\nnothing\n")
    with client_of(house_for(copy)) as at:
        at.come_in()
        assert "cannot be drawn" in at.get("/run/1/piece/1").text
        assert at.get("/run/1/piece/1/front.png").status_code == 422
        assert at.get("/run/1/piece/1/code/0").status_code == 422


def test_a_folder_without_a_run_says_so_and_shows_the_run_once_it_is_there(copy: Path) -> None:
    (copy / "out").rename(copy / "later")
    with client_of(house_for(copy)) as at:
        at.come_in()
        assert "There is nothing to look at yet" in at.get("/").text
        assert at.get("/run/1/pieces").status_code == 404
        (copy / "later").rename(copy / "out")
        assert "Every check passed" in at.get("/").text
        (copy / "out" / "pieces.jsonl").write_text("{}\n", "utf-8")
        (copy / "out" / "report.json").touch()
        assert "There is nothing to look at yet" in at.get("/").text
