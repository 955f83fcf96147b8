"""Pictures of plates: what shines shines, what is dimmed is dimmed, and the heat knows its limit."""

from __future__ import annotations

import numpy as np

from vdp.verify.views import BRIGHT, Lamp, heat, plate_alone, printed, under_lamp


def tints(**plates: float) -> dict[str, np.ndarray[tuple[int, int], np.dtype[np.float32]]]:
    """Four pixels of one tint each."""
    names = {"Cyan": 0.0, "Magenta": 0.0, "Yellow": 0.0, "Black": 0.0, "Clear": 0.0} | plates
    return {plate: np.full((2, 2), tint, np.float32) for plate, tint in names.items()}


def test_a_plate_alone_is_grey() -> None:
    assert plate_alone(np.array([[0, 0.5, 1]], np.float32)).tolist() == [[255, 128, 0]]


def test_paper_is_white_and_black_is_dark() -> None:
    assert printed(tints())[0, 0].tolist() == [255, 255, 255]
    assert max(printed(tints(Black=1))[0, 0]) < 40
    red, green, blue = printed(tints(Magenta=1, Yellow=1))[0, 0]
    assert red > 200
    assert max(green, blue) < 140


def test_under_the_lamp_clear_glows_and_the_rest_is_dim() -> None:
    lamp = Lamp(dim=0.2, bright=False, glow={"Clear": (0.1, 1.0, 0.5)})
    assert under_lamp(tints(), lamp)[0, 0].tolist() == [51, 51, 51]
    assert under_lamp(tints(Clear=1), lamp)[0, 0].tolist() == [51, 255, 128]
    assert under_lamp(tints(Clear=1, Black=1), lamp)[0, 0][1] == 255  # it lies on top
    half = under_lamp(tints(Clear=0.5), lamp)[0, 0]
    assert 51 < half[1] < 255


def test_brightened_stock_glows_where_nothing_covers_it() -> None:
    lamp = Lamp(dim=0.0, bright=True)
    assert under_lamp(tints(), lamp)[0, 0].tolist() == [round(part * 255) for part in BRIGHT]
    assert under_lamp(tints(Yellow=1), lamp)[0, 0].tolist() == [0, 0, 0]
    assert under_lamp(tints(Clear=1), lamp)[0, 0].tolist() == [0, 0, 0]  # covered, and said not to glow


def test_heat_turns_at_the_limit() -> None:
    shown = heat(np.array([[0.0, 1.4, 2.8, 3.5, 9.0]], np.float32), 280)[0].tolist()
    assert shown[0] == [250, 249, 246]
    assert shown[2] == [226, 150, 40]
    assert shown[4] == [150, 12, 60]
    assert len({tuple(colour) for colour in shown}) == 5
