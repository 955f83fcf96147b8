"""Pictures inside PDFs → samples, against Pillow and by hand."""

from __future__ import annotations

import base64
import io
import zlib
from typing import Any

import numpy as np
import pikepdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pikepdf import Array, Dictionary, Name, Stream
from PIL import Image

from tests.verify.pages import cmyk_jpeg, picture
from vdp.verify.doubt import Unreadable
from vdp.verify.inks import Plates
from vdp.verify.samples import plate_picture, read_samples

PDF = pikepdf.new()


def up_rows(data: bytes) -> bytes:
    """PNG rows of a byte, each told by its difference to the one above (ISO/IEC 15948, 9.2)."""
    return b"".join(bytes((2, (now - before) % 256)) for before, now in zip(b"\0" + data, data, strict=False))


def test_four_ink_jpegs_come_out_as_ink_with_adobes_decode() -> None:
    """Adobe's programs store four inks inverted and say so in Decode; Pillow gives the ink."""
    image = picture(PDF, cmyk_jpeg(), (64, 64), Name.DeviceCMYK, Filter=Name.DCTDecode, Decode=Array([1, 0] * 4))
    assert np.array_equal(read_samples(image, None).ink, np.asarray(Image.open(io.BytesIO(cmyk_jpeg()))))


@pytest.mark.parametrize(
    ("around", "parameters", "data"),
    [
        (["/FlateDecode"], None, zlib.compress(cmyk_jpeg())),
        (["/ASCII85Decode"], None, base64.a85encode(cmyk_jpeg()) + b"~>"),
        (["/ASCII85Decode", "/FlateDecode"], None, base64.a85encode(zlib.compress(cmyk_jpeg())) + b"~>"),
        (["/FlateDecode"], [{"/Predictor": 12, "/Columns": 1}, None], zlib.compress(up_rows(cmyk_jpeg()))),
    ],
)
def test_a_jpeg_in_other_filters_is_the_same_picture(
    around: list[str], parameters: list[dict[str, int] | None] | None, data: bytes
) -> None:
    """ISO 32000-2, 7.4.1: filters in a row are undone from the first to the last."""
    extra: dict[str, Any] = {"Filter": Array([*map(Name, around), Name.DCTDecode])}
    if parameters is not None:
        extra["DecodeParms"] = Array([None if one is None else Dictionary(one) for one in parameters])
    plain = read_samples(picture(PDF, cmyk_jpeg(), (64, 64), Name.DeviceCMYK, Filter=Name.DCTDecode), None)
    assert np.array_equal(read_samples(picture(PDF, data, (64, 64), Name.DeviceCMYK, **extra), None).ink, plain.ink)


def test_a_grey_jpeg() -> None:
    out = io.BytesIO()
    Image.linear_gradient("L").resize((32, 32)).save(out, "JPEG")
    image = picture(PDF, out.getvalue(), (32, 32), Name.DeviceGray, Filter=Array([Name.DCTDecode]))
    samples = read_samples(image, None)
    assert np.array_equal(samples.values[..., 0], np.asarray(Image.open(out)))
    assert np.array_equal(samples.ink, 255 - samples.values)


