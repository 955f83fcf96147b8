"""How long each step took."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager


class Stopwatch:
    """`with watch("compose"): …` adds to `seconds["compose"]`."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.clock = clock
        self.seconds: dict[str, float] = {}

    @contextmanager
    def __call__(self, step: str) -> Iterator[None]:
        begun = self.clock()
        try:
            yield
        finally:
            self.seconds[step] = self.seconds.get(step, 0.0) + self.clock() - begun
