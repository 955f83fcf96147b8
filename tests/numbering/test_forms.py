"""Serials of every form: alphabets, groups, prefixes of each piece, shuffled numbers, codes; and back to the index."""

from __future__ import annotations

import hashlib
import hmac
import pickle
from collections import Counter

import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st

from vdp.checkdigit import SCHEMES, check
from vdp.errors import CallerError, OurBug
from vdp.numbering.alphabet import ALPHABETS, ALPHANUMERIC, DECIMAL, read, write
from vdp.numbering.keys import derive
from vdp.numbering.series import Series

KEY = bytes(range(16))


def series(**changes: object) -> Series:
    plain: dict[str, object] = {
        "name": "pass", "prefix": "", "start": 0, "step": 1, "width": 6, "suffix": "", "check": "none",
    }  # fmt: skip
    return Series(**(plain | changes))  # type: ignore[arg-type]  # tests pass wrong values on purpose


# -- alphabets -------------------------------------------------------------------------------------------------------


@given(st.integers(0, 10**40), st.sampled_from([*ALPHABETS.values(), "01", "zyx", "ABCDEFGHIJKLMNOPQRSTUVWXYZ"]))
def test_numbers_are_written_and_read(number: int, alphabet: str) -> None:
    text = write(number, alphabet, 12)
    assert read(text, alphabet) == number
    assert len(text) >= 12
    if alphabet == DECIMAL:
        assert int(text) == number


def test_the_alphanumeric_alphabet_has_no_look_alikes() -> None:
    for group in ("0OQD", "1IL", "2Z", "5S", "6G", "8B", "VU"):
        assert len(set(group) & set(ALPHANUMERIC)) == 1
    assert len(set(ALPHANUMERIC)) == len(ALPHANUMERIC) == 26


def test_an_alphabet_by_name_or_by_its_characters() -> None:
    assert series(alphabet="alphanumeric", width=3).text(26) == "010"
    assert series(alphabet="alphanumeric") == series(alphabet=ALPHANUMERIC)
    assert [series(alphabet="XY", width=3).text(i) for i in (0, 1, 5)] == ["XXX", "XXY", "YXY"]
    assert series(alphabet="XY", width=3).capacity == 8
    with pytest.raises(CallerError, match=r"number YXXX needs 4 characters, the series has 3: it is exhausted after 8"):
        series(alphabet="XY", width=3).text(8)


def test_a_check_over_an_alphabet_of_letters() -> None:
    # BAISDLAFK → BM (ISO/IEC 7064 MOD 661-26, as public lists have it).
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    made = series(prefix="b-a", alphabet=letters, width=7, start=read("ISDLAFK", letters), check="mod661_26")
    assert made.text(0) == "b-aISDLAFKBM"


# -- groups and last number ------------------------------------------------------------------------------------------


def test_groups_hold_number_check_and_code() -> None:
    made = series(width=11, groups=(4, 4, 4), prefix="N ".strip(), check="luhn", start=1)
    assert made.text(0) == "N0000-0000-0018"
    assert series(width=6, groups=(3, 3), separator=".").text(1234) == "001.234"


def test_a_last_number_ends_the_series() -> None:
    made = series(start=10, step=5, last=21)
    assert made.capacity == 3
    assert [made.text(i) for i in range(3)] == ["000010", "000015", "000020"]
    with pytest.raises(CallerError, match=r"number 000025 lies beyond the last, 000021: it is exhausted after 3"):
        made.text(3)


# -- prefixes of each piece ------------------------------------------------------------------------------------------


def test_a_prefix_that_comes_with_the_piece() -> None:
    made = series(varying=True, check="mod97_10", suffix="/X")
    text = made.text(7, "2026-LY-")
    assert text == "2026-LY-000007" + check("mod97_10", "2026LY000007") + "/X"
    assert made.parse(text) == made.parse(text, "2026-LY-") == 7
    with pytest.raises(CallerError, match="is no serial of this series"):
        made.parse(text, "2025-LY-")
    with pytest.raises(CallerError, match="fails its check"):
        made.parse(text.replace("LY", "LZ"))
    with pytest.raises(CallerError, match="not printable ASCII"):
        made.text(7, "2026 Λ")
    with pytest.raises(OurBug, match="other parts than vary"):
        made.text(7)
    with pytest.raises(OurBug, match="other parts than vary"):
        series().text(7, "2026")


# -- shuffled --------------------------------------------------------------------------------------------------------


def test_shuffled_numbers_are_all_of_the_series_each_once() -> None:
    made = series(width=7, start=3, step=7, shuffled=True, key=KEY, last=7_000_002)
    assert made.capacity == 1_000_000
    texts = list(made.texts(0, made.capacity))
    assert len(set(texts)) == made.capacity
    assert all((int(text) - 3) % 7 == 0 for text in texts[:1000])
    assert max(texts) == "6999996"
    assert texts[:3] == [made.text(i) for i in range(3)] != ["0000003", "0000010", "0000017"]
    assert [made.parse(text) for text in texts[-3:]] == [999_997, 999_998, 999_999]


