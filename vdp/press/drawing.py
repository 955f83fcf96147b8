"""The stacks as a picture (SVG): what the finishing operator finds where, roll by roll and block by block.

Lives here: boxes, numbers and hatching from the mapping.  Not here: the mapping (`order`), the frame (`testframe`).

Each block is drawn as the frame is seen from the front, leading edge at the top: a tile a stack, with the number the
stack has in the order, its first and last piece, and a hatched foot for blanks.  Of many blocks the first and the last
are drawn, and how many lie between is said.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import groupby
from typing import NamedTuple
from xml.etree import ElementTree as ET

from vdp.press.order import Order, Stack
from vdp.press.parts import Arranged
from vdp.press.xmltext import carried, document

#: Blocks drawn at the beginning and at the end of a roll when it has more than both together.
FIRST_BLOCKS, LAST_BLOCKS = 2, 1
#: Rolls drawn the same way.
FIRST_ROLLS, LAST_ROLLS = 4, 1

INK, PALE, LINE, PAPER, BLANK = "#1f2a37", "#6b7686", "#aab4c0", "#ffffff", "#c2563a"
#: Tiles of neighbouring lanes take turns, so that a lane is followed by eye.
LANE_TINTS = ("#e3f0ee", "#f3eedd")
_TILE_HEIGHT, _GAP, _MARGIN, _HEAD = 62, 6, 28, 34
#: Widest advance of a digit or capital at 13 px, taken for every character so that no label leaves its tile.
_CHARACTER = 9.5


class _Grid(NamedTuple):
    """Sizes in px of a tile, and of a block with its name above."""

    tile: int
    block: tuple[int, int]


def draw_stacks(order: Arranged, title: str, label: Callable[[int], str] = str) -> bytes:
    """An SVG of every roll's stacks.  `label` gives what a piece is called: its number, or its serial."""
    grid = _measure(order, label)
    svg = ET.Element("svg", xmlns="http://www.w3.org/2000/svg")
    svg.append(_hatching())
    ground = ET.SubElement(svg, "rect", fill=PAPER)
    down = _MARGIN + 22
    _text(svg, _MARGIN, down, title, 20, weight="600")
    down += 4
    for line in _summary(order):
        down += 20
        _text(svg, _MARGIN, down, line, 13, PALE)
    down += 16
    width = 0
    for index in _shown(order.rolls, FIRST_ROLLS, LAST_ROLLS):
        if index is None:
            down += 26
            _text(svg, _MARGIN, down, f"… {order.rolls - FIRST_ROLLS - LAST_ROLLS:,} rolls laid out alike …", 13, PALE)
            continue
        roll = index + 1
        down += 30
        _text(svg, _MARGIN, down, _roll_name(order, roll), 15, weight="600")
        down += 12
        width = max(width, _draw_roll(svg, order, roll, grid, down, label))
        down += grid.block[1] + 8
    width, height = max(width, 640) + _MARGIN, down + _MARGIN
    for name, value in (("width", width), ("height", height)):
        svg.set(name, str(value))
        ground.set(name, str(value))
    svg.set("viewBox", f"0 0 {width} {height}")
    return document(svg)


