"""YAML 1.2 to plain values with their places; clauses are those of the YAML 1.2.2 specification."""

from __future__ import annotations

import codecs
import json
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.errors import CallerError
from vdp.job.document import LARGEST, MOST_VALUES, Document, plain_value, read_document


def read(folder: Path, text: str | bytes) -> Document:
    path = folder / "a.yaml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_document(path, "a.yaml")


def told(folder: Path, text: str | bytes) -> list[str]:
    try:
        return [str(fault) for fault in read(folder, text).faults]
    except CallerError as error:
        return [str(fault) for fault in error.faults]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Clause 10.3.2, the core schema's table.
        ("null", None),
        ("~", None),
        ("", None),
        ("true", True),
        ("False", False),
        ("0", 0),
        ("0o7", 7),
        ("0x3A", 58),
        ("-19", -19),
        ("0.", 0.0),
        ("-0.0", -0.0),
        (".5", 0.5),
        ("+12e03", 12000.0),
        ("-2E+05", -200000.0),
        # What YAML 1.1 made of these is what 1.2 ended.
        ("no", "no"),
        ("yes", "yes"),
        ("on", "on"),
        ("007", 7),
        ("1:30", "1:30"),
        ("1_000", "1_000"),
        ("0b11", "0b11"),
        ("2026-03-09", "2026-03-09"),
        # Bounded on purpose.
        (".inf", ".inf"),
        (".nan", ".nan"),
        ("9" * 31, "9" * 31),
        ("tRUE", "tRUE"),
        ("٣", "٣"),
    ],
)
def test_plain_scalars_follow_the_core_schema(text: str, expected: Any) -> None:
    value = plain_value(text)
    assert value == expected
    assert type(value) is type(expected)


@given(st.text(max_size=40))
def test_any_plain_scalar_is_read_or_left(text: str) -> None:
    value = plain_value(text)
    assert value == text or not isinstance(value, str)


@given(st.integers(min_value=-(10**28), max_value=10**28))
def test_whole_numbers_printed_and_read_back(number: int) -> None:
    assert plain_value(str(number)) == number


def test_quoted_scalars_are_texts(tmp_path: Path) -> None:
    assert read(tmp_path, "a: '007'\nb: \"no\"\nc: 'null'\nd: |\n  1\n").data == {
        "a": "007",
        "b": "no",
        "c": "null",
        "d": "1\n",
    }


def test_keys_are_texts(tmp_path: Path) -> None:
    assert read(tmp_path, "no: a\n1: b\ntrue: c\n").data == {"no": "a", "1": "b", "true": "c"}


def test_places_of_keys_and_values(tmp_path: Path) -> None:
    document = read(tmp_path, "a: 1\nb:\n  - x\n  -   {c: dd}\n")
    assert document.data == {"a": 1, "b": ("x", {"c": "dd"})}
    assert document.where(("a",)) == "a.yaml:1:4"
    assert document.where(("a",), key=True) == "a.yaml:1:1"
    assert document.where(("b", 0)) == "a.yaml:3:5"
    assert document.where(("b", 1, "c")) == "a.yaml:4:11"
    assert document.where(("b", 1, "c"), key=True) == "a.yaml:4:8"
    assert document.where(("b", 1, "left out", 3)) == "a.yaml:4:7"
    assert document.where(("left out",), key=True) == "a.yaml:1:1"


