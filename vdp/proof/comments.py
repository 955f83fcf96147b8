"""A customer's comments: words pinned to a piece, a side and a place of it, as typed and as kept.

A place is in millimetres from the trim's upper left corner, x to the right and y down, as layouts measure.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Literal, NamedTuple, cast

from vdp.errors import CallerError

SideName = Literal["front", "back"]
#: Characters of the longest comment.
LONGEST = 2000
_PINNED = re.compile(
    r"piece\s+(?P<piece>\d{1,9})"
    r"(?:\s+(?P<side>front|back))?"
    r"(?:\s+(?P<x>\d{1,4}(?:\.\d+)?)\s*,\s*(?P<y>\d{1,4}(?:\.\d+)?))?\s*:\s*(?P<words>.*)",
    re.DOTALL | re.ASCII | re.IGNORECASE,
)


class Comment(NamedTuple):
    """`piece` from 1, 0 for the whole job; `side` "" for both; `at` in mm, None for the whole side."""

    words: str
    piece: int = 0
    side: SideName | Literal[""] = ""
    at: tuple[float, float] | None = None

    def as_json(self) -> dict[str, Any]:
        at = None if self.at is None else [round(self.at[0], 2), round(self.at[1], 2)]
        return {"piece": self.piece, "side": self.side, "at": at, "words": self.words}

    @property
    def place(self) -> str:
        """Where it is pinned, in words."""
        if not self.piece:
            return "the job"
        side = f", {self.side}" if self.side else ""
        spot = f", {self.at[0]:g} mm from the left and {self.at[1]:g} mm down" if self.at is not None else ""
        return f"piece {self.piece}{side}{spot}"


def parse_comment(text: str) -> Comment:
    """`piece 12 front 20,30: words`, `piece 12 back: words`, `piece 12: words`, or words about the whole job.

    Raises CallerError for a comment without words, one too long, or a place without a side.
    """
    pinned = _PINNED.fullmatch(text.strip())
    words = (pinned["words"] if pinned else text).strip()
    if not words:
        raise CallerError.one("--comment", f"'{text}' says nothing", "write: piece 12 front 20,30: what is wrong")
    if len(words) > LONGEST:
        raise CallerError.one("--comment", f"has {len(words):,} characters; {LONGEST:,} are the most")
    if pinned is None:
        return Comment(words)
    side = cast("SideName | Literal['']", (pinned["side"] or "").lower())
    at = (float(pinned["x"]), float(pinned["y"])) if pinned["x"] is not None else None
    if at is not None and not side:
        raise CallerError.one("--comment", f"'{text}' has a place and no side", "write front or back before the place")
    return Comment(words, int(pinned["piece"]), side, at)


def comment_from(value: Mapping[str, Any]) -> Comment:
    """A comment as it was kept.  Raises ValueError for what is none."""
    words, piece, side, at = value["words"], value["piece"], value["side"], value["at"]
    if not isinstance(words, str) or not isinstance(piece, int) or isinstance(piece, bool) or piece < 0:
        raise ValueError("a comment is words and the number of a piece")
    if side not in ("", "front", "back"):
        raise ValueError(f"a comment's side is front or back, not {side!r}")
    place = None if at is None else (float(at[0]), float(at[1]))
    return Comment(words, piece, side, place)


def check_comments(comments: list[Comment], pieces: int, trim: tuple[float, float]) -> None:
    """Raises CallerError with every comment on a piece that the run has not, or beside the trim (in mm)."""
    faults = []
    for comment in comments:
        if comment.piece > pieces or (comment.piece == 0 and comment.side):
            faults.append(CallerError.one("--comment", f"there is no piece {comment.piece}: the run has {pieces:,}"))
        elif comment.at is not None and (comment.at[0] > trim[0] or comment.at[1] > trim[1]):
            message = f"{comment.place} lies beside the piece, which is {trim[0]:g} × {trim[1]:g} mm"
            faults.append(CallerError.one("--comment", message, "measure from the trim's upper left corner"))
    if faults:
        raise CallerError(fault for error in faults for fault in error.faults)
