"""GS1 Digital Link URIs: the published samples, order, escapes, and what is no such URI."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.barcode.test_gs1 import SET_82
from vdp.barcode import digital_link, gs1
from vdp.errors import RowRefused

SAMPLE = "https://id.gs1.org/01/09506000134352/10/ABC/21/123456?17=180426"
GTIN = ("01", "09506000134352")


def build(*elements: tuple[str, str], stem: str = digital_link.CANONICAL) -> str:
    return digital_link.build(gs1.judged(elements), stem)


def test_published_sample_whatever_the_order() -> None:
    """GS1 Digital Link sample; the qualifiers' order 22, 10, 21 is fixed, the element string's is free."""
    assert build(GTIN, ("10", "ABC"), ("21", "123456"), ("17", "180426")) == SAMPLE
    assert build(("17", "180426"), ("21", "123456"), ("10", "ABC"), GTIN) == SAMPLE
    assert build(("21", "s"), ("10", "l"), ("22", "v"), GTIN) == "https://id.gs1.org/01/09506000134352/22/v/10/l/21/s"


def test_engine_sample() -> None:
    """gs1-syntax-engine's unit test: https://a/01/12312312312333 is (01)12312312312333."""
    assert digital_link.parse("https://a/01/12312312312333").data() == "0112312312312333"
    assert build(("01", "12312312312333"), stem="https://a") == "https://a/01/12312312312333"


def test_reserved_characters_are_escaped() -> None:
    uri = build(GTIN, ("10", "A/B?C%&+;"), ("240", "x=y&z"))
    assert uri == "https://id.gs1.org/01/09506000134352/10/A%2FB%3FC%25%26%2B%3B?240=x%3Dy%26z"
    assert digital_link.parse(uri).elements == (GTIN, ("10", "A/B?C%&+;"), ("240", "x=y&z"))


@given(st.text(SET_82, min_size=1, max_size=20), st.text(SET_82, min_size=1, max_size=20))
def test_any_value_is_read_back(lot: str, extra: str) -> None:
    elements = (GTIN, ("10", lot), ("240", extra))
    assert digital_link.parse(build(*elements)).elements == elements


def test_other_keys() -> None:
    assert build(("00", "340123450000000000")) == "https://id.gs1.org/00/340123450000000000"
    assert build(("414", "9501101530003"), ("254", "A")) == "https://id.gs1.org/414/9501101530003/254/A"
    assert build(GTIN, ("235", "TPX")).endswith("/01/09506000134352/235/TPX")
    assert build(("8018", "340123450000000000"), ("8019", "7")).endswith("/8018/340123450000000000/8019/7")


def test_a_path_before_the_key_and_words_that_are_not_gs1s() -> None:
    assert build(GTIN, stem="https://example.com/a/b/") == "https://example.com/a/b/01/09506000134352"
    uri = "http://example.com:8080/01/x/01/09506000134352?utm=1&17=180426&linkType=all#top"
    assert digital_link.parse(uri).elements == (GTIN, ("17", "180426"))


@pytest.mark.parametrize(
    ("uri", "says"),
    [
        ("HtTp://a/01/12312312312333", "must begin with https"),  # gs1-syntax-engine's unit tests
        ("https://a/gtin/12312312312333", "no primary key"),  # … the same
        ("ftp://a/01/12312312312333", "must begin with https"),
        ("https:///01/12312312312333", "must begin with https"),
        ("https://a", "no primary key"),
        ("https://a/", "no primary key"),
        ("https://a/01/12312312312333/21/S/10/L", "cannot follow"),
        ("https://a/01/12312312312333/10/A/10/B", "cannot follow"),
        ("https://a/01/12312312312333/10/A/235/B", "cannot follow"),
        ("https://a/01/12312312312334", "check digit"),
        ("https://a/01/12312312312333/10/%G0", "hexadecimal"),
        ("https://a/01/12312312312333/10/%C3%A9", "cannot hold"),
        ("https://a/01/12312312312333?17=999999", "no month"),
        ("https://a/01/12312312312333?21=1", "no place in the query"),
        ("https://a/01/12312312312333?9999=1", "not an application identifier"),
        ("https://a/01/12312312312333?240=a+b", "not ' '"),
    ],
)
def test_refuses_uri(uri: str, says: str) -> None:
    with pytest.raises(RowRefused, match=says):
        digital_link.parse(uri)


@pytest.mark.parametrize(
    ("elements", "stem", "says"),
    [
        ((("10", "A"),), "https://a", "needs a primary key"),
        (((*GTIN,), ("8019", "1")), "https://a", r"\(8019\) has no place"),
        (((*GTIN,), ("254", "1")), "https://a", r"\(254\) has no place"),
        ((GTIN,), "HTTPS://a", "no stem"),
        ((GTIN,), "https://", "no stem"),
        ((GTIN,), "https://a?x=1", "no stem"),
        ((GTIN,), "https://a/01/b", "no stem"),
        ((GTIN,), "https://a b", "no stem"),
    ],
)
def test_refuses_to_build(elements: tuple[tuple[str, str], ...], stem: str, says: str) -> None:
    with pytest.raises(RowRefused, match=says):
        build(*elements, stem=stem)
