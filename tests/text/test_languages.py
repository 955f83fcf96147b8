"""Language tags: base direction, default script, and what is no tag."""

from __future__ import annotations

import pytest

from vdp.text.languages import read_language


@pytest.mark.parametrize(
    ("text", "tag", "rtl", "script"),
    [
        ("de", "de", None, "Latn"),
        ("pt_BR", "pt-BR", None, "Latn"),
        (" el ", "el", None, "Grek"),
        ("ar-EG", "ar-EG", True, "Arab"),
        ("he", "he", True, "Hebr"),
        ("fa", "fa", True, "Arab"),
        ("ur", "ur", True, "Arab"),
        ("az-Arab", "az-Arab", True, "Arab"),
        ("ar-Latn", "ar-Latn", None, "Latn"),
        ("sr-Latn", "sr-Latn", None, "Latn"),
        ("zh-Hant", "zh-Hant", None, "Hani"),
        ("ko", "ko", None, "Hang"),
        ("", "und", None, "Latn"),
        ("the German one", "und", None, "Latn"),
        ("de-toolongsubtag", "und", None, "Latn"),
        ("de-a", "und", None, "Latn"),
        ("語", "und", None, "Latn"),
    ],
)
def test_tags(text: str, tag: str, rtl: bool | None, script: str) -> None:
    language = read_language(text)
    assert language == (tag, rtl, script)
    assert language.locale is not None