def test_sequences_stay_lists_where_the_key_is_free(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("fake: {a: [1, [2]]}\nb: [1]\n")
    assert read_document(path, "a", frozenset(("fake",))).data == {"fake": {"a": [1, [2]]}, "b": (1,)}


def test_an_empty_file_holds_nothing(tmp_path: Path) -> None:
    document = read(tmp_path, "")
    assert document.data is None
    assert document.where(("a",)) == "a.yaml:1:1"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a: 1\nb: 2\na: 3\n", ["a.yaml:3:1: 'a' stands here a second time (first on line 1) (take one out)"]),
        (
            "a: {b: 1, b: 2, b: 3}\n",
            [
                "a.yaml:1:11: 'b' stands here a second time (first on line 1) (take one out)",
                "a.yaml:1:17: 'b' stands here a second time (first on line 1) (take one out)",
            ],
        ),
        ("a: !!str 5\n", ["a.yaml:1:4: tags such as !!str are not used here (take it out)"]),
        ("a: !x {b: 1}\n", ["a.yaml:1:4: tags such as !x are not used here (take it out)"]),
        ("a: *b\n", ["a.yaml:1:4: '*b' has no '&b' before it"]),
        ("a: &a [*a]\n", ["a.yaml:1:8: '*a' has no '&a' before it"]),
        ("a: 1\n---\nb: 2\n", ["a.yaml:2:1: a second document starts here; a file holds one"]),
        ("%YAML 1.1\n---\na: 1\n", ["a.yaml:2:1: the file says it is not YAML 1.2 (take the %YAML line out)"]),
        ("%YAML 1.2\n---\na: 1\n", []),
        ("a: &x {b: 1}\nc:\n  <<: *x\n", ["a.yaml:3:3: '<<' is not YAML 1.2 (write the keys out)"]),
        (
            "a: {{ name }}\n",
            ["a.yaml:1:5: a key must be a text (put a text that starts with a brace in quotes)"],
        ),
        ("? [a, b]\n: 1\n", ["a.yaml:1:3: a key must be a text (put a text that starts with a brace in quotes)"]),
        (
            "a: {{ name }} x\n",
            [
                "a.yaml:1:5: a key must be a text (put a text that starts with a brace in quotes)",
                (
                    "a.yaml:1:15: not YAML: expected <block end>, but found '<scalar>' "
                    "(put a text that starts with a brace in quotes)"
                ),
            ],
        ),
        (
            "a:\n  - {% if x %}\n",
            [
                (
                    "a.yaml:2:6: not YAML: found character '%' that cannot start any token "
                    "(put a text that starts with a brace in quotes)"
                )
            ],
        ),
        (
            "a:\n\tb: 1\n",
            ["a.yaml:2:1: not YAML: found character '\\t' that cannot start any token (indent with spaces, not tabs)"],
        ),
        ('a: "\\ud83d\\ude00"\n', []),
        ('a: "\\ud83d"\n', ["a.yaml:1:4: half of a character is escaped here (write the character itself)"]),
        ("a: 'x\n", ["a.yaml:2:1: not YAML: found unexpected end of stream"]),
        ("a: 1\n b: 2\n", ["a.yaml:2:3: not YAML: mapping values are not allowed here"]),
        ("a: 1\nb: x\0y\n", ["a.yaml:2:5: the character U+0000 cannot stand in YAML"]),
        ("a: 1\nb: x\x07\n", ["a.yaml:2:5: the character U+0007 cannot stand in YAML"]),
        (b"a: 1\nb: \xff\n", ["a.yaml:2:4: byte 8 is not UTF-8 (save the file as UTF-8)"]),
        (codecs.BOM_UTF16_LE + b"a", ["a.yaml:1:1: byte 2 is not UTF-16 (save the file as UTF-8)"]),
    ],
)
def test_faults_of_yaml(tmp_path: Path, text: str | bytes, expected: list[str]) -> None:
    assert told(tmp_path, text) == expected


def test_aliases_stand_for_what_they_name(tmp_path: Path) -> None:
    document = read(tmp_path, "a: &x {b: [1, 2]}\nc: *x\n&k d: 1\n*k e: 2\n".replace("*k e: 2\n", ""))
    assert document.data == {"a": {"b": (1, 2)}, "c": {"b": (1, 2)}, "d": 1}
    # A fault inside an alias is told where the text of it stands.
    assert document.where(("c", "b", 1)) == "a.yaml:1:15"
    assert document.where(("c",)) == "a.yaml:2:4"


def test_a_key_may_be_an_alias_of_a_text(tmp_path: Path) -> None:
    assert read(tmp_path, "a: &k size\nb: {*k : 3}\n").data == {"a": "size", "b": {"size": 3}}
    assert told(tmp_path, "a: &k [1]\nb: {*k : 3}\n") == [
        "a.yaml:2:5: a key must be a text (put a text that starts with a brace in quotes)"
    ]


def test_a_bomb_of_aliases_is_bounded(tmp_path: Path) -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 12)]
    begun = time.perf_counter()
    faults = told(tmp_path, "\n".join(lines))
    assert time.perf_counter() - begun < 20
    assert faults
    assert faults[-1].endswith(f"the file holds more than {MOST_VALUES:,} values, aliases written out")


def test_nesting_is_bounded(tmp_path: Path) -> None:
    faults = told(tmp_path, "[" * 5000 + "]" * 5000)
    assert faults == ["a.yaml:1:32: the file holds nested over 30 deep, aliases written out"]


def test_a_large_file_is_refused_unread(tmp_path: Path) -> None:
    assert told(tmp_path, b"#" * (LARGEST + 1)) == [
        "a.yaml: is larger than 1,000,000 bytes, too large for a job or layout"
    ]


def test_utf16_and_byte_order_marks(tmp_path: Path) -> None:
    # Clause 5.2.
    for raw in ("a: é\n".encode("utf-16"), codecs.BOM_UTF8 + "a: é\n".encode()):
        document = read(tmp_path, raw)
        assert document.data == {"a": "é"}
        assert document.where(("a",), key=True) == "a.yaml:1:1"


def test_what_is_no_file(tmp_path: Path) -> None:
    for path, says in (
        (tmp_path / "none.yaml", "shown: there is no such file"),
        (tmp_path, "shown: this is not a file"),
        (tmp_path / "a\0b", "shown: there is no such file"),
    ):
        with pytest.raises(CallerError) as caught:
            read_document(path, "shown")
        assert str(caught.value) == says


@given(
    st.recursive(
        st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=9),
        lambda inner: st.dictionaries(st.text("abc", min_size=1), inner, max_size=3),
        max_leaves=9,
    )
)
def test_any_text_in_double_quotes_comes_back(tmp_path_factory: pytest.TempPathFactory, data: Any) -> None:
    folder = tmp_path_factory.mktemp("yaml")
    # JSON is YAML 1.2 (clause 1.2 of the specification, "relation to JSON").
    assert read(folder, json.dumps(data, ensure_ascii=True)).data == data
