"""The table of sizes in README, from the composer's own tables: `python -m tests.barcode.size_table`."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator

from vdp.barcode.sizes import SHARE_OF_WIDTH, SIZES, STATES, Range, Size, StateSize
from vdp.barcode.symbology import KNOWN, Symbology

HEAD = (
    "| symbology | use | X in mm: least, target, largest | whole dots at 1200 dpi | bars in mm | quiet zone | where |"
)
DPI = 1200


def table() -> str:
    """The whole table, line feed at the end."""
    whole = "\n".join([HEAD, "| --- " * 7 + "|", *_rows()]) + "\n"
    return whole.replace("GS1 General Specifications", "GGS").replace(", as in a member organisation's size guide", "*")


def _rows() -> Iterator[str]:
    for symbology in KNOWN.values():
        sizes = [size for (name, _), size in SIZES.items() if name == symbology.name]
        yield from (_line(symbology, size) for size in sizes) if sizes else [_line(symbology, None)]
    yield from map(_state, STATES.values())


def _line(symbology: Symbology, size: Size | None) -> str:
    left, bottom, right, _ = symbology.quiet
    quiet = f"{left} X all round" if bottom else f"{left} X, {right} X" if symbology.linear else "none"
    name = symbology.name.replace("_", "-")
    if size is None:
        bars = f"5, or 15 % of the width ({SHARE_OF_WIDTH[name]})" if name in SHARE_OF_WIDTH else "–"
        return f"| {name} | any | the application's | – | {bars} | {quiet} | {symbology.clause} |"
    x = " / ".join(f"{value:.3f}" for value in size.x_mm)
    least, _, most = size.x_mm
    per_mm = DPI / 25.4
    dots = f"{math.ceil((least - 0.0005) * per_mm)} to {math.floor((most + 0.0005) * per_mm)}"
    bars = " / ".join(f"{value:.2f}" for value in size.height_mm) if any(size.height_mm) else "–"
    longest = f"; at most {size.longest_mm:.2f} mm long" if size.longest_mm else ""
    return f"| {name} | {size.use} | {x} | {dots} | {bars} | {quiet} | {size.source}{longest}; {symbology.clause} |"


def _state(size: StateSize) -> str:
    dots = size.dots(DPI)
    bars = f"full {_range(size.full_mm)}, half {_range(size.half_mm)}, tracker {_range(size.tracker_mm)}"
    left, bottom, _, _ = size.clear_mm
    pitch = f"{size.pitch_per_inch.least:g} to {size.pitch_per_inch.most:g} bars an inch, {_range(size.bar_mm)} wide"
    printed = f"pitch {dots.pitch}, bar {dots.bar}"
    return (
        f"| {size.symbology} | post | {pitch} | {printed} | {bars} | {left:.2f} mm, {bottom:.2f} mm | {size.source} |"
    )


def _range(one: Range) -> str:
    return f"{one.least:.2f}–{one.most:.2f}"


if __name__ == "__main__":
    sys.stdout.write(table())
