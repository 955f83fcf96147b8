"""Words looked for by glyph ids: what counts as a word, what is found, what is left over."""

from __future__ import annotations

import pytest

from vdp.job.faces import builtin_faces
from vdp.text import Faces, Setter
from vdp.verify.fonts import SourceFont, to_unicode
from vdp.verify.inks import CMYK, Space
from vdp.verify.shown import Run
from vdp.verify.text import PageText, WantedInk, WantedText
from vdp.verify.words import Shaper, Word, words_of

FACES = ("sans", "arabic", "hebrew", "devanagari", "thai", "cjk", "mono")
BLACK = WantedInk("", 0.0, (0.0, 0.0, 0.0, 1.0))
BOX = (0.0, 0.0, 100.0, 50.0)


@pytest.fixture(scope="module")
def shapers() -> dict[str, Shaper]:
    files = builtin_faces()
    return {key: Shaper(files[key].path, files[key].axes, files[key].index) for key in FACES}


FONTS = {key: SourceFont(key, True, None) for key in FACES}  # type: ignore[arg-type]  # no PDF stands behind it


def run(
    key: str,
    gids: bytes,
    at: tuple[float, float] = (1.0, 1.0),
    colour: tuple[float, ...] = (0, 0, 0, 1),
    *,
    joined: bool = False,
    space: Space = CMYK,
) -> Run:
    return Run(FONTS[key], gids, at, (10.0, 0.0), space, colour, (1.0, None, None), 0, joined, spaced=False)


def wanted(text: str, language: str = "en", kind: str = "text", ink: WantedInk = BLACK) -> WantedText:
    return WantedText("item", 0, kind, BOX, text, language, ink)


def set_by_composer(text: str, key: str, language: str) -> list[Run]:
    """What the composer's own shaping shows of a text, as runs of one line."""
    setter = Setter(Faces(builtin_faces()), 1200)
    glyphs = setter.shape(text, key, language)
    return [
        run(part.face, b"".join(gid.to_bytes(2, "big") for gid in part.gids), joined=place > 0)
        for place, part in enumerate(glyphs)
    ]


def test_words_are_letters_of_one_script_or_digits() -> None:
    assert words_of("Dear Νίκος, 12,5 km²–Жук’s") == (
        Word("Dear", "LATIN"),
        Word("Νίκος", "GREEK"),
        Word("12", "DIGIT"),
        Word("5", "DIGIT"),
        Word("km", "LATIN"),
        Word("Жук", "CYRILLIC"),
        Word("s", "LATIN"),
    )
    assert words_of("\u0301 , !") == ()
    assert words_of("na\u0308ive") == (Word("na\u0308ive", "LATIN"),)
    assert words_of("ªb") == (Word("b", "LATIN"),)


TEXTS = [
    ("en", "sans", "Office AVATAR 2027, fifty-five waffles"),
    ("pl", "sans", "Zażółć gęślą jaźń"),
    ("vi", "sans", "Tiếng Việt đẹp"),
    ("el", "sans", "Γεια σας, Νίκο"),
    ("ar", "sans", "السلام عليكم 2027 إلى اللقاء"),
    ("he", "sans", "שָׁלוֹם עולם 12"),
    ("hi", "sans", "क्षत्रिय हिन्दी श्री"),
    ("th", "sans", "น้ำ ที่นี่ ภาษาไทย"),
    ("ja", "sans", "東京都千代田区 ひらがな カタカナ"),
    ("ko", "sans", "안녕하세요 세계"),
]


@pytest.mark.parametrize(("language", "face", "text"), TEXTS)
def test_what_the_composer_sets_is_found(language: str, face: str, text: str, shapers: dict[str, Shaper]) -> None:
    page = PageText(set_by_composer(text, face, language), shapers)
    assert page.look(wanted(text, language)) == []


