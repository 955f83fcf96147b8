"""Source pictures decoded again: exact where nothing was converted, near where RGB was."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from tests.small import JOB, write_job
from vdp.job.load import Job, load_job
from vdp.pdf.art import load_picture
from vdp.verify.doubt import Unreadable
from vdp.verify.sources import read_source

PROFILE = Path(__file__).parents[2] / "layouts" / "ferry_pass" / "art" / "press.icm"


@pytest.fixture
def job(tmp_path: Path) -> Job:
    folder = tmp_path / "job"
    path = write_job(folder, job=JOB + "colour: {rgb: convert, profile: press.icm, transparency: flatten}\n")
    (folder / "press.icm").write_bytes(PROFILE.read_bytes())
    return load_job(path)


def pixels(seed: int, shape: tuple[int, ...]) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    small = np.random.default_rng(seed).integers(0, 256, (4, 4, *shape[2:]), dtype=np.uint8)
    return np.kron(small, np.ones((shape[0] // 4, shape[1] // 4, *(1 for _ in shape[2:])), np.uint8))


def test_four_ink_and_grey_pictures_are_exact(job: Job, tmp_path: Path) -> None:
    inks = pixels(1, (32, 48, 4))
    Image.fromarray(inks, "CMYK").save(tmp_path / "a.tif")
    source = read_source(tmp_path / "a.tif", job)
    assert source.is_same(inks)
    assert not source.is_same(inks[:, ::-1])
    assert not source.is_same(inks[:16])
    grey = pixels(2, (32, 48))
    Image.fromarray(grey).save(tmp_path / "b.png")
    assert read_source(tmp_path / "b.png", job).is_same(255 - grey[..., None])
    Image.fromarray(grey > 128).save(tmp_path / "c.png")
    assert read_source(tmp_path / "c.png", job).is_same(np.where(grey > 128, 0, 255).astype(np.uint8)[..., None])
    Image.fromarray(grey.astype(np.uint16) * 257).save(tmp_path / "d.png")
    assert read_source(tmp_path / "d.png", job).is_same(255 - grey[..., None])


def test_four_ink_jpegs(job: Job, tmp_path: Path) -> None:
    Image.fromarray(pixels(3, (32, 48, 4)), "CMYK").save(tmp_path / "a.jpg")
    with Image.open(tmp_path / "a.jpg") as opened:
        assert read_source(tmp_path / "a.jpg", job).is_same(np.asarray(opened))


def test_transparency_is_laid_on_white(job: Job, tmp_path: Path) -> None:
    grey = Image.new("LA", (32, 32), (0, 0))
    grey.save(tmp_path / "a.png")
    assert read_source(tmp_path / "a.png", job).is_same(np.zeros((32, 32, 1), np.uint8))
    Image.new("RGBA", (32, 32), (0, 0, 0, 0)).save(tmp_path / "b.png")
    source = read_source(tmp_path / "b.png", job)
    assert source.converted
    assert int(source.ink.max()) < 8


def test_rgb_is_converted_again_and_compared_by_blocks(job: Job, tmp_path: Path) -> None:
    Image.fromarray(pixels(4, (64, 64, 3)), "RGB").save(tmp_path / "a.png")
    Image.fromarray(pixels(5, (64, 64, 3)), "RGB").save(tmp_path / "b.png")
    made = {}
    for name in ("a.png", "b.png"):
        picture = load_picture(tmp_path / name, job)
        converted = ImageCms.profileToProfile(
            Image.open(tmp_path / name),
            ImageCms.createProfile("sRGB"),
            str(PROFILE),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
            outputMode="CMYK",
        )
        assert converted is not None
        assert (picture.width, picture.height) == converted.size
        made[name] = np.asarray(converted)
    source = read_source(tmp_path / "a.png", job)
    assert source.is_same(made["a.png"])
    assert source.is_same(np.clip(made["a.png"].astype(int) + 2, 0, 255).astype(np.uint8))
    assert not source.is_same(made["b.png"])


def test_what_cannot_be_decoded_is_refused(job: Job, tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(b"no picture")
    with pytest.raises(Unreadable, match=r"a\.png"):
        read_source(tmp_path / "a.png", job)
    bare = load_job(write_job(tmp_path / "bare"))
    Image.new("RGB", (4, 4)).save(tmp_path / "b.png")
    with pytest.raises(Unreadable, match="no profile"):
        read_source(tmp_path / "b.png", bare)
