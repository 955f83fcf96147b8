"""A sheet's page and the marks of all sheets, as readable content streams in whole dots.

Written anew with ``python -m tests.golden.test_sheets`` after a change that was looked at by eye, whole and through a
loupe.
"""

from __future__ import annotations

import re
from pathlib import Path
from tempfile import TemporaryDirectory

import pikepdf
import pytest

from tests.sheeted import lay_run, make_run
from vdp.press.order import arrange

_HERE = Path(__file__).parent / "sheets"
NAMES = ("front-page", "front-marks", "back-page", "back-marks")


def drawn(home: Path) -> dict[str, str]:
    """Pages of the last frame, which has blanks; type and modules of codes left out."""
    small = make_run(home / "job", 9)
    lay_run(small, arrange(9, 3, 2, "blocks", height=2))
    found = {}
    with pikepdf.open(small.folder / "sheets.pdf") as pdf:
        for side, page in zip(("front", "back"), pdf.pages[-2:], strict=True):
            text = page.Contents.read_bytes()
            text = re.sub(rb"BT\n.*?ET\n", b"% type\n", text, flags=re.DOTALL)
            text = re.sub(rb"( cm\n)(?: *\d+ +\d+ +\d+ 1 re\n)+", rb"\1% modules\n", text)
            found[f"{side}-page"] = text.decode("ascii")
            found[f"{side}-marks"] = page.obj.Resources.XObject["/M"].read_bytes().decode("ascii")
    return found


@pytest.fixture(scope="module")
def now(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return drawn(tmp_path_factory.mktemp("golden"))


@pytest.mark.parametrize("name", NAMES)
def test_sheets_are_drawn_as_they_were_looked_at(name: str, now: dict[str, str]) -> None:
    assert now[name] == (_HERE / f"{name}.txt").read_text("ascii")


if __name__ == "__main__":
    with TemporaryDirectory() as folder:
        for key, value in drawn(Path(folder)).items():
            (_HERE / f"{key}.txt").write_text(value, "ascii")
