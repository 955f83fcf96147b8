"""Numbers of runs: the same run the same, a changed list the next; columns, keys, parts of the record; refusals."""

from __future__ import annotations

import io
import json
import shutil
import sqlite3
import stat
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.small import BACK, FRONT, JOB, LIST, write_job
from vdp.errors import CallerError
from vdp.job.load import load_job
from vdp.numbering.ledger import open_ledger
from vdp.numbering.store import FILE_NAME
from vdp.plan.numbering import numbering_of
from vdp.run import run_job
from vdp.run.again import verify_again
from vdp.run.check import check_job
from vdp.run.desk import Desk, desk_of
from vdp.run.intake import take_in
from vdp.run.result import Result
from vdp.run.screen import Screen

NOW = datetime(2026, 3, 1, 12, 30, tzinfo=UTC)
KEY = "00112233445566778899aabbccddeeff"
SERIES = "voucher: {prefix: V, start: 7, width: 4, check: damm}"


def desk(operator: str = "anna", **environ: str) -> Desk:
    return Desk(operator, lambda: NOW, environ, timeout=0.3)


def run(job: Path, out: str = "out", **environ: str) -> Result:
    return run_job(
        job,
        records=None,
        out=job.parent / out,
        workers=1,
        screen=Screen(io.StringIO()),
        desk=desk(**environ),
    )


def serials(job: Path, out: str = "out") -> list[str]:
    lines = (job.parent / out / "pieces.jsonl").read_text("utf-8").splitlines()
    return [json.loads(line)["serials"]["voucher"] for line in lines]


def report(job: Path, out: str = "out") -> dict[str, Any]:
    told: dict[str, Any] = json.loads((job.parent / out / "report.json").read_bytes())
    return told


def kinds(job: Path) -> list[str]:
    with open_ledger(job.parent / FILE_NAME, operator="x", now=lambda: NOW) as ledger:
        assert ledger.verify_chain() == []
        return [entry.kind for entry in ledger.entries()]


def with_series(folder: Path, series: str, records: str = LIST) -> Path:
    layout = (FRONT + BACK).replace("size: 10 pt", "size: 5 pt").replace("at: [3 mm, 22 mm]", "at: [3 mm, 29 mm]")
    return write_job(folder, job=JOB.replace(SERIES, series), records=records, layout=layout)


def faults_of(job: Path) -> list[str]:
    with pytest.raises(CallerError) as caught:
        run(job)
    return [str(fault) for fault in caught.value.faults]


def verified(job: Path, **environ: str) -> bool:
    again = verify_again(job.parent / "out", job=job, records=None, workers=1, screen=Screen(io.StringIO()))
    assert again.ok, again.findings
    return again.ok


def test_the_same_run_has_the_same_numbers_and_bytes_wherever_it_goes(tmp_path: Path) -> None:
    job = write_job(tmp_path / "job")
    first, again = run(job), run(job, "elsewhere")
    assert first.ok
    assert again.ok
    assert "(new)" in dict(first.told)["numbers"]
    assert "the same run again" in dict(again.told)["numbers"]
    names = {path.name for path in (job.parent / "out").iterdir()}
    assert names == {path.name for path in (job.parent / "elsewhere").iterdir()}
    assert all((job.parent / "out" / n).read_bytes() == (job.parent / "elsewhere" / n).read_bytes() for n in names)
    assert kinds(job) == ["started", "allocated", "issued"]


def numbers_next(told: Result) -> list[str]:
    return [warning.where for warning in told.warnings if warning.code == "numbers-next"]


def test_anything_changed_is_a_new_run_with_the_next_numbers_and_says_so(tmp_path: Path) -> None:
    job = write_job(tmp_path / "job")
    run(job)
    before = serials(job)
    (job.parent / "list.csv").write_text(LIST + "Zoe,en\n", encoding="utf-8")
    told = run(job)
    assert told.ok
    assert numbers_next(told) == ["series voucher"]
    assert not set(before) & set(serials(job))
    assert report(job)["ledger"]["series"]["voucher"] | {"terms": {}} == {
        "first": 3, "count": 4, "column": False, "terms": {},
    }  # fmt: skip
    assert verified(job)
    (job.parent / "list.csv").write_text(LIST, encoding="utf-8")
    assert numbers_next(run(job)) == []
    assert serials(job) == before


