"""Spoiled pieces made again: chosen by serial, range and place, the same bytes, counted; and what is refused."""

from __future__ import annotations

import hashlib
import io
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from tests.run.test_sheets import RECORDS, WEB
from tests.small import JOB, write_job
from tests.tamper.folder import write_job as write_art_job
from vdp.checkdigit import check
from vdp.cli import main
from vdp.errors import CallerError
from vdp.job.load import load_job
from vdp.numbering.ledger import open_ledger
from vdp.plan.numbering import numbering_of
from vdp.run import run_job
from vdp.run.again import verify_again
from vdp.run.desk import Desk
from vdp.run.reprint import reprint
from vdp.run.result import Result
from vdp.run.screen import Screen
from vdp.run.spoiled import Wish, read_place
from vdp.verify.pictures import piece_views

NOW = datetime(2026, 3, 1, 12, 30, tzinfo=UTC)
DESK = Desk("anna", lambda: NOW, {}, timeout=1)
REPLACED = "spoiled: replacement_series\n"


def run(home: Path, job: str = JOB + WEB) -> Path:
    path = write_job(home, job=job, records=RECORDS)
    made = run_job(path, records=None, out=None, workers=1, screen=Screen(io.StringIO()), desk=DESK)
    assert made.ok, made.findings
    return home / "out"


def again(folder: Path, *serials: str, out: str = "again", second: str = "Bo", **wish: Any) -> Result:
    return reprint(
        folder,
        Wish(serials, **wish),
        second=second,
        out=folder.parent / out,
        job=None,
        records=None,
        desk=DESK,
        screen=Screen(io.StringIO()),
    )


def lines(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "pieces.jsonl").read_text("utf-8").splitlines()]


def serials(folder: Path) -> list[str]:
    return [line["serials"]["voucher"] for line in lines(folder)]


def told(folder: Path) -> list[tuple[str, int, int]]:
    with open_ledger(folder.parent / "ledger.sqlite", operator="x", now=lambda: NOW) as ledger:
        assert ledger.verify_chain() == []
        return [(entry.kind, entry.first, entry.last) for entry in ledger.entries()]


def verified(folder: Path, *, with_rows: bool = True) -> None:
    job = folder.parent / "job.yaml" if with_rows else None
    found = verify_again(folder, job=job, records=None, workers=1, screen=Screen(io.StringIO()))
    assert found.ok, found.findings


def refused(folder: Path, *names: str, **more: Any) -> str:
    with pytest.raises(CallerError) as caught:
        again(folder, *names, **more)
    return "\n".join(str(fault) for fault in caught.value.faults)


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return run(tmp_path / "job")


def test_pieces_come_out_as_they_were_and_are_counted(out: Path) -> None:
    first = lines(out)
    made = again(out, serials(out)[4], serials(out)[1])
    assert made.ok, made.findings
    assert made.told == [("numbers", f"voucher {serials(out)[1]} … {serials(out)[4]} (copy 2 of each)")]
    second = lines(out.parent / "again")
    assert [line["piece"] for line in second] == [2, 5]
    for line in second:
        old = first[line["piece"] - 1]
        assert {k: line[k] for k in ("row", "language", "serials", "sha256")} == {
            k: old[k] for k in ("row", "language", "serials", "sha256")
        }
    assert [symbol["page"] for line in second for symbol in line["symbols"]] == [1, 1, 2, 3, 3, 4]
    verified(out.parent / "again")
    verified(out.parent / "again", with_rows=False)
    assert told(out)[3:] == [
        ("spoiled", 1, 1), ("spoiled", 4, 4), ("again", 1, 1), ("again", 4, 4),
        ("made_good", 1, 1), ("made_good", 4, 4),
    ]  # fmt: skip
    report = json.loads((out.parent / "again/report.json").read_bytes())
    assert report["reprint"] == {
        "of": json.loads((out / "report.json").read_bytes())["run"],
        "origin": json.loads((out / "report.json").read_bytes())["run"],
        "copy": 2,
        "numbers": "same",
        "second": "Bo",
        "pieces": [2, 5],
    }


