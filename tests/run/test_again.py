"""A run's own report counts when its files are judged again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from vdp.run.again import own_findings


@pytest.mark.parametrize(
    ("report", "codes"),
    [
        ({"verified": True, "findings": []}, []),
        ({"verified": False, "findings": []}, ["run-unfinished"]),
        ({"verified": True, "findings": [{"code": "text-missing", "where": "w", "message": "m"}]}, ["run-condemned"]),
        ({"verified": True}, []),
        ([], []),
    ],
)
def test_an_unfinished_or_condemned_run_stays_so(tmp_path: Path, report: Any, codes: list[str]) -> None:
    (tmp_path / "report.json").write_text(json.dumps(report), encoding="utf-8")
    assert [finding.code for finding in own_findings(tmp_path)] == codes


def test_a_run_that_made_nothing_says_why(tmp_path: Path) -> None:
    told = {"code": "rows-refused", "where": "list.csv", "message": "6 rows refused"}
    (tmp_path / "report.json").write_text(json.dumps({"verified": False, "findings": [told]}), encoding="utf-8")
    (found,) = own_findings(tmp_path)
    assert (found.code, found.message) == (
        "run-unfinished", "the run ended before its files were verified: 6 rows refused",
    )  # fmt: skip


def test_no_report_is_left_to_the_verifier(tmp_path: Path) -> None:
    assert own_findings(tmp_path) == []
