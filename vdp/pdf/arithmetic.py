"""Which number each object has, as a formula of the piece's index.

Every piece owns the same number of objects, so that a part of the file made anywhere has its final numbers.  A group
is 32 pieces: the content streams, then what lies in an object stream (a page tree leaf, a document part of the group,
page dictionaries, a document part a piece), then that object stream.  The page tree above the leaves is known as soon
as the number of pieces is; its nodes stand before the first group, and after them the document parts above the groups,
in the same shape.

An object stream has the largest number of its group because of readers that keep cross-references in a search tree:
they look it up with every entry of an object in it, and find it on the way that new entries take.  With the smallest
number a file took twice as long to open.

Numbers run: what all pieces share, page tree nodes (the root last), document parts above the groups, groups, what is
written last (fonts, resources, xref).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

#: Pieces in a group, which is a leaf of the page tree.
PIECES_IN_GROUP = 32
#: Pages of a piece: front and back.
SIDES = 2
#: Children of a page tree node above the leaves.
FAN_OUT = 64
#: Objects of a piece: content streams, page dictionaries, a document part.
PER_PIECE = 2 * SIDES + 1
#: Objects of a group besides its pieces': the leaf, the group's document part, the object stream.
PER_GROUP = 3


class Node(NamedTuple):
    """A page tree node above the leaves: its number, its parent's (0 for the root), its children and pages below."""

    number: int
    parent: int
    kids: tuple[int, ...]
    pages: int


@dataclass(frozen=True, slots=True)
class Arithmetic:
    """Numbers of a file of `pieces` pieces whose page tree begins at object `first`."""

    pieces: int
    first: int

    @property
    def groups(self) -> int:
        return -(-self.pieces // PIECES_IN_GROUP)

    def _levels(self) -> list[int]:
        """Nodes of each level above the leaves, lowest first; there is always a root."""
        levels = [max(1, -(-self.groups // FAN_OUT))]
        while levels[-1] > 1:
            levels.append(-(-levels[-1] // FAN_OUT))
        return levels

    @property
    def root(self) -> int:
        """The page tree's root."""
        return self.first + sum(self._levels()) - 1

    @property
    def levels(self) -> int:
        """Levels of the tree from its root to a piece."""
        return len(self._levels()) + 2

    @property
    def body(self) -> int:
        """The first object of the first group."""
        return self.first + 2 * sum(self._levels())

    @property
    def tail(self) -> int:
        """The first number after the last group."""
        return self.body + self.groups * PER_GROUP + self.pieces * PER_PIECE

    def leaf(self, group: int) -> int:
        """The page tree leaf of a group."""
        return self.contents(group).stop

    def part(self, group: int) -> int:
        """The document part of a group."""
        return self.leaf(group) + 1

    def part_of_node(self, number: int) -> int:
        """The document part that stands for a page tree node, a group's leaf included."""
        return number + 1 if number >= self.body else number + sum(self._levels())

    def parent(self, group: int) -> int:
        """The tree node above a leaf."""
        return self.first + group // FAN_OUT

    def size(self, group: int) -> int:
        """Pieces in a group: 32, or fewer in the last."""
        return min(PIECES_IN_GROUP, self.pieces - group * PIECES_IN_GROUP)

    def contents(self, group: int) -> range:
        """Content streams of a group's pages, in page order."""
        start = self.body + group * (PER_GROUP + PIECES_IN_GROUP * PER_PIECE)
        return range(start, start + SIDES * self.size(group))

    def pages(self, group: int) -> range:
        """Page dictionaries of a group, in page order."""
        start = self.part(group) + 1
        return range(start, start + SIDES * self.size(group))

    def parts(self, group: int) -> range:
        """Document parts of a group's pieces."""
        start = self.pages(group).stop
        return range(start, start + self.size(group))

    def stream(self, group: int) -> int:
        """The object stream of a group, which holds all of it but the content streams."""
        return self.parts(group).stop

    def nodes(self) -> Iterator[Node]:
        """Tree nodes above the leaves, in the order of their numbers."""
        levels = self._levels()
        below = [self.leaf(group) for group in range(self.groups)]
        start, reach = self.first, FAN_OUT * PIECES_IN_GROUP
        for level, count in enumerate(levels):
            above = start + count
            for index in range(count):
                kids = tuple(below[index * FAN_OUT : (index + 1) * FAN_OUT])
                pieces = min(reach, self.pieces - index * reach)
                parent = above + index // FAN_OUT if level + 1 < len(levels) else 0
                yield Node(start + index, parent, kids, SIDES * pieces)
            below, start, reach = list(range(start, above)), above, reach * FAN_OUT
