"""What the verifier cannot judge, as an exception: every one of them becomes a finding, never a pass."""

from __future__ import annotations


class Unreadable(Exception):  # noqa: N818  named for what it says about the page, not for being an error
    """Part of a page cannot be judged.  The message is the reason, without its place."""
