"""Pictures: what passes through, what is converted, and what is refused with a way out."""

from __future__ import annotations

import hashlib
import io
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from PIL import Image, ImageCms

from tests.pdf.made import write
from vdp.errors import CallerError
from vdp.marks import ImageMark, Mark
from vdp.pdf import pictures as room
from vdp.pdf.colouring import Colouring
from vdp.pdf.pictures import load_picture, predict_up

PRESS = Path(__file__).parents[2] / "layouts/ferry_pass/art/press.icm"
KEEP = Colouring()
CONVERT = Colouring(rgb="convert", transparency="flatten", profile=PRESS)


def noise(mode: str, size: tuple[int, int] = (13, 7)) -> Image.Image:
    bands = len(Image.new(mode, (1, 1)).getbands())
    samples = np.random.default_rng(1).integers(0, 256, (size[1], size[0], bands), np.uint8)
    return Image.fromarray(samples.squeeze(), mode) if bands == 1 else Image.fromarray(samples, mode)


def saved(folder: Path, name: str, image: Image.Image, **more: Any) -> Path:
    image.save(folder / name, **more)
    return folder / name


def decoded(folder: Path, picture: Path, colouring: Colouring) -> bytes:
    """The samples of the one picture in a file, as another library reads them."""
    mark: list[Mark] = [ImageMark("p", "image:p", (0, 0, 500, 300), 0, None)]
    path = write(folder / "d.pdf", [mark, []], pictures={"image:p": picture}, colouring=colouring)
    with pikepdf.open(path) as pdf:
        return next(o for o in pdf.objects if isinstance(o, pikepdf.Stream) and o.get("/Width")).read_bytes()


@pytest.mark.parametrize(("mode", "name"), [("L", "g.png"), ("L", "g.tif"), ("CMYK", "c.tif")])
def test_grey_and_cmyk_come_back_sample_for_sample(tmp_path: Path, mode: str, name: str) -> None:
    image = noise(mode)
    path = saved(tmp_path, name, image)
    found = load_picture(path, KEEP)
    assert (found.width, found.height) == (13, 7)
    assert found.digest == hashlib.sha256(image.tobytes()).hexdigest()
    assert decoded(tmp_path, path, KEEP) == image.tobytes()


def test_one_bit_stays_one_bit(tmp_path: Path) -> None:
    image = noise("L").convert("1")
    path = saved(tmp_path, "b.png", image)
    assert load_picture(path, KEEP).entries["BitsPerComponent"] == 1
    assert decoded(tmp_path, path, KEEP) == image.tobytes()


@pytest.mark.parametrize("mode", ["L", "CMYK"])
def test_jpegs_pass_through_without_their_metadata(tmp_path: Path, mode: str) -> None:
    path = saved(tmp_path, "j.jpg", noise(mode, (64, 48)), quality=90, dpi=(300, 300), comment="who took it")
    found = load_picture(path, KEEP)
    assert found.ppi == 300
    assert b"who took it" not in found.data
    assert found.entries["Filter"] == "DCTDecode"
    again = np.asarray(Image.open(io.BytesIO(found.data)))
    assert np.array_equal(again, np.asarray(Image.open(path)))
    assert ("Decode" in found.entries) == (mode == "CMYK")  # Pillow writes Adobe's marker: inverted samples


def test_a_cmyk_jpeg_without_adobe_s_marker_is_not_inverted(tmp_path: Path) -> None:
    raw = saved(tmp_path, "j.jpg", noise("CMYK", (16, 16))).read_bytes()
    at = raw.index(b"\xff\xee")
    size = int.from_bytes(raw[at + 2 : at + 4], "big")
    (tmp_path / "n.jpg").write_bytes(raw[:at] + raw[at + 2 + size :])
    assert "Decode" not in load_picture(tmp_path / "n.jpg", KEEP).entries


def test_rgb_is_refused_or_converted_by_the_press_profile(tmp_path: Path) -> None:
    image = noise("RGB")
    path = saved(tmp_path, "r.png", image)
    with pytest.raises(CallerError, match=r"r.png: is in RGB .*rgb: convert"):
        load_picture(path, KEEP)
    with pytest.raises(CallerError, match="names no profile"):
        load_picture(path, Colouring(rgb="convert"))
    expected = ImageCms.profileToProfile(
        image, ImageCms.createProfile("sRGB"), str(PRESS), ImageCms.Intent.RELATIVE_COLORIMETRIC, outputMode="CMYK"
    )
    assert expected is not None
    assert decoded(tmp_path, path, CONVERT) == expected.tobytes()


