"""Names that try to leave their folder, or are no names."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.job.paths import LONGEST, inside, name_fault, shown


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    home = tmp_path / "job"
    (home / "images").mkdir(parents=True)
    (home / "images" / "a.jpg").write_bytes(b"a")
    (home / "b c.jpg").write_bytes(b"b")
    (tmp_path / "outside.jpg").write_bytes(b"o")
    return home


@pytest.mark.parametrize("name", ["images/a.jpg", "b c.jpg"])
def test_names_that_are_right(folder: Path, name: str) -> None:
    assert name_fault(name) is None
    assert inside(folder, name) == (folder / name).resolve()


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("", "is empty"),
        ("  ", "is empty"),
        ("../outside.jpg", "leads out of the job's folder"),
        ("images/../../outside.jpg", "leads out of the job's folder"),
        ("images/..", "leads out of the job's folder"),
        ("..", "leads out of the job's folder"),
        ("/etc/passwd", "is not relative to the job's folder"),
        ("//server/share/a.jpg", "is not relative to the job's folder"),
        ("~/a.jpg", "is not relative to the job's folder"),
        ("C:/a.jpg", "is not relative to the job's folder"),
        ("C:a.jpg", "is not relative to the job's folder"),
        ("file:///etc/passwd", "is not relative to the job's folder"),
        ("http://x.example/a.jpg", "is not relative to the job's folder"),
        ("a.jpg:stream", "is not relative to the job's folder"),
        ("..\\outside.jpg", "has a backslash in it"),
        ("\\\\server\\share", "has a backslash in it"),
        ("a.jpg\0.png", "has a control or format character in it"),
        ("a\n.jpg", "has a control or format character in it"),
        ("a\u202egpj.exe", "has a control or format character in it"),
        ("a\ud800.jpg", "has a control or format character in it"),
        ("./a.jpg", "has a part that is empty"),
        ("images//a.jpg", "has a part that is empty"),
        ("images/a.jpg/", "has a part that is empty"),
        ("images /a.jpg", "has a part that is empty"),
        ("a.jpg.", "has a part that is empty"),
        ("nul", "means a device on some systems"),
        ("images/CON.jpg", "means a device on some systems"),
        ("com1", "means a device on some systems"),
        ("LPT¹.txt", "means a device on some systems"),
        ("x" * (LONGEST + 1), f"is longer than {LONGEST} characters"),
        ("none.jpg", "is not there"),
        ("images", "is not a file"),
        ("images/a.jpg/b", "is not there"),
        ("x" * 400, "cannot be looked up"),
    ],
)
def test_names_that_are_wrong(folder: Path, name: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        inside(folder, name)


def test_links_that_lead_out(folder: Path) -> None:
    (folder / "out.jpg").symlink_to(folder.parent / "outside.jpg")
    (folder / "up").symlink_to(folder.parent)
    for name in ("out.jpg", "up/outside.jpg"):
        with pytest.raises(ValueError, match="leads out of the job's folder through a link"):
            inside(folder, name)


def test_links_that_stay(folder: Path) -> None:
    (folder / "in.jpg").symlink_to(folder / "images" / "a.jpg")
    assert inside(folder, "in.jpg") == (folder / "images" / "a.jpg").resolve()


def test_links_in_a_circle(folder: Path) -> None:
    (folder / "x").symlink_to(folder / "y")
    (folder / "y").symlink_to(folder / "x")
    with pytest.raises(ValueError, match=r"cannot be looked up|is not there"):
        inside(folder, "x")


def test_a_pipe_is_not_a_file(folder: Path) -> None:
    os.mkfifo(folder / "pipe")
    with pytest.raises(ValueError, match="is not a file"):
        inside(folder, "pipe")


@given(st.text(max_size=30))
def test_no_name_leaves_the_folder(tmp_path_factory: pytest.TempPathFactory, name: str) -> None:
    home = tmp_path_factory.getbasetemp()
    try:
        path = inside(home, name)
    except ValueError:
        return
    assert path.is_relative_to(home.resolve())


def test_names_in_messages() -> None:
    assert shown("a.jpg") == "'a.jpg'"
    assert shown("a\x1b[31m\0") == "'a\\x1b[31m\\x00'"
    assert shown("x" * 99) == f"'{'x' * 80}…'"
