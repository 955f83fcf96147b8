"""A finished file as pypdf sees it, and the objects that its pages lead to.

Lives here: opening, choosing pages, walking resources.  Not here: any rule.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject, NameObject, NullObject, StreamObject

from vdp.verify.doubt import Unreadable

#: Pages up to which every page is looked at; of larger files the ends and a seeded sample.
ALL_PAGES, SAMPLE = 2_000, 120
_INHERITED = ("/Resources", "/MediaBox", "/CropBox", "/Rotate")
_DEEPEST = 40


class Broken(NamedTuple):
    """A rule that does not hold: its code, where, and what was found."""

    code: str
    where: str
    message: str


class Leaf(NamedTuple):
    """A page: its 0-based place, its dictionary with what it inherits, and its own object number."""

    at: int
    page: dict[str, Any]
    number: int


class Opened:
    """A file, opened.  `get` resolves references; objects go by their numbers."""

    def __init__(self, file: BinaryIO) -> None:
        self.file = file
        self.name = Path(file.name).name
        self.reader = PdfReader(file)
        self.trailer = self.reader.trailer
        self.root = self.dictionary(self.trailer.get("/Root"), "the catalog")

    def get(self, value: Any) -> Any:
        """What a reference leads to; None for null and for nothing."""
        seen = 0
        while isinstance(value, IndirectObject):
            value = value.get_object()
            seen += 1
            if seen > _DEEPEST:
                raise Unreadable("a reference runs in a circle")
        return None if isinstance(value, NullObject) else value

    def dictionary(self, value: Any, what: str) -> DictionaryObject:
        found = self.get(value)
        if not isinstance(found, DictionaryObject):
            raise Unreadable(f"{what} is no dictionary")
        return found

    def raw(self, holder: DictionaryObject, key: str) -> Any:
        """An entry as written: a reference stays one."""
        return holder.raw_get(key) if key in holder else None

    def array(self, value: Any) -> list[Any]:
        found = self.get(value)
        return list(found) if isinstance(found, ArrayObject) else []

    # -- pages --------------------------------------------------------------------------------------------------------

    @property
    def count(self) -> int:
        """Pages, as the root of the tree says."""
        return int(self.get(self.dictionary(self.root.get("/Pages"), "the page tree")["/Count"]))

    def chosen(self, seed: int) -> list[int]:
        """The places of the pages that are looked at."""
        count = self.count
        if count <= ALL_PAGES:
            return list(range(count))
        chance = random.Random(seed)  # noqa: S311  a sample, no secret
        return sorted({0, 1, count - 2, count - 1, *(chance.randrange(count) for _ in range(SAMPLE))})

    def pages(self, places: list[int]) -> Iterator[Leaf]:
        """Those pages, in order, by descending the tree by its counts."""
        tree = self.dictionary(self.root.get("/Pages"), "the page tree")
        yield from self._below(tree, {}, places, 0, 0)

    def _below(
        self, node: DictionaryObject, inherited: dict[str, Any], places: list[int], first: int, depth: int
    ) -> Iterator[Leaf]:
        if depth > _DEEPEST:
            raise Unreadable("the page tree is too deep")
        passed = inherited | {key: node[key] for key in _INHERITED if key in node}
        for kid in self.array(node.raw_get("/Kids")):
            below = self.dictionary(kid, "a page")
            count = int(self.get(below["/Count"])) if "/Kids" in below else 1
            inside = [place for place in places if first <= place < first + count]
            if inside and "/Kids" in below:
                yield from self._below(below, passed, inside, first, depth + 1)
            elif inside:
                number = kid.idnum if isinstance(kid, IndirectObject) else 0
                yield Leaf(first, passed | dict(below.items()), number)
            first += count

    # -- what pages lead to -------------------------------------------------------------------------------------------

    def resources(self, pages: list[Leaf]) -> Iterator[tuple[str, str, DictionaryObject | ArrayObject, bool]]:
        """Every named resource once: its kind (XObject, Font, ExtGState, ColorSpace), name, value, whether it is an
        object of its own; those of forms and patterns too."""
        done: set[int] = set()
        waiting: list[tuple[Any, int]] = [(page.page.get("/Resources"), 0) for page in pages]
        while waiting:
            holder, depth = waiting.pop()
            if isinstance(holder, IndirectObject):
                if holder.idnum in done:
                    continue
                done.add(holder.idnum)
            found = self.get(holder)
            if not isinstance(found, DictionaryObject) or depth > _DEEPEST:
                continue
            if not isinstance(holder, IndirectObject) and id(found) in done:
                continue
            done.add(id(found))
            for kind in ("XObject", "Font", "ExtGState", "ColorSpace", "Pattern"):
                group = self.get(found.get(f"/{kind}"))
                if not isinstance(group, DictionaryObject):
                    continue
                for name in group:
                    raw = group.raw_get(name)
                    own = isinstance(raw, IndirectObject)
                    if own and (raw.idnum, kind) in done:  # type: ignore[comparison-overlap]  # both kinds of key
                        continue
                    if own:
                        done.add((raw.idnum, kind))  # type: ignore[arg-type]  # see above
                    value = self.get(raw)
                    if value is None:
                        continue
                    yield kind, str(name)[1:], value, own
                    if kind in ("XObject", "Pattern") and isinstance(value, StreamObject):
                        waiting.append((value.raw_get("/Resources") if "/Resources" in value else None, depth + 1))


def name_of(value: Any) -> str:
    """A name without its slash; "" for anything else."""
    return str(value)[1:] if isinstance(value, NameObject) else ""


def numbers(values: list[Any]) -> list[float]:
    """Numbers of a rectangle; empty when it is none."""
    try:
        found = [float(value) for value in values]
    except (TypeError, ValueError):
        return []
    return found if len(found) == 4 else []
