"""Where the font files of the built-in faces are, and the job's own.

Lives here: names of faces, packages, files, axes.  Not here: opening fonts, shaping (`vdp.text`).
All built-in faces come from pip-installed packages under the SIL Open Font License.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from vdp.errors import CallerError, Fault

if TYPE_CHECKING:
    from vdp.job.load import Job

#: What a job's own face may be.
FONT_ENDINGS = (".ttf", ".otf")


@dataclass(frozen=True, slots=True)
class FaceFile:
    """A face: its font file, the axes to pin (tag → value; none for a static font), and its place in a collection."""

    path: Path
    axes: dict[str, float] = field(default_factory=dict)
    index: int = 0


@dataclass(frozen=True, slots=True)
class _Source:
    package: str
    file: str
    weight: int | None = None
    width: bool = True

    def axes(self) -> dict[str, float]:
        if self.weight is None:
            return {}
        return {"wght": float(self.weight)} | ({"wdth": 100.0} if self.width else {})


def _variable(package: str, file: str, weight: int) -> _Source:
    return _Source(package, f"files/{file}[wdth,wght].ttf", weight)


#: Axis ranges were read from the fonts: wght 100–900 and wdth 62.5–100 (Noto), wght 100–900 alone (Heebo).
BUILTIN: Mapping[str, _Source] = {
    "sans": _variable("fontpkg_noto_sans", "NotoSans", 400),
    "sans-bold": _variable("fontpkg_noto_sans", "NotoSans", 700),
    "sans-italic": _variable("fontpkg_noto_sans", "NotoSans-Italic", 400),
    "serif": _variable("fontpkg_noto_serif", "NotoSerif", 400),
    "serif-bold": _variable("fontpkg_noto_serif", "NotoSerif", 700),
    "serif-italic": _variable("fontpkg_noto_serif", "NotoSerif-Italic", 400),
    "mono": _Source("fontpkg_ibm_plex_mono", "files/IBMPlexMono-Regular.ttf"),
    "mono-bold": _Source("fontpkg_ibm_plex_mono", "files/IBMPlexMono-Bold.ttf"),
    "arabic": _variable("fontpkg_noto_sans_arabic", "NotoSansArabic", 400),
    "arabic-bold": _variable("fontpkg_noto_sans_arabic", "NotoSansArabic", 700),
    "hebrew": _Source("fontpkg_heebo", "files/Heebo[wght].ttf", 400, width=False),
    "hebrew-bold": _Source("fontpkg_heebo", "files/Heebo[wght].ttf", 700, width=False),
    "devanagari": _variable("fontpkg_noto_sans_devanagari", "NotoSansDevanagari", 400),
    "devanagari-bold": _variable("fontpkg_noto_sans_devanagari", "NotoSansDevanagari", 700),
    "thai": _variable("fontpkg_noto_sans_thai", "NotoSansThai", 400),
    "thai-bold": _variable("fontpkg_noto_sans_thai", "NotoSansThai", 700),
    "cjk": _Source("noto_cjk_sans_jp_regular", "NotoSansCJKjp-Regular.otf"),
}


def _package_folder(package: str) -> Path | None:
    spec = importlib.util.find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        return None
    return Path(next(iter(spec.submodule_search_locations)))


@lru_cache(maxsize=1)
def _located() -> tuple[tuple[str, FaceFile], ...]:
    found: dict[str, FaceFile] = {}
    faults: list[Fault] = []
    for key, source in BUILTIN.items():
        folder = _package_folder(source.package)
        path = None if folder is None else folder / source.file
        if path is None or not path.is_file():
            name = source.package.replace("_", "-")
            faults.append(Fault(f"face '{key}'", f"its font package is not installed: {name}", f"pip install {name}"))
            continue
        found[key] = FaceFile(path, source.axes())
    if faults:
        raise CallerError(faults)
    return tuple(found.items())


def builtin_faces() -> dict[str, FaceFile]:
    """The faces that every job has, by key.  Raises CallerError naming each font package that is not installed."""
    return dict(_located())


def job_faces(job: Job) -> dict[str, FaceFile]:
    """The built-in faces and the job's own; one of the job's own may take a built-in's name and then stands for it.

    Raises CallerError for a font file that is missing or lies outside the job's folder.
    """
    faces = builtin_faces()
    for name, text in job.model.faces.items():
        faces[name] = FaceFile(job.file(text, job.where("job", "faces", name)))
    return faces
