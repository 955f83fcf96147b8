"""A stretch of text cut into runs of one script and one face.

Lives here: script resolution (UAX #24 §5), which faces stand in for the asked one, by script and then by what each can
show.  Not here: direction (`bidi`), where lines end (`breaks`), shaping (`shape`).

The asked face sets every script that it has the letters of.  Other scripts go to the face of that script, in its bold
cut when the asked face's key ends in "-bold" and there is one (there is no bold of the Chinese, Japanese and Korean
face: its regular is used).  A character that neither has is looked for in the remaining faces, in a fixed order.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

import icu

from vdp.errors import RowRefused
from vdp.text.faces import Faces, ignorable

#: A letter by which a face shows that it sets a script, and the face that does when the asked one does not.
_SCRIPTS = {
    "Latn": ("a", ""),
    "Grek": ("α", ""),
    "Cyrl": ("а", ""),
    "Arab": ("ب", "arabic"),
    "Hebr": ("א", "hebrew"),
    "Deva": ("क", "devanagari"),
    "Thai": ("ก", "thai"),
    "Hani": ("一", "cjk"),
    "Hira": ("あ", "cjk"),
    "Kana": ("ア", "cjk"),
    "Bopo": ("ㄅ", "cjk"),
    "Hang": ("가", "cjk"),
}

#: Where a character is looked for last.
_OTHERS = ("sans", "serif", "mono", "arabic", "hebrew", "devanagari", "thai", "cjk")

_UNDECIDED = frozenset({"Zyyy", "Zinh"})


class Item(NamedTuple):
    """Text from `start` to `stop` (code points) in one script (ISO 15924) and one face."""

    start: int
    stop: int
    script: str
    face: str


class Chooser:
    """Which faces set which script when `asked` is the asked face."""

    def __init__(self, faces: Faces, asked: str) -> None:
        self._faces = faces
        self._asked = asked
        self._orders: dict[str, tuple[str, ...]] = {}

    def order(self, script: str) -> tuple[str, ...]:
        """Face keys in the order in which they are tried for a script."""
        order = self._orders.get(script)
        if order is None:
            order = self._orders[script] = self._find_order(script)
        return order

    def _find_order(self, script: str) -> tuple[str, ...]:
        sample, key = _SCRIPTS.get(script, ("", ""))
        own = self._cut(key) if key else []
        first = [self._asked]
        # Put behind the script's own face when it lacks the letters, so that it lends its digits and stops no more.
        at = 0 if own and not self._faces.face(self._asked).has(sample) else 1
        first[at:at] = own
        rest = [other for key in _OTHERS for other in self._cut(key)]
        return tuple(dict.fromkeys(first + rest))

    def _cut(self, key: str) -> list[str]:
        """The keys of a stand-in face that there are: bold first when the asked face is bold."""
        bold = [f"{key}-bold"] if self._asked.endswith("-bold") else []
        return [cut for cut in (*bold, key) if cut in self._faces]

    def itemize(self, text: str, script: str) -> list[Item]:
        """Runs of a text; `script` is the one to shape text in which shows none.

        Raises RowRefused that names every character which no face can show.
        """
        items: list[Item] = []
        missing: list[str] = []
        for start, stop, shown in resolve_scripts(text):
            # Text without a letter (a number, a sum of money) stays in the asked face where that has it.
            run_script = shown or script
            order = self.order(shown) if shown else (self._asked, *self.order(script))
            if self._faces.face(order[0]).covers(text[start:stop]):
                items.append(Item(start, stop, run_script, order[0]))
                continue
            for left, right in _clusters(text[start:stop]):
                cluster = text[start + left : start + right]
                face = next((key for key in order if self._faces.face(key).covers(cluster)), None)
                # A space goes on in the face before it, so that it does not cut a run in two.
                if cluster == " " and items and self._faces.face(items[-1].face).has(cluster):
                    face = items[-1].face
                if face is None:
                    missing += [char for char in cluster if not self._anywhere(char, order)] or [cluster]
                    continue
                last = items[-1] if items else None
                if last and last.stop == start + left and last.face == face and last.script == run_script:
                    items[-1] = last._replace(stop=start + right)
                else:
                    items.append(Item(start + left, start + right, run_script, face))
        if missing:
            raise RowRefused(f"no face has {_name(char)}" for char in dict.fromkeys(missing))
        return items

    def _anywhere(self, char: str, order: tuple[str, ...]) -> bool:
        return any(self._faces.face(key).has(char) for key in order)


def resolve_scripts(text: str) -> Iterator[tuple[int, int, str]]:
    """(start, stop, script) of runs.  Common and inherited characters take the script before them, those at the start
    the one after them; "" stands for text that shows no script at all.  Default-ignorable characters start no run."""
    start = 0
    current = ""
    for at, char in enumerate(text):
        script = script_of(char)
        if script in _UNDECIDED or script == current:
            continue
        if current:
            yield start, at, current
            start = at
        current = script
    if text:
        yield start, len(text), current


@lru_cache(maxsize=8192)
def script_of(char: str) -> str:
    """Script of a character as ISO 15924 code; Zyyy for what has none of its own."""
    return "Zyyy" if ignorable(char) else str(icu.Script.getScript(char).getShortName())


def _clusters(text: str) -> Iterator[tuple[int, int]]:
    """Grapheme clusters (UAX #29), as code point offsets."""
    if any("\ud800" <= char <= "\udfff" for char in text):
        yield from ((at, at + 1) for at in range(len(text)))
        return
    clusters = icu.BreakIterator.createCharacterInstance(icu.Locale.getRoot())
    clusters.setText(text)
    left = at = unit = 0
    for end in clusters:
        while unit < end:
            unit += 2 if text[at] > "\uffff" else 1
            at += 1
        yield left, at
        left = at


def _name(characters: str) -> str:
    """``U+1F600 GRINNING FACE`` of each character."""
    return " with ".join(_name_one(char) for char in characters)


def _name_one(char: str) -> str:
    what = {"Cs": "half of a surrogate pair", "Cc": "a control character"}.get(unicodedata.category(char))
    if what:
        return f"U+{ord(char):04X}, {what}"
    name = icu.Char.charName(char, icu.UCharNameChoice.EXTENDED_CHAR_NAME)
    return f"U+{ord(char):04X} {name}"
