"""What the language of a text says about its setting: base direction, script of text that shows none, locale.

Lives here: reading a language tag.  Not here: choosing a wording by language (see `plan`), locale formats (see `job`).
"""

from __future__ import annotations

import re
from typing import NamedTuple

import icu

#: Primary language subtags written right to left (those this product sets).
RIGHT_TO_LEFT = frozenset({"ar", "he", "iw", "fa", "ur"})

_RTL_SCRIPTS = frozenset({"arab", "hebr"})

#: Script of text without a letter of its own (ISO 15924), where it is not Latin.
_SCRIPTS = {
    "ar": "Arab",
    "fa": "Arab",
    "ur": "Arab",
    "he": "Hebr",
    "iw": "Hebr",
    "hi": "Deva",
    "mr": "Deva",
    "ne": "Deva",
    "th": "Thai",
    "el": "Grek",
    "ru": "Cyrl",
    "uk": "Cyrl",
    "be": "Cyrl",
    "bg": "Cyrl",
    "mk": "Cyrl",
    "sr": "Cyrl",
    "zh": "Hani",
    "ja": "Hani",
    "ko": "Hang",
}

_TAG = re.compile(r"[A-Za-z]{2,3}(?:-[A-Za-z0-9]{1,8})*\Z")


class Language(NamedTuple):
    """`tag` is a BCP 47 tag ("und" when the text's language is not known); `rtl` the base direction it asks for, None
    to take the first strong letter's; `script` that of text which shows none."""

    tag: str
    rtl: bool | None
    script: str

    @property
    def locale(self) -> icu.Locale:
        """The ICU locale."""
        return icu.Locale.forLanguageTag(self.tag)


def read_language(text: str) -> Language:
    """``"ar"``, ``"zh-Hant"`` or ``"pt_BR"`` → Language.  What is no tag counts as language not known, never as the
    locale of the machine, so that the result is the same everywhere."""
    tag = text.strip().replace("_", "-")
    if not _TAG.match(tag):
        return Language("und", None, "Latn")
    try:
        icu.Locale.forLanguageTag(tag)
    except icu.ICUError:
        return Language("und", None, "Latn")
    subtags = tag.lower().split("-")
    primary = subtags[0]
    script = next((part for part in subtags[1:] if len(part) == 4 and part.isalpha()), "")
    if script:
        rtl = True if script in _RTL_SCRIPTS else None
        default = {"hans": "Hani", "hant": "Hani", "jpan": "Hani", "kore": "Hang"}.get(script, script.capitalize())
    else:
        rtl = True if primary in RIGHT_TO_LEFT else None
        default = _SCRIPTS.get(primary, "Latn")
    return Language(tag, rtl, default)