def test_the_sealed_head_is_that_of_the_allotment(tmp_path: Path) -> None:
    job = write_job(tmp_path / "job")
    run(job)
    with open_ledger(job.parent / FILE_NAME, operator="x", now=lambda: NOW) as ledger:
        (entry,) = ledger.ranges("voucher")
        assert report(job)["ledger"]["head"] == {"seq": entry.seq, "hash": entry.hash}
        assert (entry.operator, entry.time) == ("anna", "2026-03-01T12:30:00Z")
        assert entry.run == report(job)["run"]


def test_a_run_that_stops_is_given_nothing(tmp_path: Path) -> None:
    job = write_job(tmp_path / "job", records="name,lang\nAnna,en\n" + "x" * 300 + ",en\n")
    assert not run(job).ok
    assert report(job)["ledger"] is None
    assert kinds(job) == []


def test_check_makes_no_ledger_and_knows_the_next_numbers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("VDP_LEDGER", raising=False)
    job = with_series(tmp_path / "job", "voucher: {prefix: V, start: 7, last: 10, width: 4, check: damm}")
    assert check_job(job, records=None, screen=Screen(io.StringIO())).ok
    assert not (job.parent / FILE_NAME).exists()
    run(job)
    assert check_job(job, records=None, screen=Screen(io.StringIO())).ok
    (job.parent / "list.csv").write_text(LIST.replace("Bo", "Ada"), encoding="utf-8")
    with pytest.raises(CallerError, match="exhausted after 4 serials"):
        check_job(job, records=None, screen=Screen(io.StringIO()))


