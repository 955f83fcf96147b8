"""Grades of a run: sampled and told so, the floor, the report's picture, the same again from the files alone."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from tests.commands import ended
from tests.small import BACK, FRONT, JOB, write_job
from vdp import cli
from vdp.job.grading import GradeModel
from vdp.verify.grade.rules import rules_of, rules_told

LIST = "name,lang\n" + "".join(f"Guest {nth},en\n" for nth in range(7))
#: A press that spoils what has modules of 12 dots and spares what has 24.
BAD = "grade: {growth: 2.5, least: 3.5, sample: 3, source: a bad day}\n"


def report(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "report.json").read_text())
    return found


def test_the_lowest_of_each_symbol_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, records=LIST)
    with pytest.raises(SystemExit):
        cli.main(["run", str(job)])
    said = capsys.readouterr().out
    assert "4 of 7 pieces graded; a prediction from a simulated print, not a verifier's grade" in said
    told = report(tmp_path / "out")["grades"]
    assert (told["sampled"], told["of"]) == (4, 7)
    assert told["symbols"].keys() == {"bars", "square", "hidden"}
    assert {name: one["x_dots"] for name, one in told["symbols"].items()} == {"bars": 12, "square": 24, "hidden": 24}
    assert told["symbols"]["hidden"]["plate"] == "Clear"
    assert told["lowest"]["grade"] == min(one["grade"] for one in told["symbols"].values())
    words = " ".join(page.extract_text() for page in PdfReader(tmp_path / "out" / "report.pdf").pages)
    assert "not a verifier" in words
    assert "uncalibrated" in words
    assert "Lowest grade of the run" in words


def test_a_floor_condemns_and_the_files_alone_say_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, records=LIST, job=JOB + BAD)
    code, told = ended(["run", str(job)], capsys)
    assert code == 1
    assert {finding["code"] for finding in told["findings"]} == {"symbol-grade"}
    assert {re.split("[ :]", finding["message"])[0] for finding in told["findings"]} == {"bars"}
    graded = report(tmp_path / "out")["grades"]
    assert graded["sampled"] == len(told["findings"]) == 3
    code, again = ended(["verify", str(tmp_path / "out")], capsys)
    assert code == 1
    assert [f for f in again["findings"] if f["code"] == "symbol-grade"] == told["findings"]


def test_workers_grade_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = []
    for workers in ("1", "2"):
        job = write_job(tmp_path / workers, records=LIST * 1 + "".join(f"More {n},en\n" for n in range(80)))
        assert ended(["run", str(job), "--workers", workers], capsys)[0] == 0
        told.append(report(tmp_path / workers / "out")["grades"])
    assert told[0] == told[1]
    assert told[0]["of"] == 87


def test_no_sample_no_grades(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, job=JOB + "grade: {sample: 0}\n", layout=FRONT + BACK)
    assert ended(["run", str(job)], capsys)[0] == 0
    assert report(tmp_path / "out")["grades"] is None


@pytest.mark.parametrize(("ink", "paper"), [(90, 85), (85, 85)])
def test_ink_is_darker_than_paper(ink: int, paper: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, job=JOB + f"grade: {{paper: {paper}, ink: {ink}}}\n")
    code, told = ended(["run", str(job)], capsys)
    assert code == 2
    assert "is not darker than paper" in told["findings"][0]["message"]


def test_the_sample_has_both_ends_and_is_the_same_every_time() -> None:
    rules = rules_of(GradeModel(sample=5))
    chosen = rules.chosen(1_000_000)
    assert len(chosen) == 5
    assert {1, 1_000_000} < chosen
    assert chosen == rules.chosen(1_000_000)
    assert chosen != rules._replace(seed=1).chosen(1_000_000)
    assert rules.chosen(3) == {1, 2, 3}
    assert rules.chosen(1) == {1}
    assert rules.chosen(0) == frozenset()
    assert rules._replace(sample=1).chosen(9) == {1}


def test_rules_come_back_from_the_report_as_they_were() -> None:
    rules = rules_of(GradeModel(least=2.5, sample=9, seed=3, source="form 4", growth=-0.5, paper=70, ink=3))
    assert rules_told(json.loads(json.dumps(rules.as_json()))) == rules
    assert rules_told(None) == rules_of(GradeModel())
    with pytest.raises((ValueError, KeyError)):
        rules_told({"press": {}})
