"""Text operators: where type stands, what ink it has, and on which copies it appears (ISO 32000-2, 9).

Not here: fonts (`fonts`), words and lines (`shown`).

A show that a plate does not print is left out of its copy; if the next show continues from its end without a move, it
is put back in front of that one as invisible text, so that places stay exact.
"""

from __future__ import annotations

from vdp.verify import lex
from vdp.verify.doubt import Unreadable
from vdp.verify.fonts import SourceFont
from vdp.verify.inks import Tints
from vdp.verify.rewrite import Handler, Walk
from vdp.verify.state import EVERYWHERE, IDENTITY, Area, State, times
from vdp.verify.view import Show

Point = tuple[float, float]


def _begin(walk: Walk, _: bytes) -> None:
    if walk.canvas.in_text:
        raise Unreadable("BT inside a text object")
    walk.tm = walk.line = IDENTITY
    _moved(walk)
    walk.canvas.begin_text()


def _end(walk: Walk, _: bytes) -> None:
    if not walk.canvas.in_text:
        raise Unreadable("ET without its BT")
    _moved(walk)
    walk.canvas.end_text()


def _moved(walk: Walk) -> None:
    """The place is set anew: what stands behind no longer matters."""
    walk.placed = True
    walk.passed.clear()
    for tokens in walk.behind:
        tokens.clear()


def _font(walk: Walk, operands: bytes) -> None:
    numbers, names = lex.names_and_numbers(operands)
    if len(numbers) != 1 or len(names) != 1:
        raise Unreadable("Tf takes a font and a size")
    state = walk.state
    state.font, state.size = walk.resources.font(names[0]), numbers[0]
    state.font_name = walk.writer.out.font(state.font.source)
    walk.canvas.text_state(state.font_name + b" %g Tf " % numbers[0])


def _number(attribute: str, operator: bytes, scale: float = 1.0) -> Handler:
    def handle(walk: Walk, operands: bytes) -> None:
        (value,) = lex.numbers(operands, 1)
        setattr(walk.state, attribute, value * scale)
        walk.canvas.text_state(operands + operator + b" ")

    return handle


def _rendering(walk: Walk, operands: bytes) -> None:
    (value,) = lex.numbers(operands, 1)
    if value not in (0, 1, 2, 3):
        raise Unreadable("text is used as a clipping path")
    walk.state.rendering = int(value)
    walk.canvas.text_state(operands + b"Tr ")


def _shift(walk: Walk, x: float, y: float) -> None:
    walk.line = times((1.0, 0.0, 0.0, 1.0, x, y), walk.line)
    walk.tm = walk.line
    _moved(walk)


def _move(walk: Walk, operands: bytes) -> None:
    x, y = lex.numbers(operands, 2)
    _shift(walk, x, y)
    walk.canvas.everywhere(operands + b"Td ")


def _move_leading(walk: Walk, operands: bytes) -> None:
    x, y = lex.numbers(operands, 2)
    walk.state.leading = -y
    walk.canvas.text_state(b"%.6g TL " % -y)
    _shift(walk, x, y)
    walk.canvas.everywhere(operands + b"Td ")


def _matrix(walk: Walk, operands: bytes) -> None:
    a, b, c, d, e, f = lex.numbers(operands, 6)
    walk.tm = walk.line = (a, b, c, d, e, f)
    _moved(walk)
    walk.canvas.everywhere(operands + b"Tm ")


def _next_line(walk: Walk, _: bytes) -> None:
    _shift(walk, 0.0, -walk.state.leading)
    walk.canvas.everywhere(b"T* ")


def _quote(walk: Walk, operands: bytes) -> None:
    _next_line(walk, b"")
    _show(walk, operands)


def _double_quote(walk: Walk, operands: bytes) -> None:
    words = operands.split(None, 2)
    if len(words) != 3:
        raise Unreadable('the operator " takes two numbers and a string')
    word, letter = lex.numbers(words[0] + b" " + words[1], 2)
    walk.state.word_spacing, walk.state.spacing = word, letter
    walk.canvas.text_state(words[0] + b" Tw " + words[1] + b" Tc ")
    _quote(walk, words[2])


def _show_array(walk: Walk, operands: bytes) -> None:
    if not operands.lstrip().startswith(b"["):
        raise Unreadable("TJ takes an array")
    _show(walk, operands, b"TJ ")


