"""Numbers out of the records' own column: each judged, then the gaps."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from vdp.numbering.column import ColumnNumbers
from vdp.numbering.series import Series


def stated(last: int | None = 20, check: str = "luhn") -> Series:
    return Series("pass", "N", 11, 1, 4, "", check, last=last)


def test_each_number_is_judged() -> None:
    made = stated()
    judge = ColumnNumbers(made, "Serial")
    assert judge.judge(2, made.text(3)) == []
    assert judge.judge(3, made.text(3)) == ["Serial: 'N00141' has the number of row 2"]
    assert judge.judge(4, "N00142") == ["Serial: 'N00142' fails its check (luhn): it ends in '2', not in '1'"]
    assert judge.judge(5, "N00216") == ["Serial: 'N00216' is none of the numbers that this series has"]
    assert judge.judge(6, "") == ["Serial: '' is no serial of this series"]
    assert judge.indexes == (3,)


def test_gaps_against_the_stated_range() -> None:
    judge = ColumnNumbers(stated(), "Serial")
    for row, index in enumerate((3, 0, 4, 8)):
        assert judge.judge(row, stated().text(index)) == []
    assert list(judge.gaps()) == [(12, 13), (16, 18), (20, 20)]
    assert judge.indexes == (3, 0, 4, 8)


def test_no_range_stated_no_gap_told() -> None:
    judge = ColumnNumbers(stated(last=None), "Serial")
    assert judge.judge(2, stated(last=None).text(7)) == []
    assert list(judge.gaps()) == []


@given(st.sets(st.integers(0, 9)))
def test_gaps_and_numbers_make_the_range(indexes: set[int]) -> None:
    judge = ColumnNumbers(stated(), "Serial")
    for index in indexes:
        judge.judge(index, stated().text(index))
    missing = {number for first, last in judge.gaps() for number in range(first, last + 1)}
    assert missing == set(range(11, 21)) - {11 + index for index in indexes}
