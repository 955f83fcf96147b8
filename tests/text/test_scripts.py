"""Glyph ids, script by script, against HarfBuzz's own run over the whole text (opened apart from vdp.text)."""

from __future__ import annotations

import pytest
import uharfbuzz as hb

from vdp.job.faces import builtin_faces
from vdp.text import Setter, Style


def harfbuzz(text: str, face: str, script: str, language: str, rtl: bool = False) -> list[int]:
    """Glyph ids of one run, left to right."""
    source = builtin_faces()[face]
    font = hb.Font(hb.Face(hb.Blob.from_file_path(str(source.path))))
    font.set_variations(source.axes)
    buffer = hb.Buffer()
    buffer.flags = hb.BufferFlags.REMOVE_DEFAULT_IGNORABLES
    buffer.add_str(text)
    buffer.direction = "rtl" if rtl else "ltr"
    buffer.script = script
    buffer.language = language
    hb.shape(font, buffer)
    return [info.codepoint for info in buffer.glyph_infos]


#: language, script, asked face, face that sets it, text.
LEVEL = {
    "english": ("en", "Latn", "sans", "sans", "The quick brown fox (aged 7) can’t jump: office, waffle & Œuvre—“No!”"),
    "vietnamese": (
        "vi",
        "Latn",
        "serif",
        "serif",
        "Những chuyến phà sẽ rời bến cảng vào buổi sáng, quý khách vui lòng đợi",
    ),
    "polish": ("pl", "Latn", "sans-bold", "sans-bold", "Zażółć gęślą jaźń – prom odpływa o świcie, Łódź i Gdańsk"),
    "german": ("de", "Latn", "sans-italic", "sans-italic", "Straße, Fußgänger und „Auflage“: 1.234,50 €"),
    "greek": ("el", "Grek", "sans", "sans", "Το πλοίο αναχωρεί στις εννέα, Ἀθῆναι καὶ ᾧ"),
    "russian": ("ru", "Cyrl", "serif-italic", "serif-italic", "Съешь ещё этих мягких французских булок"),
    "serbian": ("sr", "Cyrl", "sans-italic", "sans-italic", "Брод полази у девет сати, гђица Петровић"),
    "ukrainian": ("uk", "Cyrl", "mono", "mono", "Пором відпливає о дев’ятій, Київ"),
    "hindi": ("hi", "Deva", "sans", "sans", "क्षत्रिय विद्यार्थी श्रीमान हिन्दी कृपया प्रतीक्षा करें। र्कि द्ध्र्य ज्ञान"),
    "hindi-own": ("hi", "Deva", "mono", "devanagari", "क्षत्रिय विद्यार्थी श्रीमान कृपया प्रतीक्षा र्कि द्ध्र्य"),
    "thai": ("th", "Thai", "sans", "thai", "เรือเฟอร์รี่ออกจากท่าเรือเหนือ กรุณามาถึงก่อนเวลา น้ำดื่ม ที่นั่ง ผู้ใหญ่ กำลัง"),
    "chinese": ("zh-Hans", "Hani", "sans", "cjk", "渡轮上午九点半从北码头出发，请提前到达。骨直返"),
    "taiwan": ("zh-Hant", "Hani", "sans", "cjk", "渡輪上午九點半從北碼頭出發，請提前到達。骨直返"),
    "japanese": (
        "ja",
        "Hani",
        "serif",
        "cjk",
        "フェリーは午前九時三十分に北埠頭を出発します。「乗船券」をお持ちください。骨直返",
    ),
    "korean": ("ko", "Hang", "sans-bold", "cjk", "페리는 오전 아홉 시 반에 북쪽 부두에서 출발합니다"),
}


@pytest.mark.parametrize("name", LEVEL)
def test_left_to_right_runs(setter: Setter, name: str) -> None:
    language, script, asked, face, text = LEVEL[name]
    glyphs = setter.shape(text, asked, language)
    assert {word.face for word in glyphs} == {face}
    assert [gid for word in glyphs for gid in word.gids] == harfbuzz(text, face, script, language)
    assert "".join(word.text for word in glyphs) == text


