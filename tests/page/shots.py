"""Takes README's pictures of every screen again, in light and dark: `python -m tests.page.shots` (Debian's chromium).

Sixty of the theatre's vouchers are made with two rows set aside, sealed, and shown to an operator and to an auditor.
"""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from tests.page.made import PASSWORD
from tests.page.test_serve import served
from vdp import cli
from vdp.run.progress import NAME
from vdp.run.sealing import make_key

ROOT = Path(__file__).parents[2]
OUT = ROOT / "tests" / "golden" / "page"
PIECES, WIDE, COLOURS = 60, 1000, 96
THEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
PROOF: Mapping[str, str] = {
    "overview": "/",
    "pieces": "/run/1/pieces",
    "piece": "/run/1/piece/7",
    "lamp": "/run/1/piece/7?side=back&lamp=1",
    "web": "/run/1/web",
    "frame": "/run/1/web/1/{frame}",
    "aside": "/run/1/aside",
    "findings": "/run/1/findings",
    "live": "/run/1/live",
    "sign": "/sign",
}
AUDIT: Mapping[str, str] = {
    "enter": "/enter",
    "audit": "/",
    "look-up": "/look-up",
    "history": "/run/1/history/7",
    "account": "/account",
}


def make(home: Path) -> None:
    """The job, its keys and its run."""
    shutil.copytree(ROOT / "layouts" / "theatre_voucher", home, dirs_exist_ok=True)
    with (ROOT / "demo_records" / "theatre_voucher.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))[: PIECES + 2]
    rows[11] |= {"guest": ""}
    rows[40] |= {"play": "The Lost Play"}
    rows[25] |= {"guest": rows[24]["guest"]}
    with (home / "list.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    text = (home / "job.yaml").read_text("utf-8")
    text = text.replace("../../demo_records/theatre_voucher.csv", "list.csv\n  recipient: [guest]")
    (home / "job.yaml").write_text(text.replace("set_aside: stop", "set_aside: continue"), "utf-8")
    for name in ("press.key", "customer.key", "password"):
        make_key(home / name)
    (home / "password").write_text(PASSWORD, "utf-8")
    job, signs = str(home / "job.yaml"), ("--key", str(home / "customer.key"), "--name", "A. Marsh")
    told("run", job, "--key", str(home / "press.key"))
    told(
        "proof",
        job,
        "--run",
        str(home / "out"),
        "--return",
        "--comment",
        "piece 7 front 20,30: too near the edge",
        *signs,
    )
    told("proof", job, "--run", str(home / "out"), "--approve", *signs)


def told(*words: str) -> None:
    """A command that comes to a good end."""
    try:
        cli.main(list(words))
    except SystemExit as ended:
        if ended.code:
            raise


def shoot(browser: Browser, address: str, screens: Mapping[str, str]) -> None:
    """Every screen in both themes."""
    base, session = address.split("/open", maxsplit=1)[0].rstrip("/"), None
    for theme in THEMES:
        context = browser.new_context(
            color_scheme=theme, viewport={"width": WIDE, "height": 640}, storage_state=session
        )
        page = context.new_page()
        if session is None:
            page.goto(address)
            if page.get_by_label("Password").count():
                page.get_by_label("Password").fill(PASSWORD)
                page.keyboard.press("Enter")
                page.get_by_role("button", name="Leave").wait_for()
            session = context.storage_state()
        for name, path in screens.items():
            page.goto(base + path, wait_until="load")
            if "/piece/" in path:
                page.locator("a[data-said]").first.hover(position={"x": 30, "y": 18})
                page.locator("a[data-said]").first.click(position={"x": 30, "y": 18})
                page.locator("#said dl").wait_for()
            if path == "/run/1/web":
                page.locator(".pile").nth(1).click(position={"x": 40, "y": 260})
                page.locator("#told img").wait_for()
            if path == "/sign":
                page.locator("summary").click()
            page.evaluate("for (const each of document.images) each.loading = 'eager'")
            page.evaluate("Promise.all([...document.images].map((each) => each.decode()))")
            page.wait_for_timeout(300)
            data = page.screenshot(full_page=True)
            small = Image.open(io.BytesIO(data)).convert("RGB").quantize(COLOURS)
            small.save(OUT / f"{name}-{theme}.png", optimize=True)
        context.close()


def main() -> None:
    """Takes them all."""
    OUT.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        home = Path(folder)
        make(home)
        going = {
            "process": os.getpid(),
            "seconds": 41.0,
            "now": {"title": "verifying", "done": 1310, "total": 3640, "unit": "pages", "rate": 291.0},
            "steps": [{"title": "composing", "done": 1560, "unit": "pieces", "seconds": 0.8}],
            "found": 1,
            "findings": [{"code": "rows-refused", "where": "row 13", "message": "field 'guest' is empty"}],
        }
        (home / "out" / NAME).write_text(json.dumps(going), "utf-8")
        frame = json.loads((home / "out" / "pieces.jsonl").read_text("utf-8").splitlines()[6])["place"]["frame"]
        chromium = shutil.which("chromium") or "chromium"
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        signs = ("--key", str(home / "customer.key"), "--name", "A. Marsh")
        with served("proof", str(home / "job.yaml"), *signs) as (address, _):
            shoot(browser, address, {name: path.format(frame=frame) for name, path in PROOF.items()})
        (home / "out" / NAME).unlink()
        words = ("--key", str(home / "press.key.public"), "--ledger", str(home / "ledger.sqlite"), "--no-decode")
        with served("audit", str(home / "out"), *words, "--password", str(home / "password")) as (address, _):
            shoot(browser, address, AUDIT)
        browser.close()
    sys.stdout.write(f"{len(list(OUT.glob('*.png')))} pictures in {OUT.relative_to(ROOT)}\n")


if __name__ == "__main__":
    main()
