"""Delimited text: encodings, delimiters, quoting, and where each fault is said to be."""

from __future__ import annotations

import codecs
import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.records.lists import faults_of, spec_of, table_of, values_of
from vdp.errors import CallerError
from vdp.records.breakage import FIELD_LIMIT, LINE_LIMIT
from vdp.records.delimited import choose_delimiter, choose_encoding
from vdp.records.table import open_table

TEXT = "name,city\nΆννα,Łódź\nNguyễn,Χανιά\n"
LATIN = "name,city\nJosé,Málaga\n"


@pytest.mark.parametrize(
    ("content", "named", "encoding"),
    [
        (TEXT.encode(), None, "utf-8"),
        (TEXT.encode(), "UTF8", "utf-8"),
        (codecs.BOM_UTF8 + TEXT.encode(), None, "utf-8"),
        (codecs.BOM_UTF8 + TEXT.encode(), "utf-8", "utf-8"),
        (codecs.BOM_UTF16_LE + TEXT.encode("utf-16-le"), None, "utf-16"),
        (codecs.BOM_UTF16_LE + TEXT.encode("utf-16-le"), "utf-16-le", "utf-16"),
        (codecs.BOM_UTF16_BE + TEXT.encode("utf-16-be"), None, "utf-16"),
        (codecs.BOM_UTF32_LE + TEXT.encode("utf-32-le"), None, "utf-32"),
        (TEXT.encode("utf-16-le"), "utf-16-le", "utf-16-le"),
        (TEXT.encode("utf-16-be"), "utf-16-be", "utf-16-be"),
    ],
)
def test_unicode_encodings(tmp_path: Path, content: bytes, named: str | None, encoding: str) -> None:
    table = table_of(tmp_path, content, encoding=named)
    assert table.encoding == encoding
    assert table.header == ("name", "city")
    assert values_of(table) == [["Άννα", "Łódź"], ["Nguyễn", "Χανιά"]]


@pytest.mark.parametrize("named", ["cp1252", "latin-1", "mac-roman", "cp850"])
def test_named_encodings(tmp_path: Path, named: str) -> None:
    assert values_of(table_of(tmp_path, LATIN.encode(named), encoding=named)) == [["José", "Málaga"]]


@pytest.mark.parametrize(("named", "text"), [("shift_jis", "名,市\n太郎,東京\n"), ("gb18030", "名,市\n李,北京\n")])
def test_multibyte_encodings(tmp_path: Path, named: str, text: str) -> None:
    table = table_of(tmp_path, text.encode(named), encoding=named)
    assert [list(table.header), *values_of(table)] == [line.split(",") for line in text.splitlines()]


@pytest.mark.parametrize("named", ["no-such", "rot13", "hex", "idna", "unicode_escape", "utf-7", "a\0b", ""])
def test_what_is_no_encoding(named: str) -> None:
    with pytest.raises(CallerError, match="is not a text encoding known here"):
        choose_encoding(b"a,b", named, "list.csv")


def test_mark_against_the_job(tmp_path: Path) -> None:
    assert "begins with the mark of utf-8 " in faults_of(tmp_path, codecs.BOM_UTF8 + b"a\nb\n", encoding="cp1252")[0]
    assert "set records.encoding to utf-16-le" in faults_of(tmp_path, TEXT.encode("utf-16-le"), encoding="utf-16")[0]


def test_utf16_without_mark_is_named(tmp_path: Path) -> None:
    for order in ("utf-16-le", "utf-16-be"):
        (fault,) = faults_of(tmp_path, "name,city\nAnn,Rome\n".encode(order))
        assert "NUL (U+0000)" in fault
        assert f"records.encoding to {order}" in fault


