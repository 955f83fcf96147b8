"""GS1 element strings: rows of the syntax dictionary, worked examples, a second linter, and every way to be wrong."""

from __future__ import annotations

import random
import string

import pytest
import zint
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp import checkdigit
from vdp.barcode import gs1
from vdp.barcode.gs1_rules import IDENTIFIERS, Part
from vdp.errors import RowRefused

SET_82 = "!\"%&'()*+,-./:;<=>?_" + string.digits + string.ascii_letters


def test_general_specifications_7_8_5() -> None:
    """GS1 General Specifications 7.8.5.1-2: an AI whose length is predefined has no separator behind it."""
    assert gs1.parse("(01)95012345678903(3102)000400").data() == "01950123456789033102000400"


def test_general_specifications_6_6_5() -> None:
    """GS1 General Specifications 6.6.5-4: one separator, after the batch."""
    elements = gs1.parse("(02)00614141000418(15)210228(10)451214(37)20")
    assert elements.data() == "02006141410004181521022810451214\x1d3720"
    assert elements.text() == "(02)00614141000418(15)210228(10)451214(37)20"


@pytest.mark.parametrize(
    ("ai", "extent"),
    [  # GS1 Syntax Dictionary
        ("00", "18 characters"),
        ("01", "14 characters"),
        ("10", "1 to 20 characters"),
        ("17", "6 characters"),
        ("21", "1 to 20 characters"),
        ("253", "13 to 30 characters"),
        ("8003", "14 to 30 characters"),
        ("3105", "6 characters"),
        ("99", "1 to 90 characters"),
    ],
)
def test_extents(ai: str, extent: str) -> None:
    assert IDENTIFIERS[ai].extent() == extent


#: GS1 General Specifications Figure 7.8.5-2: AI's first two digits → length with the AI.
PREDEFINED = {
    "00": 20,
    **dict.fromkeys(("01", "02", "03", "41"), 16),
    "20": 4,
    **{f"{n}": 8 for n in (11, 12, 13, 15, 16, 17)},
    **{f"{n}": 10 for n in (31, 32, 33, 34, 35, 36)},
}


def test_predefined_lengths() -> None:
    for ai, identifier in IDENTIFIERS.items():
        assert identifier.ends_itself == (ai[:2] in PREDEFINED)
        if identifier.ends_itself:
            assert len(ai) + sum(p.most for p in identifier.parts) == PREDEFINED[ai[:2]]


def sample(ai: str, rng: random.Random, longest: bool = False) -> str:
    """A value that keeps to the AI's format."""
    return "".join(_piece(part, rng, longest) for part in IDENTIFIERS[ai].parts)


def _piece(part: Part, rng: random.Random, longest: bool) -> str:
    length = part.most if longest else rng.randint(part.least, part.most)
    alphabet = {"N": string.digits, "X": SET_82.replace("%", ""), "Y": "#-/" + string.digits + string.ascii_uppercase}
    text = "".join(rng.choice(alphabet[part.kind]) for _ in range(length))
    if part.rule == "csum":
        return text[:-1] + checkdigit.check("gs1", text[:-1])
    if part.rule == "prefix":
        return ("9501" + text)[: part.most]
    special = {
        "sixty": "59",
        "date": "240229",
        "day0": "250200",
        "piece": "0307",
        "zero": "0",
        "yesno": "1",
        "minus": "-",
        "upper2": "GB",
    }
    if part.rule == "time":
        return "2359"[:length]
    if part.rule == "plain":
        return "7" + text[1:]
    return special.get(part.rule, text)


def written(elements: tuple[tuple[str, str], ...]) -> str:
    return "".join(f"({ai}){value}".replace("(", "\\(").replace("\\(", "(", 1) for ai, value in elements)


@pytest.mark.parametrize("longest", [True, False])
def test_every_identifier_takes_what_its_format_says(longest: bool) -> None:
    rng = random.Random(82)
    for ai in IDENTIFIERS:
        value = sample(ai, rng, longest)
        assert gs1.parse(written(((ai, value),))).elements == ((ai, value),)
        assert IDENTIFIERS[ai].faults(value + "0" * 91) != []
        assert IDENTIFIERS[ai].faults("") != []


#: Whose country and currency codes zint looks up, and we do not.
LOOKED_UP = ("391", "393", "421", "422", "423", "424", "425", "426", "703")


def zint_takes(ai: str, value: str) -> bool:
    symbol = zint.Symbol()
    symbol.symbology = zint.Symbology.DATAMATRIX
    symbol.input_mode = zint.InputMode.GS1
    symbol.warn_level = zint.WarningLevel.FAIL_ALL
    try:
        symbol.encode(f"[{ai}]{value}")
    except RuntimeError:
        return False
    return True


def test_a_second_linter_agrees(capfd: pytest.CaptureFixture[str]) -> None:
    """zint's: of samples, and of samples with one character changed, it takes and refuses the same."""
    rng = random.Random(7)
    taken = refused = 0
    for ai, identifier in IDENTIFIERS.items():
        if ai.startswith(LOOKED_UP):
            continue
        for _ in range(6):
            value = sample(ai, rng)
            assert zint_takes(ai, value), (ai, value)
            place = rng.randrange(len(value))
            value = value[:place] + rng.choice("0123456789AZaz%-") + value[place + 1 :]
            ours = identifier.faults(value) == []
            assert zint_takes(ai, value) == ours, (ai, value, identifier.faults(value))
            taken += ours
            refused += not ours
    assert taken > 500
    assert refused > 500
    capfd.readouterr()


