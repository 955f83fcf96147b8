"""What is wrong with a file of artwork as a whole, and with the boxes of its pages."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pikepdf

from vdp.verify.preflight.concern import Concern, Wanted
from vdp.verify.state import Area

#: Points by which boxes may miss one another: they are written to few decimals.
_SLACK = 0.05
#: Annotations that only lead somewhere, which paper does not.
_LINKS = frozenset({"/Link"})
#: Actions that no print needs; GoTo and Named only turn pages.
_HARMLESS = frozenset({"/GoTo", "/Named"})


def judge_file(pdf: pikepdf.Pdf, troubles: list[str]) -> Iterator[Concern]:
    """JavaScript, actions, attachments, layers; `troubles` are what had to be mended while reading."""
    root = pdf.Root
    names = root.get("/Names", pikepdf.Dictionary())
    if "/JavaScript" in names or _is_script(root.get("/OpenAction")):
        yield Concern("art-script", 0, None, "the file carries JavaScript")
    elif _acts(root.get("/OpenAction")) or "/AA" in root:
        yield Concern("art-action", 0, None, "the file acts when it is opened or printed")
    if "/EmbeddedFiles" in names or "/AF" in root or "/Collection" in root:
        yield Concern("art-attachment", 0, None, "the file carries other files")
    layers = root.get("/OCProperties")
    if isinstance(layers, pikepdf.Dictionary):
        groups = [str(group.get("/Name", "?")) for group in layers.get("/OCGs", pikepdf.Array()).as_list()]
        if groups:
            yield Concern("art-layers", 0, None, f"it has layers: {', '.join(groups[:8])}")
    if troubles:
        yield Concern("art-repaired", 0, None, f"the file was damaged and could be mended: {troubles[0]}")


def judge_page(page: pikepdf.Page, number: int, wanted: Wanted) -> Iterator[Concern]:
    """Boxes (ISO 32000-2, 14.11.2), bleed against the layout, and what acts on the page."""
    obj = page.obj
    media = _box(page.mediabox)
    bleed = _box(page.bleedbox) if "/BleedBox" in obj else media
    trim = _box(page.trimbox) if "/TrimBox" in obj else None
    if trim is None:
        yield Concern("art-no-trim", number, None, "no TrimBox is stated: the page is taken to end at its CropBox")
    if not _holds(media, bleed) or (trim is not None and not _holds(bleed, trim)):
        yield Concern("art-boxes", number, None, "TrimBox, BleedBox and MediaBox do not lie in one another")
    if wanted.bleed is not None:
        inner = trim if trim is not None else _box(page.cropbox)
        drawn = (max(bleed[0], media[0]), max(bleed[1], media[1]), min(bleed[2], media[2]), min(bleed[3], media[3]))
        least = min(inner[0] - drawn[0], inner[1] - drawn[1], drawn[2] - inner[2], drawn[3] - inner[3])
        unit = float(obj.get("/UserUnit", 1))
        if least * unit < wanted.bleed - _SLACK:
            said = (
                f"it bleeds {max(0.0, least * unit) * 25.4 / 72:.1f} mm, the layout {wanted.bleed * 25.4 / 72:.1f} mm"
            )
            yield Concern("art-bleed", number, None, said)
    for note in _notes(obj):
        if _is_script(note.get("/A")) or "/AA" in note or _acts(note.get("/A")):
            if str(note.get("/Subtype")) in _LINKS and not _is_script(note.get("/A")):
                continue
            code = "art-script" if _is_script(note.get("/A")) else "art-action"
            yield Concern(code, number, _box(note.get("/Rect")), "something on the page acts when it is used")
    if "/AA" in obj:
        yield Concern("art-action", number, None, "the page acts when it is shown")


def _notes(page: pikepdf.Object) -> list[pikepdf.Object]:
    notes = page.get("/Annots")
    found: list[pikepdf.Object] = [*notes.as_list()] if isinstance(notes, pikepdf.Array) else []
    return [note for note in found if isinstance(note, pikepdf.Dictionary)]


def _is_script(action: object) -> bool:
    return isinstance(action, pikepdf.Dictionary) and (
        action.get("/S") == pikepdf.Name.JavaScript or _is_script(action.get("/Next"))
    )


def _acts(action: object) -> bool:
    return isinstance(action, pikepdf.Dictionary) and "/S" in action and str(action["/S"]) not in _HARMLESS


def _box(box: Any) -> Area:
    left, bottom, right, top = (float(side) for side in box.as_list())
    return min(left, right), min(bottom, top), max(left, right), max(bottom, top)


def _holds(outer: Area, inner: Area) -> bool:
    return all(outer[i] <= inner[i] + _SLACK for i in (0, 1)) and all(outer[i] >= inner[i] - _SLACK for i in (2, 3))