def test_undecodable_byte_has_offset_row_column_and_a_guess(tmp_path: Path) -> None:
    rows = "".join(f"{n},Ann Example,Rome\n" for n in range(9000))
    content = ("id,name,city\n" + rows).encode() + "7,José Müller,Málaga\n".encode("cp1252") + rows.encode()
    (fault,) = faults_of(tmp_path, content)
    offset = content.index(b"\xe9")
    assert fault.startswith(
        f"list.csv, row 9002, column 'name': the list is not utf-8: the byte E9 hex at offset {offset:,}"
    )
    assert "a guess to be checked by eye: " in fault


def test_undecodable_byte_behind_marks_quotes_and_line_ends(tmp_path: Path) -> None:
    mark = codecs.BOM_UTF8
    assert "row 2, column 'a'" in faults_of(tmp_path, b'a,b\n"x\ny\n\xff",2\n')[0]
    assert "row 3, column 'a'" in faults_of(tmp_path, b"a,b\n1,2\n\xff,3\n")[0]
    assert "row 2, column 'b'" in faults_of(tmp_path, b"a,b\n1,\xff\n")[0]
    assert "row 2, column '3'" in faults_of(tmp_path, b"a,b\n1,2,\xff\n")[0]
    assert (
        "row 1, column '2': the list is not utf-8: the byte FF hex at offset 5 "
        in faults_of(tmp_path, mark + b"a,\xff\n")[0]
    )
    assert "row 1, column '1'" in faults_of(tmp_path, b"\xff\xff")[0]


def test_truncated_and_half_characters(tmp_path: Path) -> None:
    whole = codecs.BOM_UTF16_LE + "a,b\n1,2\n".encode("utf-16-le")
    assert "row 3, column 'a': the list is not utf-16" in faults_of(tmp_path, whole + b"x")[0]
    lone = codecs.BOM_UTF16_BE + "a,b\n1,".encode("utf-16-be") + b"\xd8\x00" + "x\n".encode("utf-16-be")
    assert "row 2, column 'b': the list is not utf-16" in faults_of(tmp_path, lone)[0]
    assert "row 2, column 'b'" in faults_of(tmp_path, b"a,b\n1,\xed\xa0\x80\n")[0]
    assert "row 2, column 'b'" in faults_of(tmp_path, b"a,b\n1,\x81\n", encoding="cp1252")[0]
    assert "row 2, column 'b'" in faults_of(tmp_path, b"a,b\n1," + b"\x81", encoding="shift_jis")[0]


def test_mixed_encodings(tmp_path: Path) -> None:
    content = "name,city\nJosé,Málaga\n".encode() + "Zoë,Köln\n".encode("cp1252")
    (fault,) = faults_of(tmp_path, content)
    assert "row 3, column 'name'" in fault
    assert "a guess to be checked by eye: cp1252, which reads 'Zoë,Köln'" in fault


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiter_is_found(tmp_path: Path, delimiter: str) -> None:
    text = "name;note\nA;1,5\nB;2\nC;a|b\n" if delimiter == ";" else f"name{delimiter}note\nA{delimiter}x y\n"
    table = table_of(tmp_path, text)
    assert table.delimiter == delimiter
    assert table.header == ("name", "note")


@pytest.mark.parametrize("delimiter", [",", ";", "tab", "|"])
def test_delimiter_is_named(tmp_path: Path, delimiter: str) -> None:
    sign = "\t" if delimiter == "tab" else delimiter
    table = table_of(
        tmp_path, f"a{sign}b,;c\n1{sign}2,;3\n".replace(",", "_") if sign != "," else "a,b\n1,2\n", delimiter=delimiter
    )
    assert table.delimiter == sign
    assert table.header[0] == "a"


