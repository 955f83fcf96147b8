"""Bounds of widths: never below the width, whatever was met before, and none of what HarfBuzz must be asked about."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.job.faces import builtin_faces
from vdp.text import Faces
from vdp.text.bounds import Bounds
from vdp.text.shape import Shaper
from vdp.text.spell import Speller

FACES = Faces(builtin_faces())
LETTERS = "AVTWYfilojr1290-.,' (ßłÖé"


def informed(face: str, met: str = LETTERS) -> Speller:
    """A speller that was asked for these letters again and again."""
    speller = Shaper(FACES).speller(face, "Latn", "en")
    for letter in met:
        speller.reach(letter, closely=False)
    for _ in range(100):
        speller.reach(met.replace("f", ""), closely=False)
    return speller


SPELLERS = [informed(face) for face in ("sans", "serif-italic", "mono")]


@pytest.mark.parametrize("speller", SPELLERS)
@given(text=st.text(st.sampled_from(LETTERS), min_size=1, max_size=16))
@settings(max_examples=150, deadline=None)
def test_a_bound_is_never_less_than_the_width(speller: Speller, text: str) -> None:
    bound, width = speller.bounds.of(text), speller.reach(text, closely=True)
    assert (bound is None) == (width is None)
    if bound is not None and width is not None:
        assert bound >= width - 1e-9
        spelled = speller.spell(text)
        assert spelled is not None
        assert width == spelled.width


def test_ligatures_are_known_apart() -> None:
    speller = SPELLERS[0]
    assert speller.bounds.of("for") is not None
    assert speller.bounds.of("of fir") is None
    assert speller.reach("of fir", closely=False) is None


def test_nothing_is_known_before_letters_are_met_often() -> None:
    speller = Shaper(FACES).speller("sans", "Latn", "en")
    assert speller.bounds.of("A") is None
    for _ in range(47):
        assert speller.reach("AV", closely=False) == speller.reach("AV", closely=True)
    assert not speller.bounds.widest


def test_letters_that_come_later_are_taken_in() -> None:
    speller = informed("sans", "AV")
    assert sorted(speller.bounds.widest) == ["A", "V"]
    own = speller.reach("A", closely=True)
    for _ in range(100):
        speller.reach("Tz", closely=False)
    assert sorted(speller.bounds.widest) == ["A", "T", "V", "z"]
    assert speller.bounds.widest["A"] == own


def test_a_letter_that_is_not_itself_among_others_is_never_known() -> None:
    """HarfBuzz here draws x beside anything as another glyph, and widens a before b."""

    def ask(text: str) -> tuple[list[int], list[int]] | None:
        if "xb" in text:
            return None
        glyphs = [9 if char == "x" and len(text) > 2 else ord(char) for char in text]
        return glyphs, [700 if pair == "ab" else 500 for pair in (text[at : at + 2] for at in range(len(text)))]

    bounds = Bounds({char: (ord(char), 500.0) for char in "abx"}, (), ask, 1.0)
    for _ in range(200):
        bounds.wanted("abx")
    assert bounds.widest == {"a": 700.0, "b": 500.0}
    assert bounds.of("bb") == 1000.0
    assert bounds.of("ax") is None
