"""Four-state codes: the four examples of USPS-B-3200 step by step, a reader of our own, zint's RM4SCC and KIX."""

from __future__ import annotations

import random

import numpy as np
import pytest
import zint
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.barcode import imb_reader
from tests.barcode.drawing import Bitmap, zint_rows
from vdp.barcode import imb, rm4scc
from vdp.barcode.sizes import STATES
from vdp.errors import OurBug, RowRefused
from vdp.marks import StateDots, States

TRACKING = "01234567094987654321"
#: USPS-B-3200 Rev H Appendix C, Tables 13–16: routing, 13 bytes, frame check, codewords of step 3, bars.
EXAMPLES = [
    (
        "",
        "00000000001122103B5C2004B1",
        0x051,
        [0, 0, 0, 0, 559, 202, 508, 451, 124, 17],
        "ATTFATTDTTADTAATTDTDTATTDAFDDFADFDFTFFFFFTATFAAAATDFFTDAADFTFDTDT",
    ),
    (
        "01234",
        "0000000D138A87BAB5CF3804B1",
        0x065,
        [0, 0, 15, 14, 290, 567, 385, 48, 388, 333],
        "DTTAFADDTTFTDTFTFDTDDADADAFADFATDDFTAAAFDTTADFAAATDFDTDFADDDTDFFT",
    ),
    (
        "012345678",
        "000202BDC097711204D21804B1",
        0x606,
        [0, 110, 1113, 1363, 198, 413, 470, 468, 1333, 513],
        "ADFTTAFDTTTTFATTADTAAATFTFTATDAAAFDDADATATDTDTTDFDTDATADADTDFFTFA",
    ),
    (
        "01234567891",
        "016907B2A24ABC16A2E5C004B1",
        0x751,
        [14, 787, 607, 1022, 861, 19, 816, 1294, 35, 301],
        "AADTFFDFTDADTAADAATFDTDDAAADDTDTTDAFADADDDTFFFDDTTTADFAAADFTDAADA",
    ),
]


@pytest.mark.parametrize(("routing", "data", "check", "codewords", "bars"), EXAMPLES)
def test_published_examples(routing: str, data: str, check: int, codewords: list[int], bars: str) -> None:
    """Every intermediate value by our own steps, the bars by the product."""
    value = imb_reader.value_of(TRACKING, routing)
    assert value.to_bytes(13) == bytes.fromhex(data)
    assert imb_reader.frame_check(value) == check
    assert imb_reader.codewords_of(value) == codewords
    full = imb_reader.with_check(codewords, check)
    assert imb_reader.bars_from(imb_reader.characters_of(full, check)) == bars
    assert imb.encode(TRACKING + routing).bars == bars
    assert imb_reader.read_bars(bars) == (TRACKING, routing)


def test_fourth_example_further() -> None:
    """Table 16: step 4's codewords, and the characters before and after the check inverts some."""
    codewords = imb_reader.with_check(EXAMPLES[3][3], 0x751)
    assert codewords == [673, 787, 607, 1022, 861, 19, 816, 1294, 35, 602]
    before = "1234 085C 08E4 0B06 1922 1740 0839 1200 0DC0 04D4"
    after = "0DCB 085C 08E4 0B06 06DD 1740 17C6 1200 123F 1B2B"
    assert imb_reader.characters_of(codewords, 0) == [int(c, 16) for c in before.split()]
    assert imb_reader.characters_of(codewords, 0x751) == [int(c, 16) for c in after.split()]


def test_published_tables() -> None:
    assert imb_reader.frame_check(0) == 0x6E0
    assert (imb_reader.FIVE[0], imb_reader.FIVE[1286], imb_reader.FIVE[673]) == (31, 496, 0x1234)
    assert imb_reader.TWO[7] == 0x1200
    assert len(set(imb_reader.CHARACTERS)) == 1287 + 78
    bits = set(imb_reader.DOWN) | set(imb_reader.UP)
    assert bits == {(character, bit) for character in range(10) for bit in range(13)}, "each of 130 bits once"
    assert imb_reader.routing_counts() == [0, 1, 100_001, 1_000_100_001]


@pytest.mark.parametrize("bars", [example[4] for example in EXAMPLES])
def test_every_single_bar_error_is_refused(bars: str) -> None:
    for place, bar in enumerate(bars):
        for wrong in set("FADT") - {bar}:
            with pytest.raises(ValueError, match="bits set"):
                imb_reader.read_bars(bars[:place] + wrong + bars[place + 1 :])


def test_other_faults_are_refused() -> None:
    for bars in (EXAMPLES[0][4][:-1], EXAMPLES[0][4][::-1], "T" * 65, "F" * 65, "X" + EXAMPLES[0][4][1:]):
        with pytest.raises(ValueError, match=r"65 bars|bits set|odd|differs"):
            imb_reader.read_bars(bars)
    codewords = imb_reader.with_check(EXAMPLES[0][3], 0x051)
    for other_check in (0x050, 0x151):
        forged = imb_reader.bars_from(imb_reader.characters_of(codewords, other_check))
        with pytest.raises(ValueError, match="the frame check differs"):
            imb_reader.read_bars(forged)
    odd = imb_reader.bars_from(imb_reader.characters_of([*codewords[:9], codewords[9] + 1], 0x051))
    with pytest.raises(ValueError, match="codeword J is odd"):
        imb_reader.read_bars(odd)


