"""The type size at which each shipped face survives the press's dots, printed and reversed out: the table of README.

Every letter of the face's script is judged at every place along its line.  Run it as
``python -m tests.benchmarks.micro``; it takes half a minute.
"""

from __future__ import annotations

import argparse
import math
import string
import sys
from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple

from tests.benchmarks.table import table
from vdp.job.faces import builtin_faces
from vdp.pattern.survival import Anatomy, anatomy, least_body, least_size, lost_along
from vdp.text import Face
from vdp.text.outlines import outline

LATIN = string.ascii_letters + string.digits
#: Letters of a script as they stand alone; the kanji are those of the first school year.
LETTERS = {
    "arabic": "".join(map(chr, (*range(0x0627, 0x063B), *range(0x0641, 0x064B)))),
    "hebrew": "".join(map(chr, range(0x05D0, 0x05EB))),
    "devanagari": "".join(map(chr, (*range(0x0905, 0x0915), *range(0x0915, 0x093A)))),
    "thai": "".join(map(chr, range(0x0E01, 0x0E2F))),
    "cjk": "一右雨円王音下火花貝学気九休玉金空月犬見口校左三山子四糸字耳七車手十出女小上森人水正生青夕石赤千川先早草足"
    "村大男竹中虫町天田土二日入年白八百文木本名目立力林六五",
}
#: Sizes tried, in points.
SIZES = (*(tenths / 10 for tenths in range(5, 20)), *(fifths / 5 for fifths in range(10, 41)))


class Survives(NamedTuple):
    """Sizes in points, None for over the largest tried: parts and holes hold; strokes are thick enough, too."""

    whole: float | None
    thick: float | None


def shapes_of(face: str) -> list[Anatomy]:
    """Every letter that the table judges a face by."""
    opened = Face(face, builtin_faces()[face])
    letters = LETTERS.get(face.removesuffix("-bold"), LATIN)
    return [anatomy(outline(opened, opened.font.get_nominal_glyph(ord(one))), opened.upem) for one in letters]


def holds(shapes: Iterable[Anatomy], size: float, dpi: int, *, reversed_out: bool) -> bool:
    """Whether none loses anything at that size in points."""
    return not any(lost_along(one, size * dpi / 72 / one.em, 0, reversed_out=reversed_out) for one in shapes)


def survives(shapes: list[Anatomy], dpi: int, *, reversed_out: bool) -> Survives:
    """The least sizes of a face, printed or reversed out."""
    whole = least_size(lambda size: holds(shapes, size, dpi, reversed_out=reversed_out), SIZES)
    body = max(least_body(one, reversed_out=reversed_out) for one in shapes)
    thick = next((size for size in SIZES if size >= max(whole or math.inf, body * 72 / dpi)), None)
    return Survives(whole, thick)


def rows(dpi: int, tell: Callable[[str], object]) -> Iterator[list[str]]:
    """A row a face."""
    for face in builtin_faces():
        tell(f"{face} ")
        shapes = shapes_of(face)
        found = [survives(shapes, dpi, reversed_out=reversed_out) for reversed_out in (False, True)]
        yield [face, *(_size(size) for one in found for size in one)]


def _size(size: float | None) -> str:
    return f"{size:g}" if size is not None else f"over {SIZES[-1]:g}"


HEAD = ("face", "printed", "strokes too", "reversed out", "strokes too")


def main() -> None:
    parser = argparse.ArgumentParser(description="Points from which on every letter of a face survives.")
    parser.add_argument("--dpi", type=int, default=1200, help="dots an inch of the press (1200)")
    found = list(rows(parser.parse_args().dpi, sys.stderr.write))
    sys.stdout.write("\n" + table(HEAD, found))


if __name__ == "__main__":
    main()
