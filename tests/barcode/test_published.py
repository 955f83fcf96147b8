"""Published values of sizes, quiet zones, identifiers and codewords that no other test of this room names.

What the standards' worked examples give is tested beside each encoder: Code 128 Annex A.1 and Fig. 1 (test_code128), QR
Annex I (test_qr_codewords, test_qr_masks), Data Matrix Fig. 1, R.1, O.2 (test_datamatrix), PDF417 Annexes D and Q
(test_stacked_and_matrix), Code 39 Fig. 1 (test_two_widths), USPS-B-3200 Appendix C (test_four_state), GS1 General
Specifications (test_gs1, test_gs1_symbols).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import pytest

from tests.barcode.drawing import bitmap, read
from tests.barcode.test_carriers import TEXTS
from vdp.barcode import carriers, code128, datamatrix
from vdp.barcode.qr import Qr
from vdp.barcode.sizes import SIZES, STATES
from vdp.barcode.symbology import KNOWN
from vdp.marks import Bars, Matrix

Three = tuple[float, float, float]


def corrected(data: Sequence[int], count: int, polynomial: int, first: int) -> list[int]:
    """Error correction codewords over GF(256): the remainder by the product of x − α^first … α^(first + count − 1)."""
    power, log = [1], {1: 0}
    for place in range(1, 255):
        value = power[-1] << 1
        power.append(value ^ polynomial if value > 255 else value)
        log[power[-1]] = place

    def times(a: int, b: int) -> int:
        return power[(log[a] + log[b]) % 255] if a and b else 0

    factors = [1]
    for root in range(first, first + count):
        factors = [x ^ times(y, power[root % 255]) for x, y in zip([*factors, 0], [0, *factors], strict=True)]
    rest = [*data, *[0] * count]
    for place in range(len(data)):
        for step, factor in enumerate(factors):
            rest[place + step] ^= times(factor, rest[place]) if step else 0
    return rest[-count:]


def test_iso_16022_annex_o_codewords() -> None:
    """ISO/IEC 16022 Annex O: "123456" is 142 164 186, corrected by 114 25 5 88 102, and so placed in the symbol."""
    assert corrected([142, 164, 186], 5, 0x12D, 1) == [114, 25, 5, 88, 102]
    matrix = datamatrix.encode("123456")
    inner = [[row >> x & 1 for x in range(1, 9)] for row in matrix.rows[1:9]]
    assert placed(inner) == [142, 164, 186, 114, 25, 5, 88, 102]


def placed(grid: list[list[int]]) -> list[int]:
    """Codewords of an 8 × 8 mapping matrix (ISO/IEC 16022 Annex F.3): it has one corner of its own, condition 3."""
    side = len(grid)
    taken: set[tuple[int, int]] = set()
    found = []

    def module(row: int, column: int) -> int:
        if row < 0:
            row, column = row + side, column + 4 - (side + 4) % 8
        if column < 0:
            row, column = row + 4 - (side + 4) % 8, column + side
        taken.add((row, column))
        return grid[row][column]

    def usual(row: int, column: int) -> None:
        around = ((-2, -2), (-2, -1), (-1, -2), (-1, -1), (-1, 0), (0, -2), (0, -1), (0, 0))
        found.append(int("".join(str(module(row + y, column + x)) for y, x in around), 2))

    row, column = 4, 0
    while row < side or column < side:
        while True:
            if row < side and column >= 0 and (row, column) not in taken:
                usual(row, column)
            row, column = row - 2, column + 2
            if row < 0 or column >= side:
                break
        row, column = row + 1, column + 3
        while True:
            if row >= 0 and column < side and (row, column) not in taken:
                usual(row, column)
            row, column = row + 2, column - 2
            if row >= side or column < 0:
                break
        row, column = row + 3, column + 1
    return found


def test_iso_18004_annex_i_codewords() -> None:
    """ISO/IEC 18004 Annex I: the ten codewords that correct "01234567" in version 1-M, and all 26 in the symbol."""
    data = bytes.fromhex("10 20 0C 56 61 80 EC 11 EC 11 EC 11 EC 11 EC 11")
    check = bytes.fromhex("A5 24 D4 C1 ED 36 C7 87 2C 55")
    assert bytes(corrected(data, 10, 0x11D, 0)) == check
    ((matrix, mask),) = Qr(1, "M").encode_masked(["01234567"])
    assert mask == 0b010
    bits = "".join(str(matrix.rows[y] >> x & 1 ^ (x % 3 == 0)) for y, x in version_1())
    assert int(bits, 2).to_bytes(26) == data + check


def version_1() -> Iterator[tuple[int, int]]:
    """Row and column of each bit of a version 1 symbol, two columns at a time, up and down (ISO/IEC 18004 §7.7.3)."""
    for turn, right in enumerate((20, 18, 16, 14, 12, 10, 8, 5, 3, 1)):
        for row in range(21) if turn % 2 else range(20, -1, -1):
            for column in (right, right - 1):
                corner = (row < 9 and (column < 9 or column > 12)) or (row > 12 and column < 9)
                if not corner and row != 6:
                    yield row, column


@pytest.mark.parametrize("text", ["AIM1234", "A", "12345678", "FP-000123"])
def test_modules_of_code_128(text: str) -> None:
    """ISO/IEC 15417: eleven a symbol character, start and check included, and a stop of thirteen: 11 n + 2."""
    bars = code128.encode(text)
    assert sum(bars.widths) == 11 * (len(code128.values(text)) + 1 + 1) + 2


#: ISO/IEC 15424, as a reader reports them; a QR or Data Matrix with an ECI is told as one without (see `symbology`).
IDENTIFIERS = {
    "code128": "]C0",
    "gs1_128": "]C1",
    "s10": "]C0",
    "code39": "]A0",
    "itf": "]I0",
    "itf14": "]I1",
    "ean13": "]E0",
    "ean8": "]E4",
    "upca": "]E0",
    "upce": "]E0",
    "qr": "]Q1",
    "gs1_qr": "]Q3",
    "micro_qr": "]Q1",
    "datamatrix": "]d1",
    "gs1_datamatrix": "]d2",
    "pdf417": "]L2",
    "aztec": "]z0",
}


@pytest.mark.parametrize("symbology", KNOWN)
def test_symbology_identifiers(symbology: str) -> None:
    text = TEXTS[symbology][0] if symbology != "itf" else "123456"
    (shape,) = carriers.Encoder(symbology, carriers.need(symbology, text)).encode([text])
    assert isinstance(shape, (Bars, Matrix))
    assert read(bitmap(shape, symbology), symbology).symbology_identifier == IDENTIFIERS[symbology]
    assert carriers.identifier(symbology, text) == IDENTIFIERS[symbology]


#: Modules at left, below, right and above, with the clause.
QUIET = {
    "code128": (10, 0, 10, 0),  # ISO/IEC 15417 §4.4.2
    "gs1_128": (10, 0, 10, 0),  # GS1 General Specifications §5.4.4.2
    "s10": (10, 0, 10, 0),  # UPU S10
    "code39": (10, 0, 10, 0),  # ISO/IEC 16388 §4.4 d)
    "itf": (10, 0, 10, 0),  # ISO/IEC 16390 §4.4
    "itf14": (10, 0, 10, 0),  # GS1 General Specifications §5.3.2.2
    "ean13": (11, 0, 7, 0),  # GS1 General Specifications §5.2.3.4, ISO/IEC 15420; so the three below
    "ean8": (7, 0, 7, 0),
    "upca": (9, 0, 9, 0),
    "upce": (9, 0, 7, 0),
    "qr": (4, 4, 4, 4),  # ISO/IEC 18004 §9.1; so the two below
    "gs1_qr": (4, 4, 4, 4),
    "micro_qr": (2, 2, 2, 2),
    "datamatrix": (1, 1, 1, 1),  # ISO/IEC 16022 §7.1
    "gs1_datamatrix": (1, 1, 1, 1),
    "pdf417": (2, 2, 2, 2),  # ISO/IEC 15438 §5.8.3
    "aztec": (0, 0, 0, 0),  # ISO/IEC 24778
}


def test_quiet_zones() -> None:
    assert {name: symbology.quiet for name, symbology in KNOWN.items()} == QUIET
    assert all(mm == 2 for kind in ("rm4scc", "kix") for mm in STATES[kind].clear_mm)
    inches = [mm / 25.4 for mm in STATES["imb"].clear_mm]
    assert inches == pytest.approx((0.125, 0.028, 0.125, 0.028)), "USPS-B-3200 §2.3.2"


#: X and bar heights in mm, least, target and largest (GS1 General Specifications §5.12.3, by a size guide).
RANGES: dict[tuple[str, str], tuple[Three, Three]] = {
    ("ean13", "retail"): ((0.264, 0.330, 0.660), (18.28, 22.85, 45.70)),
    ("upca", "retail"): ((0.264, 0.330, 0.660), (18.28, 22.85, 45.70)),
    ("ean8", "retail"): ((0.264, 0.330, 0.660), (14.58, 18.23, 36.46)),
    ("ean13", "distribution"): ((0.495, 0.660, 0.660), (34.28, 45.70, 45.70)),
    ("itf14", "distribution"): ((0.495, 0.495, 1.016), (31.75, 31.75, 31.75)),
    ("gs1_128", "distribution"): ((0.495, 0.495, 1.016), (31.75, 31.75, 31.75)),
    ("gs1_128", "logistics"): ((0.495, 0.495, 0.940), (31.75, 31.75, 31.75)),  # 0.940 from memory
    ("gs1_datamatrix", "retail"): ((0.396, 0.625, 0.990), (0, 0, 0)),  # copies disagree on 0.615 or 0.625
    ("gs1_qr", "retail"): ((0.396, 0.625, 0.990), (0, 0, 0)),
}


@pytest.mark.parametrize("key", RANGES)
def test_gs1_ranges(key: tuple[str, str]) -> None:
    assert SIZES[key].x_mm == RANGES[key][0]
    assert SIZES[key].height_mm == RANGES[key][1]
    for x, height in zip(*RANGES[key], strict=True):
        assert SIZES[key].least_height_mm(x) == pytest.approx(height, abs=0.01)


def test_a_matrix_takes_one_and_a_half_times_the_x_of_bars() -> None:
    """GS1 General Specifications: the ranges of retail matrices are those of retail bars times 1.5."""
    least, _, most = SIZES["ean13", "retail"].x_mm
    assert SIZES["gs1_qr", "retail"].x_mm[::2] == pytest.approx((1.5 * least, 1.5 * most))


def test_widths_of_ean_13_at_the_ends_of_its_range() -> None:
    """A size guide gives 29.83 mm at 80 % and 74.58 mm at 200 %: 113 X."""
    modules = 95 + KNOWN["ean13"].quiet[0] + KNOWN["ean13"].quiet[2]
    assert modules == 113
    least, _, most = SIZES["ean13", "retail"].x_mm
    assert (round(modules * least, 2), round(modules * most, 2)) == (29.83, 74.58)


def test_intelligent_mail_spans() -> None:
    """USPS-B-3200 §2.3.1, derived: 64 pitches are 2.667 to 3.200 in; 20 to 24 bars an inch, 0.015 to 0.025 in wide."""
    pitch, bar = STATES["imb"].pitch_per_inch, STATES["imb"].bar_mm
    assert (pitch.least, pitch.most) == (20, 24)
    assert (64 / pitch.most, 64 / pitch.least) == pytest.approx((2.667, 3.2), abs=0.001)
    assert (bar.least / 25.4, bar.most / 25.4) == pytest.approx((0.015, 0.025))
    at_1200 = STATES["imb"].dots(1200)
    assert 2.667 <= 64 * at_1200.pitch / 1200 <= 3.2
    for one, inches in (("tracker", (0.039, 0.057)), ("half", (0.082, 0.111)), ("full", (0.125, 0.165))):
        sized = getattr(STATES["imb"], f"{one}_mm")
        assert (sized.least / 25.4, sized.most / 25.4) == pytest.approx(inches)
