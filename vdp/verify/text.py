"""The text of a layout item looked for on the finished page, by glyph ids.

Lives here: finding words among what an item's box shows, and what is left over.  Not here: shaping (`words`), which
text an item has (`against`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from vdp.verify.inks import Space
from vdp.verify.shown import Run, within
from vdp.verify.state import Area
from vdp.verify.words import UNSPACED, Shaper, Word, words_of

#: How far outside an item's box a line may begin, in points: a dot and a half at 1200 dpi, for rounding.
SLACK = 0.1
#: Words named in a finding.
_NAMED = 6


class WantedInk(NamedTuple):
    """The ink that the layout gives an item: a spot and its tint, or process components."""

    spot: str
    tint: float
    cmyk: tuple[float, float, float, float]

    def fits(self, space: Space, colour: Sequence[float]) -> bool:
        """Whether a show has this ink."""
        wanted = (self.tint,) if self.spot else self.cmyk
        right = space.names == (self.spot,) if self.spot else space.kind == "cmyk"
        return (
            right
            and len(colour) == len(wanted)
            and all(abs(a - b) < 0.005 for a, b in zip(colour, wanted, strict=True))
        )

    @property
    def black(self) -> bool:
        """Whether it is printed with black alone."""
        return not self.spot and self.cmyk[:3] == (0.0, 0.0, 0.0) and self.cmyk[3] > 0


class WantedText(NamedTuple):
    """Text that an item must show on a side: `box` in page points; `kind` is text, number or microtext."""

    name: str
    side: int
    kind: str
    box: Area
    text: str
    language: str
    ink: WantedInk


class PageText:
    """The runs of a page, of which items take what they show; what no item takes is left over."""

    def __init__(self, runs: Sequence[Run], shapers: Mapping[str, Shaper]) -> None:
        self.runs, self.shapers = runs, shapers
        self.left = [bytearray(run.gids) for run in runs]
        self.claimed = [False] * len(runs)

    def look(self, wanted: WantedText) -> list[tuple[str, str]]:
        """Looks for every word of an item and takes the glyphs it finds.  Returns findings."""
        inside = self._inside(wanted.box)
        for place in inside:
            self.claimed[place] = True
        own = [place for place in inside if wanted.ink.fits(self.runs[place].space, self.runs[place].colour)]
        if wanted.kind == "number":
            return self._number(wanted, own, inside)
        if wanted.kind == "microtext":
            return self._microtext(wanted, own, inside)
        words = sorted(words_of(wanted.text), key=lambda word: -len(word.text))
        missing = [word for word in words if not self._take(word, own, wanted.language)]
        return self._missing(wanted, missing, inside)

    def shows(self, wanted: WantedText) -> bool:
        """Whether a page shows all words of an item, nothing taken."""
        before = [bytes(left) for left in self.left]
        try:
            places = self._inside(wanted.box)
            return all(self._take(word, places, wanted.language) for word in words_of(wanted.text))
        finally:
            for left, old in zip(self.left, before, strict=True):
                left[:] = old

    def _inside(self, box: Area) -> list[int]:
        """The runs that begin in a box, and those that go on from them."""
        found: list[int] = []
        for place, run in enumerate(self.runs):
            if within(run, box, SLACK) or (run.joined and found and found[-1] == place - 1):
                found.append(place)
        return found

    def _missing(self, wanted: WantedText, missing: Sequence[Word], inside: Sequence[int]) -> list[tuple[str, str]]:
        if not missing:
            return []
        # The same words in another ink: the text is there, printed wrongly.
        astray = [word for word in missing if self._take(word, inside, wanted.language)]
        found: list[tuple[str, str]] = []
        if astray:
            found.append(self._wrong_ink(wanted, inside))
        lost = [word for word in missing if word not in astray]
        if lost:
            named = ", ".join(f"'{word.text}'" for word in lost[:_NAMED])
            found.append(("text-missing", f"{wanted.name}: {len(lost)} words are not there: {named}"))
        return found

    def _wrong_ink(self, wanted: WantedText, inside: Sequence[int]) -> tuple[str, str]:
        inks = [self.runs[place] for place in inside]
        wrong = next(run for run in inks if not wanted.ink.fits(run.space, run.colour))
        shown = f"{'/'.join(wrong.space.names) or wrong.space.kind} {' '.join(f'{part:g}' for part in wrong.colour)}"
        coloured = wanted.ink.black and wrong.space.kind == "cmyk" and any(part > 0 for part in wrong.colour[:3])
        code = "black-in-colour" if coloured else "text-ink"
        return code, f"{wanted.name}: the text is printed in {shown}"

    def _number(self, wanted: WantedText, own: Sequence[int], inside: Sequence[int]) -> list[tuple[str, str]]:
        lines = self._lines(own)
        said = [line for line in lines if line == wanted.text]
        if said:
            # Other items may reach into the box; their lines stay as they are.
            self._clear(place for place in inside if self._line_of(place, own) == wanted.text)
            return []
        self._clear(inside)
        said = [line for line in lines if line]
        if not said and inside:
            return [self._wrong_ink(wanted, inside)]
        code = "serial-wrong" if said else "serial-missing"
        return [(code, f"{wanted.name}: it shows '{' | '.join(said)[:80]}', not '{wanted.text}'")]

    def _lines(self, places: Sequence[int]) -> list[str]:
        """The text of each line among some runs, each line once."""
        return list(dict.fromkeys(self._line_of(place, places) for place in places))

    def _line_of(self, place: int, places: Sequence[int]) -> str:
        """The text of the line that a run is part of."""
        first = place
        while self.runs[first].joined and first - 1 in places:
            first -= 1
        last = place
        while last + 1 < len(self.runs) and self.runs[last + 1].joined and last + 1 in places:
            last += 1
        return "".join(run.text for run in self.runs[first : last + 1]).strip()

    def _microtext(self, wanted: WantedText, own: Sequence[int], inside: Sequence[int]) -> list[tuple[str, str]]:
        """Every line repeats the text; each of its words must be there at least once a line."""
        lines = [place for place in own if not self.runs[place].joined]
        if not lines:
            return (
                [self._wrong_ink(wanted, inside)]
                if inside
                else [("text-missing", f"{wanted.name}: there is no microtext")]
            )
        missing: list[Word] = []
        for first in lines:
            last = first + 1
            while last < len(self.runs) and self.runs[last].joined:
                last += 1
            line = range(first, last)
            missing += [word for word in words_of(wanted.text) if not self._take(word, line, wanted.language)]
        self._clear(own)
        return self._missing(wanted, list(dict.fromkeys(missing)), [])

    # -- finding ------------------------------------------------------------------------------------------------------

    def _take(self, word: Word, places: Sequence[int], language: str) -> bool:
        """Finds a word in any face among some runs and blanks it out there; scripts without spaces may be broken."""
        for base in dict.fromkeys(self.runs[place].font.base for place in places):
            shaper = self.shapers.get(base)
            if shaper is None:
                continue
            for tongue in (language, ""):
                gids = shaper.gids(word.text, tongue)
                if gids is None:
                    break
                if self._blank(gids, base, places):
                    return True
        if len(word.text) < 2 or not (word.script in UNSPACED or self._mixed(word, places)):
            return False
        return self._take_parts(word, places, language)

    def _mixed(self, word: Word, places: Sequence[int]) -> bool:
        """Whether a face of these runs has a part of a word only: another then set the rest."""
        faces = [self.shapers.get(base) for base in {self.runs[place].font.base for place in places}]
        return len(faces) > 1 and any(
            face is not None and not face.has(word.text) and any(map(face.has, word.text)) for face in faces
        )

    def _take_parts(self, word: Word, places: Sequence[int], language: str) -> bool:
        """The longest beginning that is found, then the rest: a line may have ended in between."""
        low, high = 0, len(word.text) - 1
        while low < high:
            middle = (low + high + 1) // 2
            if self._has(Word(word.text[:middle], word.script), places, language):
                low = middle
            else:
                high = middle - 1
        if low == 0:
            return False
        head, tail = Word(word.text[:low], word.script), Word(word.text[low:], word.script)
        return self._take(head, places, language) and self._take(tail, places, language)

    def _has(self, word: Word, places: Sequence[int], language: str) -> bool:
        for base in dict.fromkeys(self.runs[place].font.base for place in places):
            shaper = self.shapers.get(base)
            gids = shaper.gids(word.text, language) if shaper is not None else None
            if gids and any(
                _find(self.left[place], gids) >= 0 for place in places if self.runs[place].font.base == base
            ):
                return True
        return False

    def _clear(self, places: Iterable[int]) -> None:
        """Takes all that some runs show."""
        for place in places:
            self.left[place][:] = b"\xff\xff" * (len(self.left[place]) // 2)

    def _blank(self, gids: bytes, base: str, places: Sequence[int]) -> bool:
        for place in places:
            if self.runs[place].font.base != base:
                continue
            at = _find(self.left[place], gids)
            if at >= 0:
                self.left[place][at : at + len(gids)] = b"\xff\xff" * (len(gids) // 2)
                return True
        return False

    def rest(self) -> list[str]:
        """Letters and digits that items show and no word accounts for, by run."""
        found = []
        for run, left, claimed in zip(self.runs, self.left, self.claimed, strict=True):
            if claimed and run.depth == 0:
                text = "".join(c for c in run.font.text(bytes(left)) if c.isalnum())
                if text:
                    found.append(text)
        return found


def _find(where: bytearray, gids: bytes) -> int:
    """The first place of a glyph sequence, on a whole glyph; -1 if there is none."""
    at = where.find(gids)
    while at & 1:
        if at < 0:
            return -1
        at = where.find(gids, at + 1)
    return at
