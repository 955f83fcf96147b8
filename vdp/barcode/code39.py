"""Code 39 (ISO/IEC 16388): text → element widths.

Lives here: characters, check character, wide and narrow.  Not here: quiet zone, sizes.  Patterns are python-barcode's
table, which draws wide elements three modules wide.

A width of 1 is one *unit*: the layout's module in dots.  At a ratio of 3 or 2 a narrow element is one unit; at 2.5 it
is two units wide and a wide one five, so X is twice the module.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby

from barcode.charsets import code39 as tables

from vdp import checkdigit
from vdp.errors import OurBug, RowRefused
from vdp.marks import Bars

#: Ratio of wide to narrow → their widths in units.  ISO/IEC 16388 §4.4 b): 2.0 to 3.0.
RATIOS: Mapping[float, tuple[int, int]] = {2.0: (1, 2), 2.5: (2, 5), 3.0: (1, 3)}

#: Own limit, no source: a Code 39 of 100 characters is half a metre long.
LONGEST = 100


def _narrow_or_wide(modules: str) -> str:
    return "".join("W" if len(list(run)) == 3 else "N" for _, run in groupby(modules))


_PATTERNS: Mapping[str, str] = {char: _narrow_or_wide(code) for char, (_, code) in tables.MAP.items()}
_EDGE = _narrow_or_wide(tables.EDGE)


def encode(text: str, ratio: float = 3.0, check: bool = False) -> Bars:
    """The bars of `text` between start and stop characters, one narrow space between characters.

    `check` adds the modulo 43 check character (Annex A.1).  Raises RowRefused for an empty text, one longer than
    LONGEST or a character that Code 39 lacks; OurBug for a ratio that is not in RATIOS.
    """
    if ratio not in RATIOS:
        raise OurBug(f"Code 39 is not drawn at a ratio of {ratio}")
    narrow, wide = RATIOS[ratio]
    words = [_EDGE, *(_PATTERNS[c] for c in carried(text, check)), _EDGE]
    return Bars(bytes(wide if element == "W" else narrow for element in "N".join(words)))


def carried(text: str, check: bool = False) -> str:
    """`text` with its check character, if asked for.  Raises RowRefused as `encode`."""
    if not text:
        raise RowRefused(("Code 39 cannot carry an empty text",))
    if len(text) > LONGEST:
        raise RowRefused((f"Code 39 of {len(text)} characters is longer than {LONGEST} characters",))
    if bad := next((c for c in text if c not in _PATTERNS), ""):
        raise RowRefused((f"Code 39 holds digits, capitals and -. $/+% only, not '{bad}' (U+{ord(bad):04X})",))
    return text + checkdigit.check("code39_mod43", text) if check else text
