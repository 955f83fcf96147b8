"""How a printed roll is wound, and which edge of a piece comes off it first.

Lives here: the edge that leads, and the sentence that plan, ticket and labels share.  Not here: which frame comes off
first (`order`), what the job says (`job.stock`).
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from vdp.press.web import Turn

Edge = Literal["head", "right", "foot", "left"]
Face = Literal["in", "out"]
Way = Literal["clockwise", "counter_clockwise"]

#: The front's edges, each a quarter turn clockwise from the one before.
_EDGES: tuple[Edge, ...] = ("head", "right", "foot", "left")


class Winding(NamedTuple):
    """`rewound`: the last printed frame comes off first.  `leads`: the edge of the front that comes off first.  `face`:
    whether the front lies on the inside or the outside of the roll; `way`: how the web is wound as the operator's side
    sees it; None where the job does not say."""

    rewound: bool
    leads: Edge
    face: Face | None = None
    way: Way | None = None

    @property
    def said(self) -> str:
        """One sentence for people."""
        first = "last" if self.rewound else "first"
        parts = [f"the {first} printed frame comes off first, {self.leads} of the front leading"]
        if self.face is not None:
            parts.append(f"face {self.face}")
        if self.way is not None:
            parts.append(f"wound {self.way.replace('_', '-')} seen from the operator's side")
        return ", ".join(parts)


def leading_edge(turn: Turn, rewound: bool) -> Edge:
    """The edge of the front that comes off the roll first, for pieces turned counter-clockwise by `turn` on the frame.

    As printed, the frame's leading edge comes first; turned by 90 degrees, a piece's right edge lies there.  From a
    rewound roll the opposite edge leads.
    """
    return _EDGES[(turn // 90 + (2 if rewound else 0)) % 4]
