"""What may be done to the text of a code, and the finding that it must give: human-text-wrong."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.tamper.cases import text
from tests.tamper.folder import Tampered
from tests.verify.test_smalltype import made

#: What the deeds of this file give.
GIVES = frozenset({"human-text-wrong"})
#: Text objects of the back: fine, secret, kept.
KEPT = 2
CODE = (
    "  - {name: kept, barcode: code39, data: STUB-27, at: [4 mm, 28 mm], x: 0.2 mm, height: 4 mm, human_text: below}\n"
)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("text") / "job"
    result = made(folder, CODE)
    assert result.ok, result.findings
    return folder


def another(part: bytes) -> bytes:
    """The digits change places."""
    shown = re.findall(rb"<([0-9A-F]+)>", part)[0]
    return part.replace(shown, shown[:-12] + shown[-8:-4] + shown[-12:-8] + shown[-4:])


@pytest.mark.parametrize("deed", ["another", "colour", "untold"])
def test_text_that_is_not_what_its_code_says_is_found(run: Path, tmp_path: Path, deed: str) -> None:
    tampered = Tampered(run, tmp_path)
    assert tampered.codes() == set()
    if deed == "another":
        tampered.page(1, text(KEPT, another))
    elif deed == "colour":
        tampered.page(1, text(KEPT, lambda part: b"1 0 0 1 k " + part + b"0 0 0 1 k "))
    else:
        tampered.report(lambda report: report.update(human_text={}))
    tampered.refresh()
    assert tampered.codes() == GIVES
    assert tampered.codes(with_rows=False) == (GIVES if deed != "untold" else set())
