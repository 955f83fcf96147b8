"""Pages drawn together are byte for byte what each of them is alone."""

from __future__ import annotations

import random
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.pdf.made import CLEAR, FACES, SETTER, glyphs, renderer
from vdp.marks import (
    BLACK,
    Bars,
    Column,
    FillMark,
    FormMark,
    Glyphs,
    ImageMark,
    Ink,
    Line,
    Mark,
    Matrix,
    Refrain,
    StateDots,
    States,
    Stretch,
    StrokeMark,
    SymbolMark,
    TextMark,
)
from vdp.pdf.alike import group_alike
from vdp.pdf.text import GlyphTexts, unite_glyphs
from vdp.text import Style

ASSETS = ("form:x", "form:y", "image:z")
TURNS = st.sampled_from((0, 90, 180, 270))

#: Equal ones among them that are not the same.
INKS = st.sampled_from(
    (
        BLACK,
        Ink("", 0.0, (0.0, 0.0, 0.0, 1.0)),
        Ink("", 0.0, (0.0, 1.0, 0.5, 0.0)),
        Ink("", 0.0, (0.0, 0.0, 0.0, 0.4), over=True),
        CLEAR,
        CLEAR._replace(tint=0.3),
        Ink("Varnish", 1.0, (0.0, 0.0, 0.0, 0.0)),
        Ink("Varnish", 1.0, (0.0, 0.0, 0.0, 0.0), over=True),
    )
)
BOXES = st.tuples(*[st.sampled_from((0, 7, 120))] * 2, *[st.sampled_from((60, 240))] * 2)

#: A rise, and an adjustment at either end of a run.
RISEN = Glyphs("sans", (5, 6), (500.0, 0.0), (500.0, 0.0), ((0.0, 0.0), (10.0, 90.0)), ("a", "b"), 500.0, "ab", False)
RAGGED = Glyphs(
    "sans", (7, 8), (480.0, 450.0), (500.0, 500.0), ((9.0, 0.0), (0.0, 0.0)), ("c", "d"), 930.0, "cd", False
)
ENDING = Glyphs("sans", (7, 8), (480.0, 450.0), (500.0, 500.0), (), ("c", "d"), 930.0, "cd", False)

#: (text, face, language)
WORDS = (
    ("AVA Wave", "sans", "en"),
    ("To Anna", "sans-bold", "en"),
    ("Zoë Ÿ", "sans", "de"),
    ("مرحبا 12 AVA", "sans", "ar"),
    ("لا إله", "arabic", "ar"),
    ("שלום", "hebrew", "he"),
    ("क्षत्रिय", "devanagari", "hi"),
    ("ที่นี่", "thai", "th"),
)


@cache
def shaped(nth: int) -> tuple[str, tuple[Stretch, ...]]:
    text, face, language = WORDS[nth]
    return text, glyphs(text, face, language)


@st.composite
def lines(draw: st.DrawFn) -> list[Line]:
    found = []
    for at in range(draw(st.integers(0, 3))):
        if draw(st.booleans()):
            text, run = shaped(draw(st.integers(0, len(WORDS) - 1)))
        elif draw(st.booleans()):
            serial = f"S{draw(st.integers(0, 30))}"
            text, run = serial, glyphs(serial)
        else:
            text, run = "more", draw(st.sampled_from(((RISEN,), (RAGGED, ENDING), (ENDING,), ())))
        again = draw(st.integers(1, 3))
        found.append(Line(100, 300 - 20 * at, run * again, text * again))
        if draw(st.booleans()):
            found.append(found[-1]._replace(y=90))
    return found


@st.composite
def columns(draw: st.DrawFn) -> Column:
    style = Style("sans", 4, leading=5, align="left", turn=draw(TURNS))
    text = draw(st.sampled_from(("To Anna\n\n12 AV Quay\n7", "AV", "Wave 7\nTo", f"N {draw(st.integers(0, 9))}")))
    setting = SETTER.set(text, style, "en", (200, 100, 500, 450)).lines
    assert isinstance(setting, Column)
    return setting