@settings(max_examples=40)
@given(st.sampled_from([1, 2, 4, 8]), st.integers(1, 9), st.integers(1, 5), st.data())
def test_packed_rows_are_unpacked(bits: int, width: int, height: int, data: st.DataObject) -> None:
    """ISO 32000-2, 8.9.3: high-order bits first, every row on a whole byte."""
    peak = (1 << bits) - 1
    rows = [[data.draw(st.integers(0, peak)) for _ in range(width)] for _ in range(height)]
    packed = b""
    for row in rows:
        text = "".join(f"{value:0{bits}b}" for value in row)
        packed += int(text.ljust(-(-len(text) // 8) * 8, "0"), 2).to_bytes(-(-len(text) // 8), "big")
    values = read_samples(picture(PDF, packed, (width, height), Name.DeviceGray, bits=bits), None).values
    assert values[..., 0].tolist() == [[value * 255 // peak for value in row] for row in rows]


def test_sixteen_bits_keep_their_upper_eight() -> None:
    image = picture(PDF, bytes([1, 200, 255, 0]), (2, 1), Name.DeviceGray, bits=16)
    assert read_samples(image, None).values[..., 0].tolist() == [[1, 255]]


def test_palettes_of_streams_and_strings() -> None:
    table = bytes([0, 0, 0, 255, 9, 8, 7, 6])
    for lookup in (table, Stream(PDF, table)):
        space = Array([Name.Indexed, Name.DeviceCMYK, 1, lookup])
        image = picture(PDF, bytes([0b10000000]), (2, 1), space, bits=1)
        assert read_samples(image, None).values.tolist() == [[[9, 8, 7, 6], [0, 0, 0, 255]]]


def test_named_spaces_and_flate() -> None:
    space = Array([Name.Separation, Name.Clear, Name.DeviceCMYK, Dictionary()])
    image = picture(PDF, zlib.compress(bytes([0, 128])), (2, 1), Name.Spot, Filter=Name.FlateDecode)
    samples = read_samples(image, {"/Spot": space})
    assert samples.space.names == ("Clear",)
    plates = Plates(("Clear",))
    assert plate_picture(samples, plates, "Clear").tolist() == [[255, 127]]
    assert plate_picture(samples, plates, "Black").tolist() == [[255, 255]]


def test_the_digest_knows_the_picture_and_not_its_storage() -> None:
    grey = picture(PDF, bytes([0, 255]), (2, 1), Name.DeviceGray)
    turned = picture(PDF, bytes([255, 0]), (2, 1), Name.DeviceGray, Decode=Array([1, 0]))
    other = picture(PDF, bytes([255, 0]), (2, 1), Name.DeviceGray)
    assert read_samples(grey, None).digest() == read_samples(turned, None).digest()
    assert read_samples(grey, None).digest() != read_samples(other, None).digest()


GREY = Name.DeviceGray
REFUSED: dict[str, dict[str, Any]] = {
    "too few samples": {"data": b"", "size": (4, 4), "space": GREY},
    "no pixels": {"data": b"", "size": (0, 4), "space": GREY},
    "odd depth": {"data": bytes(9), "size": (1, 1), "space": GREY, "bits": 3},
    "wrong JPEG size": {"data": cmyk_jpeg(), "size": (9, 9), "space": Name.DeviceCMYK, "Filter": Name.DCTDecode},
    "wrong JPEG channels": {"data": cmyk_jpeg(), "size": (64, 64), "space": GREY, "Filter": Name.DCTDecode},
    "JPEG of a JPEG": {
        "data": cmyk_jpeg(),
        "size": (64, 64),
        "space": Name.DeviceCMYK,
        "Filter": Array([Name.DCTDecode, Name.DCTDecode]),
    },
    "broken JPEG": {"data": b"\xff\xd8nothing", "size": (9, 9), "space": GREY, "Filter": Name.DCTDecode},
    "palette with Decode": {
        "data": b"\0",
        "size": (1, 1),
        "space": Array([Name.Indexed, GREY, 0, b"\0"]),
        "Decode": Array([0, 1]),
    },
    "no colour space array": {"data": b"\0", "size": (1, 1), "space": Array([])},
    "alternates": {"data": b"\0", "size": (1, 1), "space": GREY, "Alternates": Array([1])},
}


def rgb_jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (8, 8)).save(out, "JPEG")
    return out.getvalue()


@pytest.mark.parametrize("title", REFUSED)
def test_what_cannot_be_read_is_refused(title: str) -> None:
    with pytest.raises(Unreadable):
        read_samples(picture(PDF, **REFUSED[title]), None)


def test_a_jpeg_in_rgb_is_refused() -> None:
    with pytest.raises(Unreadable, match="is RGB"):
        read_samples(picture(PDF, rgb_jpeg(), (8, 8), GREY, Filter=Name.DCTDecode), None)


def test_a_picture_without_size_is_refused() -> None:
    with pytest.raises(Unreadable, match="cannot be read"):
        read_samples(PDF.make_indirect(Stream(PDF, b"")), None)