@pytest.mark.parametrize("name", LEVEL)
def test_lines_have_the_glyphs_of_the_run(setter: Setter, name: str) -> None:
    """Set in a narrow box, and the lines joined again with the spaces between them."""
    language, script, asked, face, text = LEVEL[name]
    lines = setter.set(text, Style(asked, 8), language, (0, 0, 1700, 9000)).lines
    assert len(lines) > 1
    spaces = {*harfbuzz(" ", face, script, language)}
    found = [gid for line in lines for word in line.glyphs for gid in word.gids if gid not in spaces]
    assert found == [gid for gid in harfbuzz(text, face, script, language) if gid not in spaces]


@pytest.mark.parametrize(
    ("language", "script", "face", "text"),
    [
        ("ar", "Arab", "arabic", "مرحبا بكم على متن السفينة، لا تنسوا الأمتعة إلى الآن والله"),
        ("ar", "Arab", "arabic-bold", "مُحَمَّدٌ رَسُولٌ؟ ثلاث ـ أيام"),
        ("fa", "Arab", "arabic", "می‌خواهم به خانه‌ها پژوهش گچ کنم"),
        ("ur", "Arab", "arabic", "جہاز صبح نو بجے روانہ ہوگا ٹکٹ ڈھونڈھیے"),
        ("he", "Hebr", "hebrew", "שָׁלוֹם עֲלֵיכֶם, בְּרֵאשִׁית הָאֳנִיָּה יוצאת"),
        ("he", "Hebr", "hebrew-bold", "האונייה יוצאת בתשע"),
    ],
)
def test_right_to_left_runs(setter: Setter, language: str, script: str, face: str, text: str) -> None:
    glyphs = setter.shape(text, "sans-bold" if face.endswith("bold") else "sans", language)
    assert {word.face for word in glyphs} == {face}
    assert all(word.rtl for word in glyphs)
    assert [gid for word in glyphs for gid in word.gids] == harfbuzz(text, face, script, language, rtl=True)
    assert "".join(word.text for word in reversed(glyphs)) == text


def test_mixed_directions(setter: Setter) -> None:
    """Arabic with digits, a Latin name in brackets and Arabic-Indic digits: runs in the order UAX #9 draws them, given
    by hand from the left."""
    found = setter.shape("السفينة (MS Blue) رقم 45 يوم ٢٠٢٦.", "sans", "ar")
    drawn = [
        (".", "arabic", "Arab", True),
        ("٢٠٢٦", "arabic", "Arab", False),
        (" يوم ", "arabic", "Arab", True),
        ("45", "sans", "Arab", False),
        (" رقم ", "arabic", "Arab", True),
        (")", "sans", "Latn", True),
        ("MS Blue", "sans", "Latn", False),
        ("(", "sans", "Latn", True),
        (" السفينة ", "arabic", "Arab", True),
    ]
    # Spaces of the asked face and of the Arabic one are both glyph 3: what is compared is glyphs but spaces.
    space = harfbuzz(" ", "sans", "Latn", "ar")[0]
    assert harfbuzz(" ", "arabic", "Arab", "ar")[0] == space
    wanted = [
        gid for text, face, script, rtl in drawn for gid in harfbuzz(text, face, script, "ar", rtl) if gid != space
    ]
    assert [gid for word in found for gid in word.gids if gid != space] == wanted


def test_a_right_to_left_name_in_a_left_to_right_text(setter: Setter) -> None:
    # The comma and the number after the name follow its direction (rules N1 and I1), the words around them their own.
    found = setter.shape("Dear יעל כהן, 3 tickets", "sans", "en")
    assert [(word.text, word.face, word.rtl) for word in found] == [
        ("Dear ", "sans", False),
        ("3", "sans", False),
        ("כהן, ", "hebrew", True),
        ("יעל ", "hebrew", True),
        (" ", "sans", False),
        ("tickets", "sans", False),
    ]
