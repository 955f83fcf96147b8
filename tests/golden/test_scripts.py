"""Every script still looks as it did when a person looked at it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.golden.pages import FOLDER, PAGES, draw


@pytest.mark.parametrize("name", PAGES)
def test_a_page_looks_as_it_did(name: str, tmp_path: Path) -> None:
    golden = np.asarray(Image.open(FOLDER / f"{name}.png").convert("L")).astype(int)
    now = draw(name, tmp_path).astype(int)
    assert now.shape == golden.shape
    inked = (golden < 128) | (now < 128)
    # Readers' antialiasing may change by a shade; a moved, lost or other glyph changes whole strokes.
    assert (np.abs(now - golden) > 96).sum() <= 0.01 * inked.sum()


def test_the_comparison_can_fail(tmp_path: Path) -> None:
    golden = np.asarray(Image.open(FOLDER / "polish.png").convert("L")).astype(int)
    other = draw("serbian", tmp_path).astype(int)
    inked = (golden < 128) | (other < 128)
    assert (np.abs(other - golden) > 96).sum() > 0.01 * inked.sum()


def test_forms_differ_by_language_where_they_should(tmp_path: Path) -> None:
    """The same code points (U+76F4 U+9AA8) are drawn otherwise in Simplified Chinese and in Japanese."""
    from tests.pdf.made import glyphs

    ids = {
        language: [g.gids for g in glyphs("直骨", "cjk", language)] for language in ("ja", "zh-Hans", "zh-Hant", "ko")
    }
    assert ids["ja"] != ids["zh-Hans"]
    assert ids["zh-Hans"] != ids["zh-Hant"]
