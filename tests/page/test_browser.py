"""The page in a real browser (Debian's Chromium): every function by pointer and by keyboard, both themes, all widths.

Each page fails its test when anything is written to the console, or anything is asked of another machine.  What
people with other senses meet is judged by axe-core (tests/data/SOURCES.md): no serious and no critical finding.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.page.made import PASSWORD
from tests.page.test_auditing import photograph, serials
from tests.page.test_serve import served
from vdp.run.progress import NAME
from vdp.run.sealing import make_key

AXE = (Path(__file__).parent.parent / "data" / "axe-core" / "axe.min.js").read_text("utf-8")
#: Milliseconds that a busy machine may take for anything.
PATIENCE = 20_000
expect.set_options(timeout=PATIENCE)


#: Keeps everything that the screen of a run under way has said.
WATCH = """() => {
  window.seen = new Set();
  const words = () => document.querySelectorAll("#going h2, #going dd, #going li");
  const note = () => words().forEach((one) => window.seen.add(one.textContent));
  new MutationObserver(note).observe(document.getElementById("going"), {childList: true, subtree: true});
}"""


class Site(NamedTuple):
    """A page that is served: its address, the run it shows, and a session."""

    address: str
    home: Path
    session: Any


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    chromium = shutil.which("chromium")
    if chromium is None:
        if os.environ.get("CI"):
            pytest.fail("chromium is not installed, and CI must have it")
        pytest.skip("chromium is not installed: the page was not tried in a browser")
    with sync_playwright() as playwright:
        # As root Chromium has no sandbox of its own; it opens this test's own page alone.
        opened = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def home(sealed: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("browsed") / "home"
    shutil.copytree(sealed, target)
    report = json.loads((target / "out" / "report.json").read_bytes())
    report["warnings"] = [
        {"code": "recipient-repeated", "where": "row 5", "message": "the same as in row 4"},
        {"code": "symbol-faint", "where": "piece 3, back (page 6)", "message": "hidden: nearly unreadable"},
    ]
    (target / "out" / "report.json").write_text(json.dumps(report), "utf-8")
    return target


@pytest.fixture(scope="module")
def proof(browser: Browser, home: Path) -> Iterator[Site]:
    """The operator's page, come in by its link."""
    make_key(home / "customer.key")
    words = ("--key", str(home / "customer.key"), "--name", "A. Marsh")
    with served("proof", str(home / "job.yaml"), *words) as (link, _):
        context = browser.new_context()
        page = context.new_page()
        page.goto(link)
        expect(page.get_by_role("heading", name="The run")).to_be_visible()
        yield Site(link.split("/open")[0], home, context.storage_state())
        context.close()


