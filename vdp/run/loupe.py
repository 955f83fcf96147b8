"""The thinnest letter of a run's small type, as report.pdf and report.json tell of it.

Not here: looking for it (`verify.smalltype`).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from vdp.audit.report import Shown, View
from vdp.verify.loupe import loupe_views
from vdp.verify.smalltype import Thinnest

_SIDES = ("front", "back")


def thinnest_json(place: Thinnest | None) -> dict[str, Any] | None:
    """Stroke in dots, letter, font, size and place."""
    if place is None:
        return None
    return {
        "stroke_dots": place.stroke,
        "text": place.text,
        "font": place.base,
        "size": round(place.size, 2),
        "reversed": place.reversed_out,
        "piece": place.piece,
        "side": _SIDES[place.side],
        "plate": place.plate,
    }


def loupe_shown(folder: Path, spots: tuple[str, ...], place: Thinnest | None, dpi: int) -> tuple[Shown, ...]:
    """The letter through a loupe; nothing where the run has no small type."""
    if place is None:
        return ()
    views = tuple(View(label, png) for label, png in loupe_views(folder / "pieces.pdf", spots, place, dpi))
    ground = "left out of ink" if place.reversed_out else "printed"
    title = (
        f"Small type through a loupe: the thinnest stroke of the run, {place.stroke:g} dots, in '{place.text}' of "
        f"{place.base} at {place.size:.2f} pt {ground} (piece {place.piece}, {_SIDES[place.side]})"
    )
    return (Shown(title, views),) if views else ()
