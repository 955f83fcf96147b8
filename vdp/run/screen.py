"""Progress for people, on standard error: a bar with rate and time left, or a line now and then off a terminal."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

#: Seconds between two lines where standard error is not a terminal.
EVERY = 10.0


class Screen:
    """Shows one step after another."""

    def __init__(self, stream: TextIO, clock: Callable[[], float] = time.monotonic) -> None:
        self.stream, self.clock = stream, clock

    @contextmanager
    def step(self, title: str, total: int | None, unit: str) -> Iterator[Callable[[int], None]]:
        """Yields a function to be told how many are done.  `total` may be unknown."""
        if not self.stream.isatty():
            yield self._lines(title, total, unit)
            return
        from rich.console import Console  # noqa: PLC0415  only where there is a terminal
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn  # noqa: PLC0415

        columns = (
            TextColumn("{task.description:<12}"),
            BarColumn(),
            TextColumn("{task.completed:>9,.0f} " + unit),
            TextColumn("{task.fields[rate]}"),
            TimeRemainingColumn(),
        )
        with Progress(*columns, console=Console(file=self.stream), transient=True, refresh_per_second=8) as bar:
            task, begun = bar.add_task(title, total=total, rate=""), self.clock()

            def tell(done: int) -> None:
                if done % 50 == 0 or done == total:
                    rate = done / max(1e-6, self.clock() - begun)
                    bar.update(task, completed=done, rate=f"{rate:,.0f}/s")

            yield tell

    def _lines(self, title: str, total: int | None, unit: str) -> Callable[[int], None]:
        begun = last = self.clock()

        def tell(done: int) -> None:
            nonlocal last
            now = self.clock()
            if now - last < EVERY:
                return
            last = now
            rate = done / max(1e-6, now - begun)
            left = f", {(total - done) / rate:,.0f} s left" if total and rate else ""
            of = f" of {total:,}" if total else ""
            self.stream.write(f"{title}: {done:,}{of} {unit}, {rate:,.0f}/s{left}\n")

        return tell