@st.composite
def symbols(draw: st.DrawFn) -> SymbolMark:
    chance = random.Random(draw(st.integers(0, 5)))
    turn, ink, box = draw(TURNS), draw(INKS), draw(BOXES)
    reduction = draw(st.sampled_from(((0, 0), (0, 0), (1, 0), (0, 2), (2, 3))))
    match draw(st.integers(0, 2)):
        case 0:
            width, height = draw(st.sampled_from(((8, 8), (21, 21), (36, 16), (70, 4))))
            shape = Matrix(width, tuple(chance.getrandbits(width) for _ in range(height)))
            return SymbolMark("m", ink, box, turn, 6, (6, 6, 6, 6), 0, shape, reduction=reduction)
        case 1:
            bars = Bars(bytes(chance.choices(range(1, 5), k=chance.randrange(20))))
            return SymbolMark("b", ink, box, turn, 6, (60, 0, 60, 0), 50, bars, reduction=reduction)
        case _:
            states = States("".join(chance.choices("FADT", k=12)))
            return SymbolMark("s", ink, box, turn, 6, (6, 6, 6, 6), 0, states, StateDots(40, 20, 20, 30))


MARKS: st.SearchStrategy[Mark] = st.one_of(
    st.builds(FillMark, st.just("f"), INKS, BOXES),
    st.builds(StrokeMark, st.just("l"), INKS, st.just((1, 2)), st.sampled_from(((3, 4), (9, 9))), st.integers(1, 2)),
    st.builds(ImageMark, st.just("i"), st.sampled_from(ASSETS), BOXES, TURNS, st.one_of(st.none(), BOXES)),
    st.builds(FormMark, st.just("x"), st.sampled_from(ASSETS)),
    st.builds(TextMark, st.just("t"), INKS, BOXES, TURNS, st.sampled_from((4.0, 0.7)), lines()),
    st.builds(TextMark, st.just("c"), INKS, BOXES, TURNS, st.sampled_from((4.0, 0.7)), columns()),
    symbols(),
)


@st.composite
def batches(draw: st.DrawFn) -> list[list[Mark]]:
    """Some pages, each again once or twice with one of its marks changed, and anything between them."""
    pages: list[list[Mark]] = []
    for page in draw(st.lists(st.lists(MARKS, max_size=5), min_size=1, max_size=4)):
        pages.append(page)
        for _ in range(draw(st.integers(0, 2)) if page else 0):
            at = draw(st.integers(0, len(page) - 1))
            pages.append([*page[:at], draw(MARKS), *page[at + 1 :]])
    return draw(st.permutations(pages)) * draw(st.sampled_from((1, 8)))


@settings(max_examples=80, deadline=None)
@given(batches(), st.integers(1, 5))
def test_pages_together_are_what_each_is_alone(pages: list[list[Mark]], cut: int) -> None:
    together = renderer(FACES, ASSETS)
    streams = together.render(pages)
    used: GlyphTexts = {}
    for page, stream in zip(pages, streams, strict=True):
        alone = renderer(FACES, ASSETS)
        assert alone.render([page]) == [stream]
        unite_glyphs(used, alone.glyphs)
    assert used == together.glyphs
    pieces = renderer(FACES, ASSETS)
    assert [*pieces.render(pages[:cut]), *pieces.render(pages[cut:])] == streams


