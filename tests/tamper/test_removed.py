"""Runs whose recipients' data was removed: the pages are held to the public lines, and an insider who changes a page
and signs anew is found by the lines, by the serials, or by what codes say."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest

from tests.commands import ended, sealed_run
from tests.small import BACK, FRONT
from tests.tamper.folder import SYMBOL
from tests.tamper.sealed import Attacked, codes_of, lines_of, swapped
from vdp.run.sealing import DATA, PUBLIC, SALTS


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sealed_run(tmp_path_factory.mktemp("small"), layout=FRONT + BACK)


@pytest.fixture
def bare(small: Path, tmp_path: Path) -> Attacked:
    """Three pieces on six pages, no sheets."""
    return Attacked(small, tmp_path)


def removed(a: Attacked) -> Attacked:
    for name in (DATA, SALTS):
        (a.folder() / name).unlink()
    return a


def drawn(a: Attacked, page: int, change: Callable[[list[bytes]], bytes], *, hashed: bool = True) -> None:
    """Another content for a page (from 0), given the contents of all; its piece's hash in the lines follows."""
    path = a.folder() / "pieces.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        contents = [each.Contents.read_bytes() for each in pdf.pages]
        new = change(contents)
        assert new != contents[page]
        contents[page] = new
        pdf.pages[page].Contents = pikepdf.Stream(pdf, new)
        pdf.save(path)
    if hashed:
        first = page // 2 * 2
        due = hashlib.sha256(contents[first] + contents[first + 1]).hexdigest()
        old = lines_of(a.folder() / DATA)[page // 2]["sha256"]
        a.lines(lambda lines: swapped(lines, old, due))
    a.reseal()


def test_pages_are_still_read_and_what_codes_say_is_told_as_not_checked(
    attacked: Attacked, capsys: pytest.CaptureFixture[str]
) -> None:
    a = removed(attacked)
    words = ["audit", str(a.folder()), "--key", str(a.key), "--ledger", str(a.home / "ledger.sqlite")]
    code, told = ended(words, capsys)
    assert (code, told["findings"]) == (0, [])
    assert told["pages"] == 2 * told["pieces"] > 0
    (said,) = (said for said in told["not_checked"] if said.startswith("what the codes of"))
    assert "each code reads and shows no other's serial" in said


def test_places_on_the_sheets_hold_what_the_public_lines_say(attacked: Attacked) -> None:
    mark = lines_of(attacked.folder() / DATA)[4]["sha256"]
    attacked.lines(lambda lines: swapped(lines, mark, "ab" * 32))
    attacked.reseal()
    assert codes_of(removed(attacked).audit(decode=True)) == {"place-wrong", "content-changed"}


def test_a_page_that_was_changed(bare: Attacked) -> None:
    drawn(bare, 2, lambda pages: pages[2] + b"\n", hashed=False)
    audit = removed(bare).audit(decode=True)
    assert codes_of(audit) == {"content-changed"}, audit.findings


def test_a_code_that_was_taken_away(bare: Attacked) -> None:
    drawn(bare, 2, lambda pages: SYMBOL.sub(b"", pages[2], count=1))
    audit = removed(bare).audit(decode=True)
    assert codes_of(audit) == {"symbol-unreadable"}, audit.findings
    assert "where a code must be" in audit.findings[0].message


def test_a_code_of_another_piece(bare: Attacked) -> None:
    """It is sound by itself: only the serial that it says gives it away."""

    def put(pages: list[bytes]) -> bytes:
        theirs = list(SYMBOL.finditer(pages[0]))[-1][0]
        own = list(SYMBOL.finditer(pages[2]))[-1][0]
        return pages[2].replace(own, theirs)

    drawn(bare, 2, put)
    audit = removed(bare).audit(decode=True)
    assert codes_of(audit) == {"serial-wrong"}, audit.findings
    assert "none of the piece's serials" in audit.findings[0].message


def test_whole_pages_exchanged(bare: Attacked) -> None:
    """With their hashes: the serials on the pages are not those of the lines."""

    def exchange(pdf: pikepdf.Pdf) -> None:
        for one, other in ((0, 2), (1, 3)):
            held = pdf.pages[one].Contents
            pdf.pages[one].Contents = pdf.pages[other].Contents
            pdf.pages[other].Contents = held

    with pikepdf.open(bare.folder() / "pieces.pdf", allow_overwriting_input=True) as pdf:
        exchange(pdf)
        pdf.save(bare.folder() / "pieces.pdf")
    one, other = (lines_of(bare.folder() / DATA)[at]["sha256"] for at in (0, 1))
    bare.lines(lambda lines: swapped(swapped(swapped(lines, one, "?"), other, one), "?", other))
    bare.reseal()
    found = codes_of(removed(bare).audit(decode=True))
    assert found & {"serial-wrong", "side-swapped"}, found


def test_a_line_with_another_serial(bare: Attacked) -> None:
    """A number that the series has, and that no piece of the run shows."""
    serial = lines_of(bare.folder() / DATA)[1]["serials"]["voucher"]
    bare.lines(lambda lines: swapped(lines, f'"voucher":"{serial}"', '"voucher":"V00503"'))
    bare.reseal()
    found = codes_of(removed(bare).audit(decode=True))
    assert {"serial-wrong", "audit-serial-range"} <= found or {"serial-wrong", "audit-serial-check"} <= found, found


def test_without_any_lines_pages_have_nothing_to_be_held_to(bare: Attacked) -> None:
    (bare.folder() / PUBLIC).unlink()
    audit = removed(bare).audit(decode=True)
    assert audit.pages == 0
    assert any(said.startswith("the pages of") for said in audit.unchecked)