def scan(data: str) -> list[tuple[str, str]]:
    """A reader's way back: predefined lengths, then separators; written for this test alone."""
    found = []
    while data:
        if data[:2] in PREDEFINED:
            word, data = data[: PREDEFINED[data[:2]]], data[PREDEFINED[data[:2]] :]
        else:
            word, _, data = data.partition("\x1d")
        ai = next(word[:n] for n in (2, 3, 4) if word[:n] in IDENTIFIERS)
        found.append((ai, word[len(ai) :]))
    return found


@given(st.lists(st.sampled_from(sorted(IDENTIFIERS)), min_size=1, max_size=6, unique=True), st.integers(0, 2**32))
@settings(max_examples=300, deadline=None)
def test_data_is_scanned_back(ais: list[str], seed: int) -> None:
    rng = random.Random(seed)
    elements = tuple((ai, sample(ai, rng)) for ai in ais)
    try:
        parsed = gs1.parse(written(elements))
    except RowRefused as refused:
        assert all("must not stand" in r or "same thing" in r for r in refused.reasons)  # noqa: PT017 - or no refusal
        return
    assert parsed.elements == elements
    assert scan(parsed.data()) == list(elements)


@given(st.text(max_size=40))
@settings(max_examples=300)
def test_nothing_is_taken_that_is_not_written_so(text: str) -> None:
    try:
        parsed = gs1.parse(text)
    except RowRefused:
        return
    assert written(parsed.elements) == text


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "'' is not a GS1 element string"),
        ("01095011015300031", "not a GS1 element string"),
        ("(01)09501101530003x(", "not a GS1 element string"),
        ("(10)A(B", r"'\(B' is not"),
        ("(10)A\\B", r"'\\B' is not"),
        ("(01)0950110153000", r"\(01\) needs 14 characters, not 13"),
        ("(01)095011015300031", r"\(01\) needs 14 characters, not 15"),
        ("(01)09501101530004", "check digit 4, and 3 is right"),
        ("(01)0950110153000X", "takes only digits, not 'X'"),
        ("(01)0950110153000٣", "takes only digits, not '٣'"),
        ("(10)", "needs 1 to 20 characters, not 0"),
        ("(10)" + "A" * 21, "needs 1 to 20 characters, not 21"),
        ("(10)a b", r"set 82 .* not ' ' \(U\+0020\)"),
        ("(10)Ä", "not 'Ä'"),
        ("(8010)abc", "set 39"),
        ("(17)251301", "no month 13"),
        ("(17)250001", "no month 00"),
        ("(17)250230", "no day 30 in month 02"),
        ("(17)250229", "no day 29 in month 02"),
        ("(7006)250200", "no day 00 in month 02"),
        ("(7003)2501012460", "no time 2460"),
        ("(8008)2501012361", "no minute or second 61"),
        ("(8008)25010124", "no time 24"),
        ("(8006)123123123123330308", None),
        ("(8006)123123123123330803", "counts piece 08 of 03"),
        ("(8006)123123123123330003", "counts piece 00 of 03"),
        ("(4301)100%", "two hexadecimal digits"),
        ("(8003)10950110153003", "begins with 1, and 0 is right"),
        ("(4321)2", "0 or 1 are right"),
        ("(8011)0123", "begins with a 0"),
        ("(4330)001200+", "only - may stand there"),
        ("(4307)gb", "not two capitals"),
        ("(8004)95A1", "GS1 Company Prefix"),
        ("(1234)1", r"\(1234\) is not an application identifier"),
        ("(8110)1", "not an application identifier"),
        ("(10)A(10)B", r"\(10\) stands twice"),
        ("(3102)000400(3103)000400", r"\(3102\) and \(3103\) tell the same thing twice"),
        ("(01)12312312312333(02)12312312312333", r"\(01\) must not stand with \(02\)"),
        ("(21)A(235)B", r"\(21\) must not stand with \(235\)"),
        ("(420)1(421)004A", r"\(420\) must not stand with \(421\)"),
        ("(4330)001200(4331)001200", r"\(4330\) must not stand with \(4331\)"),
        ("(3920)1(3930)0081", r"\(3920\) must not stand with \(3930\)"),
        ("(10)" + "A" * 8000, "longer than 8000"),
    ],
)
def test_refuses(text: str, says: str | None) -> None:
    if says is None:
        gs1.parse(text)
        return
    with pytest.raises(RowRefused, match=says):
        gs1.parse(text)


def test_all_faults_at_once() -> None:
    with pytest.raises(RowRefused) as refused:
        gs1.parse("(01)09501101530004(17)251301(10)")
    assert len(refused.value.reasons) == 3


def test_leap_day_and_open_day() -> None:
    assert gs1.parse("(17)240229").elements == (("17", "240229"),)
    assert gs1.parse("(17)000229").elements == (("17", "000229"),), "2000 was a leap year"
    assert gs1.parse("(17)250200").elements == (("17", "250200"),), "day 00: the month alone"


def test_a_bracket_within_a_value() -> None:
    elements = gs1.parse(r"(10)A\(01)B(21)7")
    assert elements.elements == (("10", "A(01)B"), ("21", "7"))
    assert elements.data() == "10A(01)B\x1d217"


@pytest.mark.parametrize(
    ("text", "missing"),
    [  # GS1 Syntax Dictionary: req
        ("(21)A", ["(21) needs one of (01), (03), (8006) on the same item"]),
        ("(01)12312312312333(21)A", []),
        ("(8006)123123123123330308(21)A", []),
        ("(01)12312312312333(3102)000400", []),
        ("(3102)000400", ["(3102) needs one of (01), (02) on the same item"]),
        ("(250)A(01)12312312312333", ["(250) needs one of (21) on the same item"]),
        ("(00)340123450000000000", []),
        ("(91)X", []),
    ],
)
def test_missing_partners(text: str, missing: list[str]) -> None:
    assert gs1.parse(text).missing() == tuple(missing)
