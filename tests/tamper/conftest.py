"""One small run, and a few sealed ones, made once; every test changes a copy of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tamper.folder import Tampered, make_run
from tests.tamper.sealed import Attacked, make_sealed


@pytest.fixture(scope="session")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_run(tmp_path_factory.mktemp("tamper") / "job")


@pytest.fixture
def tampered(run: Path, tmp_path: Path) -> Tampered:
    return Tampered(run, tmp_path)


@pytest.fixture(scope="session")
def sealed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_sealed(tmp_path_factory.mktemp("attacked"))


@pytest.fixture
def attacked(sealed: Path, tmp_path: Path) -> Attacked:
    return Attacked(sealed, tmp_path)
