"""The lexer of content streams: what it takes, what it refuses, and how strings and numbers come out."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.verify import lex
from vdp.verify.doubt import Unreadable


def all_of(data: bytes) -> list[tuple[bytes, bytes]]:
    return list(lex.instructions(data))


def test_path_runs_come_whole() -> None:
    data = b"0 0 2 1 re\n 3 24  7 1 re\n1.5 -2 m\n.5 +3. l h f\n"
    assert all_of(data) == [(data[:-2], b"path"), (b"", b"f")]


def test_an_instruction_after_another_needs_no_gap_but_a_delimiter() -> None:
    data = b"BT 1 0 0 1 5 6 Tm/F1 12 Tf[<00FF>-20(a\\)b(c))]TJ%note\nET"
    assert [operator for _, operator in all_of(data)] == [b"BT", b"Tm", b"Tf", b"TJ", b"ET"]


def test_comments_and_dictionaries() -> None:
    data = b"% first\n/Span <</ActualText <FEFF0041> /A [1 2 (x)] /B << /C true >> >> BDC\r\nEMC\n"
    assert [operator for _, operator in all_of(data)] == [b"BDC", b"EMC"]


@pytest.mark.parametrize("data", [b"(open", b"<12", b"[1 2", b"<< /A 1", b"1 2 }", b"{", b"\xff\xfe", b"1 2 3", b"5g"])
def test_broken_syntax_is_refused(data: bytes) -> None:
    with pytest.raises(Unreadable, match="cannot be read at byte"):
        all_of(data + b"\n")


def test_a_stream_of_nothing_holds_nothing() -> None:
    assert all_of(b"") == []
    assert all_of(b" \n% only a note") == []


@pytest.mark.parametrize(("operands", "expected"), [(b"/A ", "/A"), (b"\n/A#20B#c3#a9", "/A Bé")])
def test_names(operands: bytes, expected: str) -> None:
    assert lex.name(operands) == expected


@pytest.mark.parametrize("operands", [b"A", b"/A /B", b"1", b"/A 1"])
def test_what_is_not_one_name_is_refused(operands: bytes) -> None:
    with pytest.raises(Unreadable, match="name was expected"):
        lex.name(operands)


def test_numbers_are_counted() -> None:
    assert lex.numbers(b"1 -.5 +3. ", 3) == [1.0, -0.5, 3.0]
    with pytest.raises(Unreadable, match="2 numbers"):
        lex.numbers(b"1", 2)
    with pytest.raises(Unreadable, match="1 numbers"):
        lex.numbers(b"/A", 1)


def test_names_and_numbers_are_told_apart() -> None:
    assert lex.names_and_numbers(b"/F1 12.5 ") == ([12.5], ["/F1"])
    assert lex.names_and_numbers(b"0.5 1 /P0") == ([0.5, 1.0], ["/P0"])


def test_strings_as_the_standard_has_them() -> None:
    """ISO 32000-2, 7.3.4.2, Table 3 and 7.3.4.3."""
    assert lex.shown(rb"(a\n\r\t\b\f\(\)\\\053\5\x)") == [b"a\n\r\t\b\f()\\+\x05x"]
    assert lex.shown(b"(one\\\ntwo\\\r\nthree)") == [b"onetwothree"]
    assert lex.shown(b"[<48 6> -20 (b(c)d) +3]") == [b"H\x60", -20.0, b"b(c)d", 3.0]


def test_measures_of_an_operand() -> None:
    assert lex.measured(b"[<0001>20<0002>-300<0003>]") == (b"\x00\x01\x00\x02\x00\x03", -280.0, 320.0)
    assert lex.measured(b"[-5<0001>7]") == (b"\x00\x01", 2.0, 12.0)
    assert lex.measured(b"<00 01>") == (b"\x00\x01", 0.0, 0.0)
    assert lex.measured(b"[(\\000A)-10<0002>]") == (b"\x00A\x00\x02", -10.0, 10.0)
    assert lex.measured(b"[<0>]") == (b"\x00", 0.0, 0.0)
    assert lex.measured(b"<" + b"0007" * 500 + b">").gids == b"\x00\x07" * 500


NUMBER = st.floats(-1000, 1000, allow_nan=False).map(lambda value: b"%.3f" % value)


@settings(max_examples=60)
@given(st.lists(st.one_of(st.binary(max_size=8), st.integers(-500, 500)), max_size=8))
def test_arrays_survive_printing_and_parsing(pieces: list[bytes | int]) -> None:
    printed = b"[" + b" ".join(b"<%s>" % p.hex().encode() if isinstance(p, bytes) else b"%d" % p for p in pieces) + b"]"
    assert lex.shown(printed) == [p if isinstance(p, bytes) else float(p) for p in pieces]
    measured = lex.measured(printed)
    assert measured.gids == b"".join(p for p in pieces if isinstance(p, bytes))
    assert measured.adjustment == sum(p for p in pieces if isinstance(p, int))


@settings(max_examples=60)
@given(st.lists(st.tuples(st.lists(NUMBER, max_size=6), st.sampled_from([b"cm", b"Td", b"k", b"w", b"q"])), max_size=6))
def test_instructions_survive_printing_and_parsing(written: list[tuple[list[bytes], bytes]]) -> None:
    data = b"".join(b" ".join([*numbers, operator]) + b"\n" for numbers, operator in written)
    assert [(operands.split(), operator) for operands, operator in all_of(data)] == written


@settings(max_examples=60)
@given(st.binary(max_size=40))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    try:
        found = all_of(data)
    except Unreadable:
        return
    assert all(isinstance(operator, bytes) for _, operator in found)
