"""The list as a whole: what is refused before anything else, what is told at once, and reading it twice."""

from __future__ import annotations

import hashlib
import os
import tracemalloc
from pathlib import Path
from typing import Any

import pytest

from tests.records.lists import faults_of, spec_of, table_of, values_of
from vdp.errors import CallerError
from vdp.records import table as table_room
from vdp.records.faults import TOLD
from vdp.records.table import COLUMN_LIMIT, UNPRINTABLE, open_table


def test_what_a_table_tells(tmp_path: Path) -> None:
    content = b"id;name\n1;Ann\n2;Bob\n"
    table = table_of(tmp_path, content)
    assert (table.header, table.count, table.encoding, table.delimiter) == (("id", "name"), 2, "utf-8", ";")
    assert table.sha256 == hashlib.sha256(content).hexdigest()
    assert table.warnings == ()
    assert [row.row for row in table.rows()] == [2, 3]
    assert list(table.rows()) == list(table.rows())


def test_missing_file(tmp_path: Path) -> None:
    (tmp_path / "members.csv").write_bytes(b"a\nb\n")
    with pytest.raises(CallerError, match=r"demo.csv: there is no such file \(check the job's records.file"):
        open_table(tmp_path / "absent" / "demo.csv", spec_of(), "demo.csv")
    with pytest.raises(CallerError, match=r"there is no such file \(did you mean 'members.csv'\?\)"):
        open_table(tmp_path / "member.csv", spec_of(), "member.csv")


def test_unreadable_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    with pytest.raises(CallerError, match=r"the list is a pipe, and a list is read more than once \(save it as a file"):
        open_table(tmp_path / "pipe.csv", spec_of(), "pipe.csv")
    with pytest.raises(CallerError, match="the list cannot be opened: Is a directory"):
        open_table(tmp_path, spec_of(), "folder")
    with pytest.raises(CallerError, match="the list cannot be opened: embedded null"):
        open_table(Path("a\0b"), spec_of(), "nul")


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "the list is empty: it has no bytes"),
        (b"\xef\xbb\xbf", "the list is empty"),
        (b"\n\na\n", "row 1: the list begins with a blank row"),
        (b",,\n", "row 1: the list begins with a blank row"),
        (b"a,b\n", "the list has a header but no records"),
        (b"a,b\n\n\n", "the list has a header but no records"),
        (b"\xd0\xcf\x11\xe0rest", "an old or encrypted workbook"),
    ],
)
def test_nothing_to_read(tmp_path: Path, content: bytes, what: str) -> None:
    assert what in faults_of(tmp_path, content)[0]


def test_every_fault_of_the_header_is_told(tmp_path: Path) -> None:
    assert faults_of(tmp_path, "name,,town, name ,to\twn,o\u0308,\u00f6, \n1,2,3,4,5,6,7,8\n") == [
        "list.csv, row 1, column '2': the column has no header (name it, or delete the column)",
        "list.csv, row 1, column '4': the header 'name' is also that of column 1 (rename one of them)",
        "list.csv, row 1, column '5': the header 'to<U+0009>wn' holds U+0009 (type the name again)",
        "list.csv, row 1, column '7': the header 'ö' is also that of column 6 (rename one of them)",
        "list.csv, row 1, column '8': the column has no header (name it, or delete the column)",
    ]


def test_columns_have_a_limit(tmp_path: Path) -> None:
    names = [f"c{n}" for n in range(1000)]
    assert f"the list has 1,000 columns, more than the {COLUMN_LIMIT}" in faults_of(tmp_path, ",".join(names) + "\n")[0]
    most = ",".join(names[:COLUMN_LIMIT])
    assert len(table_of(tmp_path, f"{most}\n{most}\n").header) == COLUMN_LIMIT


