"""A run under way: what its folder tells while it goes on, and what the page makes of it."""

from __future__ import annotations

import io
import json
import os
from pathlib import Path

import pytest

from tests.page.made import client_of, house_for
from vdp.errors import Finding
from vdp.run import run_job
from vdp.run.progress import EVERY, MOST, NAME, Live, lived, read_progress
from vdp.run.screen import Screen


def test_the_folder_tells_step_rate_and_findings_and_forgets_them_at_the_end(tmp_path: Path) -> None:
    now = [0.0]
    with lived(Screen(io.StringIO(), lambda: now[0]), tmp_path) as live:
        with live.step("composing", 100, "pieces") as tell:
            now[0] = 2.0
            tell(50)
            told = read_progress(tmp_path)
            assert told is not None
            assert told["now"] == {"title": "composing", "done": 50, "total": 100, "unit": "pieces", "rate": 25.0}
            now[0] += EVERY / 2
            tell(60)
            assert read_progress(tmp_path) == told  # not yet
            for row in range(MOST + 5):
                live.found(Finding("rows-refused", f"row {row}", "too long"))
            now[0] += EVERY
            tell(99)
        told = read_progress(tmp_path)
        assert told is not None
        assert (told["found"], len(told["findings"])) == (MOST + 5, MOST)
        assert [(step["title"], step["done"]) for step in told["steps"]] == [("composing", 99)]
        assert (tmp_path / NAME).stat().st_mode & 0o777 == 0o600
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_written_to_is_left_alone(tmp_path: Path) -> None:
    deep = tmp_path / "not there" / "nor here"
    with lived(Screen(io.StringIO()), deep) as live, live.step("checking", None, "records") as tell:
        tell(1)
        assert not deep.exists()
    assert not deep.parent.exists()


def test_the_first_run_of_a_folder_is_watched_from_its_first_row(tmp_path: Path) -> None:
    """The folder is made for it, and is gone again where nothing came of the run."""
    out = tmp_path / "out"
    for kept in (False, True):
        with lived(Screen(io.StringIO()), out) as live, live.step("checking", 3, "records") as tell:
            tell(1)
            told = read_progress(out)
            assert told is not None
            assert told["now"]["title"] == "checking"
            if kept:
                (out / "report.json").touch()
        assert out.exists() == kept


def test_no_folder_is_made_in_a_sealed_run(sealed: Path) -> None:
    with lived(Screen(io.StringIO()), sealed / "out" / "again") as live, live.step("checking", None, "records") as tell:
        tell(1)
        assert not (sealed / "out" / "again").exists()


def test_what_another_run_tells_is_not_taken_away(tmp_path: Path) -> None:
    live = Live(Screen(io.StringIO()), tmp_path)
    (tmp_path / NAME).write_text(json.dumps({"process": os.getppid()}), "utf-8")
    live.end()
    assert read_progress(tmp_path) == {"process": os.getppid()}


def test_a_run_that_died_is_not_under_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for text in ("{", "{}", '{"process": 2147483646}', '{"process": 1e400}'):
        (tmp_path / NAME).write_text(text, "utf-8")
        assert read_progress(tmp_path) is None

    def foreign(*_: int) -> None:
        raise PermissionError

    (tmp_path / NAME).write_text('{"process": 1}', "utf-8")
    monkeypatch.setattr(os, "kill", foreign)
    assert read_progress(tmp_path) == {"process": 1}


def test_the_page_shows_a_run_under_way(copy: Path) -> None:
    seen: list[str] = []
    with client_of(house_for(copy)) as at:
        at.come_in()

        class Watching(Screen):
            """Looks at the page at every sign of progress."""

            def step(self, title, total, unit):  # type: ignore[no-untyped-def]  # as the screen's
                base = super().step(title, total, unit)

                class Step:
                    def __enter__(self):  # type: ignore[no-untyped-def]
                        tell = base.__enter__()

                        def look(done: int) -> None:
                            tell(done)
                            if done in (0, total) or total is None:
                                seen.append(at.get("/run/1/live").text)

                        seen.append(at.client.get("/run/1/live", headers={"hx-request": "true"}).text)
                        return look

                    def __exit__(self, *error: object) -> None:
                        base.__exit__(None, None, None)

                return Step()

        run_job(copy / "job.yaml", records=None, out=copy / "out", workers=1, screen=Watching(io.StringIO()))
        after = at.get("/run/1/live").text
    titles = [title for title in ("Checking", "Composing", "Laying", "Verifying") if any(title in s for s in seen)]
    assert titles == ["Checking", "Composing", "Laying", "Verifying"]
    assert any("1 found so far" in text and "rows-refused" in text and "row 21" in text for text in seen)
    assert any("a second" in text for text in seen)
    assert "No run is under way" in after
    assert "passed every check" in after
