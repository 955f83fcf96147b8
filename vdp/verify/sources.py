"""Source pictures decoded apart from the composer, and whether a picture in the file is one of them.

Not here: pictures inside PDFs (`samples`).

Grey and CMYK pictures must agree sample by sample.  A picture in RGB was converted for the press: its conversion is
done again with the job's profile and must agree on the average of every sixteenth of its height and width.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageCms, ImageOps

from vdp.job.load import Job
from vdp.verify.doubt import Unreadable
from vdp.verify.samples import Bytes

#: Mean difference of a block of a converted picture, of 255.
_MOST_APART = 6.0
_INTENTS = {"perceptual": 0, "relative": 1, "saturation": 2, "absolute": 3}


class Source(NamedTuple):
    """Ink of a source picture (``height × width × components``, 255 = full), and whether it was converted."""

    ink: Bytes
    converted: bool

    def is_same(self, ink: Bytes) -> bool:
        """Whether samples found in the file are this picture."""
        if ink.shape != self.ink.shape:
            return False
        if not self.converted:
            return bool(np.array_equal(ink, self.ink))
        return bool(np.abs(_blocks(ink) - _blocks(self.ink)).max() <= _MOST_APART)


def _blocks(ink: Bytes) -> npt.NDArray[np.float64]:
    rows = np.linspace(0, ink.shape[0], 17).astype(int)[:-1]
    columns = np.linspace(0, ink.shape[1], 17).astype(int)[:-1]
    rows, columns = np.unique(rows), np.unique(columns)
    sums = np.add.reduceat(np.add.reduceat(ink.astype(np.float64), rows, axis=0), columns, axis=1)
    counts = np.outer(np.diff([*rows, ink.shape[0]]), np.diff([*columns, ink.shape[1]]))
    means: npt.NDArray[np.float64] = sums / counts[..., None]
    return means


def read_source(path: Path, job: Job) -> Source:
    """Raises Unreadable when the picture cannot be decoded."""
    try:
        raw = path.read_bytes()
        with Image.open(io.BytesIO(raw), formats=("JPEG", "PNG", "TIFF")) as opened:
            return _source(ImageOps.exif_transpose(opened), opened, job)
    except (OSError, ValueError, SyntaxError, ImageCms.PyCMSError) as error:
        raise Unreadable(f"the picture {path.name} cannot be decoded: {error}") from error


def _source(image: Image.Image, opened: Image.Image, job: Job) -> Source:
    if image.mode.startswith("I"):
        return Source(_ink(Image.fromarray((np.asarray(image) >> 8).astype(np.uint8))), converted=False)
    if image.has_transparency_data:
        image = _flattened(image)
    if image.mode == "CMYK":
        values = np.asarray(image)
        # Pillow takes every CMYK JPEG to be inverted; one without Adobe's marker is not.
        plain = opened.format in ("JPEG", "MPO") and "adobe" not in opened.info
        return Source(255 - values if plain else values, converted=False)
    if image.mode in ("1", "L"):
        return Source(_ink(image.convert("L")), converted=False)
    return Source(_converted(image.convert("RGB"), opened, job), converted=True)


def _ink(grey: Image.Image) -> Bytes:
    return 255 - np.asarray(grey)[..., None]


def _flattened(image: Image.Image) -> Image.Image:
    """On white paper."""
    grey = image.mode in ("1", "L", "LA", "La")
    full = image.convert("LA" if grey else "RGBA")
    paper = Image.new(full.mode, full.size, (255,) * len(full.getbands()))
    paper.paste(full, mask=full.getchannel("A"))
    return paper.convert("L" if grey else "RGB")


def _converted(image: Image.Image, opened: Image.Image, job: Job) -> Bytes:
    colour = job.model.colour
    if colour.profile is None:
        raise Unreadable("the picture is in RGB and the job has no profile")
    press = str(job.file(colour.profile, job.where("job", "colour", "profile")))
    own = opened.info.get("icc_profile")
    source = ImageCms.ImageCmsProfile(io.BytesIO(own)) if own else ImageCms.createProfile("sRGB")
    intent = ImageCms.Intent(_INTENTS[colour.intent])
    converted = ImageCms.profileToProfile(image, source, press, renderingIntent=intent, outputMode="CMYK")
    if converted is None:
        raise Unreadable("the picture cannot be converted")
    return np.asarray(converted)
