"""Every check scheme is told in words, and worked out by arithmetic that agrees with the composer's."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.checkdigit import SCHEMES, check
from vdp.proof.checkwords import worked

#: Published examples: text, check characters, words that the worked example must hold (values computed by hand).
PUBLISHED = [
    ("luhn", "7992739871", "3", "7 + 9 + 9 + 4 + 7 + 6 + 9 + 7 + 7 + 2 = 67; 3 more make 70"),  # ISO/IEC 7812-1 Annex B
    ("damm", "572", "4", "5 leads to 9, 7 leads to 7, 2 leads to 4"),  # Damm 2004
    ("mod97_10", "794", "44", "79400 leaves 54 of 97; 98 − 54 = 44"),  # ISO/IEC 7064
    ("mod11_2", "0794", "0", "= 100 leaves 1 of 11; 0 more make 1"),  # ISO/IEC 7064
    ("mod11_10", "0794", "5", "leads over 9, 1, 9, 6"),  # ISO/IEC 7064
    ("mod1271_36", "ISO79", "3W", "leaves 1132 of 1271; 140 more make 1"),  # ISO/IEC 7064
    ("gs1", "629104150021", "3", "= 57; 3 more make 60"),  # GS1 check-digit page
    ("upu_s10", "47312482", "9", "= 200 leaves 2 of 11; 11 − 2 gives 9"),  # UPU S10 (RA473124829US)
    ("code39_mod43", "12345/ABCDE", "T", "= 115, which leaves 29 of 43"),  # MIL-STD-1189B 6.2.1
    ("icao_731", "520727", "3", "whose last digit is 3"),  # ICAO Doc 9303 specimen
    ("verhoeff", "236", "3", "from the right the products are"),  # textbook
]


@pytest.mark.parametrize(("scheme", "text", "result", "steps"), PUBLISHED)
def test_published_examples_are_worked_out(scheme: str, text: str, result: str, steps: str) -> None:
    found = worked(scheme, text)
    assert found.result == result
    assert steps in found.steps


def test_every_scheme_is_told_and_only_no_scheme_has_no_example() -> None:
    for scheme, takes in SCHEMES.items():
        text = (takes * 8)[:8] or "1"
        found = worked(scheme, text)
        assert found.words.endswith(".")
        assert bool(found.steps) == (scheme != "none")


@settings(max_examples=150)
@given(st.data())
def test_the_arithmetic_that_is_shown_gives_the_check(data: st.DataObject) -> None:
    scheme = data.draw(st.sampled_from([name for name in SCHEMES if name != "none"]))
    size = (8, 8) if scheme == "upu_s10" else (1, 14)
    text = data.draw(st.text(st.sampled_from(SCHEMES[scheme]), min_size=size[0], max_size=size[1]))
    found = worked(scheme, text)
    result = check(scheme, text)
    assert found.result == result
    steps = found.steps
    if "more make 1: " in steps:
        products, total, rest, modulus, more = re.fullmatch(  # type: ignore[union-attr]  # it matches
            r"(.*) = (\d+) leaves (\d+) of (\d+); (\d+) more make 1: .*", steps, re.DOTALL
        ).groups()
        pairs = [part.split("×") for part in products.split(" + ")]
        assert sum(int(value) * int(times) for value, times in pairs) == int(total)
        assert (int(rest) + int(more)) % int(modulus) == 1
        values = {
            char: at for at, char in enumerate(SCHEMES[scheme] + {"mod11_2": "X", "mod37_2": "*"}.get(scheme, ""))
        }
        radix = {"mod11_2": 2, "mod37_2": 2, "mod661_26": 26, "mod1271_36": 36}[scheme]
        read = values[result[0]] if len(result) == 1 else values[result[0]] * radix + values[result[1]]
        assert (int(total) + read) % int(modulus) == 1
    elif "more make" in steps:
        assert steps.endswith(f"{-(-eval(steps.split('=')[0]) // 10) * 10}")  # noqa: S307  a sum of our own making
    elif "brings that to 1" in steps:
        held = int(re.findall(r"(\d+);", steps)[0])
        modulus = {"mod11_10": 10, "mod27_26": 26, "mod37_36": 36}[scheme]
        # ISO/IEC 7064: the last held product and the check's value are 1 modulo M.
        assert (held + SCHEMES[scheme].index(result)) % modulus == 1
    elif "98 −" in steps:
        digits, rest = re.findall(r"(\d+)00 leaves (\d+) of 97", steps)[0]
        assert int(digits + "00") % 97 == int(rest)
