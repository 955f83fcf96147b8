"""Deeds done to pieces that have glue zones and counterfoils."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import NamedTuple

import pikepdf

from tests.sheeted import put_lines, read_lines, refresh
from vdp.verify.pages import digest

Deed = Callable[[Path], None]


class FinishCase(NamedTuple):
    title: str
    deed: Deed
    gives: frozenset[str]


FINISH_CASES: list[FinishCase] = []


def case(title: str, gives: Iterable[str]) -> Callable[[Deed], Deed]:
    def keep(deed: Deed) -> Deed:
        FINISH_CASES.append(FinishCase(title, deed, frozenset(gives)))
        return deed

    return keep


def redrawn(folder: Path, page: int, change: Callable[[bytes], bytes]) -> None:
    """Changes a page's content, and everything that hashes it."""
    path = folder / "pieces.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        stream = pdf.pages[page].Contents
        stream.write(change(stream.read_bytes()))
        first = page // 2 * 2
        both = digest(*(pdf.pages[first + side].Contents.read_bytes() for side in (0, 1)))
        pdf.save(path)
    lines = read_lines(folder)
    lines[page // 2]["sha256"] = both
    put_lines(folder, lines)
    refresh(folder)


@case("a pale field is printed on glue", ["glue-printed"])
def _(folder: Path) -> None:
    # The zone is 0 to 60 mm by 33 to 40 mm of the trim; its middle lies 5.5 mm above the page's lower edge.
    redrawn(folder, 3, lambda old: old + b"q 0.02 0 0 0 k 400 240 30 30 re f Q\n")


@case("a hairline is printed on glue", ["glue-printed"])
def _(folder: Path) -> None:
    redrawn(folder, 5, lambda old: old + b"q 0 0 0 1 K 4 w 300 200 m 900 200 l S Q\n")


@case("Clear is printed on glue", ["glue-printed"])
def _(folder: Path) -> None:
    drawn = b"/OC /Clear BDC q /Clear cs /Overprint gs 1 scn 400 240 30 30 re f Q EMC\n"
    redrawn(folder, 1, lambda old: old + drawn)


@case("the stub bears no number", ["counterfoil-missing"])
def _(folder: Path) -> None:
    def without(old: bytes) -> bytes:
        first, stub = re.findall(rb"BT\n.*?ET\n", old, re.DOTALL)
        assert first != stub
        return old.replace(stub, b"")

    redrawn(folder, 2, without)


@case("the stub's number stands across the perforation", ["counterfoil-missing"])
def _(folder: Path) -> None:
    def moved(old: bytes) -> bytes:
        first, stub = re.findall(rb"BT\n.*?ET\n", old, re.DOTALL)
        assert first != stub
        return old.replace(stub, b"q 1 0 0 1 -200 0 cm\n" + stub + b"Q\n")

    redrawn(folder, 4, moved)
