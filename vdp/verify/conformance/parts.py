"""Rules of PDF/VT-1 about document parts and what may be kept (ISO 16612-2; ISO 32000-2, 14.12).

Clauses: as STANDARDS §3.2 lists them by number, given beside each rule.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject, NameObject, StreamObject

from vdp.verify.conformance.opened import Broken, Leaf, Opened, name_of

_ROOT = "DPartRoot"
#: ISO 16612-2, 6.7.3 (from memory, and Arlington's table of XObjects).
_SCOPES = ("SingleUse", "Record", "File", "Stream", "Global", "Unknown")


def judge_parts(opened: Opened, pages: list[Leaf], *, whole: bool) -> Iterator[Broken]:
    """`whole`: `pages` are all pages, so the tree is walked to every leaf; else only to those of the pages."""
    raw = opened.raw(opened.root, "/DPartRoot")
    root = opened.get(raw)
    if not isinstance(raw, IndirectObject) or not isinstance(root, DictionaryObject):  # 3.2.2
        yield Broken("parts-root", _ROOT, "the catalog does not lead to it by a reference")
        return
    top = opened.raw(root, "/DPartRootNode")
    if not isinstance(top, IndirectObject) or not isinstance(opened.get(top), DictionaryObject):  # 3.2.3
        yield Broken("parts-root", _ROOT, "DPartRootNode is not a reference to a document part")
        return
    names = opened.array(root.get("/NodeNameList"))
    if not names or not all(isinstance(opened.get(name), NameObject) for name in names):  # 3.2.3
        yield Broken("parts-names", _ROOT, "NodeNameList is not a list of names")
    level = root.get("/RecordLevel")
    if not isinstance(level, int) or isinstance(level, bool) or not 0 <= level < max(1, len(names)):
        yield Broken("parts-root", _ROOT, f"RecordLevel is {level!r}, of {len(names)} levels")
    if whole:
        yield from _tree(opened, top, raw, pages, len(names))
    yield from _back(opened, pages, top, raw)
    yield from _scopes(opened, pages)


def _tree(
    opened: Opened, top: IndirectObject, root: IndirectObject, pages: list[Leaf], levels: int
) -> Iterator[Broken]:
    """3.2.4, 3.2.5: every node, and whether the leaves cover the pages once, in order."""
    place = {leaf.number: leaf.at for leaf in pages}
    expected = 0
    seen: set[int] = set()
    waiting: list[tuple[Any, int, int]] = [(top, root.idnum, 0)]
    while waiting:
        reference, parent, depth = waiting.pop()
        node = opened.get(reference)
        where = f"document part {reference.idnum}" if isinstance(reference, IndirectObject) else "a document part"
        if not isinstance(reference, IndirectObject) or not isinstance(node, DictionaryObject):
            yield Broken("parts-node", where, "it is not an object of its own")
            continue
        if reference.idnum in seen:
            yield Broken("parts-node", where, "it stands in the tree twice")
            continue
        seen.add(reference.idnum)
        yield from _node(opened, where, node, parent)
        if depth >= levels:
            yield Broken("parts-names", where, f"it lies at level {depth}, which has no name")
        if "/Start" not in node:
            groups = opened.array(node.get("/DParts"))
            kids = [kid for group in groups for kid in opened.array(group)]
            waiting.extend((kid, reference.idnum, depth + 1) for kid in reversed(kids))
            continue
        first, last = (opened.raw(node, key) for key in ("/Start", "/End"))
        start = place.get(getattr(first, "idnum", 0), -1)
        end = place.get(getattr(last, "idnum", 0), -1) if last is not None else start
        if start != expected or end < start:
            yield Broken("parts-order", where, f"it has pages {start + 1} to {end + 1}; page {expected + 1} comes next")
        expected = max(expected, end + 1)
        yield from _record(opened, where, node)
    if expected != len(pages):
        yield Broken("parts-order", _ROOT, f"the parts cover {expected} of {len(pages)} pages")


def _node(opened: Opened, where: str, node: DictionaryObject, parent: int) -> Iterator[Broken]:
    """3.2.4."""
    above = opened.raw(node, "/Parent")
    if not isinstance(above, IndirectObject) or above.idnum != parent:
        yield Broken("parts-node", where, "its Parent is not the node above it")
    if ("/Start" in node) == ("/DParts" in node):
        yield Broken("parts-node", where, "it needs either Start or DParts")
    groups = opened.get(node.get("/DParts"))
    if "/DParts" in node and (
        not isinstance(groups, ArrayObject) or not all(isinstance(opened.get(g), ArrayObject) for g in groups)
    ):
        yield Broken("parts-node", where, "DParts is not an array of arrays")


def _record(opened: Opened, where: str, node: DictionaryObject) -> Iterator[Broken]:
    """3.2.6: what every record says of itself."""
    found = opened.get(node.get("/DPM"))
    if not isinstance(found, DictionaryObject):
        yield Broken("parts-metadata", where, "it has no DPM")
        return
    root = opened.get(found.get("/CIP4_Root"))
    if isinstance(root, DictionaryObject) and name_of(root.get("/Type")) != "CIP4_Root":
        yield Broken("parts-metadata", where, "CIP4_Root has no /Type /CIP4_Root")
    recipient = opened.get(root.get("/CIP4_Recipient")) if isinstance(root, DictionaryObject) else None
    if not isinstance(recipient, DictionaryObject) or not name_of(recipient.get("/CIP4_ExternalID")):
        yield Broken("parts-metadata", where, "it does not number its record (CIP4_ExternalID)")


def _back(opened: Opened, pages: list[Leaf], top: IndirectObject, root: IndirectObject) -> Iterator[Broken]:
    """3.2.5: from every page to its leaf, and from there to the root."""
    for leaf in pages:
        where = f"page {leaf.at + 1}"
        part = leaf.page.get("/DPart")
        reference = part if isinstance(part, IndirectObject) else getattr(part, "indirect_reference", None)
        node = opened.get(part)
        if reference is None or not isinstance(node, DictionaryObject) or "/Start" not in node:
            yield Broken("parts-page", where, "it does not lead to a leaf of the tree")
            continue
        start = opened.raw(node, "/Start")
        last = opened.raw(node, "/End") or start
        if leaf.number not in range(getattr(start, "idnum", 0), getattr(last, "idnum", 0) + 1):
            yield Broken("parts-page", where, "its document part has other pages")
        steps, number = 0, reference.idnum
        while number != top.idnum and steps < 40:
            above = opened.raw(node, "/Parent")
            if not isinstance(above, IndirectObject) or not isinstance(opened.get(above), DictionaryObject):
                break
            node, number, steps = opened.get(above), above.idnum, steps + 1
        if number != top.idnum:
            yield Broken("parts-page", where, "its document part does not lead up to the root")
        elif getattr(opened.raw(node, "/Parent"), "idnum", 0) != root.idnum:
            yield Broken("parts-root", _ROOT, "the topmost part does not lead to the root")
            return


def _scopes(opened: Opened, pages: list[Leaf]) -> Iterator[Broken]:
    """3.2.7: what pages share may be kept: it says so, by which name, and is one object."""
    for leaf in pages:
        resources = opened.get(leaf.page.get("/Resources"))
        shared = opened.get(resources.get("/XObject")) if isinstance(resources, DictionaryObject) else None
        if not isinstance(shared, DictionaryObject):
            return
        for name in shared:
            raw = shared.raw_get(name)
            found, where = opened.get(raw), f"XObject {name[1:]}"
            if not isinstance(raw, IndirectObject) or not isinstance(found, StreamObject):
                yield Broken("parts-scope", where, "it is not an object of its own")
                continue
            scope = name_of(found.get("/GTS_Scope"))
            if scope not in _SCOPES or (scope in ("Stream", "Global") and "/GTS_Env" not in found):
                yield Broken("parts-scope", where, f"its GTS_Scope is {scope or 'not said'}")
            encapsulated = found.get("/GTS_Encapsulated")
            if not bool(getattr(encapsulated, "value", encapsulated)) or not found.get("/GTS_XID"):
                yield Broken("parts-scope", where, "it is not said to be encapsulated, or has no GTS_XID")
        return  # pages share their resources: the first stands for them all
