"""What the verifier cannot judge, as an exception: every one of them becomes a finding, never a pass."""

from __future__ import annotations


class Unreadable(Exception):
    """Part of a page cannot be judged.  The message is the reason, without its place."""