def test_ragged_and_blank_rows_are_told_together(tmp_path: Path) -> None:
    content = 'id,name,city\n1,Ann\n2,"B\nC",Rome\n3,Doe, Dan,Rome\n\n\n5,Eve,Oslo\n6\n'
    mend = "a value that holds ',' or a line break stands in double quotes"
    assert faults_of(tmp_path, content) == [
        f"list.csv, row 2, column 'city': the row has 2 fields, the header 3 ({mend})",
        f"list.csv, row 4, column '4': the row has 4 fields, the header 3 ({mend})",
        "list.csv, row 5: the row is blank, but rows follow it (delete the blank row)",
        f"list.csv, row 8, column 'name': the row has 1 field, the header 3 ({mend})",
    ]


def test_faults_before_a_break_are_told_too_and_many_are_counted(tmp_path: Path) -> None:
    first, second = faults_of(tmp_path, 'a,b\n1\n2,"x\n')
    assert "row 2" in first
    assert "row 3, column 'b': the quote opened here" in second
    faults = faults_of(tmp_path, "a,b\n" + "1\n" * 1030)
    assert len(faults) == TOLD + 1
    assert faults[-1] == "list.csv: and 1,010 more faults"


def test_one_column(tmp_path: Path) -> None:
    assert values_of(table_of(tmp_path, b'name\nAnn\n""\nBob\n\n')) == [["Ann"], [""], ["Bob"]]


def test_changed_list_is_refused(tmp_path: Path) -> None:
    table = table_of(tmp_path, b"a,b\n1,2\n")
    table.path.write_bytes(b"a,b\n1,3\n")
    with pytest.raises(CallerError, match="the list was changed while the job was at work"):
        list(table.rows())
    table.path.unlink()
    with pytest.raises(CallerError, match="no such file"):
        list(table.rows())


def test_touched_list_is_the_same(tmp_path: Path) -> None:
    table = table_of(tmp_path, b"a,b\n1,2\n")
    os.utime(table.path, (1, 1))
    assert values_of(table) == [["1", "2"]]


def test_list_changed_while_it_is_read(tmp_path: Path) -> None:
    table = table_of(tmp_path, b"a,b\n" + b"1,2\n" * 100_000)
    rows = table.rows()
    next(rows)
    with table.path.open("ab") as file:
        file.write(b"1,2\n")
    with pytest.raises(CallerError, match="the list was changed"):
        list(rows)


def test_list_changed_while_it_is_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    scan = table_room._scan

    def scan_and_grow(*given: Any) -> tuple[tuple[str, ...], int]:
        with (tmp_path / "list.csv").open("ab") as file:
            file.write(b"3,4\n")
        return scan(*given)

    monkeypatch.setattr(table_room, "_scan", scan_and_grow)
    assert "the list was changed while the job was at work" in faults_of(tmp_path, b"a,b\n1,2\n")[0]


def test_rows_may_be_left_early(tmp_path: Path) -> None:
    table = table_of(tmp_path, b"a,b\n" + b"1,2\n" * 10)
    for row in table.rows():
        assert row.row == 2
        break
    first, second = table.rows(), table.rows()
    assert next(first) == next(second)


def test_memory_does_not_grow_with_the_list(tmp_path: Path) -> None:
    def peak(count: int) -> int:
        (tmp_path / "list.csv").write_bytes(b"id,name\n" + b"".join(b"%d,Some Name\n" % n for n in range(count)))
        tracemalloc.start()
        try:
            table = open_table(tmp_path / "list.csv", spec_of(), "list.csv")
            assert sum(1 for _ in table.rows()) == count
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    assert peak(40_000) < peak(10_000) + 50_000


def test_unprintable_characters() -> None:
    refused = (
        "\0\x01\t\x0b\x0c\r\x1b\x1f\x7f\x80\x85\x9f\ud800\udfff\ufdd0\ufdef\ufeff\ufffd\ufffe\uffff\U0001fffe\U0010ffff"
    )
    assert all(UNPRINTABLE.fullmatch(char) for char in refused)
    assert not UNPRINTABLE.search("\n a~\u00a0\u00ad\u200d\u2066\ufdf0\ufefe\ufffc\ue000\U0001fffd\U000e0041")
