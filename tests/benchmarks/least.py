"""The least X-dimension of each symbology against growth, by simulation: `python -m tests.benchmarks.least`.

Prints the table of README and of `vdp/barcode/least.py`.  A size is safe when every print of it, with every seed, is
graded `FLOOR` or better, or decoded where the symbology is not graded, and every larger size is safe too.
"""

from __future__ import annotations

import sys

from tests.verify.grade.drawn import POSTAL, SAMPLES, decoded, graded, postal, printed
from vdp.barcode.least import FLOOR, GROWTHS, PRESS
from vdp.verify.decode import LINEAR
from vdp.verify.grade.matrix import gradable
from vdp.verify.grade.press import Press
from vdp.verify.grade.symbol import reads

#: Sizes that are tried, in dots, and prints of each; more where a print is only read or not.
SIZES = range(2, 17)
PRINTS, READINGS = 3, 24


def safe(symbology: str, dots: int, growth: float, prints: int = PRINTS) -> bool:
    """Whether every print of that size is good enough."""
    press = Press(growth, *PRESS)
    if symbology in LINEAR or gradable(symbology):
        return all(graded(symbology, dots, press, seed).grade >= FLOOR for seed in range(prints))
    return all(decoded(symbology, dots, press, seed) for seed in range(READINGS // PRINTS * prints))


def least(symbology: str, growth: float) -> int:
    """The least safe X in dots.  One more than the largest tried when none is safe."""
    for dots in reversed(SIZES):
        if not safe(symbology, dots, growth):
            return dots + 1
    return SIZES[0]


def most_growth(symbology: str, prints: int = PRINTS) -> int:
    """The most growth in even dots up to which a postal code of 1200 dpi is read, at the one size that it has."""
    plate = postal(symbology)
    for growth in range(2, 40, 2):
        press = Press(growth, *PRESS)
        if not all(reads(printed(plate, press, seed), symbology, POSTAL[symbology]) for seed in range(prints)):
            return growth - 2
    return 40


def main() -> None:
    """Prints the table, and what postal codes bear."""
    sys.stdout.write("| symbology | " + " | ".join(f"growth {growth:g}" for growth in GROWTHS) + " |\n")
    sys.stdout.write("| --- " * (1 + len(GROWTHS)) + "|\n")
    for symbology in SAMPLES:
        row = " | ".join(str(least(symbology, growth)) for growth in GROWTHS)
        sys.stdout.write(f"| {symbology} | {row} |\n")
        sys.stdout.flush()
    for symbology in POSTAL:
        sys.stdout.write(f"{symbology} at its one size: read up to a growth of {most_growth(symbology)}\n")


if __name__ == "__main__":
    main()
