"""Published vectors, as files with their sources (tests/data/SOURCES.md)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any


def vectors(name: str) -> Any:
    """The vectors of one standard, such as "rfc8032"."""
    path = Path(__file__).parent.parent / "data" / "vectors" / f"{name}.json"
    return json.loads(path.read_text("utf-8"))
