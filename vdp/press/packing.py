"""Bands and cartons: the cut stacks in the order in which they are put together, counted off for the packing table.

Lives here: which piece begins and ends each band, and which carton it goes into.  Not here: serials, labels.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import NamedTuple

from vdp.press.parts import Arranged


class Band(NamedTuple):
    """A band: its number and its carton's, both from 1 over the whole run; `pieces` in packing order, each by number;
    `blanks` lie at the foot of the stack it was taken from."""

    number: int
    carton: int
    roll: int
    pieces: tuple[int, ...]
    blanks: int

    @property
    def consecutive(self) -> bool:
        """Whether the numbers run on without a gap."""
        return all(after - before == 1 for before, after in zip(self.pieces, self.pieces[1:], strict=False))


def bands(order: Arranged, pieces_a_band: int, bands_a_carton: int) -> Iterator[Band]:
    """Every band in order; a stack begins a band of its own, so that none is put together from two."""
    number = 0
    for roll in range(1, order.rolls + 1):
        for stack in order.stacks(roll):
            rest = iter(stack.pieces)
            while held := tuple(islice(rest, pieces_a_band)):
                number += 1
                blanks = stack.blanks if held[-1] == stack.pieces[-1] else 0
                yield Band(number, 1 + (number - 1) // bands_a_carton, roll, held, blanks)
