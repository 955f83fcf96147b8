"""Pictures inside a PDF → samples, with nothing of the composer's in between.

Lives here: filters, bit depths, Decode arrays, palettes, and a plate's grey picture.  Not here: what pictures a page
should hold (`pictures`), where they are placed (`rewrite`).
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pikepdf
from PIL import Image

from vdp.verify.doubt import Unreadable
from vdp.verify.inks import Plates, Space, colour_space

Bytes = npt.NDArray[np.uint8]

_PLAIN = {"/FlateDecode", "/LZWDecode", "/RunLengthDecode", "/ASCII85Decode", "/ASCIIHexDecode", "/Fl", "/LZW"}
#: Pixels in one picture: a bound on memory, far above what a sheet needs.
MOST_PIXELS = 200_000_000


class Samples(NamedTuple):
    """Component values 0..255 as the colour space takes them (``height × width × components``)."""

    space: Space
    values: Bytes

    @property
    def ink(self) -> Bytes:
        """The same as amounts of ink: grey is turned round, every other space already counts ink."""
        return 255 - self.values if self.space.kind in ("gray", "icc1") else self.values

    def digest(self) -> str:
        """Identity of the picture: its size and its ink, whatever way it was stored."""
        ink = np.ascontiguousarray(self.ink)
        return hashlib.sha256(repr(ink.shape).encode() + ink.tobytes()).hexdigest()


def read_samples(image: pikepdf.Object, named: Mapping[str, pikepdf.Object] | None) -> Samples:
    """An image XObject → Samples.  Raises Unreadable for soft masks, colour keys and filters it does not know."""
    try:
        return _read(image, named)
    except (KeyError, IndexError, TypeError, ValueError, AttributeError, OSError, pikepdf.PdfError) as error:
        raise Unreadable(f"a picture cannot be read: {error}") from error


def check_picture(image: pikepdf.Object) -> None:
    """Raises Unreadable for what makes a picture more than its samples: soft masks, alternates, colour keys."""
    for key, what in (("/SMask", "a soft mask"), ("/SMaskInData", "a soft mask"), ("/Alternates", "alternates")):
        if key in image and image.get(key) != 0:
            raise Unreadable(f"a picture has {what}")
    if isinstance(image.get("/Mask"), pikepdf.Array):
        raise Unreadable("a picture has a colour key mask")


def _read(image: pikepdf.Object, named: Mapping[str, pikepdf.Object] | None) -> Samples:
    check_picture(image)
    width, height = int(image["/Width"]), int(image["/Height"])
    if not 0 < width * height <= MOST_PIXELS:
        raise Unreadable(f"a picture of {width} × {height} pixels")
    space_object = image["/ColorSpace"]
    if isinstance(space_object, pikepdf.Name) and named is not None and str(space_object) in named:
        space_object = named[str(space_object)]
    indexed = isinstance(space_object, pikepdf.Array) and str(space_object[0]) in ("/Indexed", "/I")
    base = space_object[1] if indexed else space_object
    space = colour_space(base, named)
    components = 1 if indexed else space.size
    filters = _filters(image)
    if filters and filters[-1] == "/DCTDecode" and not indexed:
        values, peak = _jpeg(image, width, height, components), 255
    elif set(filters) <= _PLAIN:
        bits = int(image["/BitsPerComponent"])
        values, peak = _raw(image.read_bytes(), width, height, components, bits)
    else:
        raise Unreadable(f"a picture is stored as {filters[-1][1:]}")
    if indexed:
        return Samples(space, _palette(values, space_object, space, image))
    return Samples(space, _decoded(values, peak, image.get("/Decode")))


def _filters(image: pikepdf.Object) -> list[str]:
    found = image.get("/Filter")
    if found is None:
        return []
    return [str(f) for f in found.as_list()] if isinstance(found, pikepdf.Array) else [str(found)]


def _jpeg(image: pikepdf.Object, width: int, height: int, components: int) -> Bytes:
    filters = _filters(image)
    if not set(filters[:-1]) <= _PLAIN:
        raise Unreadable(f"a JPEG picture is stored as {filters[0][1:]}")
    with Image.open(io.BytesIO(_unwrapped(image, filters[:-1]))) as picture:
        if picture.format != "JPEG" or picture.size != (width, height):
            raise Unreadable("a JPEG picture is not what its dictionary says")
        if picture.mode not in ("L", "CMYK"):
            raise Unreadable(f"a JPEG picture is {picture.mode}")
        values = np.asarray(picture)
    values = values.reshape(height, width, -1)
    if values.shape[2] != components:
        raise Unreadable(f"a JPEG picture has {values.shape[2]} components, its colour space {components}")
    # Pillow turns every four-ink JPEG round, as Adobe's programs store them; PDF takes the values as stored.
    return 255 - values if components == 4 else values


def _unwrapped(image: pikepdf.Object, around: list[str]) -> bytes:
    """The JPEG file itself, without the filters around it (ISO 32000-2, 7.4.1: a cascade is undone from the first)."""
    raw = image.read_raw_bytes()
    if not around:
        return raw
    # A stream of its own: qpdf undoes a cascade as a whole or not at all.
    with pikepdf.new() as file:
        inner = pikepdf.Stream(file, raw)
        inner.Filter = pikepdf.Array([pikepdf.Name(name) for name in around])
        parameters = image.get("/DecodeParms")
        if isinstance(parameters, pikepdf.Array):
            kept = [pikepdf.Object.parse(one.unparse(resolved=True)) for one in parameters.as_list()[: len(around)]]
            inner.DecodeParms = pikepdf.Array(kept)
        return inner.read_bytes()


def _raw(data: bytes, width: int, height: int, components: int, bits: int) -> tuple[Bytes, int]:
    """Rows start on whole bytes (ISO 32000-2, 8.9.3).  Values below eight bits keep their own range."""
    per_row = width * components
    if bits == 16:
        stride = per_row * 2
        rows = _rows(data, height, stride)
        return rows[:, ::2].reshape(height, width, components), 255
    if bits not in (1, 2, 4, 8):
        raise Unreadable(f"a picture of {bits} bits a component")
    rows = _rows(data, height, (per_row * bits + 7) // 8)
    if bits < 8:
        bit_rows = np.unpackbits(rows, axis=1)[:, : per_row * bits].reshape(height, per_row, bits)
        weights = (1 << np.arange(bits - 1, -1, -1)).astype(np.uint8)
        rows = (bit_rows * weights).sum(axis=2, dtype=np.uint8)
    return rows[:, :per_row].reshape(height, width, components), (1 << bits) - 1


def _rows(data: bytes, height: int, stride: int) -> Bytes:
    if len(data) < height * stride:
        raise Unreadable("a picture has fewer samples than its size needs")
    return np.frombuffer(data, np.uint8, height * stride).reshape(height, stride)


def _decoded(values: Bytes, peak: int, decode: pikepdf.Object | None) -> Bytes:
    """Applies a Decode array and spreads the values over 0..255."""
    if decode is None:
        return values if peak == 255 else (values.astype(np.uint16) * 255 // peak).astype(np.uint8)
    table = np.empty(values.shape, np.uint8)
    steps = np.arange(peak + 1) / peak
    for component in range(values.shape[2]):
        low, high = float(decode[2 * component]), float(decode[2 * component + 1])
        curve = np.clip(np.rint((low + steps * (high - low)) * 255), 0, 255).astype(np.uint8)
        table[..., component] = curve[values[..., component]]
    return table


def _palette(values: Bytes, indexed: pikepdf.Object, space: Space, image: pikepdf.Object) -> Bytes:
    if image.get("/Decode") is not None:
        raise Unreadable("a picture with a palette has a Decode array")
    lookup = indexed[3]
    table = lookup.read_bytes() if isinstance(lookup, pikepdf.Stream) else bytes(lookup)
    size = int(indexed[2]) + 1
    colours = np.frombuffer(table, np.uint8, size * space.size).reshape(size, space.size)
    return colours[np.minimum(values[..., 0], size - 1)]


def plate_picture(samples: Samples, plates: Plates, plate: str) -> Bytes:
    """What one plate prints of a picture: grey, 255 where it prints nothing."""
    which, inverted = plates.pick(samples.space, plate)
    if not which:
        return np.full(samples.values.shape[:2], 255, np.uint8)
    parts = samples.values[..., which]
    strongest: Bytes = parts[..., 0] if len(which) == 1 else parts.max(axis=-1)
    return strongest if inverted else 255 - strongest
