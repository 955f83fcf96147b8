"""A finished file held against both standards: the order of the rules, and how far they look."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from vdp.verify.conformance.opened import ALL_PAGES, Broken, Opened
from vdp.verify.conformance.pages import judge_pages
from vdp.verify.conformance.parts import judge_parts
from vdp.verify.conformance.whole import judge_whole
from vdp.verify.doubt import Unreadable
from vdp.verify.second import quiet

#: Standards that a file may be held against.
PDFX, PDFVT = "PDF/X-4", "PDF/VT-1"
#: Pages beyond which pypdf, which keeps every offset of a file as Python objects, is not asked.
MOST_PAGES = 200_000
#: Complaints of one code that are told one by one.
MOST_TOLD = 10


def judge_standard(path: Path, standard: str, seed: int) -> Iterator[Broken]:
    """Every rule of `standard` that the file breaks; at most MOST_TOLD of a code.  Raises Unreadable."""
    told: dict[str, int] = {}
    for broken in _broken(path, standard, seed):
        told[broken.code] = told.get(broken.code, 0) + 1
        if told[broken.code] <= MOST_TOLD:
            yield broken
    for code, times in told.items():
        if times > MOST_TOLD:
            yield Broken(code, path.name, f"and {times - MOST_TOLD} more of this kind")


def _broken(path: Path, standard: str, seed: int) -> Iterator[Broken]:
    with quiet(), path.open("rb") as file:
        try:
            opened = Opened(file)
            parts = standard == PDFVT
            yield from judge_whole(opened, parts=parts)
            count = opened.count
            pages = list(opened.pages(opened.chosen(seed)))
            yield from judge_pages(opened, pages)
            if parts:
                yield from judge_parts(opened, pages, whole=count <= ALL_PAGES)
        except Unreadable:
            raise
        except Exception as error:  # damaged files make pypdf raise anything at all
            raise Unreadable(f"pypdf cannot read the file: {type(error).__name__} {error}") from error
