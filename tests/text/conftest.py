"""What the tests of setting type share: the built-in faces, opened once, and Unicode's own test data."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from vdp.job.faces import builtin_faces
from vdp.text import Faces, Setter

#: Where Debian's package unicode-data puts the Unicode Character Database and its tests.
UNICODE = Path("/usr/share/unicode")


@pytest.fixture(scope="session")
def faces() -> Faces:
    return Faces(builtin_faces())


@pytest.fixture
def setter(faces: Faces) -> Setter:
    """One that has set nothing yet."""
    return Setter(faces, 1200)


@pytest.fixture
def unicode_lines() -> Callable[[str], list[str]]:
    """Lines of a file of the Unicode Character Database, without comments; absent, as with `need`."""

    def read(name: str) -> list[str]:
        path = UNICODE / name
        if not path.exists():
            if os.environ.get("CI"):
                pytest.fail(f"{path} is not there, and CI must have it (package unicode-data)")
            pytest.skip(f"{path} is not there (package unicode-data): this check did not run")
        lines = (line.partition("#")[0].strip() for line in path.read_text("utf-8").splitlines())
        return [line for line in lines if line]

    return read
