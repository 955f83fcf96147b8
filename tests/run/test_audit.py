"""Audits of runs as they come: every kind of series, replaced numbers, column numbers; what is filed."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pypdfium2 as pdfium
import pytest

from tests.small import JOB, write_job
from tests.tamper.sealed import DESK, QUIET
from vdp.audit.opinion import Audit
from vdp.errors import CallerError
from vdp.run import run_job
from vdp.run.audit import audit_runs
from vdp.run.reprint import reprint
from vdp.run.screen import Screen
from vdp.run.sealing import make_key, seal_run
from vdp.run.spoiled import Wish

LIST = "name,lang,year,number\nAnna,en,27,V00092\nBo,en,28,V00117\nCy,el,27,V00101\nDee,en,29,V00125\n"
LAYOUT = """\
trim: [60 mm, 40 mm]
bleed: 2 mm
front:
  - {name: number, number: voucher, box: [4 mm, 16 mm, 50 mm, 5 mm], face: mono, size: 9 pt}
  - {name: square, barcode: qr, data: "{{ series.voucher }}/{{ name }}", at: [38 mm, 22 mm], x: 0.508 mm}
back:
  - {name: secret, text: "GENUINE {{ name }}", plate: Clear, box: [4 mm, 20 mm, 40 mm, 6 mm], size: 10 pt}
