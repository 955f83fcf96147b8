"""Rules of PDF/X-4 about pages and what they lead to: boxes, fonts, XObjects, graphics states, colour spaces.

Clauses: ISO 15930-7:2010 as STANDARDS §3.1 lists them by number, given beside each rule.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from pypdf.generic import ArrayObject, DictionaryObject, StreamObject

from vdp.verify.conformance.opened import Broken, Leaf, Opened, name_of, numbers

_SLACK = 0.01
_LZW = ("LZWDecode", "LZW")


def judge_pages(opened: Opened, pages: list[Leaf]) -> Iterator[Broken]:
    """Every page handed in, and every resource of theirs once."""
    for leaf in pages:
        yield from _boxes(opened, leaf)
        yield from _page(opened, leaf)
    described: dict[str, tuple[str, str]] = {}
    for kind, name, value, _ in opened.resources(pages):
        where = f"{kind} {name}"
        if isinstance(value, StreamObject):
            yield from _stream(opened, where, value)
        if kind == "Font" and isinstance(value, DictionaryObject):
            yield from _font(opened, where, value)
        elif kind == "XObject" and isinstance(value, StreamObject):
            yield from _xobject(opened, where, value, described)
        elif kind == "ExtGState" and isinstance(value, DictionaryObject):
            yield from _state(where, value)
        elif kind == "ColorSpace":
            yield from _space(opened, where, value, described)
    yield from _overprint(opened, pages)


def _boxes(opened: Opened, leaf: Leaf) -> Iterator[Broken]:
    where = f"page {leaf.at + 1}"
    boxes = {key: numbers(opened.array(leaf.page.get(f"/{key}Box"))) for key in ("Media", "Bleed", "Trim", "Art")}
    if not boxes["Media"]:
        yield Broken("standard-boxes", where, "it has no MediaBox")
    if bool(boxes["Trim"]) == bool(boxes["Art"]):  # 3.1.9: one of them, never both
        yield Broken("standard-boxes", where, "it needs either a TrimBox or an ArtBox")
    inner = boxes["Trim"] or boxes["Art"]
    nested = [box for box in (inner, boxes["Bleed"], boxes["Media"]) if box]
    if any(box[2] - box[0] <= 0 or box[3] - box[1] <= 0 for box in nested):
        yield Broken("standard-boxes", where, "a box is empty")
    for one, other in pairwise(nested):
        low = all(one[i] >= other[i] - _SLACK for i in (0, 1))
        if not low or not all(one[i] <= other[i] + _SLACK for i in (2, 3)):
            yield Broken("standard-boxes", where, "TrimBox, BleedBox and MediaBox do not lie in one another")


def _page(opened: Opened, leaf: Leaf) -> Iterator[Broken]:
    where = f"page {leaf.at + 1}"
    if "/AA" in leaf.page:  # 3.1.12
        yield Broken("standard-action", where, "the page has /AA")
    if "/SeparationInfo" in leaf.page:  # 3.3: for pre-separated files
        yield Broken("standard-separated", where, "the page has /SeparationInfo")
    bleed = numbers(opened.array(leaf.page.get("/BleedBox"))) or numbers(opened.array(leaf.page.get("/MediaBox")))
    for note in opened.array(leaf.page.get("/Annots")):
        found = opened.get(note)
        rectangle = numbers(opened.array(found.get("/Rect"))) if isinstance(found, DictionaryObject) else []
        outside = bool(rectangle and bleed) and (
            rectangle[2] <= bleed[0] or rectangle[0] >= bleed[2] or rectangle[3] <= bleed[1] or rectangle[1] >= bleed[3]
        )
        if not outside:  # 3.1.12
            yield Broken("standard-note", where, "an annotation lies inside the bleed")


def _stream(opened: Opened, where: str, stream: StreamObject) -> Iterator[Broken]:
    if "/F" in stream:  # 3.1.12
        yield Broken("standard-foreign", where, "its data lies in another file")
    filters = opened.get(stream.get("/Filter"))
    found = [name_of(opened.get(one)) for one in filters] if isinstance(filters, ArrayObject) else [name_of(filters)]
    if any(one in _LZW for one in found):  # 3.1.13
        yield Broken("standard-filter", where, "it is packed by LZW")


def _font(opened: Opened, where: str, font: DictionaryObject) -> Iterator[Broken]:
    """3.1.10.  A Type 3 font is its own drawings."""
    if name_of(font.get("/Subtype")) == "Type3":
        return
    inner = font
    if name_of(font.get("/Subtype")) == "Type0":
        below = opened.array(font.get("/DescendantFonts"))
        inner = opened.dictionary(below[0], "a font") if below else font
    descriptor = opened.get(inner.get("/FontDescriptor"))
    held = isinstance(descriptor, DictionaryObject) and any(
        isinstance(opened.get(descriptor.get(key)), StreamObject) for key in ("/FontFile", "/FontFile2", "/FontFile3")
    )
    if not held:
        yield Broken("standard-font", where, f"{name_of(font.get('/BaseFont'))} is not in the file")


def _xobject(
    opened: Opened, where: str, found: StreamObject, described: dict[str, tuple[str, str]]
) -> Iterator[Broken]:
    if name_of(found.get("/Subtype")) == "PS" or name_of(found.get("/Subtype2")) == "PS" or "/PS" in found:  # 3.1.12
        yield Broken("standard-foreign", where, "it is PostScript")
    for key in ("/OPI", "/Ref"):
        if key in found:
            yield Broken("standard-foreign", where, f"it has {key}")
    space = opened.get(found.get("/ColorSpace"))
    if space is not None:
        yield from _space(opened, where, space, described)


def _state(where: str, state: DictionaryObject) -> Iterator[Broken]:
    """3.1.13."""
    if "/TR" in state:
        yield Broken("standard-state", where, "it has /TR")
    if "/TR2" in state and name_of(state["/TR2"]) != "Default":
        yield Broken("standard-state", where, "its /TR2 is not Default")
    if "/HTO" in state or "/HTP" in state:
        yield Broken("standard-state", where, "it sets the origin or phase of halftones")
    halftone = state.get("/HT")
    if isinstance(halftone, DictionaryObject) and "/HalftoneName" in halftone:
        yield Broken("standard-state", where, "it names a halftone")


def _space(opened: Opened, where: str, space: Any, described: dict[str, tuple[str, str]]) -> Iterator[Broken]:
    kind = name_of(space) if not isinstance(space, ArrayObject) else name_of(opened.get(space[0]))
    if kind in ("DeviceRGB", "RGB"):  # 3.1.16
        yield Broken("standard-colour", where, "it is DeviceRGB under a CMYK intent")
    if not isinstance(space, ArrayObject):
        return
    if kind in ("Indexed", "Pattern") and len(space) > 1:
        yield from _space(opened, where, opened.get(space[1]), described)
    elif kind == "Separation" and len(space) > 3:
        spot = name_of(opened.get(space[1]))
        if name_of(opened.get(space[2])) in ("DeviceRGB", "RGB"):
            yield Broken("standard-colour", where, f"the alternate of {spot} is DeviceRGB")
        told = _described(opened, space)
        before, there = described.setdefault(spot, (told, where))
        if before != told:  # 3.1.14
            yield Broken("standard-separation", where, f"{spot} is not what it is in {there}")


def _described(opened: Opened, space: ArrayObject) -> str:
    """A hash over alternate and tint transform, streams unpacked."""
    digest = hashlib.sha256()

    def add(value: Any, depth: int) -> None:
        found = opened.get(value)
        if isinstance(found, StreamObject):
            digest.update(found.get_data())
        if isinstance(found, DictionaryObject) and depth < 8:
            for key in sorted(found):
                if key not in ("/Length", "/Filter", "/DecodeParms"):
                    digest.update(str(key).encode())
                    add(found.raw_get(key), depth + 1)
        elif isinstance(found, ArrayObject) and depth < 8:
            for part in found:
                add(part, depth + 1)
        else:
            number = isinstance(found, int | float) and not isinstance(found, bool)
            digest.update(f"{float(found):.6f} ".encode() if number else f"{found!r} ".encode())

    add(space[2], 0)
    add(space[3], 0)
    return digest.hexdigest()


def _overprint(opened: Opened, pages: list[Leaf]) -> Iterator[Broken]:
    """3.1.17: a form or page that can select both is told; what it really selects is the plate reader's to see."""
    for leaf in pages:
        resources = opened.get(leaf.page.get("/Resources"))
        if not isinstance(resources, DictionaryObject):
            continue
        states, spaces = (opened.get(resources.get(key)) for key in ("/ExtGState", "/ColorSpace"))
        over = isinstance(states, DictionaryObject) and any(_overprints(opened.get(states[name])) for name in states)
        if over and isinstance(spaces, DictionaryObject):
            for name in spaces:
                space = opened.get(spaces[name])
                if _is_icc_cmyk(opened, space):
                    where = f"page {leaf.at + 1}"
                    yield Broken("standard-overprint", where, f"{name[1:]} is ICC-based CMYK beside overprint mode 1")
        return  # pages share their resources: the first stands for them all


def _overprints(state: Any) -> bool:
    return (
        isinstance(state, DictionaryObject)
        and state.get("/OPM") == 1
        and any(bool(getattr(state.get(key), "value", state.get(key))) for key in ("/OP", "/op"))
    )


def _is_icc_cmyk(opened: Opened, space: Any) -> bool:
    if not isinstance(space, ArrayObject) or name_of(opened.get(space[0])) != "ICCBased":
        return False
    profile = opened.get(space[1])
    return isinstance(profile, DictionaryObject) and profile.get("/N") == 4
