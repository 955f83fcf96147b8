"""A map of bounded size that works out what it lacks.

Lives here: the one cache of the room.  Not here: what is cached.  A value must follow from its key alone, so that what
was forgotten or in which order things were asked never shows in a result.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

K = TypeVar("K")
V = TypeVar("V")


class Kept(dict[K, V], Generic[K, V]):
    """``kept[key]`` is `make(key)`, remembered.  Holds at most 2 × `limit` values.

    Two generations: when the young one is full it becomes the old one, and what was in the old one and not asked for
    since is forgotten.  A hit costs no more than a hit in a dict, and a value in steady use stays the same object.
    """

    __slots__ = ("_limit", "_make", "_old")

    def __init__(self, make: Callable[[K], V], limit: int) -> None:
        super().__init__()
        self._make = make
        self._limit = limit
        self._old: dict[K, V] = {}

    def __missing__(self, key: K) -> V:
        value = self._old.pop(key) if key in self._old else self._make(key)
        if len(self) >= self._limit:
            self._old = dict(self)
            self.clear()
        self[key] = value
        return value

    @property
    def held(self) -> int:
        """Values held now, both generations."""
        return len(self) + len(self._old)