def _show(walk: Walk, operands: bytes, operator: bytes = b"Tj ") -> None:
    state, canvas = walk.state, walk.canvas
    font = state.font
    if font is None or not canvas.in_text:
        raise Unreadable("text is shown without a font or outside a text object")
    if walk.passed:
        _advance(walk)
    # The rise is left out: what is noted is the baseline, and `_reach` is wide enough for it.
    page = times(walk.tm, state.ctm)
    scale = state.size * state.stretch
    along = (page[0] * scale, page[1] * scale)
    mode = state.rendering
    nothing: Tints = (None,) * len(walk.inked)
    fills = strokes = nothing
    if mode == 2 and (state.op or state.stroke_op):
        raise Unreadable("text is filled and stroked at once while overprinting")
    if mode in (0, 2):
        fills = walk.ink(fill=True)
    if mode in (1, 2):
        strokes = walk.ink(fill=False)
    tints, space, colour = (
        (strokes, state.stroke_space, state.stroke) if mode == 1 else (fills, state.fill_space, state.fill)
    )
    at = (page[4], page[5])
    walk.seen.shows.append(Show(font, operands, at, along, walk.placed, space, colour or (), tints, walk.depth))
    reach = _reach(state, font, operands, at, along, (page[2] * state.size, page[3] * state.size))

    def area() -> Area:
        return reach

    fills = walk.note(fills, state.fill_space, area) if mode in (0, 2) else nothing
    strokes = walk.note(strokes, state.stroke_space, area) if mode in (1, 2) else nothing
    far = walk.placed and font.by_glyph and walk.writer.far(area)
    token = operands + operator
    for plate, behind in enumerate(walk.behind):
        fill, stroke = fills[plate], strokes[plate]
        if far or (fill is None and stroke is None):
            behind.append(token)
            continue
        if behind:
            canvas.outs[plate].append(b"3 Tr " + b"".join(behind) + b"%d Tr " % mode)
            behind.clear()
        canvas.paint(plate, token, fill, stroke)
    walk.passed.append((font, operands, state.size, state.spacing, state.stretch))


def _advance(walk: Walk) -> None:
    """Moves on by what was shown since the last move; only asked for if another show follows without one."""
    width = 0.0
    for font, operands, size, spacing, stretch in walk.passed:
        if not font.by_glyph:
            walk.placed = False
            break
        glyphs = lex.measured(operands)
        ems = (font.width(glyphs.gids) - glyphs.adjustment) / 1000
        width += (ems * size + spacing * (len(glyphs.gids) // 2)) * stretch
    walk.passed.clear()
    walk.tm = times((1.0, 0.0, 0.0, 1.0, width, 0.0), walk.tm)


def _reach(state: State, font: SourceFont, operands: bytes, at: Point, along: Point, up: Point) -> Area:
    """An area that surely holds the show: every glyph as wide as the widest, two ems around, adjustments counted twice.

    A font whose codes are not glyph ids reaches everywhere.
    """
    if not font.by_glyph:
        return EVERYWHERE
    glyphs = lex.measured(operands)
    count = len(glyphs.gids) // 2
    ems = (count * font.widest + glyphs.adjustments) / 1000 + 2
    high = 2.0
    if state.size and (state.spacing or state.word_spacing or state.raised):
        ems += count * (abs(state.spacing) + abs(state.word_spacing)) / abs(state.size)
        high += abs(state.raised / state.size)
    across = (abs(up[0]) * high, abs(up[1]) * high)
    xs = (at[0] - 2 * along[0], at[0] + ems * along[0])
    ys = (at[1] - 2 * along[1], at[1] + ems * along[1])
    return (min(xs) - across[0], min(ys) - across[1], max(xs) + across[0], max(ys) + across[1])


TEXT: dict[bytes, Handler] = {
    b"BT": _begin,
    b"ET": _end,
    b"Tf": _font,
    b"Tc": _number("spacing", b"Tc"),
    b"Tw": _number("word_spacing", b"Tw"),
    b"Tz": _number("stretch", b"Tz", 0.01),
    b"Ts": _number("raised", b"Ts"),
    b"TL": _number("leading", b"TL"),
    b"Tr": _rendering,
    b"Td": _move,
    b"TD": _move_leading,
    b"Tm": _matrix,
    b"T*": _next_line,
    b"Tj": _show,
    b"TJ": _show_array,
    b"'": _quote,
    b'"': _double_quote,
}