def test_delimiter_choice() -> None:
    assert choose_delimiter("one\ntwo, three\n", False, "x") == ","
    assert choose_delimiter('"a,b";c\n"d,e";f\n', False, "x") == ";"
    assert choose_delimiter("a,b;c,d\n1,5;2,5\n3;4\n", False, "x") == ";"
    assert choose_delimiter("a;b,c\n1;2\n3;4\n", False, "x") == ";"
    # The last, perhaps cut, record of a sample does not count; a single one does.
    assert choose_delimiter("a;b,c\n1;2\n3,", True, "x") == ";"
    assert choose_delimiter("a;b", True, "x") == ";"
    # Quotes that are closed too early do not stop the choice.
    assert choose_delimiter('a;b\n"1" 2;3\n', False, "x") == ";"
    with pytest.raises(CallerError, match=r"may be ',' or ';': both split every record alike"):
        choose_delimiter("a,b;c\n1,2;3\n", False, "x")
    with pytest.raises(CallerError, match=r"may be 'tab' or '\|'"):
        choose_delimiter("a\tb|c\n", False, "x")


def test_quoted_newlines_and_line_ends(tmp_path: Path) -> None:
    table = table_of(tmp_path, b'a,b\r\n"one\r\ntwo","x\ry"\r\n3,"4\n"\r\n\r\n\n')
    rows = list(table.rows())
    assert [row.raw for row in rows] == [("one\r\ntwo", "x\ry"), ("3", "4\n")]
    assert [list(row.values.values()) for row in rows] == [["one\ntwo", "x\ny"], ["3", "4\n"]]
    assert [row.row for row in rows] == [2, 3]
    assert table.count == 2
    assert values_of(table_of(tmp_path, b"a,b\r1,2\r3,4")) == [["1", "2"], ["3", "4"]]


def test_values_stay_text(tmp_path: Path) -> None:
    values = ["007", "1E5", "TRUE", "12345678901234567890123", "1,5", " x ", "=1+1", "NULL", "", "2026-03-01"]
    text = io.StringIO()
    csv.writer(text).writerows([[f"c{n}" for n in range(10)], values])
    assert values_of(table_of(tmp_path, text.getvalue())) == [values]


def test_values_are_nfc_and_raw_is_verbatim(tmp_path: Path) -> None:
    (row,) = table_of(tmp_path, "name,o\u0308rt\nA\u030angstro\u0308m,\u0301x\n").rows()
    assert row.values == {"name": "Ångström", "ört": "\u0301x"}
    assert row.raw == ("A\u030angstro\u0308m", "\u0301x")


def test_nul_is_placed(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path, b'id,name\n1,"A\nB"\n2,C\0D\n')
    assert fault.startswith("list.csv, row 3, column 'name': the list holds a NUL (U+0000)")
    assert "save the list again as text" in fault
    assert "row 1" in faults_of(tmp_path, b"\0")[0]


@pytest.mark.parametrize(
    ("content", "where", "what"),
    [
        (b'a,b\n1,"2\n3,4\n5,6\n', "row 2, column 'b'", "the quote opened here (line 2) is never closed"),
        (b'a,b\n1,2\n3,"x\n\ny', "row 3, column 'b'", "(line 3) is never closed"),
        (b'a,b\n"1\n2",3\n4,"x"y\n', "row 3, column 'b'", "in line 4 a closing quote is followed by more text"),
        (b'a,b\n1,"2\n3,"4"\n', "row 2, column 'b'", "in line 3 a closing quote is followed"),
        (b'"a,b\n1,2\n', "row 1, column '1'", "(line 1) is never closed"),
        (b'a,b\n1,"x""\n', "row 2, column 'b'", "is never closed"),
    ],
)
def test_broken_quotes(tmp_path: Path, content: bytes, where: str, what: str) -> None:
    (fault,) = faults_of(tmp_path, content)
    assert fault.startswith(f"list.csv, {where}: ")
    assert what in fault


def test_quotes_inside_unquoted_values_are_text(tmp_path: Path) -> None:
    assert values_of(table_of(tmp_path, """a,b\n36°37'37.8"N,6" pipe\n""")) == [["""36°37'37.8"N""", '6" pipe']]


