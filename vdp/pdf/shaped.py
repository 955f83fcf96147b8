"""Shaped glyphs → TJ fragments: hexadecimal glyph ids, kerning, offsets (ISO 32000-1, 9.4.3).

Lives here: what stands for glyphs, whatever stands beside them.  Not here: letters (`codes`), lines (`text`).
A fragment lacks the outer angle brackets, so that fragments side by side make one string.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from struct import pack
from unicodedata import normalize

from vdp.marks import Glyphs
from vdp.pdf.objects import number_text


@lru_cache(maxsize=4096)
def adjustment(amount: float, places: int) -> str:
    """Moves what follows back by so many thousandths of an em.  Kerning has few amounts."""
    return f">{number_text(amount, places)}<"


def show(text: str) -> str:
    """Fragments side by side as one TJ, without strings that show nothing."""
    if text[:1] != ">" and text[-1:] != "<" and text and "<>" not in text:
        return f"[<{text}>]TJ\n"
    return f"[<{text}>]TJ\n".replace("<>", "").replace("[]TJ", "")


def speaks_for_itself(glyphs: Glyphs) -> bool:
    """Whether the glyphs' own texts, in visual order, give the text back.  Readers turn right-to-left runs around, and
    would turn an ActualText around as well, so that it is kept for what glyph by glyph cannot be said."""
    clusters = reversed(glyphs.clusters) if glyphs.rtl else glyphs.clusters
    if "" in glyphs.clusters:
        return False
    told = "".join(clusters)
    return told == glyphs.text or normalize("NFKC", told) == normalize("NFKC", glyphs.text)


def level(glyphs: Glyphs) -> str:
    """The fragment of glyphs on the line."""
    if glyphs.advances == glyphs.natural and not glyphs.offsets:
        return pack(f">{len(glyphs.gids)}H", *glyphs.gids).hex().upper()
    return "".join(text for _, text in _steps(glyphs))


def risen(glyphs: Glyphs, size: float) -> str:
    """The same with glyphs above and below the line: a rise ends one TJ and begins the next."""
    parts, current = [], 0.0
    for rise, text in _steps(glyphs):
        if rise != current:
            parts.append(f">]TJ {number_text(rise * size / 1000, 2)} Ts[<")
            current = rise
        parts.append(text)
    if current:
        parts.append(">]TJ 0 Ts[<")
    return "".join(parts)


def _steps(glyphs: Glyphs) -> Iterable[tuple[float, str]]:
    """Rise and text of each glyph.  Adjustments are tenths of a thousandth of an em, what is rounded off is carried."""
    pen = shown = 0.0  # where the glyph should stand, and where the operators so far have put it
    pending = ""
    for place, (gid, advance, natural) in enumerate(zip(glyphs.gids, glyphs.advances, glyphs.natural, strict=True)):
        dx, dy = glyphs.offsets[place] if glyphs.offsets else (0.0, 0.0)
        shift = pen + dx - shown
        # Most are far too small: only the others are worth rounding.
        if not -0.05 < shift < 0.05 and (shift := round(shift, 1)):
            pending = adjustment(-shift, 1)
            shown += shift
        yield dy, f"{pending}{gid:04X}"
        pending = ""
        pen += advance
        shown += natural
    shift = round(pen - shown, 1)
    if shift:
        yield (glyphs.offsets[-1][1] if glyphs.offsets else 0.0), adjustment(-shift, 1)
