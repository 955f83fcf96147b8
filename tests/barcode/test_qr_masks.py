"""Mask penalties: the bit-parallel rules against a plain reading, the standard's example, and why others differ."""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import chain

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from qrcode import util
from segno import encoder

from tests.barcode.qr_readings import Grid, by_qrcode, by_segno, mask_shown, payload, points, unformatted
from vdp.barcode.qr import Qr, version_needed
from vdp.barcode.qr_masks import Scorer, penalty
from vdp.barcode.qr_tables import stride

#: Stretches that the rules are about: long runs, finder-like patterns at distances where they overlap or meet an edge.
STRETCHES = (
    "00000",
    "11111",
    "0101",
    "10111010000",
    "00001011101",
    "000010111011101",
    "1011101011101",
    "1",
    "0",
    "0011",
)


def packed(grid: Grid) -> list[int]:
    return [sum(bit << i for i, bit in enumerate(line)) for line in chain(grid, zip(*grid, strict=True))]


def scored(grids: list[Grid], version: int) -> list[int]:
    """Through the scorer of many symbols; `grids` is a multiple of eight."""
    side = 17 + 4 * version
    word = np.dtype(f"<u{stride(version)}")
    lines = np.array([packed(grid) for grid in grids], word).reshape(8, -1, 2 * side).transpose(0, 2, 1).copy()
    found: list[int] = Scorer(side, word, 16).penalties(lines).reshape(-1).tolist()
    return found


def alone(grid: Grid) -> int:
    gap = len(grid) + 11
    return penalty(sum(line << gap * i for i, line in enumerate(packed(grid))), len(grid), gap)


@st.composite
def grids(draw: st.DrawFn) -> tuple[int, list[Grid]]:
    version = draw(st.sampled_from([1, 2, 3, 4, 7, 11]))
    side = 17 + 4 * version
    rng = random.Random(draw(st.integers(0, 2**32)))
    found = []
    for _ in range(8):
        text = ""
        favourites = rng.sample(STRETCHES, rng.randint(1, 4))
        while len(text) < side * side:
            text += rng.choice(favourites)
        grid = [[int(text[side * y + x]) for x in range(side)] for y in range(side)]
        found.append(grid if rng.random() < 0.5 else [list(column) for column in zip(*grid, strict=True)])
    return version, found


@given(grids())
@settings(max_examples=60, deadline=None)
def test_both_scorers_are_the_plain_reading(case: tuple[int, list[Grid]]) -> None:
    version, symbols = case
    expected = [sum(points(grid)) for grid in symbols]
    assert scored(symbols, version) == expected
    assert [alone(grid) for grid in symbols] == expected


@pytest.mark.parametrize("version", [1, 3, 4, 11])
def test_extremes(version: int) -> None:
    """All light, all dark, stripes of finder patterns: counts at their largest must not overflow."""
    side = 17 + 4 * version
    stripe = ("000010111011101" * side)[:side]
    kinds: list[Grid] = [
        [[0] * side for _ in range(side)],
        [[1] * side for _ in range(side)],
        [[int(c) for c in stripe] for _ in range(side)],
        [[int(c)] * side for c in stripe],
    ] * 2
    expected = [sum(points(grid)) for grid in kinds]
    assert scored(kinds, version) == expected == [alone(grid) for grid in kinds]


def annex_i() -> list[Grid]:
    return [
        [[int(b) for b in row] for row in by_segno("01234567", 1, "M", "numeric", mask).matrix] for mask in range(8)
    ]


def test_iso_18004_annex_i_takes_mask_010() -> None:
    """ISO/IEC 18004 Annex I: format information (M, mask 010) 101111001111100."""
    ((symbol, mask),) = Qr(1, "M").encode_masked(["01234567"])
    assert mask == 0b010
    assert list(symbol.rows) == packed(annex_i()[2])[:21]
    top = [symbol.rows[8] >> x & 1 for x in (0, 1, 2, 3, 4, 5, 7, 8)] + [
        symbol.rows[y] >> 8 & 1 for y in (7, 5, 4, 3, 2, 1, 0)
    ]
    assert "".join(map(str, top)) == "101111001111100"


def test_only_one_reading_of_the_clause_gives_the_standards_own_mask() -> None:
    chosen = {}
    for formatted in (True, False):
        for beyond in (True, False):
            for each in (True, False):
                totals = [
                    sum(points(g if formatted else unformatted(g, 1), beyond_is_light=beyond, each_side=each))
                    for g in annex_i()
                ]
                chosen[formatted, beyond, each] = totals.index(min(totals))
    assert [reading for reading, mask in chosen.items() if mask == 0b010] == [(True, True, False)]


def test_why_segno_and_qrcode_choose_otherwise() -> None:
    """Both judge the symbol before format information is written.  With that taken into account, segno is the reading
    above but for finder patterns that overlap; qrcode also counts no quiet zone, and each side of a pattern."""
    rng = random.Random(7)
    judge: Callable[[list[bytearray], int, int], tuple[int, int, int, int]] = encoder.mask_scores
    same = {"segno": 0, "qrcode": 0, "segno on whole symbols": 0}
    cases = 0
    while cases < 60:
        text = payload(rng, "numeric", rng.randrange(5, 80))
        version = version_needed(text, "M")
        if version > 4:
            continue
        symbols = [[list(map(int, row)) for row in by_segno(text, version, "M", "numeric", m).matrix] for m in range(8)]
        ours = Qr(version, "M").encode_masked([text])[0]
        # Where a payload ends with a codeword segno pads otherwise, and so masks another symbol.
        if packed(symbols[ours[1]])[: len(symbols[0])] != list(ours[0].rows):
            continue
        cases += 1
        bare = [unformatted(symbol, version) for symbol in symbols]
        totals = [sum(points(grid)) for grid in bare]
        same["segno"] += by_segno(text, version, "M", "numeric", None).mask == totals.index(min(totals))
        totals = [sum(points(grid, beyond_is_light=False, each_side=True)) for grid in bare]
        same["qrcode"] += mask_shown(by_qrcode(text, version, "M", "numeric", None)) == totals.index(min(totals))
        assert totals == [util.lost_point(grid) for grid in bare]
        side = len(bare[0])
        theirs = [judge([bytearray(row) for row in grid], side, side) for grid in symbols]
        mine = [points(grid) for grid in symbols]
        assert [(a, b, d) for a, b, _, d in theirs] == [(a, b, d) for a, b, _, d in mine]
        assert all(their[2] <= my[2] for their, my in zip(theirs, mine, strict=True))
        totals = [sum(four) for four in theirs]
        same["segno on whole symbols"] += totals.index(min(totals)) == ours[1]
    assert same["qrcode"] == cases
    assert same["segno"] >= 0.95 * cases
    assert same["segno on whole symbols"] >= 0.95 * cases