def test_long_fields_and_lines(tmp_path: Path) -> None:
    whole = "x" * FIELD_LIMIT
    assert values_of(table_of(tmp_path, f"a,b\n1,{whole}\n")) == [["1", whole]]
    doubled = '""' * FIELD_LIMIT
    assert values_of(table_of(tmp_path, f'a,b\n1,"{doubled}"\n')) == [["1", '"' * FIELD_LIMIT]]
    for content in (
        f"a,b\n1,{whole}x\n",
        f'a,b\n1,"{whole}x"\n',
        f"a,b\n1,{'x' * 10_000_000}\n",
        f'a,b\n1,"{doubled}x"\n',
    ):
        (fault,) = faults_of(tmp_path, content)
        assert fault.startswith(f"list.csv, row 2, column 'b': a field has more than {FIELD_LIMIT:,} characters")
    assert "row 1, column '1': a field has more" in faults_of(tmp_path, "x" * 10_000_000)[0]
    parts = ",".join(["x" * (FIELD_LIMIT - 1)] * 8) + ","
    assert len(parts) == LINE_LIMIT
    (fault,) = faults_of(tmp_path, f"a,b\n1,2\n{parts}\n")
    assert fault.startswith(f"list.csv, row 3, column '9': line 3 has {LINE_LIMIT:,} characters or more")
    # Behind a field over the limit only the row can be told.
    (fault,) = faults_of(tmp_path, f"a,b\n{whole}x".encode() + b"\xff")
    assert fault.startswith("list.csv, row 2, column ")


def test_unclosed_quote_in_a_long_list_is_caught_early(tmp_path: Path) -> None:
    rows = "".join(f"{n},Some Name\n" for n in range(100_000))
    (fault,) = faults_of(tmp_path, f'id,name\n1,"Ann\n{rows}')
    assert fault.startswith("list.csv, row 2, column 'name': a field has more than")
    assert "a quote in it is not closed" in fault


def test_csv_limit_of_others_does_not_matter(tmp_path: Path) -> None:
    before = csv.field_size_limit(10)
    try:
        assert values_of(table_of(tmp_path, f"a\n{'x' * 200_000}\n")) == [["x" * 200_000]]
    finally:
        csv.field_size_limit(before)


# Surrogates have no bytes in UTF-8; U+0000 is refused by name; both are tested above.
ANY_TEXT = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)


@given(
    rows=st.integers(1, 4).flatmap(
        lambda width: st.lists(st.lists(ANY_TEXT, min_size=width, max_size=width), min_size=1, max_size=5)
    ),
    delimiter=st.sampled_from([",", ";", "tab", "|"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-be"]),
    end=st.sampled_from(["\n", "\r\n"]),
)
def test_what_is_written_is_read(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]], delimiter: str, encoding: str, end: str
) -> None:
    text = io.StringIO(newline="")
    writer = csv.writer(
        text, delimiter="\t" if delimiter == "tab" else delimiter, lineterminator=end, quoting=csv.QUOTE_ALL
    )
    writer.writerows([[f"c{n}" for n in range(len(rows[0]))], *rows])
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(text.getvalue().encode(encoding))
    named = "utf-16-be" if encoding == "utf-16-be" else None
    table = open_table(path, spec_of(delimiter=delimiter, encoding=named), "any.csv")
    assert [list(row.raw) for row in table.rows()] == rows


@given(content=st.binary(max_size=200), encoding=st.sampled_from([None, "cp1252", "utf-16-le", "shift_jis", "utf-8"]))
def test_any_bytes_are_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, content: bytes, encoding: str | None
) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.csv"
    path.write_bytes(content)
    try:
        table = open_table(path, spec_of(encoding=encoding), "bytes.csv")
    except CallerError as error:
        refused = [fault.where.startswith("bytes.csv") for fault in error.faults]
    else:
        refused = [sum(1 for _ in table.rows()) == table.count]
    assert refused
    assert all(refused)
