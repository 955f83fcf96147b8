"""A second, independent reader of the pieces file: page count, and content of a sample.

pypdf up to `MOST_PAGES`: it keeps every offset of the file in Python objects, and its own page list refuses large
trees, so the sample is reached by descending the tree by its counts.  Beyond that, PDFium counts.
"""

from __future__ import annotations

import hashlib
import logging
import random
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, cast

import pypdfium2
from pypdf import PdfReader
from pypdf.generic import DictionaryObject

from vdp.verify.doubt import Unreadable

#: Pages looked at besides the first and the last.
SAMPLE = 6
#: Pages up to which pypdf is asked.
MOST_PAGES = 50_000


@contextmanager
def quiet() -> Iterator[None]:
    """pypdf's remarks about odd files go to its logger; ours are findings."""
    logger = logging.getLogger("pypdf")
    before = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        logger.setLevel(before)


def second_look(path: Path, expected: int, seed: int) -> tuple[int, dict[int, str]]:
    """The page count, and the SHA-256 of the content of some 0-based pages.  Raises Unreadable.

    `expected` pages decide which reader is asked; beyond `MOST_PAGES` there is no sample.
    """
    if expected > MOST_PAGES:
        try:
            with pypdfium2.PdfDocument(path) as document:
                return len(document), {}
        except pypdfium2.PdfiumError as error:
            raise Unreadable(f"PDFium cannot read the file: {error}") from error
    with quiet(), path.open("rb") as file:
        try:
            # An open file, not its path: given a path, pypdf reads the whole file into memory.
            root = _resolved(_resolved(PdfReader(file).trailer["/Root"])["/Pages"])
            count = int(cast("int", root["/Count"]))
            chance = random.Random(seed)  # noqa: S311  a sample, not a secret
            chosen = {0, count - 1, *(chance.randrange(count) for _ in range(SAMPLE))} if count else set()
            return count, {number: _content(_page(root, number, 0)) for number in sorted(chosen)}
        except Unreadable:
            raise
        except Exception as error:  # damaged files make pypdf raise anything at all
            raise Unreadable(f"pypdf cannot read the file: {type(error).__name__} {error}") from error


def _resolved(value: Any) -> DictionaryObject:
    found = value.get_object()
    if not isinstance(found, DictionaryObject):
        raise Unreadable("pypdf finds no dictionary where the page tree is")
    return found


def _page(node: DictionaryObject, number: int, depth: int) -> DictionaryObject:
    if "/Kids" not in node:
        return node
    for kid in cast("list[Any]", node["/Kids"]):
        below = _resolved(kid)
        count = int(below.get("/Count", 1)) if "/Kids" in below else 1
        if number < count and depth < 40:
            return _page(below, number, depth + 1)
        number -= count
    raise Unreadable("pypdf finds fewer pages than the root of the tree says")


def _content(page: DictionaryObject) -> str:
    contents: Any = page["/Contents"].get_object()
    parts = contents if isinstance(contents, list) else [contents]
    return hashlib.sha256(b"\n".join(part.get_object().get_data() for part in parts)).hexdigest()
