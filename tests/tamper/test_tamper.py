"""Every deed gives its own finding and no other; every finding has a deed."""

from __future__ import annotations

import pytest

from tests.tamper.cases import CASES, Case
from tests.tamper.finish_cases import FINISH_CASES
from tests.tamper.folder import Tampered
from tests.tamper.sheet_cases import JOB_CASES, SHEET_CASES, SPECIMEN_CASES
from tests.tamper.test_humantext import GIVES
from tests.verify.test_finelines import GIVES as OF_LINES
from vdp.verify.codes import CODES
from vdp.verify.conformance.codes import CONFORMANCE


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.title)
def test_a_deed_is_found_against_the_rows(case: Case, tampered: Tampered) -> None:
    case.deed(tampered)
    assert tampered.codes() == case.gives


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.title)
def test_a_deed_is_found_from_the_files_alone(case: Case, tampered: Tampered) -> None:
    case.deed(tampered)
    assert tampered.codes(with_rows=False) == (case.gives if case.alone is None else case.alone)


#: The standards' rules have their own mutations: tests/verify/conformance.
@pytest.mark.parametrize("code", [code for code in CODES if code not in CONFORMANCE])
def test_every_code_has_a_deed_that_gives_it(code: str) -> None:
    given = [case.gives for case in CASES] + [case.gives for case in FINISH_CASES]
    given += [GIVES, OF_LINES, *(case.gives for case in (*SHEET_CASES, *SPECIMEN_CASES, *JOB_CASES))]
    assert any(code in codes for codes in given), f"no tampering test gives {code}"


def test_an_untouched_run_gives_nothing(tampered: Tampered) -> None:
    verdict = tampered.verdict()
    assert verdict.ok
    assert (verdict.pieces, verdict.set_aside, verdict.pages) == (6, 1, 12)
    assert verdict.symbols_decoded == verdict.symbols_expected == 18
    assert verdict.serials == verdict.serials_unique == 6
    assert all(check.good for check in verdict.checks)


def test_refreshing_hashes_by_itself_changes_nothing(tampered: Tampered) -> None:
    tampered.refresh()
    assert tampered.codes() == set()


def test_workers_find_the_same(tampered: Tampered) -> None:
    next(case for case in CASES if case.gives == {"symbol-swapped"}).deed(tampered)
    assert tampered.verdict(workers=2).findings == tampered.verdict().findings
