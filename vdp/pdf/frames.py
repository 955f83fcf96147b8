"""Frames of a sheet file: which number each object has, page dictionaries in groups, and where everything stands.

A frame is two pages, front and back.  A group is 32 frames: the contents of its pages, then what lies in an object
stream (a page tree leaf and page dictionaries), then that object stream, whose number is the largest for the reason
that `arithmetic` tells.  Numbers run: what all sheets share, page tree nodes (the root last), groups, pieces as forms
in the order in which they come, what is written last.
Not here: what is on a page (`sheets`).
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from vdp.pdf.arithmetic import FAN_OUT, SIDES, Node
from vdp.pdf.xref import Rows

#: Frames in a group, which is a leaf of the page tree.
FRAMES_IN_GROUP = 32
#: Numbers of a frame: content streams and page dictionaries.
_PER_FRAME = 2 * SIDES
#: Numbers of a group besides: the leaf and the object stream.
_PER_GROUP = 2
#: Forms turned into entries at a time.
_BLOCK = 65_536


@dataclass(frozen=True, slots=True)
class Frames:
    """Numbers of a file of `frames` frames whose page tree begins at object `first`."""

    frames: int
    first: int

    @property
    def groups(self) -> int:
        return -(-self.frames // FRAMES_IN_GROUP)

    def _levels(self) -> list[int]:
        """Nodes of each level above the leaves, lowest first; there is always a root."""
        levels = [-(-self.groups // FAN_OUT)]
        while levels[-1] > 1:
            levels.append(-(-levels[-1] // FAN_OUT))
        return levels

    @property
    def root(self) -> int:
        return self.body - 1

    @property
    def body(self) -> int:
        return self.first + sum(self._levels())

    @property
    def tail(self) -> int:
        """The first number after the last group: that of the first form."""
        return self.body + self.groups * _PER_GROUP + self.frames * _PER_FRAME

    def size(self, group: int) -> int:
        return min(FRAMES_IN_GROUP, self.frames - group * FRAMES_IN_GROUP)

    def contents(self, group: int) -> range:
        start = self.body + group * (_PER_GROUP + FRAMES_IN_GROUP * _PER_FRAME)
        return range(start, start + SIDES * self.size(group))

    def leaf(self, group: int) -> int:
        return self.contents(group).stop

    def pages(self, group: int) -> range:
        start = self.leaf(group) + 1
        return range(start, start + SIDES * self.size(group))

    def stream(self, group: int) -> int:
        """A group's object stream."""
        return self.pages(group).stop

    def nodes(self) -> Iterator[Node]:
        """Tree nodes above the leaves, in the order of their numbers."""
        levels = self._levels()
        below = [self.leaf(group) for group in range(self.groups)]
        start, reach = self.first, FAN_OUT * FRAMES_IN_GROUP
        for level, count in enumerate(levels):
            above = start + count
            for index in range(count):
                kids = tuple(below[index * FAN_OUT : (index + 1) * FAN_OUT])
                frames = min(reach, self.frames - index * reach)
                parent = above + index // FAN_OUT if level + 1 < len(levels) else 0
                yield Node(start + index, parent, kids, SIDES * frames)
            below, start, reach = list(range(start, above)), above, reach * FAN_OUT

    def dictionaries(self, group: int, entries: Sequence[bytes]) -> tuple[list[int], list[bytes]]:
        """Numbers and bodies of a group's leaf and pages; `entries` are what each page has besides its contents."""
        leaf, pages = self.leaf(group), self.pages(group)
        kids = b" ".join([b"%d 0 R" % page for page in pages])
        parent = self.first + group // FAN_OUT
        bodies = [b"<</Type/Pages/Parent %d 0 R/Count %d/Kids[%b]>>" % (parent, len(pages), kids)]
        for content, more in zip(self.contents(group), entries, strict=True):
            bodies.append(b"<</Type/Page/Parent %d 0 R/Contents %d 0 R%b>>" % (leaf, content, more))
        return [leaf, *pages], bodies


def entries(
    frames: Frames, singles: Mapping[int, int], groups: array[int], forms: array[int], size: int
) -> Iterator[Rows]:
    """The cross-references in blocks: `singles` number → offset; offsets of the `groups`' objects (contents,
    object stream) and of the `forms`."""

    def listed(numbers: range) -> Rows:
        rows = [(1, singles[number], 0) if number else (0, 0, 0xFFFF) for number in numbers]
        return np.array(rows, dtype=np.uint64).reshape(-1, 3)

    yield listed(range(frames.body))
    offsets = np.frombuffer(groups, np.uint64)
    at = 0
    for group in range(frames.groups):
        pages = SIDES * frames.size(group)
        rows = np.zeros((2 + 2 * pages, 3), np.uint64)
        rows[:pages, 0] = 1
        rows[:pages, 1] = offsets[at : at + pages]
        rows[pages:-1, 0] = 2
        rows[pages:-1, 1] = frames.stream(group)
        rows[pages:-1, 2] = np.arange(pages + 1)
        rows[-1] = (1, offsets[at + pages], 0)
        at += 1 + pages
        yield rows
    placed = np.frombuffer(forms, np.uint64)
    for start in range(0, len(placed), _BLOCK):
        block = placed[start : start + _BLOCK]
        rows = np.zeros((len(block), 3), np.uint64)
        rows[:, 0], rows[:, 1] = 1, block
        yield rows
    yield listed(range(frames.tail + len(placed), size))
