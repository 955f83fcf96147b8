"""One small run, made once; every test changes a copy of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tamper.folder import Tampered, make_run


@pytest.fixture(scope="session")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_run(tmp_path_factory.mktemp("tamper") / "job")


@pytest.fixture
def tampered(run: Path, tmp_path: Path) -> Tampered:
    return Tampered(run, tmp_path)
