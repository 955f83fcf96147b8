"""Pages that are alike, worked on place by place: their first marks together, their second marks, and so on.

Lives here: which pages of a batch are alike, and how their streams grow together.  Not here: what is written.
Most pages of a job have marks of the same kinds in the same inks.  Whatever follows from kinds and inks is then worked
out once for all of them; a page like no other is a group of one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator, Sequence
from itertools import repeat
from operator import attrgetter, is_
from typing import NamedTuple

from vdp.marks import FormMark, ImageMark, Ink, Mark


class Alike(NamedTuple):
    """Pages that have marks of the same kinds in equal inks: `places` in their batch, and `columns`, the marks of all
    these pages at their first place, at their second, …"""

    places: list[int]
    columns: list[tuple[Mark, ...]]


def group_alike(pages: Sequence[Sequence[Mark]]) -> Iterator[Alike]:
    """Every page of a batch in one group."""
    kinds: defaultdict[Hashable, list[int]] = defaultdict(list)
    for at, marks in enumerate(pages):
        kinds[tuple(map(type, marks))].append(at)
    for places in kinds.values():
        alike = _group(pages, places)
        if all(map(_in_one_ink, alike.columns)):
            yield alike
            continue
        inks: defaultdict[Hashable, list[int]] = defaultdict(list)
        for at in places:
            inks[tuple(map(ink_of, pages[at]))].append(at)
        for some in inks.values():
            yield _group(pages, some)


def _group(pages: Sequence[Sequence[Mark]], places: list[int]) -> Alike:
    return Alike(places, list(zip(*[pages[at] for at in places], strict=True)))


def _in_one_ink(column: tuple[Mark, ...]) -> bool:
    if ink_of(column[0]) is None:
        return True
    inks = list(map(attrgetter("ink"), column))
    # Mostly it is the very same ink, which is quicker to see than that it is equal.
    return all(map(is_, inks, repeat(inks[0]))) or inks.count(inks[0]) == len(inks)


def ink_of(mark: Mark) -> Ink | None:
    """None of what brings its own inks."""
    return None if isinstance(mark, (ImageMark, FormMark)) else mark.ink


class Streams:
    """Content streams of so many pages, written together."""

    def __init__(self, count: int) -> None:
        self._count = count
        self._parts: list[Sequence[str]] = []

    def write(self, text: str) -> None:
        """Text that all pages have here."""
        if text:
            self._parts.append([text] * self._count)

    def write_each(self, texts: Sequence[str]) -> None:
        """A text for each page."""
        self._parts.append(texts)

    def finish(self) -> list[bytes]:
        """The streams."""
        if not self._parts:
            return [b""] * self._count
        return ["".join(parts).encode("ascii") for parts in zip(*self._parts, strict=True)]
