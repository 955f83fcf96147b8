"""The auditor's page: a serial looked up by hand or by picture, its history, its proof, the account."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import numpy as np
import pytest
import segno
from PIL import Image, ImageFilter

from tests.commands import sealed_run
from tests.page.made import At, client_of, house_for
from tests.small import BACK, FRONT
from vdp.page import scan
from vdp.page.scan import Unfit, codes_on
from vdp.run.audit import check_proof
from vdp.run.reconcile import reconcile_run
from vdp.run.screen import Screen


def serials(home: Path) -> list[str]:
    lines = (home / "out" / "pieces.jsonl").read_text("utf-8").splitlines()
    return [json.loads(line)["serials"]["voucher"] for line in lines]


def photograph(text: str, turned: float = 0.0, kind: str = "PNG", blurred: float = 0.0) -> bytes:
    """A code as a camera might see it: on a table, turned, not quite sharp."""
    drawn = io.BytesIO()
    segno.make(text, micro=False).save(drawn, kind="png", scale=14, border=4)
    code = np.asarray(Image.open(drawn).convert("L"))
    table = Image.new("L", (1100, 900), 170)
    paper = Image.fromarray(np.pad(code, 40, constant_values=255)).rotate(turned, expand=True, fillcolor=170)
    table.paste(paper, (230, 150))
    out = io.BytesIO()
    table.filter(ImageFilter.GaussianBlur(blurred)).save(out, kind)
    return out.getvalue()


def sent(at: At, data: bytes, name: str = "a.png") -> tuple[int, str]:
    files = {"picture": (name, data, "image/png")}
    answer = at.client.post("/look-up/picture", data={"token": at.token()}, files=files, follow_redirects=False)
    return answer.status_code, answer.headers.get("location", answer.text)


def test_the_audit_stands_on_the_overview(audit: At) -> None:
    text = audit.get("/").text
    assert "What the audit found" in text
    for check in ("Seals", "Serials", "Ledger"):
        assert re.search(rf'<th scope="row">{check}</th><td class="good">good</td>', text)
    assert "an audit sees files, not paper" in text
    assert "Under way" not in text


def test_a_serial_that_is_typed_leads_to_its_history(audit: At, sealed: Path) -> None:
    wanted = serials(sealed)[6]
    text = audit.post("/look-up/serial", serial=wanted).text
    assert wanted in text
    assert "roll 1, frame 3, lane 2, place 1" in text
    assert re.search(r"<strong>allocated</strong>", text)
    assert re.search(r"<strong>issued</strong>", text)
    assert "front.png" in text


def test_a_part_of_a_serial_lists_all_that_have_it(audit: At) -> None:
    assert "19 pieces" in audit.post("/look-up/serial", serial="V00").text
    assert "Nothing was found" in audit.post("/look-up/serial", serial="X9").text


@pytest.mark.parametrize(("turned", "kind", "blurred"), [(0, "PNG", 0), (13, "JPEG", 1.5), (171, "JPEG", 2)])
def test_a_photograph_of_a_code_leads_to_its_piece(
    audit: At, sealed: Path, turned: float, kind: str, blurred: float
) -> None:
    code = f"{serials(sealed)[11]}/Guest 12"
    assert sent(audit, photograph(code, turned, kind, blurred)) == (303, "/run/1/history/12")


def test_the_finished_piece_itself_can_be_scanned(audit: At) -> None:
    data = audit.get("/run/1/piece/5/front.png?wide=1400").content
    assert sent(audit, data) == (303, "/run/1/history/5")


def test_a_code_that_carries_the_serial_among_other_things_is_enough_without_the_data(copy: Path) -> None:
    wanted = serials(copy)[3]
    for name in ("pieces.jsonl", "pieces.salts"):
        (copy / "out" / name).unlink()  # personal data was removed; the seal holds
    with client_of(house_for(copy, audited=True)) as at:
        at.come_in()
        assert sent(at, photograph(f"{wanted}/Guest 4")) == (303, "/run/1/history/4")
        assert "Can be read" in at.get("/run/1/piece/4/code/0").text
        assert "Nothing was found" in at.get("/").text


def test_a_strange_code_and_no_code_say_so(audit: At) -> None:
    status, text = sent(audit, photograph("V1"))
    assert status == 200
    assert "The picture says" in text
    assert "Nothing was found" in text
    blank = io.BytesIO()
    Image.new("RGB", (300, 200), (200, 200, 180)).save(blank, "PNG")
    status, text = sent(audit, blank.getvalue())
    assert (status, "No code can be read" in text) == (200, True)


def test_the_reader_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    assert codes_on(photograph("V00073")) == ["V00073"]
    light_on_dark = io.BytesIO()
    Image.fromarray(255 - np.asarray(Image.open(io.BytesIO(photograph("V00073"))))).save(light_on_dark, "PNG")
    assert codes_on(light_on_dark.getvalue()) == ["V00073"]
    for data in (b"", b"GIF89a", b"\xff\xd8\xff" + b"\0" * 20):
        with pytest.raises(Unfit):
            codes_on(data)
    monkeypatch.setattr(scan, "MOST_PIXELS", 1000)
    with pytest.raises(Unfit, match="pixels"):
        codes_on(photograph("V00073"))


def test_the_proof_holds_without_the_page(audit: At, sealed: Path, tmp_path: Path) -> None:
    answer = audit.get("/run/1/history/7/proof.json")
    assert answer.headers["content-disposition"] == 'attachment; filename="proof-7.json"'
    (tmp_path / "proof.json").write_bytes(answer.content)
    assert check_proof(tmp_path / "proof.json", sealed / "press.key.public").ok
    (tmp_path / "proof.json").write_bytes(
        answer.content.replace(b'"index":6', b'"index":5').replace(b'"index": 6', b'"index": 5')
    )
    assert not check_proof(tmp_path / "proof.json", sealed / "press.key.public").ok
    assert b"Guest" not in answer.content


def test_an_unsealed_run_has_no_proof(copy: Path) -> None:
    (copy / "out" / "seal.json").unlink()
    with client_of(house_for(copy, audited=True)) as at:
        at.come_in()
        assert "was not sealed" in at.get("/run/1/history/7").text
        assert at.get("/run/1/history/7/proof.json").status_code == 422
        assert "these runs cannot be relied on" in at.get("/").text


def test_the_account_balances_and_the_chain_holds(audit: At) -> None:
    text = audit.get("/account").text
    assert "The chain holds" in text
    assert "Series voucher" in text
    assert re.search(r"<strong>19</strong></td>(\s*<td>0</td>){4}\s*<td>19</td>", text)
    assert "19 more were made, and nothing is told of them yet" in text


def test_a_broken_ledger_is_told(copy: Path) -> None:
    with client_of(house_for(copy, audited=True)) as at:
        at.come_in()
        (copy / "ledger.sqlite").write_bytes(b"no database")
        assert "stamp note" in at.get("/account").text
        assert "stamp note" in at.get("/run/1/history/7").text
        (copy / "ledger.sqlite").unlink()
        assert "stamp note" in at.get("/account").text


def test_without_a_ledger_the_page_says_what_it_needs(sealed: Path) -> None:
    house, log, clock = house_for(sealed, audited=True)
    assert house.auditing is not None
    bare = type(house)(house.gate, house.slots, house.cookie, house.say, type(house.auditing)(house.auditing.audit, ()))
    with client_of((bare, log, clock)) as at:
        at.come_in()
        assert "No ledger was named" in at.get("/account").text
        assert "No ledger was named" in at.get("/run/1/history/7").text


def test_of_several_ledgers_the_runs_own_tells_its_history(sealed: Path, tmp_path: Path) -> None:
    """Another job's ledger has the same series and numbers: what it tells is of other pieces."""
    other = sealed_run(tmp_path / "other", layout=FRONT + BACK)
    house, log, clock = house_for(sealed, audited=True)
    assert house.auditing is not None
    ledgers = (str(other / "ledger.sqlite"), *house.auditing.ledgers)
    more = type(house.auditing)(house.auditing.audit, ledgers)
    with client_of((type(house)(house.gate, house.slots, house.cookie, house.say, more), log, clock)) as at:
        at.come_in()
        text = at.get("/run/1/history/2").text
        assert (text.count("<strong>allocated</strong>"), text.count("<strong>issued</strong>")) == (1, 1)
        account = at.get("/account").text
        assert (account.count("19 more were made"), account.count("3 more were made")) == (1, 1)


