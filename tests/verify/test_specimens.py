"""Leader and trailer: specimens that say so and nothing that a live piece says."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.sheeted import Small, judged, lay_run, make_run, read_lines
from vdp.barcode.carriers import Encoder, need
from vdp.marks import BLACK, Mark, SymbolMark, TextMark
from vdp.press.order import arrange
from vdp.press.standins import specimen_marks
from vdp.text.faces import Faces
from vdp.text.fit import Setter, Style

TRIM = (94, 94, 2835, 1890)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Small:
    return make_run(tmp_path_factory.mktemp("small") / "job")


@pytest.fixture
def mine(small: Small, tmp_path: Path) -> Small:
    return small.at(Path(shutil.copytree(small.folder, tmp_path / "out")))


def text(small: Small, words: str) -> Mark:
    box = (200, 300, 1500, 250)
    setting = Setter(Faces(small.book.faces), 1200).set(words, Style("mono", 9), "und", box)
    return TextMark("number", BLACK, box, 0, setting.size, setting.lines)


def code(data: str) -> Mark:
    shape = Encoder("datamatrix", need("datamatrix", data)).encode([data])[0]
    side = (shape.width + 2) * 24  # type: ignore[union-attr]  # a matrix
    return SymbolMark("hidden", BLACK, (1900, 400, side, side), 0, 24, (24, 24, 24, 24), 0, shape)


def lay(mine: Small, *more: Mark) -> set[str]:
    marks = [*more, *specimen_marks(TRIM, Setter(Faces(mine.book.faces), 1200))]
    order = arrange(20, 3, 2, "blocks", height=2, roll_frames=2)
    lay_run(mine, order, leader=2, trailer=1, specimen=marks)
    return {finding.code for finding in judged(mine.folder).findings}


def test_specimens_with_numbers_out_of_range_are_good(mine: Small) -> None:
    assert lay(mine, text(mine, "V99999"), code("V99999")) == set()
    assert {line["place"]["frame"] for line in read_lines(mine.folder)} == {3, 4}
    checks = {check.what: check.count for check in judged(mine.folder).checks}
    assert checks["Places on the sheets"] == "60 places, 4 blanks on 10 frames"


def test_a_specimen_that_shows_a_live_number_is_found(mine: Small) -> None:
    serial = read_lines(mine.folder)[3]["serials"]["voucher"]
    assert lay(mine, text(mine, serial)) == {"specimen-live"}


def test_a_specimen_whose_code_says_what_a_live_one_says_is_found(mine: Small) -> None:
    data = read_lines(mine.folder)[5]["symbols"][-1]["data"]
    assert lay(mine, code(data)) == {"specimen-live"}