DIGITS = "0123456789"
TRACKINGS = st.tuples(
    st.text(DIGITS, min_size=1, max_size=1),
    st.text("01234", min_size=1, max_size=1),
    st.text(DIGITS, min_size=18, max_size=18),
).map("".join)
ROUTINGS = st.sampled_from([0, 5, 9, 11]).flatmap(lambda n: st.text(DIGITS, min_size=n, max_size=n))


@given(TRACKINGS, ROUTINGS)
@settings(max_examples=200)
def test_round_trip(tracking: str, routing: str) -> None:
    bars = imb.encode(tracking + routing).bars
    assert imb_reader.read_bars(bars) == (tracking, routing)
    value = imb_reader.value_of(tracking, routing)
    check = imb_reader.frame_check(value)
    codewords = imb_reader.with_check(imb_reader.codewords_of(value), check)
    assert imb_reader.bars_from(imb_reader.characters_of(codewords, check)) == bars


def drawn(states: States, size: StateDots) -> Bitmap:
    """True = ink, rows from the top."""
    picture = np.zeros((size.full + 20, size.width(len(states.bars)) + 40), np.uint8)
    for place, bar in enumerate(states.bars):
        top = 10 + (0 if bar in "AF" else size.reach)
        bottom = 10 + size.full - (0 if bar in "DF" else size.reach)
        left = 20 + place * size.pitch
        picture[top:bottom, left : left + size.bar] = 1
    return picture


@pytest.mark.parametrize("dpi", [1200, 600, 300])
def test_bars_are_classified_from_a_bitmap(dpi: int) -> None:
    size = STATES["imb"].dots(dpi)
    for routing, *_, bars in EXAMPLES:
        picture = drawn(imb.encode(TRACKING + routing), size)
        assert imb_reader.bars_of(picture != 0) == bars
        assert imb_reader.read_bars(imb_reader.bars_of(picture != 0)) == (TRACKING, routing)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "needs 20 digits"),
        ("0123456709498765432", "needs 20 digits"),
        ("05234567094987654321", "the second 0 to 4"),
        ("0123456709498765432X", "needs 20 digits"),
        ("٠1234567094987654321", "needs 20 digits"),
        (TRACKING + "1", "0, 5, 9 or 11 digits"),
        (TRACKING + "1234A", "0, 5, 9 or 11 digits"),
        (TRACKING + "012345678912", "0, 5, 9 or 11 digits"),
        (TRACKING + "01234\n", "0, 5, 9 or 11 digits"),
    ],
)
def test_imb_refuses(text: str, says: str) -> None:
    with pytest.raises(RowRefused, match=says):
        imb.encode(text)


def test_a_library_that_gives_no_bars_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reportlab.graphics.barcode.usps4s.USPS_4State.barcodes", property(lambda self: "FADT"))
    with pytest.raises(OurBug, match="65 bars"):
        imb.encode(TRACKING)


def zint_states(symbology: zint.Symbology, text: str) -> str:
    up, _, down = zint_rows(symbology, text)
    return "".join("TADF"[int(a) + 2 * int(d)] for a, d in zip(up[::2], down[::2], strict=True))


def test_imb_is_zints() -> None:
    rng = random.Random(3200)
    for length in (0, 5, 9, 11) * 10:
        tracking = f"{rng.randrange(10)}{rng.randrange(5)}{rng.randrange(10**18):018d}"
        routing = f"{rng.randrange(10**length):0{length}d}" if length else ""
        theirs = zint_states(zint.Symbology.USPS_IMAIL, tracking + ("-" + routing if routing else ""))
        assert imb.encode(tracking + routing).bars == theirs


@given(st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=18))
@settings(max_examples=150)
def test_rm4scc_and_kix_are_zints(text: str) -> None:
    assert rm4scc.encode(text).bars == zint_states(zint.Symbology.RM4SCC, text)
    assert rm4scc.kix(text).bars == zint_states(zint.Symbology.KIX, text)


def test_rm4scc_bars_are_two_up_two_down() -> None:
    """Every character has two bars that reach up and two that reach down: one wrong bar shows."""
    for char in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ":
        bars = rm4scc.kix(char).bars
        assert sum(b in "AF" for b in bars) == sum(b in "DF" for b in bars) == 2


@pytest.mark.parametrize("act", [rm4scc.encode, rm4scc.kix])
@pytest.mark.parametrize("text", ["", "a", "SN3 4RD", "A" * 31, "Ä"])
def test_rm4scc_refuses(act: object, text: str) -> None:
    assert callable(act)
    with pytest.raises(RowRefused, match=r"capitals and digits only|1 to 30 characters"):
        act(text)
