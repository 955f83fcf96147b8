"""One content stream, read once: one-plate copies of it, and what it shows.

Lives here: what each operator does to the state, to the copies and to the notes (ISO 32000-2, Annex A).
Not here: paths (`rewrite_paths`), text (`rewrite_text`), pictures, forms and shadings (`rewrite_objects`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from vdp.verify import lex
from vdp.verify.canvas import Canvas
from vdp.verify.doubt import Unreadable
from vdp.verify.fonts import SourceFont
from vdp.verify.inks import CMYK, GRAY, Space, Tints
from vdp.verify.resources import Resources
from vdp.verify.state import IDENTITY, Area, Matrix, State, meets, times
from vdp.verify.view import Seen

if TYPE_CHECKING:
    from vdp.verify.plates import PlateWriter

Handler = Callable[["Walk", bytes], None]


class Walk:
    """The reading of one stream.  `inked` tells which plates have ink so far; it is shared by a page and its forms."""

    def __init__(self, writer: PlateWriter, resources: Resources, state: State, seen: Seen, inked: list[bool]) -> None:
        self.writer, self.resources, self.state, self.seen, self.inked = writer, resources, state, seen, inked
        self.plates = writer.plates
        self.canvas = Canvas(len(self.plates.names))
        self.depth = 0
        self.layers: list[str | None] = []
        self.stack: list[State] = []
        self.path: list[bytes] = []
        self.clip = b""
        # -- text: matrices, whether the place is known, and shows since the last move
        self.tm: Matrix = IDENTITY
        self.line: Matrix = IDENTITY
        self.placed = True
        self.passed: list[tuple[SourceFont, bytes, float, float, float]] = []
        self.behind: list[list[bytes]] = [[] for _ in self.plates.names]

    def run(self, data: bytes) -> list[bytes | None]:
        """Reads the stream; the copies, None where a plate has nothing.  Raises Unreadable."""
        table, path = self.writer.handlers, self.path
        for operands, operator in lex.instructions(data):
            if operator is lex.PATH:
                path.append(operands)
                continue
            handler = table.get(operator)
            if handler is None:
                raise Unreadable(f"the operator {operator.decode('latin-1')} is not one of PDF's")
            handler(self, operands)
        if self.canvas.in_text:
            raise Unreadable("a text object is left open")
        return self.canvas.streams()

    # -- inks ---------------------------------------------------------------------------------------------------------

    @property
    def layer(self) -> str | None:
        """The plate in whose layer painting happens, if any."""
        return next((layer for layer in reversed(self.layers) if layer is not None), None)

    def ink(self, fill: bool) -> Tints:
        """What the current colour puts on each plate; notes what is wrong with it."""
        state = self.state
        space, colour, op = (
            (state.fill_space, state.fill, state.op) if fill else (state.stroke_space, state.stroke, state.stroke_op)
        )
        if colour is None:
            raise Unreadable("a pattern is painted with")
        if op and state.grouped:
            raise Unreadable("overprinting inside a transparency group")
        self.check_ink(space, op)
        return self.plates.tints(space, colour, op, state.opm)

    def check_ink(self, space: Space, op: bool) -> None:
        """The rules of spot plates: overprinting, in their own layer, alone in their Separation."""
        layer, opm = self.layer, self.state.opm
        for code, message in self.writer.rules(space, op, opm, layer):
            self.seen.fault(code, message)

    def note(self, tints: Tints, space: Space, area: Callable[[], Area]) -> Tints:
        """Which plates are really changed: a plate without ink nearby has nothing to knock out.

        Keeps where spot plates have ink, and where the page itself puts ink, or paper and nothing else.
        """
        inked, result, last = self.inked, list(tints), len(tints) - 1
        inks = any(tints)
        for plate, tint in enumerate(tints):
            if tint is None:
                continue
            spot = 0 < plate < last
            if tint > 0:
                # Ink far from everything that will be rendered changes nothing there; a spot's ink counts anywhere.
                inked[plate] = inked[plate] or spot or not self.writer.far(area)
                if spot:
                    self.seen.spot_areas.setdefault(plate, []).append(area())
            elif not inked[plate]:
                result[plate] = None
            elif spot and self.plates.names[plate] not in space.names:
                self._knock(plate, area(), result)
            if self.depth == 0 and (tint > 0 or not inks):
                self.seen.areas.setdefault(plate, []).append(area())
        return tuple(result)

    def _knock(self, plate: int, where: Area, result: list[float | None]) -> None:
        """Another mark's paper on a spot plate: does it meet the spot's ink?"""
        if self.writer.ignore_knockout:
            result[plate] = None
        if any(meets(where, other) for other in self.seen.spot_areas.get(plate, ())):
            self.seen.knocked.add(plate)

    # -- state --------------------------------------------------------------------------------------------------------

    def save(self, _: bytes) -> None:
        if self.canvas.in_text:
            raise Unreadable("q inside a text object")
        self.stack.append(self.state)
        self.state = self.state.copy()
        self.canvas.save()

    def restore(self, _: bytes) -> None:
        if not self.stack or self.canvas.in_text:
            raise Unreadable("Q without its q")
        self.state = self.stack.pop()
        self.canvas.restore()

    def concat(self, operands: bytes) -> None:
        a, b, c, d, e, f = lex.numbers(operands, 6)
        self.state.ctm = times((a, b, c, d, e, f), self.state.ctm)
        self.canvas.everywhere(operands + b"cm ")

    def graphics_state(self, operands: bytes) -> None:
        found = self.resources.graphics_state(lex.name(operands))
        state = self.state
        if found.op is not None:
            state.op = found.op
        if found.stroke_op is not None:
            state.stroke_op = found.stroke_op
        if found.opm is not None:
            state.opm = found.opm
        if found.width is not None:
            state.width = found.width
        if found.mitre is not None:
            state.mitre = found.mitre
        if found.rest:
            self.canvas.text_state(found.rest)

    def set_space(self, operands: bytes, fill: bool) -> None:
        space = self.resources.space(lex.name(operands))
        colour = None if space.kind == "pattern" else space.initial
        if fill:
            self.state.fill_space, self.state.fill = space, colour
        else:
            self.state.stroke_space, self.state.stroke = space, colour

    def set_colour(self, operands: bytes, fill: bool) -> None:
        numbers, names = lex.names_and_numbers(operands)
        space = self.state.fill_space if fill else self.state.stroke_space
        colour = None if names or space.kind == "pattern" else tuple(numbers)
        if fill:
            self.state.fill = colour
        else:
            self.state.stroke = colour

    def set_device(self, operands: bytes, space: Space, fill: bool) -> None:
        colour = tuple(lex.numbers(operands, space.size))
        if self.resources.redefined:
            raise Unreadable("a device colour space is redefined")
        if fill:
            self.state.fill_space, self.state.fill = space, colour
        else:
            self.state.stroke_space, self.state.stroke = space, colour

    def begin_marked(self, operands: bytes) -> None:
        parts = operands.split(None, 1)
        layered = len(parts) == 2 and parts[0] == b"/OC"
        self.layers.append(self.resources.layer(lex.name(parts[1])) if layered else None)

    def end_marked(self, _: bytes) -> None:
        if not self.layers:
            raise Unreadable("EMC without its BMC")
        self.layers.pop()


def _rgb(_: Walk, __: bytes) -> None:
    raise Unreadable("a colour is set in RGB: no plate prints it")


def _inline(_: Walk, __: bytes) -> None:
    raise InlinePicture


class InlinePicture(Exception):
    """The stream holds a picture of its own."""


def _measure(attribute: str, operator: bytes) -> Handler:
    def handle(walk: Walk, operands: bytes) -> None:
        (value,) = lex.numbers(operands, 1)
        setattr(walk.state, attribute, value)
        walk.canvas.text_state(operands + operator + b" ")

    return handle


def _copy(operator: bytes) -> Handler:
    return lambda walk, operands: walk.canvas.text_state(operands + operator + b" ")


def _ignore(_: Walk, __: bytes) -> None:
    return None


STATES: dict[bytes, Handler] = {
    b"q": Walk.save,
    b"Q": Walk.restore,
    b"cm": Walk.concat,
    b"gs": Walk.graphics_state,
    b"cs": lambda walk, operands: walk.set_space(operands, fill=True),
    b"CS": lambda walk, operands: walk.set_space(operands, fill=False),
    b"k": lambda walk, operands: walk.set_device(operands, CMYK, fill=True),
    b"K": lambda walk, operands: walk.set_device(operands, CMYK, fill=False),
    b"g": lambda walk, operands: walk.set_device(operands, GRAY, fill=True),
    b"G": lambda walk, operands: walk.set_device(operands, GRAY, fill=False),
    b"w": _measure("width", b"w"),
    b"M": _measure("mitre", b"M"),
    b"rg": _rgb,
    b"RG": _rgb,
    b"BI": _inline,
    b"BDC": Walk.begin_marked,
    b"BMC": Walk.begin_marked,
    b"EMC": Walk.end_marked,
    **{operator: (lambda walk, operands: walk.set_colour(operands, fill=True)) for operator in (b"sc", b"scn")},
    **{operator: (lambda walk, operands: walk.set_colour(operands, fill=False)) for operator in (b"SC", b"SCN")},
    **{operator: _copy(operator) for operator in (b"J", b"j", b"d")},
    **dict.fromkeys((b"i", b"ri", b"MP", b"DP", b"BX", b"EX"), _ignore),
}
