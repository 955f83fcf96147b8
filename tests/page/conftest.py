"""One sealed run on a web, with a row set aside, opened for an operator and for an auditor."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.commands import sealed_run
from tests.page.made import At, client_of, house_for
from tests.small import BACK, FRONT, JOB

#: Twelve frames of two lanes, in blocks of four.
WEB = """\
web: {width: 200 mm, lanes: 2, along: 1, gutter: 6 mm, bleed: 2 mm, order: blocks, height: 4, fill: block,
  margins: {left: 16 mm, right: 16 mm, head: 16 mm, foot: 16 mm}}
"""
ROWS = "name,lang\n" + "".join(f"Guest {n},en\n" for n in range(1, 20)) + "A name that is far too long for its box,en\n"


@pytest.fixture(scope="session")
def sealed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with job, key, ledger and the run `out`: 19 pieces, row 21 set aside.  Not to be changed."""
    folder = tmp_path_factory.mktemp("page")
    said = JOB + WEB + "set_aside: continue\n"
    return sealed_run(folder, layout=FRONT + BACK, job=said, records=ROWS.replace("A name", "A name " * 12))


@pytest.fixture
def copy(sealed: Path, tmp_path: Path) -> Path:
    """The same, to be changed."""
    shutil.copytree(sealed, tmp_path / "home")
    return tmp_path / "home"


@pytest.fixture
def proof(sealed: Path) -> Iterator[At]:
    """An operator's page, with a session."""
    with client_of(house_for(sealed)) as at:
        at.come_in()
        yield at


@pytest.fixture
def audit(sealed: Path) -> Iterator[At]:
    """An auditor's page, with a session."""
    with client_of(house_for(sealed, audited=True)) as at:
        at.come_in()
        yield at