@pytest.mark.parametrize(("language", "face", "text"), TEXTS)
def test_another_text_is_not_found(language: str, face: str, text: str, shapers: dict[str, Shaper]) -> None:
    word = words_of(text)[0].text
    page = PageText(set_by_composer(text.replace(word, ""), face, language), shapers)
    assert [code for code, _ in page.look(wanted(text, language))] == ["text-missing"]


def test_a_run_without_spaces_may_be_broken_between_lines(shapers: dict[str, Shaper]) -> None:
    text = "東京都千代田区丸の内"
    lines = [set_by_composer(part, "sans", "ja") for part in ("東京都千", "代田区丸", "の内")]
    page = PageText([piece for line in lines for piece in line], shapers)
    assert page.look(wanted(text, "ja")) == []
    page = PageText([piece for line in lines[:2] for piece in line], shapers)
    assert [code for code, _ in page.look(wanted(text, "ja"))] == ["text-missing"]


def test_a_word_is_taken_once(shapers: dict[str, Shaper]) -> None:
    page = PageText(set_by_composer("one one", "sans", "en"), shapers)
    assert page.look(wanted("one one one"))[0][0] == "text-missing"
    page = PageText(set_by_composer("one one", "sans", "en"), shapers)
    assert page.shows(wanted("one one"))
    assert page.shows(wanted("one one"))
    assert not page.shows(wanted("two"))


def test_text_outside_its_box_does_not_count(shapers: dict[str, Shaper]) -> None:
    away = [piece._replace(at=(300.0, 1.0)) for piece in set_by_composer("one", "sans", "en")]
    assert PageText(away, shapers).look(wanted("one"))[0][0] == "text-missing"


def coloured(text: str, space: Space, colour: tuple[float, ...]) -> list[Run]:
    return [piece._replace(space=space, colour=colour) for piece in set_by_composer(text, "sans", "en")]


@pytest.mark.parametrize(
    ("space", "colour", "code"),
    [
        (CMYK, (0.7, 0.6, 0.6, 0.9), "black-in-colour"),
        (CMYK, (0, 0, 0, 0.5), "text-ink"),
        (Space("separation", ("Clear",)), (1.0,), "text-ink"),
    ],
)
def test_text_in_another_ink(space: Space, colour: tuple[float, ...], code: str, shapers: dict[str, Shaper]) -> None:
    for kind in ("text", "number", "microtext"):
        page = PageText(coloured("one", space, colour), shapers)
        assert [found for found, _ in page.look(wanted("one", kind=kind))] == [code], kind


def test_text_that_is_partly_gone_and_partly_in_another_ink(shapers: dict[str, Shaper]) -> None:
    page = PageText(coloured("one", CMYK, (0, 1, 0, 0)), shapers)
    assert [found for found, _ in page.look(wanted("one two"))] == ["black-in-colour", "text-missing"]


def test_spot_ink_has_its_tint() -> None:
    clear = WantedInk("Clear", 0.5, (0, 0, 0, 0))
    assert clear.fits(Space("separation", ("Clear",)), (0.5,))
    assert not clear.fits(Space("separation", ("Clear",)), (1.0,))
    assert not clear.fits(Space("separation", ("Gold",)), (0.5,))
    assert not clear.black


def test_letters_that_nothing_accounts_for_are_told(shapers: dict[str, Shaper]) -> None:
    font = SourceFont("sans", True, None, unicode={1: "x", 2: "-", 3: "7"})  # type: ignore[arg-type]
    line = run("sans", b"\x00\x01\x00\x02\x00\x03")._replace(font=font)
    page = PageText([line], shapers)
    assert page.rest() == []
    page.look(wanted(""))
    assert page.rest() == ["x7"]


