"""An uneven, numbered frame (SVG), front and back side by side: printed and held to the light, it proves the duplex.

Lives here: the drawing only.  Not here: where places lie (`web`, `backs`).

Every place bears its lane and place, an arrow to its head and a wedge in its own upper left corner, so that a
controller which mirrors, turns or swaps anything cannot hide it.  Behind F 1.1 must come B 1.1, wedge as the caption
says.  The dashed line is the printable width, dotted ones are the slits.
"""

from __future__ import annotations

from typing import NamedTuple
from xml.etree import ElementTree as ET

from vdp.marks import Box
from vdp.press.backs import Backs, Heads, back_cell, back_turn
from vdp.press.web import Web
from vdp.press.xmltext import carried, document

INK, LINE, BLEED, TRIM = "#1f2a37", "#6b7686", "#f3d9d0", "#ffffff"
SIDES = {"front": "#2f7f79", "back": "#8a5a13"}
#: Pixels of the longer side of a drawn frame.
_DRAWN = 620
_MARGIN, _CAPTION = 30, 58


class _Frame(NamedTuple):
    """A side as drawn: what a dot measures, and where the frame's lower left corner lies, in px."""

    scale: float
    left: float
    foot: float

    def box(self, box: Box) -> dict[str, str]:
        x, y, width, height = box
        top = self.foot - (y + height) * self.scale
        sizes = {"x": self.left + x * self.scale, "y": top, "width": width * self.scale, "height": height * self.scale}
        return {name: f"{value:.2f}" for name, value in sizes.items()}

    def line(self, start: tuple[int, int], end: tuple[int, int]) -> dict[str, str]:
        (x1, y1), (x2, y2) = self.point(start), self.point(end)
        return {"x1": f"{x1:.2f}", "y1": f"{y1:.2f}", "x2": f"{x2:.2f}", "y2": f"{y2:.2f}"}

    def point(self, place: tuple[float, float]) -> tuple[float, float]:
        return self.left + place[0] * self.scale, self.foot - place[1] * self.scale


def draw_test_frame(web: Web, backs: Backs, heads: Heads, title: str) -> bytes:
    """Both pages of a frame as the file has them, to one scale."""
    scale = _DRAWN / max(web.width, web.frame)
    across, down = web.width * scale, web.frame * scale
    width, height = 2 * across + 3 * _MARGIN, down + 2 * _MARGIN + _CAPTION
    size = {"width": f"{width:.0f}", "height": f"{height:.0f}", "viewBox": f"0 0 {width:.0f} {height:.0f}"}
    svg = ET.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", **size})
    ET.SubElement(svg, "rect", {"width": size["width"], "height": size["height"], "fill": "#eef1f4"})
    _text(svg, (_MARGIN, _MARGIN), carried(title), 17, INK, "start")
    said = f"back {backs.replace('_', ' ')}, {heads.replace('_', ' ')}, leading edge at the top"
    _text(svg, (_MARGIN, _MARGIN + 20), said, 12, LINE, "start")
    foot = _MARGIN + _CAPTION + down
    _draw_side(svg, web, _Frame(scale, _MARGIN, foot), None, heads)
    _draw_side(svg, web, _Frame(scale, 2 * _MARGIN + across, foot), backs, heads)
    return document(svg)


def _draw_side(svg: ET.Element, web: Web, frame: _Frame, backs: Backs | None, heads: Heads) -> None:
    """`backs` None draws the front."""
    side = "front" if backs is None else "back"
    group = ET.SubElement(svg, "g", {"class": side})
    paper = {"fill": TRIM, "stroke": INK}
    ET.SubElement(group, "rect", frame.box((0, 0, web.width, web.frame)) | paper)
    cells = [cell if backs is None else back_cell(web, cell.lane, cell.along, backs) for cell in web.cells()]
    for cell in cells:
        ET.SubElement(group, "rect", frame.box(cell.area) | {"fill": BLEED})
    edge = (web.width - web.printable) // 2
    dashes = {"fill": "none", "stroke": LINE, "stroke-dasharray": "8 5"}
    ET.SubElement(group, "rect", frame.box((edge, 0, web.printable, web.frame)) | dashes)
    turn = web.turn if backs is None else back_turn(web.turn, heads)
    for cell in cells:
        _draw_piece(group, frame, cell.trim, turn, f"{side[0].upper()} {cell.lane}.{cell.along}", SIDES[side])
    for x in sorted({x for cell in cells for x in (cell.trim[0], cell.trim[0] + cell.trim[2])}):
        dots_apart = {"stroke": LINE, "stroke-dasharray": "1.5 4"}
        ET.SubElement(group, "line", frame.line((x, 0), (x, web.frame)) | dots_apart)


def _draw_piece(group: ET.Element, frame: _Frame, trim: Box, turn: int, name: str, colour: str) -> None:
    """A piece upright about its middle, then turned as a whole: name, arrow and wedge turn with it."""
    ET.SubElement(group, "rect", frame.box(trim) | {"fill": TRIM, "stroke": colour})
    x, y, width, height = trim
    middle = frame.point((x + width / 2, y + height / 2))
    across, up = (width, height) if turn in (0, 180) else (height, width)
    half = (across * frame.scale / 2, up * frame.scale / 2)
    place = f"translate({middle[0]:.2f} {middle[1]:.2f}) rotate({-turn})"
    piece = ET.SubElement(group, "g", {"class": "piece", "transform": place})
    short = min(half)
    wedge = [(-half[0], -half[1]), (-half[0] + short / 2, -half[1]), (-half[0], -half[1] + short)]
    ET.SubElement(piece, "polygon", {"points": _points(wedge), "fill": colour})
    tip = -half[1] * 0.8
    arrow = [(0.0, tip), (short / 5, tip + short / 4), (-short / 5, tip + short / 4)]
    ET.SubElement(piece, "polygon", {"points": _points(arrow), "fill": INK})
    _text(piece, (0, short * 0.35), name, short * 0.55, colour, "middle")


def _points(corners: list[tuple[float, float]]) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in corners)


def _text(parent: ET.Element, at: tuple[float, float], words: str, size: float, fill: str, anchor: str) -> None:
    place = {"x": f"{at[0]:.2f}", "y": f"{at[1]:.2f}", "font-size": f"{size:.1f}", "text-anchor": anchor}
    style = {"font-family": "sans-serif", "font-weight": "600", "fill": fill}
    ET.SubElement(parent, "text", place | style).text = words