@pytest.fixture(scope="module")
def audit(browser: Browser, sealed: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """The auditor's page, come in by the password, with keys alone."""
    secret = tmp_path_factory.mktemp("secret") / "password"
    secret.touch(0o600)
    secret.write_text(PASSWORD, "utf-8")
    words = (
        *("audit", str(sealed / "out"), "--key", str(sealed / "press.key.public"), "--no-decode"),
        *("--ledger", str(sealed / "ledger.sqlite"), "--password", str(secret)),
    )
    with served(*words) as (address, _):
        context = browser.new_context()
        page = context.new_page()
        page.goto(address)
        page.keyboard.type(PASSWORD)  # the field has the focus
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", name="What the audit found")).to_be_visible()
        yield Site(address.rstrip("/"), sealed, context.storage_state())
        context.close()


@pytest.fixture
def tab(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Opens a page of a site; at the end, what it wrote to the console and whom it asked is judged."""
    contexts: list[BrowserContext] = []
    written: list[str] = []
    asked: list[str] = []

    def opened(site: Site, path: str, **kind: Any) -> Page:
        context = browser.new_context(storage_state=site.session, **kind)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE)
        page.on("console", lambda said: written.extend([said.text] if said.type in ("error", "warning") else []))
        page.on("pageerror", lambda error: written.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        page.goto(site.address + path)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert written == []
    assert asked
    assert [address for address in asked if not address.startswith("http://127.0.0.1:")] == []


SCREENS = ("/", "/run/1/pieces", "/run/1/piece/3", "/run/1/piece/3?side=back&lamp=1", "/run/1/piece/3/code/0")
LISTS = ("/run/1/web", "/run/1/web/1/3", "/run/1/aside", "/run/1/findings", "/run/1/live", "/sign")
AUDITED = ("/", "/look-up", "/run/1/history/3", "/account", "/enter")


@pytest.mark.parametrize("path", [*SCREENS, *LISTS])
def test_no_serious_finding_in_either_theme(proof: Site, tab: Callable[..., Page], path: str) -> None:
    judged(tab(proof, path))


@pytest.mark.parametrize("path", AUDITED)
def test_nor_on_the_auditors_page(audit: Site, tab: Callable[..., Page], path: str) -> None:
    judged(tab(audit, path))


def judged(page: Page) -> None:
    """axe-core in light and dark, and no screen wider than a phone or lost on a wide one."""
    page.evaluate(AXE)
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme, reduced_motion="reduce")
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        serious = [
            (violation["id"], [node["html"][:120] for node in violation["nodes"]][:3])
            for violation in found["violations"]
            if violation["impact"] in ("serious", "critical")
        ]
        assert serious == [], theme
        assert len(found["passes"]) > 5  # it looked
    for width in (320, 390, 1024, 1920):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_glass_follows_the_pointer(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/piece/3", viewport={"width": 1280, "height": 900})
    sheet = page.locator("#stage svg.sheet")
    box = sheet.bounding_box()
    assert box is not None
    sheet.hover(position={"x": box["width"] * 0.25, "y": box["height"] * 0.5})
    expect(page.locator("#at")).to_contain_text("around 15.0")  # a quarter of 60 mm
    expect(page.locator("#glass")).to_have_attribute("src", re.compile(r"/front/dots\.png\?.*x=7[01]\d&y=94\d"))
    assert page.evaluate("document.getElementById('glass').naturalWidth") == 80


def test_the_piece_by_keyboard(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/piece/3")
    stage = page.locator("#stage")
    stage.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowDown")
    expect(page.locator("#at")).to_contain_text("(dot 1428, 1045)")
    page.keyboard.press("f")
    expect(page.locator("#stage svg")).to_have_attribute("aria-label", "Back of piece 3")
    page.keyboard.press("u")
    expect(page.locator("#stage svg")).to_have_attribute("aria-label", "Back of piece 3, under the UV lamp")
    page.keyboard.press("4")
    expect(page.locator(".legend")).to_contain_text("Back, Cyan, Magenta, Yellow, Clear, under the lamp")
    assert page.url.endswith("/run/1/piece/3?side=back&p=0&p=1&p=2&p=4&off=1&lamp=1")
    page.reload()
    expect(page.locator(".legend")).to_contain_text("Back, Cyan, Magenta, Yellow, Clear, under the lamp")
    page.go_back()
    expect(page.locator("#stage svg")).to_be_visible()


def test_plates_by_pointer(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/piece/3")
    for plate in ("Cyan", "Magenta", "Yellow", "Clear"):
        page.get_by_label(plate, exact=True).uncheck()
    expect(page.locator(".legend")).to_contain_text("Front, Black: one plate alone, drawn in black")
    page.get_by_label("Black", exact=True).uncheck()
    expect(page.locator(".legend")).to_contain_text("no plate")


def test_a_code_by_pointer_and_by_keyboard(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/piece/3", viewport={"width": 1280, "height": 900})
    page.get_by_role("link", name="Code square, qr on Black").click()
    said = page.locator("#said")
    expect(said).to_contain_text("/Guest 3")
    expect(said).to_contain_text("]Q1")
    expect(said).to_contain_text("of 4")
    page.get_by_role("link", name="Code bars, code128 on Black").focus()
    page.keyboard.press("Enter")
    expect(said).to_contain_text("X of 12 dots")
    assert page.url.endswith("/run/1/piece/3")


def test_a_search_by_keyboard(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/")
    for _ in range(30):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "asked":
            break
    page.keyboard.type("guest 12")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(serials(proof.home)[11])
    assert page.url.endswith("/run/1/piece/12")
    page.get_by_label("Serial, name, row or piece").fill("guest")
    page.get_by_role("button", name="Find").click()
    expect(page.get_by_role("status")).to_have_text("19 pieces")
    assert page.url.endswith("/run/1/find")
    page.get_by_role("link", name=serials(proof.home)[4]).click()
    expect(page).to_have_url(re.compile(r"/run/1/piece/5$"))


def test_the_web_tells_the_piece_at_any_place(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/web")
    page.get_by_role("link", name="3", exact=True).first.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Roll 1, frame 3")
    page.get_by_role("link", name=re.compile("^Piece 7, .* lane 2, place 1$")).click()
    expect(page).to_have_url(re.compile(r"/run/1/piece/7\?side=front$"))
    page.get_by_role("link", name="roll 1, frame 3, lane 2, place 1").click()
    page.get_by_role("link", name="Turn to the back").click()
    expect(page.locator("svg.frame")).to_have_attribute("aria-label", re.compile("The back"))
    page.get_by_role("link", name="The roll").click()
    page.get_by_label("Roll / frame / lane / place along").fill("1/2/2/1")
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"/run/1/piece/6$"))


def test_any_place_of_a_lane_or_a_stack_tells_its_piece(proof: Site, tab: Callable[..., Page]) -> None:
    """Twelve frames of two lanes in blocks of four: pieces 1 to 4 and 5 to 8 lie beside each other, and so on."""
    page = tab(proof, "/run/1/web", viewport={"width": 1280, "height": 1600})
    told = page.locator("#told")
    lane = page.get_by_role("slider", name="Lane 2, place 1", exact=True)
    box = lane.locator(".ground").bounding_box()
    assert box is not None
    for frame, piece in ((1, 5), (4, 8), (5, 13), (6, 14), (8, 16)):
        page.mouse.click(box["x"] + 40, box["y"] + box["height"] * (frame - 0.4) / 12)
        expect(told.get_by_role("heading")).to_have_text(f"Piece {piece}")
        expect(told).to_contain_text(f"roll 1, frame {frame}, lane 2, place 1")
    expect(lane).to_have_attribute("aria-valuetext", "frame 8: Piece 16")
    page.mouse.click(box["x"] + 40, box["y"] + box["height"] * 8.5 / 12)
    expect(told.get_by_role("heading")).to_have_text("No piece")
    stack = page.get_by_role("slider", name="Stack 2: lane 2, place 1")
    box = stack.locator(".ground").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + 150, box["y"] + box["height"] * 0.6)
    expect(told.get_by_role("heading")).to_have_text("Piece 7")
    expect(told).to_contain_text("block 1, stack 2, number 3 of 4")
    told.get_by_role("link", name="Show the piece").click()
    expect(page).to_have_url(re.compile(r"/run/1/piece/7$"))


def test_lanes_and_stacks_by_keyboard(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/web")
    told = page.locator("#told")
    page.get_by_role("slider", name="Lane 1, place 1", exact=True).focus()
    for key, piece in (
        *(("ArrowDown", 1), ("ArrowDown", 2), ("PageDown", 4), ("ArrowUp", 3)),
        *(("ArrowRight", 7), ("End", 0), ("Home", 5), ("ArrowLeft", 1)),
    ):
        page.keyboard.press(key)
        expect(told.get_by_role("heading")).to_have_text(f"Piece {piece}" if piece else "No piece")
    expect(page.get_by_role("slider", name="Lane 1, place 1", exact=True)).to_be_focused()
    for _ in range(4):  # the other lane, the next block, all blocks, the first stack
        page.keyboard.press("Tab")
    expect(page.get_by_role("slider", name="Stack 1: lane 1, place 1")).to_be_focused()
    page.keyboard.press("End")
    expect(told.get_by_role("heading")).to_have_text("Piece 4")
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"/run/1/piece/4$"))
    page.goto(f"{proof.address}/run/1/web")
    for _ in range(2):
        with page.expect_navigation():  # a key that comes before the page does is lost
            page.get_by_role("link", name="After").press("Enter")
    stack = page.get_by_role("slider", name="Stack 1: lane 1, place 1")
    stack.focus()
    page.keyboard.press("End")  # three pieces, and a blank below
    expect(told.get_by_role("heading")).to_have_text("No piece")
    expect(stack).to_have_attribute("aria-valuetext", "piece 20: No piece")
    judged(page)


def test_a_comment_is_pinned_where_the_glass_is_and_signed(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/piece/3?side=back")
    page.locator("#stage").focus()
    page.keyboard.press("Shift+ArrowLeft")
    page.get_by_label("What is wrong where the glass is").fill("cut here")
    page.get_by_role("button", name="Pin it").press("Enter")
    expect(page.locator("#stage .pin title")).to_have_text("cut here")
    page.get_by_role("link", name="Sign off").click()
    expect(page.get_by_role("main")).to_contain_text("piece 3, back, 27.9 mm from the left and 20 mm down: cut here")
    page.get_by_label("Who answers").fill("A. Marsh")
    page.get_by_role("button", name="Return with the comments").press("Enter")
    expect(page.get_by_role("main")).to_contain_text("Returned by A. Marsh")
    page.get_by_role("button", name="Approve").press("Enter")
    expect(page.get_by_role("main")).to_contain_text("Approved by A. Marsh")


def test_a_finding_leads_to_its_place_on_the_picture(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/findings", viewport={"width": 1280, "height": 900})
    page.get_by_role("link", name="Show hidden on piece 3").press("Enter")
    expect(page).to_have_url(re.compile(r"/run/1/piece/3\?side=back&finding=1$"))
    here = page.locator("#stage .here rect").bounding_box()
    code = page.get_by_role("link", name="Code hidden").locator(".spot").bounding_box()
    assert here is not None
    assert code is not None
    # Outlined is the very symbol, by a wider pen.
    assert list(here.values()) == pytest.approx(list(code.values()), abs=4)
    page.locator("#stage").focus()
    page.keyboard.press("ArrowRight")  # the glass lies there already
    middle = page.locator("#stage svg").get_attribute("data-x")
    assert middle is not None
    expect(page.locator("#at")).to_contain_text(f"(dot {int(middle) + 10}, ")
    page.keyboard.press("f")
    expect(page.locator("#stage .here")).to_have_count(0)
    page.keyboard.press("f")
    expect(page.locator("#stage .here")).to_have_count(1)


def test_findings_and_rows_set_aside(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/findings")
    page.get_by_role("link", name="Show piece 4").press("Enter")
    expect(page).to_have_url(re.compile(r"/run/1/piece/4\?side=front&finding=0$"))
    page.get_by_role("link", name="Set aside").click()
    page.locator("#row21 summary").press("Enter")
    expect(page.locator("#row21 dl")).to_contain_text("far too long")


def test_a_run_under_way_is_told_as_it_goes(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/live")
    expect(page.locator("#going")).to_contain_text("No run is under way")
    told: dict[str, Any] = {
        "steps": [],
        "findings": [],
        "process": os.getpid(),
        "seconds": 3.5,
        "found": 0,
        "now": {"title": "verifying", "done": 10, "total": 40, "unit": "pages", "rate": 5.0},
    }
    (proof.home / "out" / NAME).write_text(json.dumps(told), "utf-8")
    expect(page.locator("#going")).to_contain_text("10 of 40 pages")
    told["now"]["done"], told["found"] = 40, 1
    told["findings"] = [{"code": "symbol-misread", "where": "page 3", "message": "it reads 'x'"}]
    (proof.home / "out" / NAME).write_text(json.dumps(told), "utf-8")
    expect(page.locator("#going")).to_contain_text("40 of 40 pages")
    expect(page.locator("#going")).to_contain_text("symbol-misread")
    (proof.home / "out" / NAME).unlink()
    expect(page.locator("#going")).to_contain_text("No run is under way")


def test_a_first_run_is_watched_from_its_first_row_to_its_end(
    browser: Browser, sealed: Path, tmp_path: Path, tab: Callable[..., Page]
) -> None:
    """A real run, in a process of its own, of a job that was never run: two hundred pieces, one row refused."""
    for name in ("job.yaml", "layout.yaml"):
        shutil.copy(sealed / name, tmp_path / name)
    rows = "".join(f"Guest {n},en\n" for n in range(200)) + f"{'A name ' * 12},en\n"
    (tmp_path / "list.csv").write_text(f"name,lang\n{rows}", "utf-8")
    with served("proof", str(tmp_path / "job.yaml")) as (link, _):
        context = browser.new_context()
        context.new_page().goto(link)
        site = Site(link.split("/open")[0], tmp_path, context.storage_state())
        context.close()
        page = tab(site, "/run/1/live")
        expect(page.locator("#going")).to_contain_text("No run is under way")
        page.evaluate(WATCH)
        command = [sys.executable, "-m", "vdp.cli", "run", str(tmp_path / "job.yaml"), "--json"]
        with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
            expect(page.locator("#going progress")).to_be_visible(timeout=60_000)
            assert process.wait(120) == 0
        expect(page.locator("#going")).to_contain_text("passed every check")
        seen = page.evaluate("[...window.seen]")
        assert any("pages a second" in one or "pieces a second" in one or "records a second" in one for one in seen)
        assert any(one.startswith("rows-refused") for one in seen)
        page.get_by_role("link", name="The run that stands there").click()
        expect(page.get_by_role("main")).to_contain_text("201 = 200 pieces + 1 set aside")
        page.close()  # before what it asks ends


def test_without_scripts_links_and_buttons_do_it_all(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/piece/3", java_script_enabled=False)
    page.get_by_label("Back").check()
    page.get_by_label("UV lamp, in the dark").check()
    page.get_by_role("button", name="Show").click()
    expect(page.locator("#stage svg")).to_have_attribute("aria-label", "Back of piece 3, under the UV lamp")
    page.get_by_role("link", name="Code hidden").click()
    expect(page.get_by_role("heading", name="hidden")).to_be_visible()


def test_on_paper_there_is_the_piece_and_nothing_to_press(proof: Site, tab: Callable[..., Page]) -> None:
    page = tab(proof, "/run/1/piece/3")
    page.emulate_media(media="print")
    expect(page.locator("#stage svg")).to_be_visible()
    expect(page.locator("dl.facts").first).to_be_visible()
    for gone in ("nav", "form", "button"):
        for one in page.locator(gone).all():
            expect(one).to_be_hidden()


def test_a_photograph_leads_to_history_and_proof(audit: Site, tab: Callable[..., Page], tmp_path: Path) -> None:
    page = tab(audit, "/look-up")
    wanted = serials(audit.home)[8]
    (tmp_path / "seen.jpg").write_bytes(photograph(f"{wanted}/Guest 9", 20, "JPEG", 1))
    page.get_by_label("A photograph or a scan").set_input_files(tmp_path / "seen.jpg")
    page.get_by_role("button", name="Read it").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(wanted)
    assert page.url.endswith("/run/1/history/9")
    expect(page.get_by_role("region", name="Entries of the ledger")).to_contain_text("issued")
    expect(page.get_by_role("img", name="Front of piece 9")).to_be_visible()
    with page.expect_download() as caught:
        page.get_by_role("link", name="Take the proof").press("Enter")
    assert caught.value.suggested_filename == "proof-9.json"
    page.get_by_role("link", name="Account").click()
    expect(page.get_by_role("main")).to_contain_text("The chain holds")


def test_a_serial_that_is_typed(audit: Site, tab: Callable[..., Page]) -> None:
    page = tab(audit, "/look-up")
    page.get_by_label("The serial, or a part of it").fill(serials(audit.home)[2])
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"/run/1/history/3$"))


def test_leaving_ends_the_session(browser: Browser, proof: Site) -> None:
    """In a session that was stolen: the cookie is worth nothing once its owner has left.  Last, for that reason."""
    context = browser.new_context(storage_state=proof.session)
    page = context.new_page()
    page.goto(proof.address)
    page.get_by_role("button", name="Leave").press("Enter")
    expect(page.get_by_role("heading", name="Come in")).to_be_visible()
    context.close()
    context = browser.new_context(storage_state=proof.session)
    page = context.new_page()
    page.goto(f"{proof.address}/run/1/piece/3")
    expect(page.get_by_role("heading", name="Come in")).to_be_visible()
    context.close()