def test_what_the_line_read_stands_beside_the_account(sealed: Path, tmp_path: Path) -> None:
    reads = tmp_path / "reads.csv"
    reads.write_text("code\n" + "\n".join(serials(sealed)[:5]) + "\n", "utf-8")
    told = reconcile_run(sealed / "out", reads, out=None, finished=True, screen=Screen(io.StringIO()))
    house, log, clock = house_for(sealed, audited=True)
    assert house.auditing is not None
    more = type(house.auditing)(house.auditing.audit, house.auditing.ledgers, (told,))
    with client_of((type(house)(house.gate, house.slots, house.cookie, house.say, more), log, clock)) as at:
        at.come_in()
        text = at.get("/account").text
    assert "By what the line read" in text
    assert "line-missing" in text


def test_nothing_of_the_folder_or_the_ledger_is_changed(copy: Path) -> None:
    def state() -> dict[str, bytes]:
        return {str(path): path.read_bytes() for path in sorted(copy.rglob("*")) if path.is_file()}

    before = state()
    with client_of(house_for(copy, audited=True)) as at:
        at.come_in()
        for path in ("/", "/run/1/pieces", "/run/1/history/3", "/run/1/history/3/proof.json", "/account"):
            assert at.get(path).status_code == 200
        at.post("/look-up/serial", serial="V")
        assert at.get("/run/1/live").status_code == 200
    assert state() == before
