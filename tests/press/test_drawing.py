"""Drawings: well-formed, repeatable, nothing outside the picture, and the numbers of the table on the right tile."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from vdp.press.backs import back_cell
from vdp.press.drawing import draw_stacks
from vdp.press.order import Order, arrange
from vdp.press.testframe import draw_test_frame
from vdp.press.web import Wanted, lay_web
from vdp.press.xmltext import carried

SVG = "{http://www.w3.org/2000/svg}"
MM = 72 / 25.4

ORDERS = [
    arrange(100_000, 3, 2, "blocks", height=250, roll_frames=8_100),
    arrange(1_007, 3, 2, "blocks", height=250, fill="block", rewound=True),
    arrange(5_000, 3, 2, "across"),
    arrange(50_000, 4, 1, "lanes", roll_frames=1_500, stack="lane"),
    arrange(1, 1, 1, "across"),
]


def parse(svg: bytes) -> ET.Element:
    root = ET.fromstring(svg)  # noqa: S314 - drawn by the test itself
    assert root.tag == f"{SVG}svg"
    return root


def texts(root: ET.Element) -> list[str]:
    return [element.text or "" for element in root.iter(f"{SVG}text")]


def tiles(root: ET.Element) -> dict[str, list[str]]:
    """What is told of each stack → the texts on its tile."""
    found = {}
    for group in root.iter(f"{SVG}g"):
        if group.get("class") == "stack":
            title = group.find(f"{SVG}title")
            assert title is not None
            found[title.text or ""] = texts(group)
    return found


@pytest.mark.parametrize("order", ORDERS)
def test_everything_lies_in_the_picture_and_is_the_same_twice(order: Order) -> None:
    svg = draw_stacks(order, "Vouchers")
    assert svg == draw_stacks(order, "Vouchers")
    root = parse(svg)
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    for element in root.iter(f"{SVG}rect"):
        if element.get("fill") in ("#ffffff", "#c2563a") and element.get("height") == "7":
            continue  # the pattern's own rectangles
        x, y = float(element.get("x", 0)), float(element.get("y", 0))
        assert x >= 0
        assert y >= 0
        assert x + float(element.attrib["width"]) <= width
        assert y + float(element.attrib["height"]) <= height
    assert any(f"{order.pieces:,} pieces and {order.blanks:,} blanks" in text for text in texts(root))


def test_tiles_bear_the_numbers_of_the_table() -> None:
    order = ORDERS[1]
    drawn = tiles(parse(draw_stacks(order, "Vouchers")))
    assert list(drawn)[:2] == [
        "stack 1: lane 1, place 2: pieces 1 to 250, 0 blanks",
        "stack 2: lane 1, place 1: pieces 251 to 500, 0 blanks",
    ]
    assert drawn["stack 5: lane 3, place 2: pieces 1001 to 1007, 243 blanks"] == ["5", "7 + 243 blank", "1001", "1007"]
    assert drawn["stack 6: lane 3, place 1: no piece, 250 blanks"] == ["6", "0 + 250 blank"]
    across = tiles(parse(draw_stacks(ORDERS[2], "Vouchers")))
    assert across["stack 1: lane 1, place 1: pieces 1 to 4999, 0 blanks"][1] == "834, step 6"
    lanes = tiles(parse(draw_stacks(ORDERS[3], "Vouchers")))
    assert lanes["stack 2: lane 2: pieces 12501 to 14000, 0 blanks"][2:] == ["12501", "14000"]


def test_rolls_and_blocks_left_out_are_counted() -> None:
    # Roll 1 has blocks 1 to 32, of which 1, 2 and 32 are drawn; of nine rolls five are.
    told = texts(parse(draw_stacks(ORDERS[0], "Vouchers")))
    assert [text for text in told if text.startswith("block ")][:3] == [
        "block 1 · leading edge above",
        "block 2 · leading edge above",
        "block 32 · leading edge above",
    ]
    assert told.count("… 29 …") == 2
    rolls = texts(parse(draw_stacks(ORDERS[3], "Vouchers")))
    assert "… 4 rolls laid out alike …" in rolls
    assert [text for text in rolls if text.startswith("Roll ")][-1] == "Roll 9 of 9 · 500 frames"


def test_labels_and_titles_are_carried_as_text() -> None:
    svg = draw_stacks(ORDERS[4], 'A & "B" <c>\x07', lambda piece: f"<{piece}>")
    told = texts(parse(svg))
    assert told[0] == 'A & "B" <c>\ufffd'
    assert told.count("<1>") == 2
    long = parse(draw_stacks(ORDERS[4], "x", lambda piece: "W" * 60))
    assert float(long.attrib["width"]) > 60 * 9.5


def test_xml_carries_what_it_can() -> None:
    assert carried("a\tb\nc é € 😀\x00\x1f\ud800\uffff") == "a\tb\nc é € 😀\ufffd\ufffd\ufffd\ufffd"


@pytest.mark.parametrize("backs", ["mirrored", "as_front"])
@pytest.mark.parametrize("turn", [0, 90])
def test_the_test_frame_shows_each_place_on_both_sides(backs: Any, turn: Any) -> None:
    wanted = Wanted(510 * MM, 3, 480 * MM, 2, 8 * MM, 8 * MM, None, 3 * MM, turn, (12 * MM, 4 * MM, 6 * MM, 6 * MM))
    web = lay_web(wanted, (95 * MM, 140 * MM), 3 * MM, 1200, "job")
    svg = draw_test_frame(web, backs, "head_to_foot", "Vouchers")
    assert svg == draw_test_frame(web, backs, "head_to_foot", "Vouchers")
    root = parse(svg)
    sides = {group.get("class"): group for group in root.iter(f"{SVG}g") if group.get("class") in ("front", "back")}
    scale = 620 / max(web.width, web.frame)
    for side, letter, degrees in (("front", "F", turn), ("back", "B", (180 - turn) % 360)):
        paper = sides[side].find(f"{SVG}rect")
        assert paper is not None
        left, bottom = float(paper.attrib["x"]), float(paper.attrib["y"]) + float(paper.attrib["height"])
        places = {}
        for piece in sides[side].iter(f"{SVG}g"):
            if piece.get("class") == "piece":
                match = re.fullmatch(r"translate\((\S+) (\S+)\) rotate\((\S+)\)", piece.attrib["transform"])
                assert match
                places[texts(piece)[0]] = tuple(float(part) for part in match.groups())
        assert len(places) == 6
        for front in web.cells():
            cell = front if side == "front" else back_cell(web, front.lane, front.along, backs)
            x, y, width, height = cell.trim
            drawn = places[f"{letter} {cell.lane}.{cell.along}"]
            # SVG turns clockwise, with y down.
            assert drawn[0] == pytest.approx(left + (x + width / 2) * scale, abs=0.02)
            assert drawn[1] == pytest.approx(bottom - (y + height / 2) * scale, abs=0.02)
            assert drawn[2] == -degrees