def _draw_roll(svg: ET.Element, order: Arranged, roll: int, grid: _Grid, top: int, label: Callable[[int], str]) -> int:
    """Blocks side by side, the first to come off at the left; → the right edge."""
    blocks = [list(stacks) for _, stacks in groupby(order.stacks(roll), key=lambda stack: stack.block)]
    left = _MARGIN
    for index in _shown(len(blocks), FIRST_BLOCKS, LAST_BLOCKS):
        if index is None:
            between = f"… {len(blocks) - FIRST_BLOCKS - LAST_BLOCKS:,} …"
            _text(svg, left + 40, top + grid.block[1] // 2, between, 13, PALE, anchor="middle")
            _text(svg, left + 40, top + grid.block[1] // 2 + 18, "blocks", 13, PALE, anchor="middle")
            left += 80 + 3 * _GAP
            continue
        _draw_block(svg, order, blocks[index], grid, (left, top), label)
        left += grid.block[0] + 3 * _GAP
    return left - 3 * _GAP


def _draw_block(
    svg: ET.Element,
    order: Arranged,
    block: list[Stack],
    grid: _Grid,
    at: tuple[int, int],
    label: Callable[[int], str],
) -> None:
    left, top = at
    group = ET.SubElement(svg, "g", {"class": "block"})
    name = f"block {block[0].block}" if order.kind == "blocks" else "the whole roll"
    _text(group, left, top + 20, f"{name} · leading edge above", 12, PALE)
    for number, stack in enumerate(block, start=1):
        x = left + (stack.lane - 1) * (grid.tile + _GAP)
        y = top + _HEAD + max(0, stack.along - 1) * (_TILE_HEIGHT + _GAP)
        tile = ET.SubElement(group, "g", {"class": "stack"})
        ET.SubElement(tile, "title").text = _said(stack, number)
        _rect(tile, x, y, grid.tile, _TILE_HEIGHT, LANE_TINTS[stack.lane % 2], stroke=LINE)
        _rect(tile, x, y, 24, 18, INK)
        _text(tile, x + 12, y + 13, str(number), 11, PAPER, anchor="middle", weight="600")
        _text(tile, x + grid.tile - 6, y + 13, _count(order, stack), 11, PALE, anchor="end")
        if stack.pieces:
            _text(tile, x + 8, y + 34, carried(label(stack.pieces[0])), 13, weight="600")
            _text(tile, x + 8, y + 50, carried(label(stack.pieces[-1])), 13)
        if stack.blanks:
            high = 7 if stack.pieces else _TILE_HEIGHT - 20
            _rect(tile, x, y + _TILE_HEIGHT - high, grid.tile, high, "url(#blank)", stroke=BLANK)


def _measure(order: Arranged, label: Callable[[int], str]) -> _Grid:
    longest = max(len(label(piece)) for piece in (1, order.pieces, max(1, order.pieces - 1)))
    tile = max(150, round(longest * _CHARACTER) + 16)
    rows = order.along if order.stack == "place" else 1
    return _Grid(tile, (order.lanes * (tile + _GAP) - _GAP, _HEAD + rows * (_TILE_HEIGHT + _GAP) - _GAP))


def _summary(order: Arranged) -> tuple[str, str]:
    how = {
        "across": "across: each frame in turn",
        "lanes": "lane by lane over the whole run",
        "blocks": f"blocks of {order.height:,} frames",
    }[order.kind]
    comes = "rewound, last printed frame first" if order.rewound else "as printed, first frame first"
    cut = "a stack a place" if order.stack == "place" else "a stack a lane"
    counts = f"{order.pieces:,} pieces and {order.blanks:,} blanks on {order.frames:,} frames"
    return f"{counts} of {order.lanes} lanes × {order.along} along", f"{how} · {cut} · {comes}"


def _roll_name(order: Arranged, roll: int) -> str:
    said = f"Roll {roll} of {order.rolls} · {order.frames_on(roll):,} frames"
    if isinstance(order, Order):
        return said
    press, lead, tail = order.part_of(roll).press, order.lead(roll), order.tail(roll)
    ends = f" · {lead:,} frames of specimens before, {tail:,} after" if lead or tail else ""
    return f"{said}{ends}{f' · press {press}' if press else ''}"


def _count(order: Arranged, stack: Stack) -> str:
    step = f", step {stack.pieces.step}" if order.kind == "across" else ""
    blanks = f" + {stack.blanks:,} blank" if stack.blanks else ""
    return f"{len(stack.pieces):,}{step}{blanks}"


def _said(stack: Stack, number: int) -> str:
    """What a reader hears of a tile."""
    where = f"stack {number}: lane {stack.lane}" + (f", place {stack.along}" if stack.along else "")
    live = f"pieces {stack.pieces[0]} to {stack.pieces[-1]}" if stack.pieces else "no piece"
    return f"{where}: {live}, {stack.blanks} blanks"


def _shown(many: int, first: int, last: int) -> list[int | None]:
    """Which of `many` things are drawn, from 0; None stands for those between."""
    if many <= first + last:
        return list(range(many))
    return [*range(first), None, *range(many - last, many)]


def _hatching() -> ET.Element:
    defs = ET.Element("defs")
    size = {"width": "7", "height": "7", "patternUnits": "userSpaceOnUse", "patternTransform": "rotate(45)"}
    pattern = ET.SubElement(defs, "pattern", {"id": "blank", **size})
    _rect(pattern, 0, 0, 7, 7, PAPER)
    _rect(pattern, 0, 0, 3, 7, BLANK)
    return defs


def _rect(parent: ET.Element, x: int, y: int, width: int, height: int, fill: str, stroke: str = "none") -> None:
    box = {"x": x, "y": y, "width": width, "height": height}
    ET.SubElement(parent, "rect", {name: str(value) for name, value in box.items()} | {"fill": fill, "stroke": stroke})


def _text(
    parent: ET.Element,
    x: int,
    y: int,
    words: str,
    size: int,
    fill: str = INK,
    *,
    anchor: str = "start",
    weight: str = "400",
) -> None:
    place = {"x": str(x), "y": str(y), "font-size": str(size), "font-weight": weight, "text-anchor": anchor}
    ET.SubElement(parent, "text", place | {"font-family": "sans-serif", "fill": fill}).text = carried(words)
