"""What the verifier cannot judge, as an exception: every one of them becomes a finding, never a pass."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pikepdf


class Unreadable(Exception):
    """Part of a page cannot be judged.  The message is the reason, without its place."""


@contextmanager
def pdf_faults() -> Iterator[None]:
    """Whatever a malformed object makes pikepdf or arithmetic stumble over is a page that cannot be judged."""
    try:
        yield
    except (
        pikepdf.PdfError,
        LookupError,
        TypeError,
        ValueError,
        AttributeError,
        ArithmeticError,
        RuntimeError,
        MemoryError,
    ) as error:
        raise Unreadable(f"an object cannot be read: {type(error).__name__} {error}") from error
