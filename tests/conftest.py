"""What every test may ask for."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable

import pytest


@pytest.fixture
def need() -> Callable[[str], str]:
    """A program from the system, by name: absent, the test skips loudly; in CI it fails."""

    def find(program: str) -> str:
        path = shutil.which(program)
        if path is None:
            if os.environ.get("CI"):
                pytest.fail(f"{program} is not installed, and CI must have it")
            pytest.skip(f"{program} is not installed: this check did not run")
        return path

    return find
