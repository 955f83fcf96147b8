"""Content streams of artwork → what they paint, where, in which colour and how: one `Painted` a painting operator.

Lives here: the graphics state (ISO 32000-2, 8.4), forms and patterns inside one another.  Not here: what is wrong with
what is painted (`rules`).  Artwork is foreign, so every bound of time and depth is this file's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, NamedTuple

import pikepdf

from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.preflight.geometry import around, matrix, moved, scale
from vdp.verify.preflight.spaces import CMYK, GRAY, RGB, UNKNOWN, Shade, shade_of
from vdp.verify.preflight.state import State
from vdp.verify.state import Area, Matrix, times

What = Literal["text", "fill", "stroke", "picture", "shading"]
#: Forms within forms, and operators in all, of one page; beyond them a file is taken to be hostile or no artwork.
DEEPEST, MOST_OPERATORS = 24, 2_000_000


class Painted(NamedTuple):
    """One thing on the page.  `area` in points of the page, roughly for text; `weight` of strokes in points, 0 being
    the thinnest the press can; `ppi` of pictures along and across, `bits` a component; `name` of font or picture."""

    what: What
    area: Area
    shade: Shade
    colour: tuple[float, ...]
    overprint: bool
    mode: int
    see_through: bool
    weight: float = 0.0
    ppi: tuple[float, float] | None = None
    bits: int = 8
    name: str = ""


@dataclass(slots=True)
class _Page:
    """What the walk over one page shares."""

    operators: int = 0
    found: list[Painted] = field(default_factory=list)
    fonts: dict[str, pikepdf.Object] = field(default_factory=dict)
    patterns: set[tuple[int, int]] = field(default_factory=set)


def paintings(page: pikepdf.Page) -> tuple[list[Painted], dict[str, pikepdf.Object]]:
    """Everything painted on a page, in order, and its fonts by resource name.  Raises Unreadable."""
    shared = _Page()
    with pdf_faults():
        resources = page.obj.get("/Resources", pikepdf.Dictionary())
        _Walk(shared, resources, State(), 0).run(page.obj)
    return shared.found, shared.fonts


class _Walk:
    """One content stream with its resources."""

    def __init__(self, shared: _Page, resources: pikepdf.Object, state: State, depth: int) -> None:
        if depth > DEEPEST:
            raise Unreadable(f"forms lie more than {DEEPEST} deep in one another")
        self.shared, self.depth = shared, depth
        self.resources = resources if isinstance(resources, pikepdf.Dictionary) else pikepdf.Dictionary()
        self.state, self.saved = state, list[State]()
        self.points: list[tuple[float, float]] = []
        self.matrix: Matrix = (1, 0, 0, 1, 0, 0)
        self.line: Matrix = (1, 0, 0, 1, 0, 0)

    def _named(self, kind: str) -> Mapping[str, pikepdf.Object]:
        found = self.resources.get(kind)
        return dict(found.items()) if isinstance(found, pikepdf.Dictionary) else {}

    def run(self, stream: pikepdf.Object) -> None:
        spaces = self._named("/ColorSpace")
        for instruction in pikepdf.parse_content_stream(stream):
            self.shared.operators += 1
            if self.shared.operators > MOST_OPERATORS:
                raise Unreadable(f"the page has more than {MOST_OPERATORS:,} operators")
            if isinstance(instruction, pikepdf.ContentStreamInlineImage):
                self._picture(instruction.iimage.obj, spaces, "an inline picture")
                continue
            operands, operator = list(instruction.operands), str(instruction.operator)
            handler = _OPERATORS.get(operator)
            if handler is not None:
                handler(self, operands)
            elif operator in _COLOURS:
                self._colour(operator, operands, spaces)

    # -- state --------------------------------------------------------------------------------------------------------

    def save(self, _: list[Any]) -> None:
        self.saved.append(self.state)

    def restore(self, _: list[Any]) -> None:
        if self.saved:
            self.state = self.saved.pop()

    def concat(self, operands: list[Any]) -> None:
        self.state = replace(self.state, ctm=times(matrix(operands), self.state.ctm))

    def width(self, operands: list[Any]) -> None:
        self.state = replace(self.state, weight=float(operands[0]))

    def graphics(self, operands: list[Any]) -> None:
        entry = self._named("/ExtGState").get(str(operands[0]))
        if not isinstance(entry, pikepdf.Dictionary):
            return
        state, over = self.state, entry.get("/OP")
        if over is not None:
            state = replace(state, stroke_over=bool(over), fill_over=bool(over))
        if "/op" in entry:
            state = replace(state, fill_over=bool(entry["/op"]))
        if "/OPM" in entry:
            state = replace(state, mode=int(entry["/OPM"]))
        if "/CA" in entry:
            state = replace(state, stroke_alpha=float(entry["/CA"]))
        if "/ca" in entry:
            state = replace(state, fill_alpha=float(entry["/ca"]))
        if "/BM" in entry:
            mode = entry["/BM"]
            state = replace(state, blend=str(mode[0] if isinstance(mode, pikepdf.Array) else mode))
        if "/SMask" in entry:
            state = replace(state, masked=isinstance(entry["/SMask"], pikepdf.Dictionary))
        if "/LW" in entry:
            state = replace(state, weight=float(entry["/LW"]))
        if "/Font" in entry:
            state = replace(state, size=float(entry["/Font"][1]))
        self.state = state

    def _colour(self, operator: str, operands: list[Any], spaces: Mapping[str, pikepdf.Object]) -> None:
        stroke = operator.isupper()
        device = {"g": GRAY, "rg": RGB, "k": CMYK}.get(operator.lower())
        if device is not None:
            default = spaces.get({"g": "/DefaultGray", "rg": "/DefaultRGB", "k": "/DefaultCMYK"}[operator.lower()])
            shade = device if default is None else shade_of(default, {})
            colour = _numbers(operands)
        elif operator.lower() == "cs":
            shade = shade_of(operands[0], spaces)
            colour = shade.initial
        else:
            shade, colour = (self.state.stroke if stroke else self.state.fill), _numbers(operands)
            if operands and isinstance(operands[-1], pikepdf.Name):
                self._pattern(str(operands[-1]))
        if stroke:
            self.state = replace(self.state, stroke=shade, stroke_colour=colour)
        else:
            self.state = replace(self.state, fill=shade, fill_colour=colour)

    # -- paths --------------------------------------------------------------------------------------------------------

    def point(self, operands: list[Any]) -> None:
        numbers = _numbers(operands)
        self.points += [self._at(numbers[i], numbers[i + 1]) for i in range(0, len(numbers) - 1, 2)]

    def rectangle(self, operands: list[Any]) -> None:
        x, y, width, height = _numbers(operands)[:4]
        self.points += [
            self._at(x, y),
            self._at(x + width, y),
            self._at(x + width, y + height),
            self._at(x, y + height),
        ]

    def end(self, _: list[Any]) -> None:
        self.points = []

    def fill(self, _: list[Any]) -> None:
        self._paint_path(fill=True, stroke=False)

    def stroke(self, _: list[Any]) -> None:
        self._paint_path(fill=False, stroke=True)

    def both(self, _: list[Any]) -> None:
        self._paint_path(fill=True, stroke=True)

    def _paint_path(self, *, fill: bool, stroke: bool) -> None:
        if self.points:
            area = around(self.points)
            if fill:
                self._add("fill", area)
            if stroke:
                self._add("stroke", area, weight=self.state.weight * scale(self.state.ctm))
        self.points = []

    # -- text ---------------------------------------------------------------------------------------------------------

    def begin(self, _: list[Any]) -> None:
        self.matrix = self.line = (1, 0, 0, 1, 0, 0)

    def font(self, operands: list[Any]) -> None:
        name = str(operands[0])
        found = self._named("/Font").get(name)
        if found is not None:
            key = f"{found.objgen}" if found.is_indirect else f"{self.depth} {name}"
            self.shared.fonts[key] = found
            name = key
        self.state = replace(self.state, font=name, size=float(operands[1]))

    def render(self, operands: list[Any]) -> None:
        self.state = replace(self.state, render=int(operands[0]))

    def leading(self, operands: list[Any]) -> None:
        self.state = replace(self.state, leading=float(operands[0]))

    def rise(self, operands: list[Any]) -> None:
        self.state = replace(self.state, rise=float(operands[0]))

    def move(self, operands: list[Any]) -> None:
        x, y = _numbers(operands)[:2]
        self.matrix = self.line = times((1, 0, 0, 1, x, y), self.line)

    def move_leading(self, operands: list[Any]) -> None:
        self.state = replace(self.state, leading=-_numbers(operands)[1])
        self.move(operands)

    def text_matrix(self, operands: list[Any]) -> None:
        self.matrix = self.line = matrix(operands)

    def next_line(self, _: list[Any]) -> None:
        self.move([0, -self.state.leading])

    def show(self, operands: list[Any]) -> None:
        parts = operands[-1] if operands else b""
        strings = parts if isinstance(parts, pikepdf.Array) else [parts]
        count = sum(len(bytes(part)) for part in strings if isinstance(part, pikepdf.String))
        if not count or self.state.render == 3:  # 3 paints nothing
            return
        size, rise = self.state.size, self.state.rise
        # Advances are the font's business; half an em a byte is near enough to point at the place.
        placed = times(self.matrix, self.state.ctm)
        wide = 0.5 * size * count
        corners = ((0.0, rise - 0.25 * size), (wide, rise + 0.8 * size))
        area = around([moved(placed, x, y) for x in (0.0, wide) for y in (corners[0][1], corners[1][1])])
        if self.state.render % 4 in (0, 2):
            self._add("text", area, name=self.state.font)
        if self.state.render % 4 in (1, 2):
            self._add("stroke", area, weight=self.state.weight * scale(self.state.ctm))
        self.matrix = times((1, 0, 0, 1, wide, 0), self.matrix)

    def show_next(self, operands: list[Any]) -> None:
        self.next_line([])
        self.show(operands)

    # -- what lies outside the stream ---------------------------------------------------------------------------------

    def shading(self, operands: list[Any]) -> None:
        found = self._named("/Shading").get(str(operands[0]))
        if found is not None:
            shade = shade_of(found.get("/ColorSpace"), self._named("/ColorSpace"))
            self._add("shading", self._unit(), shade=shade, colour=())

    def do(self, operands: list[Any]) -> None:
        name = str(operands[0])
        found = self._named("/XObject").get(name)
        if not isinstance(found, pikepdf.Stream):
            return
        if found.get("/Subtype") == pikepdf.Name.Image:
            self._picture(found, self._named("/ColorSpace"), name[1:])
        elif found.get("/Subtype") == pikepdf.Name.Form:
            self._form(found, self.state)

    def _form(self, found: pikepdf.Object, state: State) -> None:
        placed = found.get("/Matrix")
        if placed is not None:
            state = replace(state, ctm=times(matrix(placed.as_list()), state.ctm))
        _Walk(self.shared, found.get("/Resources", self.resources), state, self.depth + 1).run(found)

    def _pattern(self, name: str) -> None:
        """A tiling pattern's own content is judged once, where it first paints."""
        found = self._named("/Pattern").get(name)
        if isinstance(found, pikepdf.Stream) and found.objgen not in self.shared.patterns:
            self.shared.patterns.add(found.objgen)
            self._form(found, replace(self.state, font="", size=0.0))
        elif isinstance(found, pikepdf.Dictionary) and "/Shading" in found:
            shade = shade_of(found["/Shading"].get("/ColorSpace"), self._named("/ColorSpace"))
            self._add("shading", self._unit(), shade=shade, colour=())

    def _picture(self, found: pikepdf.Object, spaces: Mapping[str, pikepdf.Object], name: str) -> None:
        across, down = (int(_either(found, key, short, 1)) for key, short in (("/Width", "/W"), ("/Height", "/H")))
        a, b, c, d, _, _ = self.state.ctm
        sides = ((a * a + b * b) ** 0.5, (c * c + d * d) ** 0.5)
        ppi = (across * 72 / sides[0] if sides[0] else 0.0, down * 72 / sides[1] if sides[1] else 0.0)
        stencil = bool(_either(found, "/ImageMask", "/IM", default=False))
        space = _either(found, "/ColorSpace", "/CS", None)
        shade = self.state.fill if stencil else shade_of(space, spaces) if space is not None else UNKNOWN
        soft = "/SMask" in found
        self._add(
            "picture",
            self._unit(),
            shade=shade,
            colour=self.state.fill_colour if stencil else (),
            ppi=ppi,
            bits=1 if stencil else int(_either(found, "/BitsPerComponent", "/BPC", 8)),
            name=name,
            soft=soft,
        )

    # -- the result ---------------------------------------------------------------------------------------------------

    def _add(
        self,
        what: What,
        area: Area,
        *,
        shade: Shade | None = None,
        colour: tuple[float, ...] | None = None,
        weight: float = 0.0,
        ppi: tuple[float, float] | None = None,
        bits: int = 8,
        name: str = "",
        soft: bool = False,
    ) -> None:
        state, stroke = self.state, what == "stroke"
        alpha = state.stroke_alpha if stroke else state.fill_alpha
        self.shared.found.append(
            Painted(
                what,
                area,
                shade if shade is not None else state.stroke if stroke else state.fill,
                colour if colour is not None else state.stroke_colour if stroke else state.fill_colour,
                state.stroke_over if stroke else state.fill_over,
                state.mode,
                soft or state.masked or alpha < 1 or state.blend not in ("/Normal", "/Compatible"),
                weight,
                ppi,
                bits,
                name,
            )
        )

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return moved(self.state.ctm, x, y)

    def _unit(self) -> Area:
        return around([self._at(x, y) for x in (0, 1) for y in (0, 1)])


