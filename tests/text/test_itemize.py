"""Scripts and faces of a text's runs, fallback, and what is said of characters that no face has."""

from __future__ import annotations

import pytest

from vdp.errors import RowRefused
from vdp.job.faces import builtin_faces
from vdp.text import Faces
from vdp.text.itemize import Chooser, resolve_scripts, script_of


def runs(faces: Faces, text: str, asked: str = "sans", script: str = "Latn") -> list[tuple[str, str, str]]:
    items = Chooser(faces, asked).itemize(text, script)
    assert [item.start for item in items] == [0, *(item.stop for item in items)][: len(items)]
    assert not text or items[-1].stop == len(text)
    return [(text[item.start : item.stop], item.script, item.face) for item in items]


def test_scripts_are_resolved() -> None:
    assert list(resolve_scripts("")) == []
    assert list(resolve_scripts("12.5")) == [(0, 4, "")]
    assert list(resolve_scripts("(a)-б\u0301!")) == [(0, 4, "Latn"), (4, 7, "Cyrl")]
    assert list(resolve_scripts("カーα\u200d1")) == [(0, 2, "Kana"), (2, 5, "Grek")]
    assert script_of("\u200c") == "Zyyy"
    assert script_of("\u0301") == "Zinh"
    assert script_of("ก") == "Thai"


@pytest.mark.parametrize(
    ("text", "face"),
    [
        ("Ångström", "sans"),
        ("Αθήνα", "sans"),
        ("Київ", "sans"),
        ("हिन्दी", "sans"),  # Noto Sans has Devanagari itself.
        ("مرحبا", "arabic"),
        ("שלום", "hebrew"),
        ("ไทย", "thai"),
        ("漢字", "cjk"),
        ("한글", "cjk"),
        ("ㄅㄆ", "cjk"),
    ],
)
def test_faces_by_script(faces: Faces, text: str, face: str) -> None:
    assert {key for _, _, key in runs(faces, text)} == {face}
    bold = {"cjk": "cjk"}.get(face, f"{face}-bold")
    assert {key for _, _, key in runs(faces, text, "sans-bold")} == {bold}
    italic = {"sans": "sans-italic"}.get(face, face)
    assert {key for _, _, key in runs(faces, text, "sans-italic")} == {italic}


def test_the_asked_face_is_used_where_it_can_be(faces: Faces) -> None:
    assert runs(faces, "שלום", "hebrew-bold") == [("שלום", "Hebr", "hebrew-bold")]
    assert runs(faces, "Latin", "arabic") == [("Latin", "Latn", "arabic")]
    assert runs(faces, "हिन्दी", "mono") == [("हिन्दी", "Deva", "devanagari")]
    # Text without a letter stays in the asked face, whatever the language.
    assert runs(faces, "12:30", "mono", "Arab") == [("12:30", "Arab", "mono")]
    assert runs(faces, "١٢", "mono", "Arab") == [("١٢", "Arab", "arabic")]


def test_faces_by_coverage_within_a_script(faces: Faces) -> None:
    # Plex Mono has no Vietnamese hook above with dot below: those clusters come from the first face that has them.
    assert runs(faces, "aɮb", "mono") == [("a", "Latn", "mono"), ("ɮ", "Latn", "sans"), ("b", "Latn", "mono")]
    assert runs(faces, "a★★", "sans") == [("a", "Latn", "sans"), ("★★", "Latn", "cjk")]
    assert runs(faces, "a1\u20e3\U0001f600", "sans")[0][0] == "a" if faces.face("cjk").has("\U0001f600") else True


def test_only_faces_there_are(faces: Faces) -> None:
    few = Faces({"sans": builtin_faces()["sans"]})
    assert Chooser(few, "sans").order("Arab") == ("sans",)
    with pytest.raises(RowRefused, match="no face has U\\+05D0 HEBREW LETTER ALEF"):
        Chooser(few, "sans").itemize("א", "Latn")


def test_refusals_name_every_character_once(faces: Faces) -> None:
    with pytest.raises(RowRefused) as refused:
        Chooser(faces, "sans").itemize("x\U0001f600y\U0001f601\U0001f600\t\ue000", "Latn")
    assert refused.value.reasons == (
        "no face has U+1F600 GRINNING FACE",
        "no face has U+1F601 GRINNING FACE WITH SMILING EYES",
        "no face has U+0009, a control character",
        "no face has U+E000 <private use area-E000>",
    )
    with pytest.raises(RowRefused, match="no face has U\\+D800, half of a surrogate pair"):
        Chooser(faces, "sans").itemize("a\ud800", "Latn")


def test_a_letter_and_mark_in_no_one_face_are_refused_together(faces: Faces) -> None:
    # Hebrew has the letter, Noto Sans the mark, and a mark from another face would not sit on the letter.
    with pytest.raises(RowRefused) as refused:
        Chooser(faces, "sans").itemize("א\u1ab0", "Latn")
    assert refused.value.reasons == (
        "no face has U+05D0 HEBREW LETTER ALEF with U+1AB0 COMBINING DOUBLED CIRCUMFLEX ACCENT",
    )