def test_a_line_is_drawn_in_its_own_size_and_with_its_own_text() -> None:
    """The same glyphs on two pages, with a rise that goes by the size, and said by another text."""
    line, lam = Line(1, 2, (RISEN,), "cd"), glyphs("क्षत्रिय", "devanagari", "hi")
    pages: list[list[Mark]] = [
        [TextMark("t", BLACK, (0, 0, 9, 9), 0, size, [line, Line(3, 4, lam, said), Line(5, 6, lam, f"{said}!")])]
        for size, said in ((4.0, "a"), (8.0, "a"), (4.0, "b"))
    ]
    streams = renderer(FACES).render(pages)
    assert streams == [renderer(FACES).render([page])[0] for page in pages]
    assert [b"6 Ts" in stream for stream in streams] == [True, False, True]
    for stream, said in zip(streams, "aab", strict=True):
        for text in (said, f"{said}!"):
            assert b"<FEFF" + text.encode("utf-16-be").hex().upper().encode() + b">" in stream


def test_a_form_is_a_page_without_its_scale() -> None:
    marks: list[Mark] = [FillMark("a", CLEAR, (1, 2, 3, 4)), TextMark("t", BLACK, (0, 0, 9, 9), 0, 4.0, [])]
    page = renderer().render([marks])[0]
    assert page == b"0.06 0 0 0.06 0 0 cm\n" + renderer().render_form(marks)
    assert renderer().render_form([]) == b""
    assert renderer().render([]) == []


def test_pages_are_alike_in_kinds_and_inks() -> None:
    """A group each for: the same kinds in equal inks, other inks, other kinds; pictures may differ."""

    def page(ink: Ink, asset: str) -> list[Mark]:
        return [FormMark("x", asset), FillMark("f", ink, (1, 2, 3, 4))]

    pages = [page(BLACK, "form:x"), page(CLEAR, "form:x"), page(Ink(*BLACK), "form:y"), page(BLACK, "form:y")[:1]]
    assert sorted(alike.places for alike in group_alike(pages)) == [[0, 2], [1], [3]]
    pages = [page(BLACK, "form:x"), page(Ink(*BLACK), "form:y")]
    assert [alike.columns[0] for alike in group_alike(pages)] == [(pages[0][0], pages[1][0])]


@pytest.mark.parametrize("mark", [SymbolMark("p", BLACK, (0, 0, 9, 9), 0, 6, (0, 0, 0, 0), 0, States("FADT"))])
def test_what_no_plan_asks_for_is_our_bug(mark: SymbolMark) -> None:
    from vdp.errors import OurBug

    with pytest.raises(OurBug, match="p: a four-state symbol without sizes"):
        renderer().render([[mark]])
    with pytest.raises(OurBug, match="p: a four-state symbol cannot be reduced"):
        renderer().render([[mark._replace(reduction=(1, 0))]])
    with pytest.raises(OurBug, match="100 modules"):
        renderer().render([[mark._replace(shape=Bars(b"\1\1d"))]])


@given(
    words=st.lists(st.integers(0, len(WORDS) - 1), min_size=1, max_size=3),
    odd=st.lists(st.sampled_from((RISEN, RAGGED, ENDING)), max_size=1),
    repeats=st.integers(1, 3),
    rest=st.integers(0, 2),
    spots=st.lists(st.tuples(st.integers(0, 99), st.integers(0, 99)), min_size=1, max_size=3),
    turn=TURNS,
)
def test_a_refrain_is_drawn_as_its_lines_are(
    words: list[int],
    odd: list[Glyphs],
    repeats: int,
    rest: int,
    spots: list[tuple[int, int]],
    turn: int,
) -> None:
    parts: tuple[Stretch, ...] = (*odd, *[part for word in words for part in shaped(word)[1]])
    refrain = Refrain(spots, parts, repeats, parts[:rest])
    assert len(refrain) == len(spots)
    assert refrain[0].text == "".join([part.text for part in parts]) * repeats + "".join(p.text for p in parts[:rest])
    mark = TextMark("micro", BLACK, (0, 0, 9, 9), turn, 0.7, refrain)
    one, other = renderer(), renderer()
    assert one.render([[mark]]) == other.render([[mark._replace(lines=[*refrain])]])
    assert one.glyphs == other.glyphs