def test_a_picture_s_own_profile_counts_and_a_broken_one_is_refused(tmp_path: Path) -> None:
    own = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    path = saved(tmp_path, "r.png", noise("RGB"), icc_profile=own)
    expected = ImageCms.profileToProfile(
        noise("RGB"), io.BytesIO(own), str(PRESS), ImageCms.Intent.RELATIVE_COLORIMETRIC, outputMode="CMYK"
    )
    assert expected is not None
    assert load_picture(path, CONVERT).digest == hashlib.sha256(expected.tobytes()).hexdigest()
    broken = saved(tmp_path, "b.png", noise("RGB"), icc_profile=b"nonsense")
    with pytest.raises(CallerError, match="cannot be converted by its profile"):
        load_picture(broken, CONVERT)


def test_transparency_is_refused_or_flattened_on_white(tmp_path: Path) -> None:
    image = noise("LA")
    path = saved(tmp_path, "a.png", image)
    with pytest.raises(CallerError, match=r"transparent in places .*transparency: flatten"):
        load_picture(path, KEEP)
    grey, alpha = np.asarray(image)[..., 0].astype(int), np.asarray(image)[..., 1].astype(int)
    flat = np.frombuffer(decoded(tmp_path, path, CONVERT), np.uint8).reshape(7, 13)
    assert np.abs(flat - (grey * alpha + 255 * (255 - alpha)) / 255).max() <= 1
    opaque = image.copy()
    opaque.putalpha(255)
    assert (
        load_picture(saved(tmp_path, "o.png", opaque), KEEP).digest
        == hashlib.sha256(opaque.getchannel("L").tobytes()).hexdigest()
    )


def test_palettes_and_sixteen_bits(tmp_path: Path) -> None:
    palette = noise("RGB").quantize(8)
    with pytest.raises(CallerError, match="is in RGB"):
        load_picture(saved(tmp_path, "p.png", palette), KEEP)
    assert load_picture(saved(tmp_path, "p.png", palette), CONVERT).entries["ColorSpace"] == "DeviceCMYK"
    deep = np.array([[0, 256, 65535]], np.uint16)
    Image.fromarray(deep).save(tmp_path / "d.png")
    assert load_picture(tmp_path / "d.png", KEEP).digest == hashlib.sha256(bytes([0, 1, 255])).hexdigest()
    Image.fromarray(np.array([[70000, 1]], np.int32)).save(tmp_path / "i.tif")
    with pytest.raises(CallerError, match="more than sixteen bits"):
        load_picture(tmp_path / "i.tif", KEEP)
    Image.fromarray(np.array([[0.5]], np.float32)).save(tmp_path / "f.tif")
    with pytest.raises(CallerError, match="floating point"):
        load_picture(tmp_path / "f.tif", KEEP)
    Image.new("LAB", (2, 2)).save(tmp_path / "l.tif")
    with pytest.raises(CallerError, match="colour space"):
        load_picture(tmp_path / "l.tif", KEEP)


def test_a_camera_s_turn_is_undone(tmp_path: Path) -> None:
    image = noise("L", (16, 8))
    exif = Image.Exif()
    exif[0x0112] = 6
    path = saved(tmp_path, "e.jpg", image, exif=exif)
    assert (load_picture(path, KEEP).width, load_picture(path, KEEP).height) == (8, 16)


def test_what_cannot_be_used_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = saved(tmp_path, "w.jpg", noise("L", (200, 200))).read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[: len(whole) // 2])
    (tmp_path / "text.jpg").write_text("not a picture", encoding="utf-8")
    pages = [noise("L"), noise("L")]
    pages[0].save(tmp_path / "two.tif", save_all=True, append_images=pages[1:])
    for name, words in {"cut.jpg": "cut short", "text.jpg": "is not a JPEG, PNG or TIFF", "gone.jpg": "cannot be read",
                        "two.tif": "has 2 pages"}.items():  # fmt: skip
        with pytest.raises(CallerError, match=words):
            load_picture(tmp_path / name, KEEP)
    monkeypatch.setattr(room, "MOST_SAMPLES", 100)
    with pytest.raises(CallerError, match="more than any press needs"):
        load_picture(tmp_path / "w.jpg", KEEP)
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 10)
    with pytest.raises(CallerError, match="too many pixels"):
        load_picture(tmp_path / "w.jpg", KEEP)


def test_the_same_picture_under_two_names_is_written_once(tmp_path: Path) -> None:
    one, two = saved(tmp_path, "a.png", noise("L")), saved(tmp_path, "b.png", noise("L"))
    marks: list[Mark] = [ImageMark("p", f"image:{n}", (0, 0, 9, 9), 0, None) for n in "ab"]
    path = write(tmp_path / "d.pdf", [marks, []], pictures={"image:a": one, "image:b": two})
    with pikepdf.open(path) as pdf:
        assert sum(isinstance(o, pikepdf.Stream) and "/Width" in o for o in pdf.objects) == 1


def test_the_up_filter_is_undone_by_adding_rows() -> None:
    samples = bytes(range(12))
    filtered = np.frombuffer(predict_up(samples, 4), np.uint8).reshape(3, 5)
    assert np.cumsum(filtered[:, 1:], axis=0, dtype=np.uint8).tobytes() == samples
    assert filtered[:, 0].tolist() == [2, 2, 2]
