"""Pictures → Image XObjects in CMYK, grey or one bit, with the same bytes every time.

JPEGs in CMYK or grey pass through undecoded (but are decoded once, to know that they are whole); everything else is
decoded by Pillow and packed losslessly.  Profiles inside CMYK and grey pictures are not looked at: the numbers are
taken as ink.  What cannot be taken as it is, and the job gives no rule for, is refused.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageChops, ImageCms, ImageOps, UnidentifiedImageError

from vdp.errors import CallerError
from vdp.pdf.colouring import INTENTS, Colouring, ColourJob, colouring_of
from vdp.pdf.objects import Name, Value
from vdp.pdf.squeeze import pack_picture

#: Samples (pixels times components) that a picture may have: A4 at 1200 dpi in grey, at 600 dpi in CMYK.
MOST_SAMPLES = 200_000_000

_FORMATS = ("JPEG", "PNG", "TIFF")
_SPACES = {"1": "DeviceGray", "L": "DeviceGray", "CMYK": "DeviceCMYK"}


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture ready to be written.

    `width` and `height` in pixels; `entries` the XObject's dictionary without Length, `data` its encoded stream;
    `digest` SHA-256 (hex) of the decoded samples, rows from the top: grey 255 = white, CMYK 255 = full ink, one-bit
    rows padded to bytes, 1 = white; `ppi` as the file states it, or None.
    """

    width: int
    height: int
    entries: dict[str, Value]
    data: bytes
    digest: str
    ppi: float | None


def load_picture(path: Path, colouring: Colouring | ColourJob) -> Picture:
    """Raises CallerError naming the picture and what to do when it cannot be used."""
    rules = colouring_of(colouring)
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise CallerError.one(path.name, f"cannot be read: {error.strerror}") from error
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # odd metadata is of no concern, and size is judged below
        try:
            image = Image.open(io.BytesIO(raw), formats=_FORMATS)
            _within_limits(path, image)
            image.load()
        except CallerError:
            raise
        except Image.DecompressionBombError as error:
            raise _refusal(path, "has too many pixels", "make it smaller") from error
        except UnidentifiedImageError as error:
            raise _refusal(path, "is not a JPEG, PNG or TIFF picture", "save it as one of them") from error
        except Exception as error:  # damaged files make Pillow raise anything at all
            raise _refusal(path, f"is damaged or cut short ({_first_line(error)})", "save it again") from error
        return _picture(path, raw, image, rules)


def _first_line(error: Exception) -> str:
    return (str(error) or type(error).__name__).splitlines()[0][:120]


def _refusal(path: Path, message: str, mend: str) -> CallerError:
    return CallerError.one(path.name, message, mend)


def _within_limits(path: Path, image: Image.Image) -> None:
    samples = image.width * image.height * len(image.getbands())
    if samples > MOST_SAMPLES:
        raise _refusal(
            path,
            f"has {image.width} × {image.height} pixels, more than any press needs",
            "make it smaller",
        )
    if image.format == "TIFF" and getattr(image, "n_frames", 1) > 1:
        raise _refusal(path, f"has {getattr(image, 'n_frames', 1)} pages", "save the one that is meant by itself")


def _picture(path: Path, raw: bytes, image: Image.Image, rules: Colouring) -> Picture:
    dpi = image.info.get("dpi")
    ppi = float(dpi[0]) if dpi and dpi[0] and dpi[0] > 1 else None
    upright = ImageOps.exif_transpose(image)
    turned = upright.size != image.size or image.getexif().get(0x0112, 1) != 1
    if image.format in {"JPEG", "MPO"} and image.mode in {"L", "CMYK"} and not turned:
        adobe = "adobe" in image.info
        # Pillow takes every CMYK JPEG to be inverted; one without Adobe's marker is not.
        samples = image if image.mode == "L" or adobe else ImageChops.invert(image)
        entries = _entries(image, _SPACES[image.mode], 8) | {"Filter": Name("DCTDecode")}
        if image.mode == "CMYK" and adobe:
            entries["Decode"] = [1, 0] * 4
        return Picture(*image.size, entries, _without_metadata(raw), _digest(samples), ppi)
    plain = _in_press_colours(path, _without_alpha(path, _in_eight_bits(path, upright), rules), rules)
    bits = 1 if plain.mode == "1" else 8
    samples_bytes = plain.tobytes()
    entries = _entries(plain, _SPACES[plain.mode], bits) | {"Filter": Name("FlateDecode")}
    if bits == 8:
        colours = len(plain.getbands())
        entries["DecodeParms"] = {
            "Predictor": 12,
            "Colors": colours,
            "BitsPerComponent": 8,
            "Columns": plain.width,
        }
        samples_bytes = predict_up(samples_bytes, plain.width * colours)
    return Picture(*plain.size, entries, pack_picture(samples_bytes), _digest(plain), ppi)