def test_numbers_taken_while_the_records_were_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another run is quicker between the first pass and the allotment: the pass is done again with later numbers."""
    import vdp.run

    job = write_job(tmp_path / "job")
    real = take_in
    calls: list[int] = []

    def slow(*arguments: Any) -> Any:
        taken = real(*arguments)
        if not calls:
            calls.append(1)
            series = numbering_of(load_job(job), {})["voucher"]
            with open_ledger(job.parent / FILE_NAME, operator="bo", now=lambda: NOW) as ledger:
                ledger.allocate(series, 5, run="quicker", job="other")
        return taken

    monkeypatch.setattr(vdp.run, "take_in", slow)
    assert run(job).ok
    assert report(job)["ledger"]["series"]["voucher"]["first"] == 5
    assert verified(job)


# -- kinds of series --------------------------------------------------------------------------------------------------


def test_shuffled_numbers_with_a_code_and_a_key_from_outside(tmp_path: Path) -> None:
    said = "voucher: {prefix: V, width: 7, shuffled: true, code: 4, check: luhn, groups: [6, 6], key: env:VOUCHER}"
    job = with_series(tmp_path / "job", said)
    assert "environment variable 'VOUCHER' is not set" in faults_of(job)[0]
    assert run(job, VOUCHER=KEY).ok
    series = numbering_of(load_job(job), {"VOUCHER": KEY})["voucher"]
    assert [series.parse(text) for text in serials(job)] == [0, 1, 2]
    assert KEY not in (job.parent / "out/report.json").read_text("utf-8")
    assert verified(job)


def test_a_key_file_must_be_its_owner_s_alone(tmp_path: Path) -> None:
    job = with_series(tmp_path / "job", "voucher: {prefix: V, width: 6, code: 6, key: secret.key}")
    key = job.parent / "secret.key"
    key.write_text(KEY, encoding="ascii")
    key.chmod(0o644)
    assert "has mode 0644, wider than 0600" in faults_of(job)[0]
    key.chmod(stat.S_IRUSR | stat.S_IWUSR)
    assert run(job).ok


def test_parts_of_the_record_and_an_alphabet_without_look_alikes(tmp_path: Path) -> None:
    said = (
        'voucher: {prefix: "{{ name[:2] | upper }}-", suffix: "/{{ lang }}", width: 4, alphabet: alphanumeric, '
        "check: mod97_10, groups: [3, 3]}"
    )
    job = with_series(tmp_path / "job", said, "name,lang\nAnna,en\nBo,en\n")
    found = run(job)
    assert found.ok, found.findings
    one, two = serials(job)
    assert one.startswith("AN-000-1")
    assert two.startswith("BO-000-2")
    assert one.endswith("/en")
    assert verified(job)


def test_a_prefix_that_cannot_be_printed_refuses_its_row(tmp_path: Path) -> None:
    job = with_series(tmp_path / "job", 'voucher: {prefix: "{{ name }}", width: 4}')
    told = run(job)
    assert told.refused == [(3, "series voucher: the prefix 'Νίκος' is not printable ASCII without spaces")]


COLUMN = "voucher: {prefix: N, start: 11, last: 13, width: 4, check: luhn, column: Serial}"


@pytest.mark.parametrize(
    ("rows", "refused", "codes"),
    [
        (["N00117", "N00125", "N00133"], [], []),
        (["N00117", "N00125", "N00117"], ["has the number of row 2"], ["rows-refused", "numbers-missing"]),
        (["N00117", "N00124", "N00133"], ["fails its check (luhn)"], ["rows-refused", "numbers-missing"]),
        (["N00117", "N00133"], [], ["numbers-missing"]),
    ],
)
def test_numbers_out_of_the_records(tmp_path: Path, rows: list[str], refused: list[str], codes: list[str]) -> None:
    text = "name,lang,Serial\n" + "".join(f"Anna,en,{serial}\n" for serial in rows)
    job = with_series(tmp_path / "job", COLUMN, text)
    told = run(job)
    assert [finding.code for finding in told.findings] == codes
    assert all(said in reason for said, (_, reason) in zip(refused, told.refused, strict=True))
    if not codes:
        assert serials(job) == rows
        assert report(job)["ledger"]["series"]["voucher"]["column"] is True
        assert verified(job)
    else:
        assert kinds(job) == []


def test_a_number_that_another_list_has_used_is_refused(tmp_path: Path) -> None:
    said = "voucher: {prefix: N, width: 4, check: luhn, column: Serial}"
    job = with_series(tmp_path / "job", said, "name,lang,Serial\nAnna,en,N00117\n")
    assert run(job).ok
    (job.parent / "list.csv").write_text("name,lang,Serial\nBo,en,N00117\n", encoding="utf-8")
    assert "numbers that the records name were given to other runs: 11" in faults_of(job)[0]


@pytest.mark.parametrize(
    ("said", "fault"),
    [
        ("voucher: {width: 4, column: Serail}", "the records have no field 'Serail'"),
        ('voucher: {width: 4, prefix: "{{ nome }}"}', "the records have no field 'nome'"),
        ('voucher: {width: 4, prefix: "{{ series.voucher }}"}', "cannot have a serial in it"),
        ('voucher: {width: 4, suffix: "{{ name"}', "template"),
        ("voucher: {width: 4, prefix: ä}", "printable ASCII"),
        ("voucher: {width: 4, key: env:X}", "nothing of this series needs a key"),
        ("voucher: {width: 8, shuffled: true}", "need a key of 16, 24 or 32 bytes"),
        ("voucher: {width: 4, groups: [3, 3]}", "the groups 3-3 hold 6 characters, the serial has 4"),
        ("voucher: {width: 4, check: upu_s10}", "needs a number of 8 digits"),
        ("voucher: {width: 4, alphabet: aa}", "each once"),
    ],
)
def test_faults_of_series_are_the_job_s(tmp_path: Path, said: str, fault: str) -> None:
    job = with_series(tmp_path / "job", said)
    (told,) = faults_of(job)
    assert fault in told
    assert told.startswith(str(job))


# -- trouble ----------------------------------------------------------------------------------------------------------


def locked(job: Path) -> None:
    """Somebody else is writing, and never ends."""
    run(job)
    connection = sqlite3.connect(job.parent / FILE_NAME, isolation_level=None)
    connection.execute("BEGIN IMMEDIATE")
    _HELD.append(connection)


_HELD: list[sqlite3.Connection] = []


def no_ledger(job: Path) -> None:
    (job.parent / FILE_NAME).mkdir()


def other_file(job: Path) -> None:
    (job.parent / FILE_NAME).write_bytes(b"not a database" * 100)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (locked, "another process has held the ledger locked"),
        (no_ledger, "this is a folder"),
        (other_file, "this file is not a ledger"),
    ],
)
def test_a_ledger_that_cannot_be_used_stops_the_run(tmp_path: Path, spoil: Callable[[Path], None], said: str) -> None:
    job = write_job(tmp_path / "job")
    spoil(job)
    (job.parent / "list.csv").write_text(LIST.replace("Bo", "Ada"), encoding="utf-8")
    assert said in faults_of(job)[0]
    shutil.rmtree(job.parent / "out", ignore_errors=True)
    for connection in _HELD:
        connection.close()
        assert kinds(job) == ["started", "allocated", "issued"]
    _HELD.clear()


def test_a_folder_that_cannot_be_written_takes_no_numbers(tmp_path: Path) -> None:
    job = write_job(tmp_path / "job")
    (job.parent / "out").write_bytes(b"")
    assert "is a file, not a folder" in faults_of(job)[0]
    assert kinds(job) == []


def test_an_exhausted_series_gives_nothing_in_any(tmp_path: Path) -> None:
    said = SERIES + "\n  other: {width: 4, start: 1, last: 2}"
    job = with_series(tmp_path / "job", said)
    layout = FRONT + BACK.replace("GENUINE", "GENUINE {{ series.other }}")
    (job.parent / "layout.yaml").write_text(layout, encoding="utf-8")
    assert "exhausted after 2 serials" in faults_of(job)[0]
    assert kinds(job) == []


def test_changed_terms_of_a_series_are_refused(tmp_path: Path) -> None:
    job = write_job(tmp_path / "job")
    run(job)
    job.write_text(JOB.replace("width: 4", "width: 5"), encoding="utf-8")
    assert "width was '4', is '5'" in faults_of(job)[0]


def test_a_disk_that_is_full_keeps_the_numbers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import vdp.run

    job = write_job(tmp_path / "job")
    with monkeypatch.context() as patch:

        def full(*_: Any, **__: Any) -> Any:
            raise CallerError.one("out", "cannot be written: No space left on device", "free some space")

        patch.setattr(vdp.run, "make", full)
        assert "No space left" in faults_of(job)[0]
    assert dict(run(job).told)["numbers"].endswith("(the run that was cut off before, the same numbers)")
    assert kinds(job) == ["started", "allocated", "recovered", "issued"]


# -- the desk ---------------------------------------------------------------------------------------------------------


def test_who_runs_and_when(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VDP_OPERATOR", "Iris")
    assert (desk_of("Ada").operator, desk_of().operator) == ("Ada", "Iris")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    assert desk_of().now() == datetime(1970, 1, 2, tzinfo=UTC)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "soon")
    with pytest.raises(CallerError, match="'soon' is not a number of seconds"):
        desk_of().now()
    monkeypatch.delenv("SOURCE_DATE_EPOCH")
    assert desk_of().now().tzinfo is UTC
    monkeypatch.delenv("VDP_OPERATOR")

    def nobody() -> str:
        raise KeyError

    monkeypatch.setattr("getpass.getuser", nobody)
    assert desk_of().operator == ""


def test_a_run_by_nobody_is_refused(tmp_path: Path) -> None:
    job = write_job(tmp_path / "job")
    with pytest.raises(CallerError, match="there is no name"):
        run_job(job, records=None, out=None, workers=1, screen=Screen(io.StringIO()), desk=desk(""))


def test_a_job_without_series_needs_no_ledger(tmp_path: Path) -> None:
    layout = (
        (FRONT + BACK).replace("{{ series.voucher }}", "{{ name }}").replace("number: voucher", 'text: "{{ name }}"')
    )
    job = write_job(tmp_path / "job", job=JOB[: JOB.index("series:")], layout=layout, records="name,lang\nAnna,en\n")
    told = run(job)
    assert told.ok, told.findings
    assert not (job.parent / FILE_NAME).exists()
    assert report(job)["ledger"] is None
