"""What the job says about the colour of pictures, in the form that this room uses, and the press profile itself."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal, NamedTuple, Protocol

from PIL import ImageCms

from vdp.errors import CallerError
from vdp.job.model import Colour, JobModel

Intent = Literal["perceptual", "relative", "saturation", "absolute"]

INTENTS: Mapping[Intent, ImageCms.Intent] = {
    "perceptual": ImageCms.Intent.PERCEPTUAL,
    "relative": ImageCms.Intent.RELATIVE_COLORIMETRIC,
    "saturation": ImageCms.Intent.SATURATION,
    "absolute": ImageCms.Intent.ABSOLUTE_COLORIMETRIC,
}


class Colouring(NamedTuple):
    """`rgb` pictures refused or converted to `profile` by `intent`; `transparency` refused or flattened on white."""

    rgb: Literal["refuse", "convert"] = "refuse"
    transparency: Literal["refuse", "flatten"] = "refuse"
    intent: Intent = "relative"
    profile: Path | None = None


class ColourJob(Protocol):
    """The part of a job that is needed here."""

    @property
    def model(self) -> JobModel: ...
    def where(self, document: Any, /, *keys: str | int) -> str: ...
    def file(self, text: str, where: str, /) -> Path: ...


def colouring_of(source: Colouring | ColourJob) -> Colouring:
    """Raises CallerError when the job's profile cannot be found."""
    if isinstance(source, Colouring):
        return source
    colour: Colour = source.model.colour
    profile = None
    if colour.profile is not None:
        profile = source.file(colour.profile, source.where("job", "colour", "profile"))
    return Colouring(colour.rgb, colour.transparency, colour.intent, profile)


class Profile(NamedTuple):
    """A press profile: its bytes and what it calls itself."""

    data: bytes
    description: str


def read_profile(path: Path) -> Profile:
    """Raises CallerError unless the file is an ICC profile of a CMYK output device (PDF/X-4: class 'prtr')."""
    try:
        data = path.read_bytes()
        profile = ImageCms.ImageCmsProfile(io.BytesIO(data))
        inner = profile.profile
        kind, space = inner.device_class.strip(), inner.xcolor_space.strip()
        description = (inner.profile_description or "").strip()
    except (OSError, ImageCms.PyCMSError) as error:
        raise CallerError.one(str(path), f"is not an ICC profile: {error}", "give the profile of the press") from error
    if (kind, space) != ("prtr", "CMYK"):
        raise CallerError.one(
            str(path),
            f"is a profile of class '{kind}' in {space}, not of a CMYK press",
            "give the profile of the press",
        )
    return Profile(data, description or path.stem)