def test_shuffled_series_of_one_key_differ_by_name() -> None:
    one, other = (series(name=name, shuffled=True, key=KEY) for name in ("one", "other"))
    assert list(one.texts(0, 20)) != list(other.texts(0, 20))


def test_texts_are_the_texts() -> None:
    for made in (
        series(start=5),
        series(shuffled=True, key=KEY, prefix="S", check="damm"),
        series(prefix="%-{", check="luhn", suffix="/Z"),
        series(check="gs1", step=3, start=2, shuffled=True, key=KEY, last=2_999_999, width=7),
        series(check="gs1", prefix="A", groups=(4, 3)),
    ):
        assert list(made.texts(8190, 9)) == [made.text(i) for i in range(8190, 8199)]
        assert list(made.texts(3, 0)) == []
        with pytest.raises(CallerError, match="exhausted"):
            list(made.texts(999_999, 2))


# -- authenticity codes ----------------------------------------------------------------------------------------------


def test_the_code_is_a_truncated_hmac_of_what_is_printed() -> None:
    made = series(prefix="FP-", check="luhn", suffix="/A", code=5, key=KEY, groups=(6, 1, 5))
    text = made.text(42)
    printed = b"FP-000042" + check("luhn", "000042").encode() + b"/A"
    digest = hmac.new(derive(KEY, "code", "pass"), printed, hashlib.sha256).digest()
    assert text == f"FP-000042-{check('luhn', '000042')}-{int.from_bytes(digest, 'big') % 10**5:05d}/A"
    assert made.parse(text) == 42


def test_no_other_code_holds() -> None:
    made = series(code=4, key=KEY)
    text = made.text(1)
    good = [code for code in range(10_000) if _holds(made, f"000001{code:04d}")]
    assert good == [int(text[6:])]
    assert not _holds(series(code=4, key=bytes(16)), text)
    assert not _holds(series(name="other", code=4, key=KEY), text)


def test_codes_are_spread() -> None:
    """Chi-squared of the first character over 10,000 codes; 26 cells have 25 degrees of freedom, 1 in 10^6 is 75."""
    made = series(code=4, key=KEY, alphabet="alphanumeric")
    counts = Counter(made.text(i)[6] for i in range(10_000))
    expected = 10_000 / 26
    assert sum((counts[c] - expected) ** 2 / expected for c in ALPHANUMERIC) < 75


def _holds(made: Series, text: str) -> bool:
    try:
        made.parse(text)
    except CallerError as error:
        if "wrong authenticity code" not in str(error):
            raise
        return False
    return True


# -- back to the index -----------------------------------------------------------------------------------------------

ALPHABET = st.sampled_from(["decimal", "alphanumeric", "ABCDEFGHIJKLMNOPQRSTUVWXYZ", "0123456789ABCDEF", "ba"])


@st.composite
def any_series(draw: st.DrawFn) -> Series:
    alphabet = draw(ALPHABET)
    base = len(ALPHABETS.get(alphabet, alphabet))
    scheme = draw(st.sampled_from(sorted(SCHEMES)))
    width = 8 if scheme == "upu_s10" else draw(st.integers(5, 20))
    varying, shuffled = draw(st.booleans()), draw(st.booleans())
    code = draw(st.sampled_from([0, 0, 4, 9]))
    settings_ = {
        "name": draw(st.sampled_from(["a", "pass"])),
        "prefix": "" if varying else draw(st.text("AZ-9#", max_size=4)),
        "start": draw(st.integers(0, base)),
        "step": draw(st.integers(1, 3)),
        "width": width,
        "suffix": draw(st.text("A-0", max_size=3)),
        "check": scheme,
        "alphabet": alphabet,
        "varying": varying,
        "shuffled": shuffled,
        "code": code,
        "key": KEY,
    }
    try:
        made = series(**settings_)
    except CallerError:
        reject()
    body = made.width + code + (len(check(scheme, made.alphabet[0] * width)) if scheme != "none" else 0)
    if draw(st.booleans()):
        cut = draw(st.integers(1, body - 1))
        made = series(**settings_ | {"groups": (cut, body - cut), "separator": "."})
    return made


@settings(max_examples=200, deadline=None)
@given(any_series(), st.data())
def test_parse_undoes_text(made: Series, data: st.DataObject) -> None:
    index = data.draw(st.integers(0, made.capacity - 1))
    other = data.draw(st.integers(0, made.capacity - 1))
    prefix = data.draw(st.text("AB-7", max_size=5)) if made.varying else None
    text = made.text(index, prefix)
    assert made.parse(text) == made.parse(text, prefix) == index
    assert (made.text(other, prefix) == text) == (other == index)


@pytest.mark.parametrize("text", [" 000000", "é000000", "P 000000", "\t000000"])
def test_a_part_that_varies_is_printable_too(text: str) -> None:
    with pytest.raises(CallerError, match="no serial has spaces"):
        series(prefix="", width=5, start=0, check="damm", varying=True).parse(text)