_COLOURS = frozenset({"g", "G", "rg", "RG", "k", "K", "cs", "CS", "sc", "SC", "scn", "SCN"})
_OPERATORS: dict[str, Callable[[_Walk, list[Any]], None]] = {
    "q": _Walk.save,
    "Q": _Walk.restore,
    "cm": _Walk.concat,
    "w": _Walk.width,
    "gs": _Walk.graphics,
    **dict.fromkeys(("m", "l", "c", "v", "y"), _Walk.point),
    "re": _Walk.rectangle,
    **dict.fromkeys(("f", "F", "f*"), _Walk.fill),
    **dict.fromkeys(("S", "s"), _Walk.stroke),
    **dict.fromkeys(("B", "B*", "b", "b*"), _Walk.both),
    "n": _Walk.end,
    "BT": _Walk.begin,
    "Tf": _Walk.font,
    "Tr": _Walk.render,
    "TL": _Walk.leading,
    "Ts": _Walk.rise,
    "Td": _Walk.move,
    "TD": _Walk.move_leading,
    "Tm": _Walk.text_matrix,
    "T*": _Walk.next_line,
    "Tj": _Walk.show,
    "TJ": _Walk.show,
    "'": _Walk.show_next,
    '"': _Walk.show_next,
    "sh": _Walk.shading,
    "Do": _Walk.do,
}


def _either(found: pikepdf.Object, key: str, short: str, default: Any) -> Any:
    """An entry of a picture, under its long or its short name (inline pictures, ISO 32000-2, table 91)."""
    return found.get(key, found.get(short, default))


def _numbers(operands: list[Any]) -> tuple[float, ...]:
    return tuple(float(value) for value in operands if not isinstance(value, pikepdf.Object))


def each(found: list[Painted], what: What) -> Iterator[Painted]:
    """Those of a kind."""
    return (painted for painted in found if painted.what == what)
