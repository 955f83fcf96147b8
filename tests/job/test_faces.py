"""Where the font files are; fontTools is the outside reader."""

from __future__ import annotations

from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from tests.job.made import JOB, load
from vdp.errors import CallerError
from vdp.job import faces
from vdp.job.faces import FaceFile, builtin_faces, job_faces

KEYS = [
    "sans",
    "sans-bold",
    "sans-italic",
    "serif",
    "serif-bold",
    "serif-italic",
    "mono",
    "mono-bold",
    "arabic",
    "arabic-bold",
    "hebrew",
    "hebrew-bold",
    "devanagari",
    "devanagari-bold",
    "thai",
    "thai-bold",
    "cjk",
]


def test_every_face_is_there() -> None:
    assert list(builtin_faces()) == KEYS


@pytest.mark.parametrize("key", KEYS)
def test_axes_are_those_of_the_font(key: str) -> None:
    face = builtin_faces()[key]
    with TTFont(face.path, fontNumber=face.index, lazy=True) as font:
        ranges = {axis.axisTag: (axis.minValue, axis.maxValue) for axis in font["fvar"].axes} if "fvar" in font else {}
    # Every axis is pinned, and where it may be.
    assert set(face.axes) == set(ranges)
    assert all(ranges[tag][0] <= value <= ranges[tag][1] for tag, value in face.axes.items())
    if "wght" in face.axes:
        assert face.axes["wght"] == (700 if key.endswith("-bold") else 400)


@pytest.mark.parametrize(
    ("key", "char"),
    [
        ("sans", "Ệ"),
        ("serif", "Ω"),
        ("mono", "0"),
        ("arabic", "ع"),
        ("hebrew", "ש"),
        ("devanagari", "क"),
        ("thai", "ก"),
        ("cjk", "漢"),
    ],
)
def test_faces_hold_their_script(key: str, char: str) -> None:
    with TTFont(builtin_faces()[key].path, lazy=True) as font:
        assert ord(char) in font.getBestCmap()


def test_a_package_that_is_missing_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        faces, "BUILTIN", {"sans": faces.BUILTIN["sans"], "x": faces._Source("fontpkg_of_nobody", "files/x.ttf")}
    )
    faces._located.cache_clear()
    try:
        with pytest.raises(CallerError) as caught:
            builtin_faces()
    finally:
        faces._located.cache_clear()
    assert str(caught.value) == (
        "face 'x': its font package is not installed: fontpkg-of-nobody (pip install fontpkg-of-nobody)"
    )


def test_a_file_that_is_missing_from_its_package(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(faces, "BUILTIN", {"x": faces._Source("fontpkg_noto_sans", "files/none.ttf")})
    faces._located.cache_clear()
    try:
        with pytest.raises(CallerError, match="fontpkg-noto-sans"):
            builtin_faces()
    finally:
        faces._located.cache_clear()


def test_a_module_is_no_package() -> None:
    assert faces._package_folder("this") is None


def test_a_job_has_its_own_faces(tmp_path: Path) -> None:
    (tmp_path / "own.ttf").write_bytes(b"not looked into here")
    job = load(tmp_path, JOB + "faces: {own: own.ttf, mono: own.ttf}\n")
    found = job_faces(job)
    own = FaceFile((tmp_path / "own.ttf").resolve())
    assert found["own"] == found["mono"] == own
    assert own.axes == {}
    assert found["sans"] == builtin_faces()["sans"]
