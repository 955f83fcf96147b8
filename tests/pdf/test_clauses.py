"""No clause is open, every code in the tables is a check that exists, every check stands in a table."""

from __future__ import annotations

from pathlib import Path

from vdp.pdf.clauses import PDFVT1, PDFX4, as_table
from vdp.verify.codes import CODES
from vdp.verify.conformance.codes import CONFORMANCE

DEVELOPERS = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_clause_is_kept_by_a_check_or_said_to_be_otherwise() -> None:
    for clause in (*PDFX4, *PDFVT1):
        assert (clause.status == "enforced") == (clause.code in CODES), clause.rule


def test_every_check_stands_in_a_table() -> None:
    assert {*CONFORMANCE} <= {clause.code for clause in (*PDFX4, *PDFVT1)}


def test_developers_shows_the_tables() -> None:
    assert as_table(PDFX4) in DEVELOPERS
    assert as_table(PDFVT1) in DEVELOPERS
