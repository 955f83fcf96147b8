"""Progress: a line now and then where nobody watches, a bar where somebody does."""

from __future__ import annotations

import io

from vdp.run.clock import Stopwatch
from vdp.run.screen import EVERY, Screen


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_log_gets_a_line_at_most_every_few_seconds_with_rate_and_time_left() -> None:
    now, stream = [0.0], io.StringIO()
    with Screen(stream, lambda: now[0]).step("composing", 100, "pieces") as tell:
        for done in range(1, 31):
            now[0] += EVERY / 10
            tell(done)
    lines = stream.getvalue().splitlines()
    assert lines == [f"composing: {n} of 100 pieces, 1/s, {100 - n} s left" for n in (10, 20, 30)]


def test_an_unknown_total_has_no_time_left() -> None:
    now, stream = [0.0], io.StringIO()
    with Screen(stream, lambda: now[0]).step("checking", None, "records") as tell:
        now[0] = EVERY
        tell(5000)
    assert stream.getvalue() == "checking: 5,000 records, 500/s\n"


def test_a_terminal_gets_a_bar_that_goes_away() -> None:
    stream = Terminal()
    with Screen(stream).step("composing", 2, "pieces") as tell:
        tell(1)
        tell(2)
    assert stream.getvalue() != ""


def test_a_stopwatch_adds_up() -> None:
    now = [0.0]
    watch = Stopwatch(lambda: now[0])
    for step, lasts in (("check", 1.0), ("verify", 2.0), ("check", 0.5)):
        with watch(step):
            now[0] += lasts
    assert watch.seconds == {"check": 1.5, "verify": 2.0}
