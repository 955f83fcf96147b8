"""Where a line may and must end: Unicode Line Breaking Algorithm (UAX #14) through ICU, by language.

Lives here: break opportunities by code point, mandatory breaks, and which chunks of text can be judged on their own.
Not here: which opportunity is taken (see `fit`).
"""

from __future__ import annotations

import re

import icu

from vdp.text.languages import Language

#: Spaces that are not printed where a line ends: U+0020 and the breaking spaces of fixed width (class BA), U+200B.
BREAK_SPACES = " \u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2008\u2009\u200a\u200b\u205f\u3000"

SOFT_HYPHEN = "\u00ad"

# Rules LB4 and LB5.
_MANDATORY = re.compile("\r\n|[\n\r\x0b\x0c\x85\u2028\u2029]")

# One word of letters and digits of one script with the stops that stick to it: classes AL, NU, IS, EX, CP only, so no
# opportunity within (LB13, LB15d, LB23, LB28) and one at its end and start (LB18).  Left out: ª, º, ×, ÷ and all that
# is not a letter.  Or two numbers with a hyphen between them, where none is either (LB21, LB25).
_PLAIN = re.compile(
    "(?:(?P<Zyyy>[0-9]+(?:-[0-9]+)?)|(?P<Latn>[0-9A-Za-zÀ-ÖØ-öø-ɏ]+)"
    "|(?P<Grek>[0-9\u0386\u0388-\u03ce]+)|(?P<Cyrl>[0-9\u0400-\u0481\u048a-\u04ff]+))[.,:;!?)]* *"
)


def plain_script(text: str) -> str:
    """The script of a plain chunk (ISO 15924; Zyyy where it shows none), or "" where it is not plain."""
    found = _PLAIN.fullmatch(text)
    return found.lastgroup or "" if found else ""


_CLASS = icu.UProperty.LINE_BREAK
# Rules that look across spaces at both neighbours (LB16, LB17, with CJ as LB1 may make it NS) forbid a break that each
# neighbour by itself would allow: text that begins with one of these is not judged alone.
_LEANING = frozenset(icu.Char.getPropertyValueEnum(_CLASS, name) for name in ("NS", "CJ", "B2"))

# Right-to-left and Syriac-like scripts whose letters join: a break between two of them would change their shapes.
_JOINING = re.compile("[\u0620-\u074f\u0750-\u077f\u0860-\u08ff\ufb50-\ufdff\ufe70-\ufefc]")


def split_paragraphs(text: str) -> list[str]:
    """The text's paragraphs: what lies between mandatory breaks, which are not kept.  Empty ones stay, but those at
    the end of the text: a text that ends with a line feed has no last, empty line."""
    parts = _MANDATORY.split(text) if not text.isascii() or not text.isprintable() else [text]
    while parts and not parts[-1]:
        parts.pop()
    return parts


class Breaker:
    """Break opportunities in the way of one language."""

    def __init__(self, language: Language) -> None:
        self._lines = icu.BreakIterator.createLineInstance(language.locale)

    def opportunities(self, text: str) -> list[int]:
        """Code point offsets where a line may end, the text's end included (UAX #14 as ICU tailors it)."""
        self._lines.setText(text)
        units: list[int] = list(self._lines)
        if not units or units[-1] == len(text):
            return units
        # ICU counts UTF-16 units: take away one for each pair before.
        shift = 0
        pairs = iter([i for i, char in enumerate(text) if char > "\uffff"])
        pair = next(pairs, None)
        found = []
        for unit in units:
            while pair is not None and pair + shift < unit:
                shift += 1
                pair = next(pairs, None)
            found.append(unit - shift)
        return found

    def usable(self, text: str) -> list[int]:
        """`opportunities` without those between two letters of a joining script, where only a soft hyphen or a
        zero-width space allows one: the halves would not keep their joined shapes."""
        found = self.opportunities(text)
        if text.isascii() or not _JOINING.search(text):
            return found
        return [at for at in found if at == len(text) or not (_joins(text[at - 1 :: -1]) and _joins(text[at:]))]

    def stands_alone(self, chunk: str) -> bool:
        """Whether the opportunities within and beside a chunk (a word and the spaces after it) do not depend on its
        neighbours, as long as those stand alone too: there is one before it and one after it.

        Tested against ICU for every pair of line breaking classes.
        """
        first = chunk.lstrip(" ")[:1]
        if not first or icu.Char.getIntPropertyValue(first, _CLASS) in _LEANING:
            return False
        probe = f"a {chunk.strip(' ')} a"
        found = self.opportunities(probe)
        return 2 in found and len(probe) - 1 in found


def _joins(text: str) -> bool:
    """Whether the first character of `text` that is not a mark, soft hyphen or zero-width is a joining letter."""
    for char in text:
        if icu.Char.charType(char) not in _SKIPPED:
            return _JOINING.match(char) is not None
    return False


_SKIPPED = frozenset(
    {icu.UCharCategory.NON_SPACING_MARK, icu.UCharCategory.ENCLOSING_MARK, icu.UCharCategory.FORMAT_CHAR}
)
