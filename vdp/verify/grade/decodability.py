"""How near measured elements come to being read as others: decodability, by each symbology's reference algorithm.

The formulas are those of ISO/IEC 15417 (Code 128), 15420 (EAN/UPC), 16388 (Code 39) and 16390 (Interleaved 2 of 5), all
from memory: none of them could be held against the printed standard.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

_CODE128 = frozenset(("code128", "gs1-128", "s10"))
#: Elements before the first character, and lengths of what stands between characters, of EAN/UPC.
_EAN = {"ean13": (6, 6), "upca": (6, 6), "ean8": (4, 4), "upce": (6, 0)}


def decodability(widths: npt.NDArray[np.float64], symbology: str, module: float) -> float:
    """Least decodability 0..1 of a scan; `widths` in dots are its bars and spaces in turn, `module` is X in dots.

    0 when there are not the elements that the symbology has.
    """
    if symbology in _CODE128:
        if len(widths) < 13 or (len(widths) - 1) % 6:
            return 0.0
        # Every start character begins, and every stop ends, with a bar of two modules: they tell the growth.
        wider = (float(widths[0] + widths[-1]) / 2) / (float(widths[:6].sum()) / 11) - 2
        return _least(_code128(widths[at : at + 6], wider) for at in range(0, len(widths) - 1, 6))
    if symbology in _EAN:
        return _least(_ean(one) for one in _ean_characters(widths, symbology))
    if symbology == "code39":
        return _least(_two_widths(widths[at : at + 9]) for at in range(0, len(widths), 10))
    body = widths[4:-3]
    return _least(_two_widths(body[at : at + 10]) for at in range(0, len(body) - 9, 10)) if module else 0.0


def _least(found: Iterable[float]) -> float:
    return max(0.0, min(found, default=0.0))


def _code128(six: npt.NDArray[np.float64], wider: float) -> float:
    """Edge to similar edge against the thresholds halfway between whole modules, and the sum of the bars, which is even
    where bars are not `wider` (in modules) than they should be."""
    unit = six.sum() / 11
    pairs = (six[:4] + six[1:5]) / unit
    near = 0.5 - float(np.abs(pairs - np.round(pairs)).max())
    bars = float(six[::2].sum() / unit)
    return min(near / 0.5, (1.75 - abs(bars - 2 * round((bars - 3 * wider) / 2))) / 1.75)


def _ean(four: npt.NDArray[np.float64]) -> float:
    """The two edge-to-similar-edge distances of a character of seven modules."""
    unit = four.sum() / 7
    pairs = (four[:2] + four[1:3]) / unit
    return (0.5 - float(np.abs(pairs - np.round(pairs)).max())) / 0.5


def _ean_characters(widths: npt.NDArray[np.float64], symbology: str) -> Sequence[npt.NDArray[np.float64]]:
    left, right = _EAN[symbology]
    body = widths[3:]
    groups = [body[4 * place : 4 * place + 4] for place in range(left)]
    after = body[4 * left + 5 :]
    groups += [after[4 * place : 4 * place + 4] for place in range(right)]
    return [group for group in groups if len(group) == 4]


def _two_widths(elements: npt.NDArray[np.float64]) -> float:
    """Narrow and wide elements against the threshold between them, halfway between their means."""
    ordered = np.sort(elements)
    gap = int(np.argmax(np.diff(ordered))) + 1
    narrow, wide = ordered[:gap], ordered[gap:]
    threshold = (narrow.mean() + wide.mean()) / 2
    return float(
        min(
            (threshold - narrow.max()) / (threshold - narrow.mean()),
            (wide.min() - threshold) / (wide.mean() - threshold),
        )
    )