def test_microtext_says_everything_on_every_line(shapers: dict[str, Shaper]) -> None:
    def lines(*texts: str) -> list[Run]:
        return [
            piece._replace(joined=place > 0)
            for text in texts
            for place, piece in enumerate(set_by_composer(text, "mono", "en"))
        ]

    good = PageText(lines("ab 12 ab 12 a", "ab 12 ab 12 a"), shapers)
    assert good.look(wanted("ab 12", kind="microtext")) == []
    assert good.rest() == []
    bad = PageText(lines("ab 12 ab 12 a", "ab 13 ab"), shapers)
    assert [code for code, _ in bad.look(wanted("ab 12", kind="microtext"))] == ["text-missing"]
    assert [code for code, _ in PageText([], shapers).look(wanted("ab", kind="microtext"))] == ["text-missing"]
    assert [code for code, _ in PageText([], shapers).look(wanted("12", kind="number"))] == ["serial-missing"]


def test_lines_of_tight_neighbours_are_not_taken(shapers: dict[str, Shaper]) -> None:
    """Three boxes of microtext 1.5 pt apart, as fine print has them; each has its own line."""
    lines = [
        piece._replace(at=(1.0, 10.0 - 1.5 * n), joined=False)
        for n, text in enumerate(("ab", "cd", "ef"))
        for piece in set_by_composer(text, "mono", "en")
    ]
    page = PageText(lines, shapers)
    for n, text in enumerate(("ab", "cd", "ef")):
        box = (1.0, 9.7 - 1.5 * n, 90.0, 10.9 - 1.5 * n)
        for kind in ("microtext", "text"):
            assert PageText(lines, shapers).look(wanted(text, kind=kind)._replace(box=box)) == []
        assert page.look(wanted(text, kind="microtext")._replace(box=box)) == []


def test_a_number_among_other_lines_is_found(shapers: dict[str, Shaper]) -> None:
    font = SourceFont("mono", True, None, unicode={1: "1", 2: "2", 3: "x"})  # type: ignore[arg-type]
    parts = [b"\x00\x03", b"\x00\x01", b"\x00\x02", b"\x00\x03"]
    lines = [run("mono", gids, joined=place == 2)._replace(font=font) for place, gids in enumerate(parts)]
    assert PageText(lines, shapers).look(wanted("12", kind="number")) == []
    ((code, message),) = PageText(lines, shapers).look(wanted("13", kind="number"))
    assert code == "serial-wrong"
    assert "'x | 12'" in message


def test_a_word_set_in_two_faces_is_found_in_parts(shapers: dict[str, Shaper]) -> None:
    """The asked face lacks a letter, which another face has set; ḁ is not in IBM Plex Mono."""
    word = "aḁb"
    assert not shapers["mono"].has("ḁ")
    line = [*set_by_composer(word, "mono", "en")]
    assert len({piece.font.base for piece in line}) == 2
    assert PageText(line, shapers).look(wanted(word)) == []
    assert PageText(line[:1], shapers).look(wanted(word))[0][0] == "text-missing"
    # Where the face could have set all of it, letters here and there are no word.
    apart = [
        *set_by_composer("a", "mono", "en"),
        *set_by_composer("c", "sans", "en"),
        *set_by_composer("b", "mono", "en"),
    ]
    assert PageText(apart, shapers).look(wanted("ab"))[0][0] == "text-missing"


def test_glyph_ids_are_found_on_whole_glyphs_only(shapers: dict[str, Shaper]) -> None:
    gids = shapers["sans"].gids("a", "")
    assert gids is not None
    assert gids[0] == 0
    page = PageText([run("sans", b"\x01" + gids + b"\x01")], shapers)
    assert page.look(wanted("a"))[0][0] == "text-missing"


def test_to_unicode_ranges_and_arrays() -> None:
    """ISO 32000-2, 9.10.3: bfchar, bfrange with a start and with an array; UTF-16 beyond the first plane."""
    cmap = (
        b"2 beginbfchar <0001> <0041> <0002> <D83DDE00> endbfchar\n"
        b"2 beginbfrange <0010> <0012> <0061> <0020> <0021> [<0058> <00590059>] endbfrange"
    )
    assert to_unicode(cmap) == {1: "A", 2: "😀", 16: "a", 17: "b", 18: "c", 32: "X", 33: "YY"}
