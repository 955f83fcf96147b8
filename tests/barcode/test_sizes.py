"""Sizes: published ranges, snapping to dots, four-state pitches; and the whole table of symbologies."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.barcode.size_table import table
from vdp.barcode import s10
from vdp.barcode.sizes import SHARE_OF_WIDTH, SIZES, STATES, share_of_width_mm, snap
from vdp.barcode.symbology import KNOWN, SYMBOLOGIES
from vdp.errors import RowRefused
from vdp.marks import StateDots


@pytest.mark.parametrize(
    ("key", "x", "height"),
    [  # GS1 General Specifications, a member organisation's size guide
        (("ean13", "retail"), (0.264, 0.330, 0.660), 18.28),
        (("upca", "retail"), (0.264, 0.330, 0.660), 18.28),
        (("ean8", "retail"), (0.264, 0.330, 0.660), 14.58),
        (("ean13", "distribution"), (0.495, 0.660, 0.660), 34.28),
        (("itf14", "distribution"), (0.495, 0.495, 1.016), 31.75),
        (("gs1_128", "distribution"), (0.495, 0.495, 1.016), 31.75),
        (("gs1_datamatrix", "retail"), (0.396, 0.625, 0.990), 0),
        (("gs1_qr", "retail"), (0.396, 0.625, 0.990), 0),
    ],
)
def test_published_ranges(key: tuple[str, str], x: tuple[float, float, float], height: float) -> None:
    size = SIZES[key]
    assert size.x_mm == x
    assert size.least_height_mm(x[0]) == height


def test_heights_follow_x() -> None:
    """At the target X of 0.330 mm an EAN-13 is 22.85 mm high."""
    assert SIZES["ean13", "retail"].least_height_mm(0.330) == pytest.approx(22.85, abs=0.01)
    assert SIZES["ean8", "retail"].least_height_mm(0.330) == pytest.approx(18.23, abs=0.01)
    assert SIZES["ean13", "retail"].least_height_mm(0.660) == 45.70


@pytest.mark.parametrize(
    ("asked", "dpi", "dots"),
    [(0.330, 1200, 16), (0.495, 1200, 23), (0.396, 1200, 19), (0.254, 1200, 12), (0.508, 1200, 24), (0.330, 600, 8)],
)
def test_nearest_whole_dots(asked: float, dpi: int, dots: int) -> None:
    """0.330 mm is 15.59 dots of 1200 to the inch, 0.495 is 23.39, 0.396 is 18.71; 0.254 and 0.508 are whole."""
    found = snap(asked, dpi)
    assert found.dots == dots
    assert found.asked_mm == asked
    assert found.printed_mm == pytest.approx(dots * 25.4 / dpi)


def test_the_printed_x_stays_in_the_range() -> None:
    """0.264 mm is 12.47 dots: 12 would be 0.254 mm, too small, so it becomes 13; 0.495 is 23.39: 24."""
    assert snap(0.264, 1200, SIZES["ean13", "retail"]).dots == 13
    assert snap(0.495, 1200, SIZES["gs1_128", "distribution"]).dots == 24
    assert snap(0.660, 1200, SIZES["ean13", "retail"]).dots == 31


@given(st.sampled_from(sorted(SIZES)), st.floats(0, 1), st.sampled_from([600, 1200, 2400]))
def test_any_x_of_a_range_is_printed_within_it(key: tuple[str, str], part: float, dpi: int) -> None:
    size = SIZES[key]
    least, _, most = size.x_mm
    asked = min(most, least + (most - least) * part)
    found = snap(asked, dpi, size)
    assert least - 0.0005 <= found.printed_mm <= most + 0.0005
    assert abs(found.printed_mm - asked) < 25.4 / dpi


@pytest.mark.parametrize(
    ("asked", "dpi", "key", "says"),
    [
        (0.2, 1200, ("ean13", "retail"), "not within 0.264 to 0.66 mm"),
        (0.7, 1200, ("ean13", "retail"), "not within"),
        (0.5, 30, ("ean13", "distribution"), "no whole number of dots at 30 dpi"),
        (0.005, 1200, None, "less than half a dot"),
    ],
)
def test_snap_refuses(asked: float, dpi: int, key: tuple[str, str] | None, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        snap(asked, dpi, SIZES[key] if key else None)


def test_intelligent_mail_at_1200_dpi() -> None:
    """USPS-B-3200 §2.3: pitch 50–60 dots, bars 18–30 dots; 65 bars 2.68–3.23 in."""
    size = STATES["imb"].dots(1200)
    assert 50 <= size.pitch <= 60
    assert 18 <= size.bar <= 30
    assert 2.68 <= size.width(65) / 1200 <= 3.23
    assert 0.125 <= size.full / 1200 <= 0.165
    assert 0.039 <= size.tracker / 1200 <= 0.057
    assert 0.082 <= size.half / 1200 <= 0.111
    assert STATES["imb"].clear_dots(1200) == (150, 34, 150, 34), "0.125 and 0.028 in, rounded up"


@pytest.mark.parametrize("symbology", sorted(STATES))
@pytest.mark.parametrize("dpi", [300, 600, 1200, 2400])
def test_four_state_sizes_lie_in_their_ranges(symbology: str, dpi: int) -> None:
    size = STATES[symbology]
    assert size.faults(size.dots(dpi), dpi) == []
    for least, target, most in (size.pitch_per_inch, size.bar_mm, size.tracker_mm, size.half_mm, size.full_mm):
        assert least < target < most
    if symbology != "imb":
        assert size.clear_dots(dpi) == (-(-dpi * 10 // 127),) * 4, "2 mm"


def test_four_state_sizes_outside_their_ranges() -> None:
    size = STATES["imb"]
    assert len(size.faults(StateDots(49, 31, 40, 100), 1200)) == 5
    with pytest.raises(ValueError, match="cannot be printed at 30 dpi"):
        size.dots(30)


def test_least_height_of_code_39_and_interleaved() -> None:
    """ISO/IEC 16388 §4.4 e), ISO/IEC 16390 §4.4."""
    assert SHARE_OF_WIDTH.keys() <= KNOWN.keys()
    assert share_of_width_mm(20) == 5.0
    assert share_of_width_mm(80) == pytest.approx(12.0)


def test_what_a_layout_may_name_is_known() -> None:
    assert {name.replace("-", "_"): kind for name, kind in SYMBOLOGIES.items()} == dict(KNOWN)


@pytest.mark.parametrize(
    ("name", "quiet"),
    [  # ISO and GS1 clauses as in the table; left, bottom, right, top
        ("gs1_128", (10, 0, 10, 0)),
        ("code39", (10, 0, 10, 0)),
        ("itf14", (10, 0, 10, 0)),
        ("ean13", (11, 0, 7, 0)),
        ("ean8", (7, 0, 7, 0)),
        ("upca", (9, 0, 9, 0)),
        ("upce", (9, 0, 7, 0)),
        ("s10", (10, 0, 10, 0)),
        ("micro_qr", (2, 2, 2, 2)),
        ("pdf417", (2, 2, 2, 2)),
        ("aztec", (0, 0, 0, 0)),
        ("gs1_datamatrix", (1, 1, 1, 1)),
        ("gs1_qr", (4, 4, 4, 4)),
    ],
)
def test_quiet_zones(name: str, quiet: tuple[int, int, int, int]) -> None:
    assert KNOWN[name].quiet == quiet
    assert KNOWN[name].clause


def test_upu_s10() -> None:
    """UPU S10: 12345678 has check digit 5 (473124829 is the standard's own example, both from memory)."""
    assert s10.identifier("RA12345678ZZ") == s10.identifier("RA 123 456 785 ZZ") == "RA123456785ZZ"
    assert s10.identifier("RR473124829GB") == "RR473124829GB"
    assert s10.spaced("RA12345678ZZ") == "RA 123 456 785 ZZ"
    for text in ("RA123456784ZZ", "R1123456785ZZ", "RA1234567ZZ", "ra12345678zz", "", "RA١٢٣٤٥٦٧٨ZZ"):
        with pytest.raises(RowRefused):
            s10.identifier(text)


def test_readme_has_the_table_of_sizes() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    assert table() in readme