"""
SERIES = {
    "counted": "{prefix: V, start: 7, width: 4, check: damm}",
    "stepped": "{prefix: V, start: 100, step: 10, width: 6, check: luhn, groups: [3, 4], suffix: X}",
    "letters": "{prefix: AB-, start: 1, width: 5, check: mod97_10, alphabet: alphanumeric}",
    "varying": '{prefix: "Y{{ year }}-", start: 7, width: 4, check: mod37_36}',
    "ending": '{prefix: V, suffix: "-{{ year }}", start: 7, width: 4, check: damm}',
    "both": '{prefix: "Y{{ year }}-", suffix: "-{{ year }}", start: 7, width: 4, check: damm}',
    "shuffled": "{prefix: V, start: 0, width: 7, check: damm, shuffled: true, key: series.key}",
    "coded": "{prefix: V, start: 7, width: 6, check: damm, code: 5, groups: [6, 6], key: series.key}",
    "unchecked": "{prefix: V, start: 7, width: 4, check: none}",
    "column": "{prefix: V, start: 7, width: 4, check: damm, column: number}",
}


def made(home: Path, series: str, more: str = "", records: str = LIST) -> Path:
    """A sealed run of a job with that series."""
    home.mkdir(parents=True, exist_ok=True)
    (home / "series.key").write_text("2b7e151628aed2a6abf7158809cf4f3c")
    (home / "series.key").chmod(0o600)
    job = JOB.replace(SERIES["counted"], series) + more
    path = write_job(home, job=job, layout=LAYOUT, records=records)
    result = run_job(path, records=None, out=home / "out", workers=1, screen=QUIET, desk=DESK)
    assert result.ok, (result.findings, result.refused)
    if not (home / "press.key").exists():
        make_key(home / "press.key")
    seal_run(home / "out", home / "press.key")
    return home


def again(home: Path, name: str, nth: int, source: str = "out") -> None:
    lines = [json.loads(line) for line in (home / source / "pieces.jsonl").read_text("utf-8").splitlines()]
    wish = Wish((lines[nth]["serials"]["voucher"],))
    result = reprint(home / source, wish, second="Bo", out=home / name, job=None, records=None, desk=DESK, screen=QUIET)
    assert result.ok, result.findings
    seal_run(home / name, home / "press.key")


def audited(home: Path, *names: str, ledger: bool = True, decode: bool = False, out: Path | None = None) -> Audit:
    return audit_runs(
        [home / name for name in names],
        key=home / "press.key.public",
        ledgers=[str(home / "ledger.sqlite")] if ledger else [],
        decode=decode,
        workers=1,
        out=out,
        screen=QUIET,
        desk=DESK,
    )


@pytest.mark.parametrize("kind", SERIES)
def test_a_run_of_every_kind_of_series_passes_and_so_does_its_reprint(kind: str, tmp_path: Path) -> None:
    home = made(tmp_path / "job", SERIES[kind], records=LIST if kind == "column" else LIST.replace("number", "n"))
    again(home, "again", 2)
    for names in (("out",), ("again",), ("out", "again")):
        for ledger in (True, False):
            audit = audited(home, *names, ledger=ledger)
            assert audit.ok, audit.findings
    told = audit.runs[0].numbers[0]
    said = "\n".join(audit.unchecked)
    for words, kinds in {
        "only the key tells their order": ("shuffled",),
        "the authenticity codes of series voucher": ("coded",),
        "both of their ends come with each record": ("both",),
        "they came with the records": ("column",),
        "approvals: 2 of 2 folders tell of none": tuple(SERIES),
    }.items():
        assert (words in said) == (kind in kinds), words
    known = kind not in ("shuffled", "both")
    assert (told.lowest is not None, told.pieces) == (known, 4)
    assert audit.reprinted == 1


def test_replaced_numbers_are_new_ones_and_the_old_ones_stay_counted(tmp_path: Path) -> None:
    home = made(tmp_path / "job", SERIES["counted"], "spoiled: replacement_series\n")
    again(home, "again", 1)
    again(home, "more", 0, source="again")
    for ledger in (True, False):
        audit = audited(home, "more", "again", "out", ledger=ledger)
        assert audit.ok, audit.findings
        assert (audit.serials, audit.serials_unique, audit.reprinted) == (6, 6, 0)
        assert [run.of != "" for run in audit.runs] == [True, True, False]


def test_a_job_without_numbers_is_audited_too(tmp_path: Path) -> None:
    home = tmp_path / "job"
    job, layout = JOB.split("series:")[0], LAYOUT.replace("{{ series.voucher }}/", "")
    layout = "".join(line for line in layout.splitlines(keepends=True) if "number: voucher" not in line)
    path = write_job(home, job=job, layout=layout)
    assert run_job(path, records=None, out=home / "out", workers=1, screen=QUIET, desk=DESK).ok
    make_key(home / "press.key")
    seal_run(home / "out", home / "press.key")
    audit = audited(home, "out", ledger=False)
    assert (audit.ok, audit.pieces, audit.serials, audit.runs[0].head) == (True, 3, 0, None)


def text_of(path: Path) -> str:
    with pdfium.PdfDocument(path) as document:
        return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def test_what_is_filed_says_what_was_done_and_what_was_not(tmp_path: Path) -> None:
    home = made(tmp_path / "job", SERIES["counted"])
    again(home, "again", 1)
    audit = audited(home, "out", "again", decode=True, out=tmp_path / "filed")
    told = json.loads((tmp_path / "filed/audit.json").read_bytes())
    assert told == json.loads(audit.to_json())
    assert told["audited"] == {
        "by": "anna",
        "time": "2026-03-01T12:30:00+00:00",
        "key": (home / "press.key.public").read_text().strip(),
        "ledgers": [str(home / "ledger.sqlite")],
    }
    assert [run["copy"] for run in told["runs"]] == [1, 2]
    (numbers,) = told["runs"][0]["numbers"]
    assert {key: numbers[key] for key in ("series", "first", "lowest", "highest", "pieces")} == {
        "series": "voucher", "first": "V00076", "lowest": 0, "highest": 3, "pieces": 4,
    }  # fmt: skip
    paper = text_of(tmp_path / "filed/audit.pdf")
    for words in (
        "Nothing was found in what was checked.", "by anna", "Scope", "Method", "Extent: in full, not by sample",
        "What was checked", "Findings (0)", "What was not checked", "an audit sees files, not paper", "Numbers",
        "Signed off", "signature",
        "Reconciled by the ledger", "Numbers: allocated = good + replaced + voided + missing + outstanding.",
        "awaiting destruction", "Then the ledger, read only", "Last the finished files",
        "what follows the last sealed head in ledger",
        "second person, name", told["audited"]["key"], "10 pages were drawn and decoded", "copy 2",
    ):  # fmt: skip
        assert words in paper, words
    before = {path.name: path.read_bytes() for path in (tmp_path / "filed").iterdir()}
    audited(home, "out", "again", decode=True, out=tmp_path / "filed")
    assert {path.name: path.read_bytes() for path in (tmp_path / "filed").iterdir()} == before


def test_findings_are_filed_with_their_places(tmp_path: Path) -> None:
    home = made(tmp_path / "job", SERIES["counted"])
    (home / "out/stray.txt").write_bytes(b"")
    audit = audited(home, "out", ledger=False, out=tmp_path / "filed")
    assert not audit.ok
    paper = text_of(tmp_path / "filed/audit.pdf")
    for words in ("1 finding: these runs cannot be relied on", "seal-stray", "was not sealed",
                  "the ledger: none was named", "were not decoded again"):  # fmt: skip
        assert words in paper, words
    assert "seal-stray" in audit.as_text()


def test_an_audit_is_not_filed_into_a_sealed_folder(tmp_path: Path) -> None:
    home = made(tmp_path / "job", SERIES["counted"])
    with pytest.raises(CallerError, match="is a sealed run, and anything more in it breaks the seal"):
        audited(home, "out", out=home / "out")
    assert audited(home, "out").findings == []
    (home / "out" / "audit.json").write_text("{}")
    assert {finding.code for finding in audited(home, "out").findings} == {"seal-stray"}


def test_a_long_audit_tells_how_far_it_is(tmp_path: Path) -> None:
    home = made(tmp_path / "job", SERIES["counted"])
    clock = iter(range(0, 10_000, 20))
    stream = io.StringIO()
    audit_runs(
        [home / "out"],
        key=home / "press.key.public",
        ledgers=[],
        decode=False,
        workers=1,
        out=None,
        screen=Screen(stream, lambda: float(next(clock))),
        desk=DESK,
    )
    assert "reading: 4 of 4 pieces" in stream.getvalue()