def test_every_byte_of_a_piece_is_that_of_the_first_printing(tmp_path: Path) -> None:
    """Several pieces in two languages, with artwork, pictures and toner that cannot be seen: contents, and everything
    that these draw, have the same bytes; every plate shows the same picture."""
    path = write_art_job(tmp_path / "job")
    made = run_job(path, records=None, out=None, workers=1, screen=Screen(io.StringIO()), desk=DESK)
    assert made.ok, made.findings
    out = tmp_path / "job/out"
    chosen = [lines(out)[at]["piece"] for at in (0, 1, 3, 5)]
    serial = [line["serials"]["voucher"] for line in lines(out) if line["piece"] in chosen]
    assert len({line["language"] for line in lines(out) if line["piece"] in chosen}) == 2
    result = again(out, *serial)
    assert result.ok, result.findings
    with pikepdf.open(out / "pieces.pdf") as first, pikepdf.open(tmp_path / "job/again/pieces.pdf") as second:
        assert len(second.pages) == 2 * len(chosen)
        for at, page in enumerate(second.pages):
            old = first.pages[2 * (chosen[at // 2] - 1) + at % 2]
            assert page.Contents.read_bytes() == old.Contents.read_bytes()
            assert (drawn_by(page), page.MediaBox, page.TrimBox) == (drawn_by(old), old.MediaBox, old.TrimBox)
    for at in range(len(chosen)):
        views = list(piece_views(out / "pieces.pdf", chosen[at]))
        assert [label for label, _ in views] == ["front", "back", "Clear, back"]
        assert list(piece_views(tmp_path / "job/again/pieces.pdf", at + 1)) == views


def drawn_by(page: pikepdf.Page) -> dict[str, str]:
    """The bytes of every form and picture that a page may draw, by name, as hashes, compressed as they are."""
    objects = page.Resources.get("/XObject", pikepdf.Dictionary())
    return {str(name): hashlib.sha256(stream.read_raw_bytes()).hexdigest() for name, stream in objects.items()}


def test_the_same_reprint_again_is_no_second_one(out: Path) -> None:
    again(out, serials(out)[4])
    before = {path.name: path.read_bytes() for path in (out.parent / "again").iterdir()}
    entries = told(out)
    again(out, serials(out)[4], second="Cy")
    assert {path.name: path.read_bytes() for path in (out.parent / "again").iterdir()} == before
    assert told(out) == entries


def test_a_copy_is_spoiled_once_and_a_reprint_of_a_reprint_is_counted(out: Path) -> None:
    one, other = serials(out)[4], serials(out)[5]
    again(out, one)
    said = refused(out, one, other, out="more")
    assert f"the copy of {one} was made again before" in said
    assert told(out)[-1] == ("made_good", 4, 4)
    made = again(out.parent / "again", one, out="third")
    assert "copy 3" in made.told[0][1]
    verified(out.parent / "third")


def test_by_range_and_by_place(out: Path) -> None:
    names = serials(out)
    again(out, span=(names[2], names[5]), out="range")
    assert serials(out.parent / "range") == names[2:6]
    again(out, places=(read_place("Roll 2, lane 1"),), out="place")
    due = [line["piece"] for line in lines(out) if (line["place"]["roll"], line["place"]["lane"]) == (2, 1)]
    assert due
    assert [line["piece"] for line in lines(out.parent / "place")] == due


@pytest.mark.parametrize(
    ("said", "parts"),
    [
        ("roll 2 frames 120-131 lane 1", {"roll": ((2, 2),), "frame": ((120, 131),), "lane": ((1, 1),)}),
        ("frames 120 to 131 of roll 2", {"roll": ((2, 2),), "frame": ((120, 131),)}),
        (
            "roll 1, frames 3, 5–7 and lanes 1,2",
            {"roll": ((1, 1),), "frame": ((3, 3), (5, 7)), "lane": ((1, 1), (2, 2))},
        ),
    ],
)
def test_places_in_words(said: str, parts: dict[str, Any]) -> None:
    assert read_place(said).parts == parts


@pytest.mark.parametrize("said", ["", "frame 3", "roll 2 frames 9-3", "roll 2 stack 4", "roll two", "roll 1 roll 2"])
def test_what_is_no_place(said: str) -> None:
    with pytest.raises(CallerError, match="is no place on a roll"):
        read_place(said)


def test_what_was_never_issued_is_refused(out: Path) -> None:
    names = serials(out)
    said = refused(out, "V99999", names[0], places=(read_place("roll 7"),), out="none")
    assert "serial V99999: was never issued in this run" in said
    assert "--place 'roll 7': no piece lies there" in said
    assert "ends before it begins" in refused(out, span=(names[3], names[1]), out="none")
    assert "no piece is named" in refused(out, out="none")
    assert told(out)[-1][0] == "issued"


def test_two_people_are_needed(out: Path) -> None:
    assert "needs a second person" in refused(out, serials(out)[0], second=" ")
    for same in ("ANNA", " anna ", "anna\t"):
        assert "is the operator" in refused(out, serials(out)[0], second=same)


def test_another_ledger_does_not_know_the_numbers(out: Path) -> None:
    (out.parent / "ledger.sqlite").rename(out.parent / "old.sqlite")
    assert "never gave" in refused(out, serials(out)[0])


def test_a_run_that_is_not_whole_or_changed_is_refused(out: Path) -> None:
    name = serials(out)[0]
    assert "is the folder of the first printing" in refused(out, name, out="out")
    report = out / "report.json"
    kept = report.read_text("utf-8")
    for old, new, says in (
        ('"ok": true', '"ok": false', "did not come to a good end"),
        ('"vdp": "', '"vdp": "9', "the run was made by vdp 9"),
        ('"sizes": {', '"sizes": 3, "was": {', "is not the report of a run"),
    ):
        report.write_text(kept.replace(old, new), "utf-8")
        assert says in refused(out, name)
    report.write_text(kept, "utf-8")
    rows = (out.parent / "list.csv").read_text("utf-8")
    (out.parent / "list.csv").write_text(rows.replace("Guest1,", "Guest9,"), "utf-8")
    assert "is not the list that this run was made from" in refused(out, name)
    (out.parent / "list.csv").write_text(rows, "utf-8")
    manifest = out / "pieces.jsonl"
    manifest.write_text(manifest.read_text("utf-8").replace("Guest1", "Guest2"), "utf-8")
    assert "is not the file that report.json names" in refused(out, name)


def test_a_piece_that_would_look_otherwise_is_not_made(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    manifest = out / "pieces.jsonl"
    text = manifest.read_text("utf-8")
    digest = lines(out)[0]["sha256"]
    manifest.write_text(text.replace(digest, "0" * 64), "utf-8")
    from vdp.run.folder import sha256_of

    report = json.loads((out / "report.json").read_bytes())
    report["files"]["pieces.jsonl"] = sha256_of(manifest)
    (out / "report.json").write_text(json.dumps(report), "utf-8")
    assert "pieces 1 do not come out as they were printed" in refused(out, serials(out)[0])
    assert not (out.parent / "again/pieces.pdf").exists()


def test_documents_of_value_get_replacement_numbers(tmp_path: Path) -> None:
    out = run(tmp_path / "job", REPLACED + JOB)
    names = serials(out)
    made = again(out, names[3], names[7])
    assert made.ok, made.findings
    new = serials(out.parent / "again")
    assert not set(new) & set(names)
    assert told(out)[3:] == [
        ("spoiled", 3, 3), ("spoiled", 7, 7), ("again", 3, 3), ("again", 7, 7),
        ("voided", 3, 3), ("voided", 7, 7), ("allocated", 14, 15),
        ("replaced", 3, 3), ("replaced", 7, 7), ("issued", 14, 15),
    ]  # fmt: skip
    verified(out.parent / "again")
    third = again(out.parent / "again", new[1], out="third")
    assert third.ok, third.findings
    verified(out.parent / "third")
    assert told(out)[-1] == ("issued", 16, 16)


def test_the_commands_of_the_ledger(
    out: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("VDP_OPERATOR", "anna")
    job, name = str(out.parent / "job.yaml"), serials(out)[4]

    def said(code: int, *words: str) -> str:
        with pytest.raises(SystemExit) as ended:
            main(words)
        assert ended.value.code == code
        told = capsys.readouterr()
        return told.out + told.err

    assert "copy 2" in said(0, "reprint", str(out), "--serial", name, "--second", "Bo", "--out", str(out.parent / "r"))
    listed = json.loads(said(0, "ledger", "list", job, "--json"))
    assert [entry["kind"] for entry in listed["entries"]] == ["allocated"]
    assert "14 of 9,993 numbers allotted, 9,979 left" in said(0, "ledger", "list", job)
    every = said(0, "ledger", "list", "--ledger", str(out.parent / "ledger.sqlite"), "--events")
    assert "made_good voucher no. 5" in every
    history = json.loads(said(0, "ledger", "history", job, name, "--json"))
    assert [entry["kind"] for entry in history["entries"]] == ["allocated", "issued", "spoiled", "again", "made_good"]
    never = said(1, "ledger", "history", job, numbering_of(load_job(Path(job)), {})["voucher"].text(20))
    assert "ledger-unissued" in never
    assert "genuine by form and check characters" in said(0, "ledger", "check", job, name)
    assert "fails its check" in said(1, "ledger", "check", job, name[:-1] + str((int(name[-1]) + 1) % 10))
    assert "the chain holds" in said(0, "ledger", "verify", job, "--run", str(out), "--run", str(out.parent / "r"))
    report = json.loads((out / "report.json").read_bytes())
    report["ledger"]["head"]["hash"] = "0" * 64
    (out / "report.json").write_text(json.dumps(report), "utf-8")
    assert "ledger-head" in said(1, "ledger", "verify", job, "--run", str(out))
    assert "no ledger is named" in said(2, "ledger", "list")
    assert "it has no series 'x'" in said(2, "ledger", "list", job, "--series", "x")
    assert "the job has no series 'x'" in said(2, "ledger", "history", job, name, "--series", "x")
    assert "attests no state of a ledger" in said(2, "ledger", "verify", job, "--run", str(out.parent))


SERIES = "voucher: {prefix: V, start: 7, width: 4, check: damm"


def replacing(said: str) -> str:
    return REPLACED + JOB.replace(SERIES, f"{SERIES}, replacement: {said}")


def test_replacement_numbers_may_have_a_series_of_their_own(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = run(tmp_path / "job", replacing("{prefix: R}"))
    names = serials(out)
    made = again(out, names[3], names[7])
    assert made.ok, made.findings
    new = serials(out.parent / "again")
    assert [name[:5] for name in new] == ["R0001", "R0002"]
    assert told(out)[7:] == [
        ("voided", 3, 3), ("voided", 7, 7), ("started", 0, 9998), ("allocated", 0, 1),
        ("replaced", 3, 3), ("replaced", 7, 7), ("issued", 0, 1),
    ]  # fmt: skip
    report = json.loads((out.parent / "again/report.json").read_bytes())
    assert report["ledger"]["series"]["voucher"]["kept_as"] == "voucher.replacement"
    verified(out.parent / "again")
    verified(out.parent / "again", with_rows=False)
    # One that is spoiled in turn is replaced out of the same series; the whole run goes on counting its own.
    third = again(out.parent / "again", new[1], out="third")
    assert third.ok, third.findings
    assert [name[:5] for name in serials(out.parent / "third")] == ["R0003"]
    verified(out.parent / "third")
    assert again(out.parent / "again", new[1], out="third").ok
    assert told(out)[-1] == ("issued", 2, 2)
    assert refused(out.parent / "again", *new, out="fourth").count(f"the copy of {new[1]} was made again before") == 1
    job = str(out.parent / "job.yaml")
    with pytest.raises(SystemExit) as ended:
        main(["ledger", "history", job, new[1], "--json"])
    assert ended.value.code == 0
    history = json.loads(capsys.readouterr().out)["entries"]
    assert [entry["kind"] for entry in history] == ["allocated", "issued", "spoiled", "again", "voided", "replaced"]


def test_numbers_of_a_column_are_replaced_out_of_a_series_of_their_own(tmp_path: Path) -> None:
    rows = "name,lang,No\n" + "".join(f"Guest{n},en,V000{n}{check('damm', f'000{n}')}\n" for n in range(1, 5))
    column = "voucher: {prefix: V, start: 1, last: 4, width: 4, check: damm, column: No"
    for home, said in ((tmp_path / "without", ""), (tmp_path / "with", ", replacement: {prefix: X, start: 500}")):
        job = REPLACED + JOB.replace(SERIES, column + said)
        path = write_job(home, job=job, records=rows)
        assert run_job(path, records=None, out=None, workers=1, screen=Screen(io.StringIO()), desk=DESK).ok
    first = serials(tmp_path / "without/out")[0]
    assert "no next number can replace" in refused(tmp_path / "without/out", first)
    assert again(tmp_path / "with/out", first).ok
    assert serials(tmp_path / "with/again") == ["X0500" + check("damm", "0500")]
    verified(tmp_path / "with/again")


@pytest.mark.parametrize(
    ("job", "said"),
    [
        (replacing("{start: 8000}"), "its serials could be those of series voucher"),
        (replacing("{prefix: V1}"), None),
        (replacing("{prefix: V1, suffix: '2'}").replace("start: 7", "suffix: '12', start: 7"), "could be those"),
        (replacing("{suffix: '2'}").replace("start: 7", "suffix: '3', start: 7"), None),
        (replacing("{prefix: R}").replace(REPLACED, ""), "nothing replaces them"),
        (replacing("{prefix: R}").replace("prefix: V,", 'prefix: "R{{ lang }}",'), "its serials could be those"),
        (replacing("{prefix: 'x{{ lang }}'}"), None),
        (replacing("{start: 8000}").replace("start: 7,", "start: 7, last: 7999,"), None),
        (replacing("{prefix: R, start: 20000}"), "is too large for a width of 4"),
        (replacing("{prefix: 'R R'}"), "is not up to 20 printable"),
    ],
)
def test_a_replacement_that_could_print_a_number_twice_is_refused(tmp_path: Path, job: str, said: str | None) -> None:
    path = write_job(tmp_path / "job", job=job)
    if said is None:
        assert numbering_of(load_job(path), {})["voucher"].name == "voucher"
        return
    with pytest.raises(CallerError) as caught:
        numbering_of(load_job(path), {})
    assert said in "\n".join(str(fault) for fault in caught.value.faults)
    assert caught.value.faults[0].where.startswith(f"{path}:")
