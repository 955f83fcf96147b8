"""Canonical JSON against RFC 8785's own values; the fast way for lines against the library."""

from __future__ import annotations

import json
import math
import struct
from typing import Any

import orjson
import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.audit.vectors import vectors
from vdp.audit.canonical import canonical, plain, read_canonical, sorted_json
from vdp.audit.seal import public_line

RFC = vectors("rfc8785")
SALTS = b"\x01" * 32


def double(bits: str) -> float:
    value: float = struct.unpack(">d", bytes.fromhex(bits))[0]
    return value


@pytest.mark.parametrize(("bits", "text"), RFC["numbers"].items())
def test_published_numbers(bits: str, text: str) -> None:
    value = double(bits)
    assert canonical(value) == text.encode()
    assert canonical([value]) == f"[{text}]".encode()
    short = plain(value)
    assert short is None or sorted_json([short]) == f"[{text}]".encode()


@pytest.mark.parametrize("bits", RFC["no_numbers"])
def test_what_is_no_number_has_no_form(bits: str) -> None:
    with pytest.raises(ValueError, match="no canonical form"):
        canonical(double(bits))
    assert plain(double(bits)) is None


@pytest.mark.parametrize("name", RFC["pairs"])
def test_published_pairs(name: str) -> None:
    pair = RFC["pairs"][name]
    value, output = json.loads(pair["input"]), pair["output"].encode()
    assert canonical(value) == output
    assert read_canonical(output) == value
    with pytest.raises(ValueError, match=r"canonical|JSON|EOF|char"):
        read_canonical(pair["input"].encode())


TEXT = st.text(st.characters(codec="utf-8"), max_size=8)
NUMBER = st.integers(0, 2**53 - 1) | st.floats(-(2.0**53) + 1, 2.0**53 - 1) | st.sampled_from(
    [0.0, -0.0, 1e-5, 1e-7, 240.0, 52.32, 0.0001, 1e15, -3.5]
)  # fmt: skip
VALUE = st.recursive(
    st.none() | st.booleans() | NUMBER | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=300, deadline=None)
@given(VALUE)
def test_canonical_texts_are_read_and_no_others(value: Any) -> None:
    data = canonical(value)
    assert read_canonical(data) == value
    for other in (orjson.dumps(value), json.dumps(value).encode(), json.dumps(value, sort_keys=True).encode()):
        if other != data:
            with pytest.raises(ValueError, match=r"canonical"):
                read_canonical(other)


@pytest.mark.parametrize(
    "text", ['{"a":1,"a":1}', "[1e2]", "[1.0]", "[-0]", "[1E400]", "[9007199254740993]", '{"b":1,"a":2}', '["\\u0041"]']
)
def test_other_ways_to_write_the_same(text: str) -> None:
    with pytest.raises(ValueError, match=r"canonical|number"):
        read_canonical(text.encode())


SYMBOL = st.fixed_dictionaries(
    {
        "name": TEXT,
        "symbology": st.just("qr"),
        "identifier": TEXT,
        "plate": TEXT,
        "page": st.integers(0, 9) | st.floats(-9, 9),
        "box": st.lists(NUMBER, min_size=4, max_size=4),
        "data": TEXT,
    }
)
PLACE = st.fixed_dictionaries({key: st.integers(1, 9) | st.just(1e-9) for key in ("roll", "frame", "lane", "along")})


@settings(max_examples=300, deadline=None)
@given(
    st.fixed_dictionaries(
        {
            "piece": st.integers(1, 10**7),
            "row": st.integers(2, 10**7) | st.floats(0, 1),
            "language": TEXT,
            "serials": st.dictionaries(TEXT, TEXT, max_size=2),
            "symbols": st.lists(SYMBOL, max_size=2),
            "place": st.none() | PLACE,
            "sha256": TEXT,
        },
        optional={"more": VALUE},
    )
)
def test_a_public_line_is_canonical_whatever_the_piece_holds(line: dict[str, Any]) -> None:
    public = public_line(line, SALTS)
    assert public == rfc8785.dumps(json.loads(public))
    told = json.loads(public)
    assert not any("data" in symbol for symbol in told["symbols"])
    assert [s["data_hash"] for s in told["symbols"]] == [s["data_hash"] for s in json.loads(public)["symbols"]]
    for symbol, old in zip(told["symbols"], line["symbols"], strict=True):
        assert all(math.isclose(a, b) for a, b in zip(symbol["box"], old["box"], strict=True))


def test_a_lone_surrogate_has_no_form() -> None:
    for encode in (canonical, sorted_json):
        with pytest.raises(ValueError, match="no canonical form"):
            encode({"a": "\ud800"})
