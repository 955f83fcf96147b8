"""UAX #14 against Unicode's LineBreakTest.txt (15.0, Debian package unicode-data), and chunks judged alone against ICU
on the whole text."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from itertools import accumulate, product

import icu
import pytest

from vdp.text.breaks import BREAK_SPACES, Breaker, plain_script, split_paragraphs
from vdp.text.languages import read_language

# Where ICU 77.1, which follows Unicode 16, differs from the file, which is Unicode 15.0; rules of UAX #14 that changed
# in between.
ALLOWED = {
    # LB20a (16.0): no break after a hyphen at the start of a word; Thai resolves to AL (LB1).
    "LB20a": "002D 0023|002D 0308 0023|002D 00A7|002D 0308 00A7|002D 50005|002D 0308 50005|002D 0E01|002D 0308 0E01",
    # LB25 (16.0): no break between a stop and a number.
    "LB25": "002C 0030|002C 0308 0030|0061 002E 0032 0020|0061 002E 0032 0020 0915|0061 002E 0032 0020 672C|"
    "0061 002E 0032 3000 672C|0061 002E 0032 3000 307E|0061 002E 0032 3000 0033|0041 002E 0031 0020 BABB|"
    "BD24 C5B4 002E 0020 0041 002E 0032 0020 BCFC|BD10 C694 002E 0020 0041 002E 0033 0020 BABB|"
    "C694 002E 0020 0041 002E 0034 0020 BABB|0061 002E 0032 3000 300C",
    # LB15 (15.1: gone): a quotation mark no longer holds a bracket after spaces.
    "LB15": "0022 0020 2329|0022 0308 0020 2329|0022 0020 0028|0022 0308 0020 0028|"
    "0061 006D 0062 0069 0067 0075 00AB 0020 0028 0020 0308 0020 0029 0020 00BB 0028 0065 0308 0029|"
    "0061 006D 0062 0069 0067 0075 00AB 0020 007B 0020 0308 0020 007D 0020 00BB 0028 0065 0308 0029",
    # LB15a and LB15b (15.1): an initial quotation mark holds what follows, a final one what comes before.
    "LB15a": "0061 006D 0062 0069 0067 0075 0028 00AB 0020 0308 0020 00BB 0029 0028 0065 0308 0029|"
    "0061 006D 0062 0069 0067 0075 007B 00AB 0020 0308 0020 00BB 007D 0028 0065 0308 0029",
    # LB15c (16.0): a break before a decimal point after a space.
    "LB15c": "0065 0071 0075 0061 006C 0073 0020 002E 0033 0035 0020 0063 0065 006E 0074 0073",
    # LB21a (16.0): a break after a hyphen between Hebrew letters.
    "LB21a": "05D0 002D 05D0",
}


def test_unicode_line_break_test(unicode_lines: Callable[[str], list[str]]) -> None:
    lines = unicode_lines("auxiliary/LineBreakTest.txt")
    assert len(lines) > 7_000
    breaker = Breaker(read_language(""))
    differing = set()
    for line in lines:
        text = ""
        wanted = []
        for sign in line.split():
            if sign == "÷":
                wanted.append(len(text))
            elif sign != "×":
                text += chr(int(sign, 16))
        if breaker.opportunities(text) != wanted:
            differing.add(" ".join(f"{ord(char):04X}" for char in text))
    assert differing <= set("|".join(ALLOWED.values()).split("|"))


def _samples() -> list[str]:
    """Two characters of each line breaking class, split further by what the rules ask about (UAX #14: general category
    of quotation marks, East Asian width), and the marks that texts are full of."""
    groups: dict[tuple[int, int, bool], list[str]] = {}
    line_break, wide = icu.UProperty.LINE_BREAK, icu.UProperty.EAST_ASIAN_WIDTH
    quotation = icu.Char.getPropertyValueEnum(line_break, "QU")
    fullwidth = {icu.Char.getPropertyValueEnum(wide, name) for name in ("F", "W", "H")}
    for code in [*range(0x21, 0xD800), *range(0xE000, 0x20000)]:
        char = chr(code)
        kind = icu.Char.charType(char)
        if kind != icu.UCharCategory.UNASSIGNED:
            found = icu.Char.getIntPropertyValue(char, line_break)
            is_wide = icu.Char.getIntPropertyValue(char, wide) in fullwidth
            groups.setdefault((found, kind if found == quotation else 0, is_wide), []).append(char)
    chosen = [char for group in groups.values() for char in (group[0], group[len(group) // 2])]
    chosen += "-‐–—…“”„‘’«»‹›\"'()[]{}!?.,:;/%$€+°№0123\u00a0\u202f\u2060\u200b\u200d\u00ad"
    return [char for char in dict.fromkeys(chosen) if not re.match("[\n\r\x0b\x0c\x85\u2028\u2029]", char)]


def _judge_by_chunks(breaker: Breaker, text: str) -> list[int] | None:
    """Opportunities as found chunk by chunk, None where a chunk does not stand alone."""
    chunks = re.findall(r" *[^ ]+ *| +", text)
    if not all(map(breaker.stands_alone, chunks)):
        return None
    starts = [0, *accumulate(map(len, chunks))]
    return [start + at for start, chunk in zip(starts, chunks, strict=False) for at in breaker.opportunities(chunk)]


@pytest.mark.parametrize("language", ["en", "ja"])
def test_chunks_that_stand_alone_give_the_breaks_of_the_whole(language: str) -> None:
    breaker = Breaker(read_language(language))
    samples = _samples()
    texts = [
        text
        for end, start in product(samples, repeat=2)
        for text in (f"a{end} {start}b", f"a {start}{end} c", f"7{end}  {start}7")
    ]
    chance = random.Random(14)
    texts += ["".join(chance.choices([*samples, *" " * 40], k=chance.randint(1, 9))) for _ in range(10_000)]
    judged = 0
    for text in texts:
        by_chunks = _judge_by_chunks(breaker, text)
        if by_chunks is not None:
            judged += 1
            assert by_chunks == breaker.opportunities(text), ascii(text)
    assert judged > len(texts) // 3


@pytest.mark.parametrize("language", ["en", "fr", "ja", "zh", "ko", "th", "ar"])
def test_plain_words_have_no_break_within(language: str) -> None:
    breaker = Breaker(read_language(language))
    plain = 0
    for code in range(0x20, 0x260):
        char = chr(code)
        for chunk in (char, f"a{char}", f"{char}1 ", f"1{char}. ", f"{char}),!  "):
            if plain_script(chunk):
                plain += 1
                assert breaker.opportunities(chunk) == [len(chunk)]
                assert breaker.stands_alone(chunk)
    assert plain > 2_000


def test_what_does_not_stand_alone() -> None:
    breaker = Breaker(read_language("en"))
    for chunk in ("( ", "“ ", "» ", ") ", ". ", "— ", "々", " ", ""):
        assert not breaker.stands_alone(chunk), chunk
    for chunk in ("word ", "(word) ", "“word” ", "one-way ", "– ", ".5 ", "ไทย ", "漢字。"):
        assert breaker.stands_alone(chunk), chunk


def test_thai_breaks_at_words_of_the_dictionary() -> None:
    # "Ferry | leaves | pier": words as any Thai dictionary has them; the rules alone give no break here.
    text = "เรือออกจากท่าเรือ"
    assert Breaker(read_language("th")).opportunities(text) == [4, 7, 10, 17]


def test_offsets_are_by_code_point() -> None:
    breaker = Breaker(read_language("en"))
    assert breaker.opportunities("\U0001f600 a \U0001f600\U0001f600 b") == [2, 4, 5, 7, 8]
    assert breaker.opportunities("a b \U0001f600") == [2, 4, 5]
    assert breaker.opportunities("") == []


def test_letters_that_join_are_not_parted() -> None:
    breaker = Breaker(read_language("ar"))
    assert breaker.opportunities("سف\u00adينة أ") == [3, 7, 8]
    assert breaker.usable("سف\u00adينة أ") == [7, 8]
    assert breaker.usable("سفـُ\u200bينة") == [8]
    assert breaker.usable("سف-a\u00adb") == [3, 5, 6]
    assert breaker.usable("\u200bسفن") == [1, 4]
    assert breaker.usable("ab\u00adc") == [3, 4]


def test_paragraphs() -> None:
    assert split_paragraphs("") == []
    assert split_paragraphs("a") == ["a"]
    assert split_paragraphs("a\r\n\nb\u2028c\x85d\n\n") == ["a", "", "b", "c", "d"]
    assert split_paragraphs("\na") == ["", "a"]
    assert split_paragraphs("é\u2029ß") == ["é", "ß"]


def test_break_spaces_allow_a_break_and_no_other_space_does() -> None:
    breaker = Breaker(read_language("en"))
    spaces = [chr(code) for code in range(0x3001) if chr(code).isspace() and split_paragraphs(f"{chr(code)}a")[0]]
    for space in [*spaces, "\u200b"]:
        breaks = 2 in breaker.opportunities(f"a{space}b")
        assert breaks == (space in BREAK_SPACES or space == "\t"), ascii(space)


@pytest.mark.parametrize("language", ["en", "de", "fi", "sv", "el", "ar", "he", "ja", "zh-Hant", "th", "ko", ""])
@pytest.mark.parametrize("chunk", ["01234-0123 ", "1-2", "12-31, ", "2026-03.) "])
def test_two_numbers_with_a_hyphen_are_one_plain_chunk(language: str, chunk: str) -> None:
    breaker = Breaker(read_language(language))
    assert plain_script(chunk)
    assert breaker.opportunities(chunk) == [len(chunk)]
    assert breaker.stands_alone(chunk)
    assert not plain_script(f"-{chunk}")
    assert not plain_script(f"a-{chunk}")
