"""How far a run is, told in its folder while it goes on: a small file that the page reads, gone when the run ends.

Lives here: the file, written at most twice a second.  Not here: progress on a terminal (`screen`), showing it
(`vdp.page`).
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from vdp.errors import CallerError, Finding
from vdp.run.folder import keep_out
from vdp.run.screen import Screen

NAME = ".progress.json"
#: Seconds between two writings, and findings that are told in full.
EVERY, MOST = 0.5, 100


class Live(Screen):
    """Tells another screen everything, and the folder too, which is made for it and taken away again if it stays empty.

    What cannot be written is left out: a run never fails for want of being watched.
    """

    def __init__(self, screen: Screen, folder: Path) -> None:
        super().__init__(screen.stream, screen.clock)
        self._screen, self._folder, self._begun = screen, folder, screen.clock()
        self._now: dict[str, Any] = {}
        self._steps: list[dict[str, Any]] = []
        self._found: list[Finding] = []
        self._count = 0
        self._last = float("-inf")
        self._made = False

    @contextmanager
    def step(self, title: str, total: int | None, unit: str) -> Iterator[Callable[[int], None]]:
        """As the other screen's; the folder is told too."""
        begun = self.clock()
        self._now = {"title": title, "done": 0, "total": total, "unit": unit, "rate": 0.0}
        self._put(always=True)
        with self._screen.step(title, total, unit) as tell:

            def told(done: int) -> None:
                self._now["done"] = done
                self._now["rate"] = round(done / max(1e-3, self.clock() - begun), 1)
                self._put()
                tell(done)

            yield told
        self._steps.append({"title": title, "done": self._now["done"], "unit": unit, "seconds": self.clock() - begun})
        self._put(always=True)

    def found(self, finding: Finding) -> None:
        """Tells of a finding as it comes."""
        self._count += 1
        if len(self._found) < MOST:
            self._found.append(finding)
        self._put()

    def end(self) -> None:
        """Takes the file away, if it is this run's."""
        told = read_progress(self._folder)
        if told is not None and told.get("process") == os.getpid():
            (self._folder / NAME).unlink(missing_ok=True)
        if self._made:
            with suppress(OSError):  # the run has put something there
                self._folder.rmdir()

    def _make(self) -> None:
        """The folder of a first run, so that its first pass can be watched too; never inside a sealed run."""
        with suppress(OSError, CallerError):
            keep_out(self._folder, run=True)
            self._folder.mkdir()
            self._made = True

    def _put(self, *, always: bool = False) -> None:
        now = self.clock()
        if not always and now - self._last < EVERY:
            return
        self._last = now
        if not self._folder.exists():
            self._make()
        told = {
            "process": os.getpid(),
            "seconds": round(now - self._begun, 1),
            "now": self._now,
            "steps": self._steps,
            "found": self._count,
            "findings": [finding.as_json() for finding in self._found],
        }
        part = self._folder / f"{NAME}.part"
        with suppress(OSError):
            handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(told, file, ensure_ascii=False)
            part.replace(self._folder / NAME)


@contextmanager
def lived(screen: Screen, folder: Path) -> Iterator[Live]:
    """A screen that tells the folder how far the run is, as long as it goes on."""
    live = Live(screen, folder)
    try:
        yield live
    finally:
        live.end()


def read_progress(folder: Path) -> dict[str, Any] | None:
    """What the folder tells of a run under way; None where there is none, or where its process is gone."""
    try:
        told = json.loads((folder / NAME).read_bytes())
        os.kill(int(told["process"]), 0)
    except PermissionError:
        return dict(told)  # another user's process: it is there
    except (OSError, ValueError, KeyError, TypeError, OverflowError):
        return None
    return dict(told)
