"""Letters looked up together give what each text gives letter by letter."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.pdf.codes import Coder
from vdp.pdf.objects import number_text


class Alphabet:
    """Letters that are kerned before some others, and some of them at the end of a text."""

    def __init__(self, face: str, kern: float = 20.5) -> None:
        self.face = face
        self._kern = kern

    def place(self, pair: str) -> tuple[int, float, float]:
        first, last = ord(pair[0]), ord(pair[-1])
        kerned = (first + last) % 5 == 0 if len(pair) == 2 else first % 7 == 0
        return first % 0xFFFF, 500.0 - self._kern * kerned * (1 + first * last % 50), 500.0

    def broadest(self, text: str) -> float:
        raise LookupError(text)


def spelled(letters: Alphabet, text: str) -> str:
    """The fragment as ISO 32000-1 asks for it: a string a line, moved back by what the advance is less."""
    lines = []
    for line in text.split("\n"):
        shown = ""
        for pair in (*map("".join, pairwise(line)), line[-1:]) if line else ():
            gid, advance, natural = letters.place(pair)
            shown += f"{gid:04X}" + (f">{number_text(natural - advance, 2)}<" if advance != natural else "")
        lines.append(shown)
    return ">]TJ T*[<".join(lines)


def coded(coder: Coder, letters: Alphabet, texts: Sequence[str]) -> list[str]:
    found = dict.fromkeys(texts, "")
    coder.fill({letters: found})
    return [found[text] for text in texts]


TEXTS = st.lists(st.text("ABCab 12éÀΩжя\n", min_size=1).filter(lambda text: text[0] != "\n"), min_size=1, max_size=30)


@settings(max_examples=60, deadline=None)
@given(TEXTS, TEXTS, st.integers(1, 40))
def test_any_number_of_texts_at_once(some: list[str], others: list[str], times: int) -> None:
    """Few are looked up one by one, many in numpy's way; faces do not mix."""
    one, other = Alphabet("one"), Alphabet("other", 7.25)
    coder, notes = Coder(lambda *note: notes.add(note)), set[tuple[str, int, str]]()
    for part in (some, some[::2], [text * times for text in some]):
        found, more = dict.fromkeys(part, ""), dict.fromkeys(others, "")
        coder.fill({one: found, other: more})
        assert found == {text: spelled(one, text) for text in part}
        assert more == {text: spelled(other, text) for text in others}
    assert {char for face, _, char in notes if face == "one"} == set("".join(some)) - {"\n"}
    assert {char for face, _, char in notes if face == "other"} == set("".join(others)) - {"\n"}


@pytest.mark.parametrize("count", [100, 127, 128, 500, 1023, 1024, 1500])
def test_alphabets_of_any_size(count: int) -> None:
    """Beyond as many letters as are numbered, texts are looked up one by one."""
    letters = Alphabet("sans")
    texts = ["".join(map(chr, range(0x4E00, 0x4E00 + count))) * 5, "abc" * 200, "\U00010400" * 400]
    coder = Coder(lambda *_: None)
    for part in (["abc" * 200], texts[:2], texts, texts[::-1]):
        assert coded(coder, letters, part) == [spelled(letters, text) for text in part]


def test_long_adjustments_and_many_pairs() -> None:
    letters, wide = Alphabet("sans", 1.25), Alphabet("wide", -12345678901.25)
    coder = Coder(lambda *_: None)
    texts = ["".join(chr(0x100 + first) + chr(0x100 + second) for second in range(80)) for first in range(80)]
    for alphabet in (letters, wide, letters):
        assert coded(coder, alphabet, texts) == [spelled(alphabet, text) for text in texts]


def test_more_fragments_than_are_numbered(monkeypatch: pytest.MonkeyPatch) -> None:
    """Then texts are looked up one by one, but for those whose pairs were all met before."""
    monkeypatch.setattr("vdp.pdf.codes._ROWS", 40)
    letters, coder = Alphabet("sans"), Coder(lambda *_: None)
    for texts in (["Abc b" * 99], ["".join(map(chr, range(0x21, 0x7F))) * 9, "xyz"], ["Abc b" * 99]):
        assert coded(coder, letters, texts) == [spelled(letters, text) for text in texts]
