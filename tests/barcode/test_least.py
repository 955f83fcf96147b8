"""The table of least X-dimensions, part of it computed again."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.benchmarks.least import least, most_growth, safe
from tests.verify.grade.drawn import POSTAL
from vdp.barcode.least import GROWTHS, LEAST, least_dots

README = Path(__file__).parents[2] / "README.md"


@pytest.mark.parametrize("symbology", ["datamatrix"])
def test_the_table_is_what_the_simulation_gives(symbology: str) -> None:
    assert least(symbology, GROWTHS[1]) == LEAST[symbology][1]


@pytest.mark.parametrize("symbology", ["code128", "ean13", "qr", "micro-qr", "pdf417"])
def test_one_dot_less_is_not_safe(symbology: str) -> None:
    assert safe(symbology, LEAST[symbology][1], GROWTHS[1])
    assert not safe(symbology, LEAST[symbology][1] - 1, GROWTHS[1])


def test_more_growth_never_needs_less() -> None:
    assert all(row == tuple(sorted(row)) and len(row) == len(GROWTHS) for row in LEAST.values())


def test_dots_follow_the_resolution_and_the_unknown_needs_the_most() -> None:
    assert least_dots("qr", 600) == -(-least_dots("qr", 1200) // 2)
    assert least_dots("imb", 1200) == max(row[1] for row in LEAST.values())


def test_postal_codes_bear_what_readme_says() -> None:
    assert {most_growth(symbology, prints=1) for symbology in POSTAL} == {12}
    assert "read up to a growth of 12 dots" in README.read_text(encoding="utf-8").replace("\n", " ")


def test_readme_has_the_table() -> None:
    shown = README.read_text(encoding="utf-8")
    for symbology, row in LEAST.items():
        assert f"| {symbology} | " + " | ".join(map(str, row)) + " |" in shown