def _entries(image: Image.Image, space: str, bits: int) -> dict[str, Value]:
    return {
        "Type": Name("XObject"),
        "Subtype": Name("Image"),
        "Width": image.width,
        "Height": image.height,
        "ColorSpace": Name(space),
        "BitsPerComponent": bits,
    }


def _digest(image: Image.Image) -> str:
    return hashlib.sha256(image.tobytes()).hexdigest()


def _in_eight_bits(path: Path, image: Image.Image) -> Image.Image:
    """Sixteen-bit grey is reduced to its upper eight; anything deeper is refused."""
    if image.mode.startswith("I"):
        deep = np.asarray(image)
        if deep.size and (int(deep.max()) > 0xFFFF or int(deep.min()) < 0):
            raise _refusal(path, "has more than sixteen bits a sample", "save it with eight")
        return Image.fromarray((deep >> 8).astype(np.uint8))
    if image.mode == "F":
        raise _refusal(path, "has samples in floating point", "save it with eight bits a sample")
    return image


def _without_alpha(path: Path, image: Image.Image, rules: Colouring) -> Image.Image:
    """Transparency that is nowhere used is dropped; else it is flattened on white, or refused, as the job says."""
    if not image.has_transparency_data:
        return image
    bare = "LA" if image.mode in {"L", "LA", "La", "1"} else "RGBA"
    full = image.convert(bare)
    alpha = full.getchannel("A")
    if alpha.getextrema() != (255, 255):
        if rules.transparency == "refuse":
            raise _refusal(
                path, "is transparent in places", "flatten it, or set 'transparency: flatten' under 'colour'"
            )
        white = Image.new(bare, full.size, (255,) * len(full.getbands()))
        white.paste(full, mask=alpha)
        full = white
    return full.convert(bare[:-1])


def _in_press_colours(path: Path, image: Image.Image, rules: Colouring) -> Image.Image:
    """One bit, grey and CMYK as they are; RGB converted to the press profile, or refused, as the job says."""
    if image.mode in _SPACES:
        return image
    if image.mode not in {"RGB", "P", "YCbCr", "RGBX"}:
        raise _refusal(path, f"has a colour space ({image.mode}) that is not used here", "save it in CMYK or grey")
    rgb = image.convert("RGB")
    if rules.rgb == "refuse":
        raise _refusal(path, "is in RGB", "convert it to CMYK, or set 'rgb: convert' and a 'profile' under 'colour'")
    if rules.profile is None:
        raise _refusal(path, "is in RGB, and the job names no profile to convert it with", "name the press's profile")
    own = image.info.get("icc_profile")
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(own)) if own else ImageCms.createProfile("sRGB")
        converted = ImageCms.profileToProfile(
            rgb, source, str(rules.profile), renderingIntent=INTENTS[rules.intent], outputMode="CMYK"
        )
    except (OSError, ImageCms.PyCMSError) as error:
        raise _refusal(path, f"cannot be converted by its profile ({error})", "save it again in sRGB") from error
    if converted is None:
        raise _refusal(path, "cannot be converted", "save it in CMYK")
    return converted


def predict_up(samples: bytes, row: int) -> bytes:
    """Rows of `row` bytes as PNG's filter Up leaves them: the difference to the row above (RFC 2083, 6.4)."""
    rows = np.frombuffer(samples, np.uint8).reshape(-1, row)
    out = np.empty((len(rows), row + 1), np.uint8)
    out[:, 0] = 2
    out[:1, 1:] = rows[:1]
    np.subtract(rows[1:], rows[:-1], out=out[1:, 1:])
    return out.tobytes()


def _without_metadata(jpeg: bytes) -> bytes:
    """A JPEG without its application and comment segments, but for Adobe's, which says how it is coded."""
    out, at = [jpeg[:2]], 2
    while at + 4 <= len(jpeg) and jpeg[at] == 0xFF:
        marker = jpeg[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        if marker == 0xDA:
            break
        end = at + 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
        if not (0xE0 <= marker <= 0xEF or marker == 0xFE) or marker == 0xEE:
            out.append(jpeg[at:end])
        at = end
    return b"".join([*out, jpeg[at:]])
