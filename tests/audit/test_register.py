"""Findings that are many, and numbers between runs."""

from __future__ import annotations

from vdp.audit.claims import Claims, Given
from vdp.audit.register import Register, in_order
from vdp.audit.several import MOST_TOLD, Several
from vdp.audit.terms import Terms
from vdp.numbering.series import Series

SERIES = Series("s", "V", 1, 1, 6, "", "damm")


def claims(run: str, first: int, count: int) -> Claims:
    given = Given(first, count, False, Terms.of(SERIES.terms()))
    return Claims("Small", run, count, count, 0, True, {}, None, {"s": given}, None, (), None, None)


def fed(register: Register, name: str, first: int, count: int) -> None:
    take = register.folder(name, claims(name, first, count))
    for place in range(1, count + 1):
        take(place, {"piece": place, "row": place + 1, "serials": {"s": SERIES.text(first + place - 1)}})


def test_numbers_between_runs_are_told() -> None:
    register = Register()
    for name, first in (("c", 30), ("a", 0), ("b", 10), ("e", 200), ("f", 300), ("g", 400), ("h", 500), ("i", 600)):
        fed(register, name, first, 10)
    (said,) = register.unseen()
    assert said == (
        "series s: numbers 21 to 30, 41 to 200, 211 to 300, 311 to 400, 411 to 500 and 1 more stretches are of no run "
        "given"
    )
    assert list(register.findings()) == []
    assert (register.serials, register.unique, register.copies) == (80, 80, 0)
    assert register.indexes("b", "s") == list(range(10, 20))
    assert [span[:5] for span in register.spans("c")] == [("s", SERIES.text(30), SERIES.text(39), 30, 39)]


def test_runs_that_follow_one_another_leave_nothing_between() -> None:
    register = Register()
    fed(register, "a", 5, 10)
    fed(register, "b", 15, 10)
    assert list(register.unseen()) == []


def test_very_many_findings_are_counted() -> None:
    register = Register()
    fed(register, "a", 0, 300)
    fed(register, "b", 0, 300)
    found = list(register.findings())
    assert {finding.code for finding in found} == {"audit-serial-twice"}
    assert len(found) == MOST_TOLD + 1
    assert found[0].where == "b, piece 1"
    assert found[0].message.endswith("is also a, line 1")
    assert found[-1].message == "and 200 more of these, 300 in all"


def test_several_tells_each_code_by_itself() -> None:
    several = Several("folder")
    for nth in range(MOST_TOLD + 1):
        several.tell("one", str(nth), "x")
    several.tell("other", "z", "y")
    assert [(found.code, found.where) for found in several.all()][-2:] == [("other", "z"), ("one", "folder")]


def test_later_copies_are_read_before_what_they_repeat() -> None:
    assert in_order([claims("a", 0, 1), None]) == [0, 1]