@settings(max_examples=200, deadline=None)
@given(any_series(), st.data())
def test_what_parses_is_what_was_written(made: Series, data: st.DataObject) -> None:
    """A serial with one character changed is refused, or it is another serial of the series."""
    text = made.text(data.draw(st.integers(0, made.capacity - 1)), "P" if made.varying else None)
    at = data.draw(st.integers(0, len(text) - 1))
    changed = text[:at] + data.draw(st.sampled_from("0A9Z-. é")) + text[at + 1 :]
    try:
        index = made.parse(changed)
    except CallerError:
        return
    head = changed[: len(changed) - len(text) + 1] if made.varying else None
    assert made.text(index, head) == changed


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is no serial"),
        ("N-00010", "is no serial"),
        ("N-000010-", "is no serial"),
        ("M-000010", "is no serial"),
        ("N-00001O", "'O' is not one of 0123456789"),
        ("N-000009", "none of the numbers"),
        ("N-000011", "none of the numbers"),
        ("N-000032", "none of the numbers"),
    ],
)
def test_what_is_no_serial_of_the_series(text: str, says: str) -> None:
    with pytest.raises(CallerError, match=says) as met:
        series(prefix="N-", start=10, step=2, last=30).parse(text)
    assert met.value.faults[0].where == "series pass"


def test_the_form_is_told() -> None:
    with pytest.raises(CallerError, match=r"have the form N-###\.###/A"):
        series(prefix="N-", suffix="/A", groups=(3, 3), separator=".").parse("N-000010/A")


# -- what cannot be --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"width": 31}, "at most 30 characters"),
        ({"last": 4, "start": 5}, "comes before the first"),
        ({"varying": True, "prefix": "N"}, "leaves no room"),
        ({"alphabet": "A"}, "two or more characters"),
        ({"alphabet": "ABA"}, "each once"),
        ({"alphabet": "A B"}, "printable ASCII"),
        ({"alphabet": "abc", "check": "mod37_36"}, "takes no 'a'"),
        ({"alphabet": "0123456789AB", "check": "luhn"}, "takes no 'A'"),
        ({"alphabet": "alphanumeric", "check": "mod37_36"}, "writes letters that the alphabet leaves out"),
        ({"groups": (3, 4)}, "the groups 3-4 hold 7 characters, the serial has 6"),
        ({"groups": (6, 0)}, "the groups 6-0"),
        ({"groups": (3, 3), "separator": ""}, "the separator is one sign"),
        ({"groups": (3, 3), "separator": "x"}, "the separator is one sign"),
        ({"groups": (3, 3), "separator": " "}, "the separator is one sign"),
        ({"groups": (3, 3), "separator": "-", "alphabet": "-+"}, "the separator is one sign"),
        ({"shuffled": True}, "need a key"),
        ({"code": 4, "key": b"short"}, "need a key"),
        ({"shuffled": True, "key": KEY, "start": 1}, "drawn from 1,000,000 or more.*this series has 999,999"),
        ({"shuffled": True, "key": KEY, "width": 30, "alphabet": "0123456789A"}, "from 10.30 at most"),
        ({"code": 3, "key": KEY}, "an authenticity code of 3 is guessed too easily"),
        ({"code": 39, "key": KEY}, "at most 128 bits"),
        ({"code": -1, "key": KEY}, "is guessed too easily"),
    ],
)
def test_a_series_that_cannot_be(changes: dict[str, object], says: str) -> None:
    with pytest.raises(CallerError, match=says):
        series(**changes)


def test_everything_wrong_is_told_at_once() -> None:
    with pytest.raises(CallerError) as met:
        series(width=0, alphabet="AA", varying=True, prefix="N")
    assert len(met.value.faults) == 3


# -- terms, values ---------------------------------------------------------------------------------------------------


def test_terms_tell_series_apart_and_never_the_key() -> None:
    plain = series(shuffled=True, key=KEY)
    changes: list[dict[str, object]] = [
        {"prefix": "N"}, {"step": 2, "width": 7}, {"width": 7}, {"suffix": "N"}, {"check": "luhn"},
        {"alphabet": "9876543210"}, {"groups": (3, 3)}, {"groups": (2, 4)}, {"varying": True}, {"shuffled": False},
        {"code": 4}, {"key": bytes(16)}, {"last": 999_999}, {"start": 1, "width": 7},
    ]  # fmt: skip
    terms = [tuple(plain.terms().items())]
    terms += [tuple(series(**({"shuffled": True, "key": KEY} | change)).terms().items()) for change in changes]
    assert len(set(terms)) == len(changes) + 1
    for text in (repr(plain), str(plain.terms())):
        assert KEY.hex() not in text
        assert repr(KEY) not in text
    assert series().terms()["key"] == ""


def test_series_go_to_other_processes() -> None:
    made = series(shuffled=True, key=KEY, code=6, groups=(6, 6))
    again = pickle.loads(pickle.dumps(made))  # noqa: S301  what was pickled a line above
    assert again == made
    assert again.text(11) == made.text(11)
