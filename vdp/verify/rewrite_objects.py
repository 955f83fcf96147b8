"""What `Do` and `sh` paint: forms, pictures, image masks and shadings, on every plate's copy.

Not here: samples (`samples`), objects of the copy (`platefile`).

Forms are read once for each state they are drawn under, and kept: the artwork of a job is one form on every page.
"""

from __future__ import annotations

from typing import NamedTuple

import pikepdf

from vdp.verify import lex
from vdp.verify.doubt import Unreadable
from vdp.verify.inks import Space, colour_space
from vdp.verify.rewrite import Handler, Walk
from vdp.verify.samples import check_picture
from vdp.verify.state import Area, Matrix, bounds, meets, times
from vdp.verify.view import FormSeen, Placed, Seen

_UNIT: Area = (0.0, 0.0, 1.0, 1.0)
_DEEPEST = 12


class KeptForm(NamedTuple):
    """A form as rewritten: its name on each plate (None: nothing), which plates have ink after it, what it shows."""

    names: tuple[bytes | None, ...]
    inked: tuple[bool, ...]
    seen: Seen


def _do(walk: Walk, operands: bytes) -> None:
    source = walk.resources.xobject(lex.name(operands))
    kind = str(source.get("/Subtype", ""))
    layered = "/OC" in source
    if layered:
        walk.layers.append(walk.writer.shared.layers.name(source["/OC"]))
    if kind == "/Form":
        _form(walk, source)
    elif kind == "/Image":
        if source.get("/ImageMask", False):
            _mask(walk, source)
        else:
            _picture(walk, source)
    else:
        raise Unreadable(f"an XObject of kind {kind[1:]}")
    if layered:
        walk.layers.pop()


# -- forms -------------------------------------------------------------------------------------------------------------


def _form(walk: Walk, source: pikepdf.Object) -> None:
    writer, state = walk.writer, walk.state
    reach = _reach(source, state.ctm)
    areas = {plate: tuple(a for a in found if meets(a, reach)) for plate, found in walk.seen.spot_areas.items()}
    key = (source.objgen, state.key(), tuple(walk.inked), walk.layer, walk.depth, tuple(sorted(areas.items())))
    kept = writer.forms.get(key) if source.is_indirect else None
    if kept is None:
        kept = _read_form(walk, source)
        writer.forms[key] = kept
    if walk.depth == 0:
        walk.seen.forms.append(FormSeen(source.objgen, state.ctm))
    walk.seen.take(kept.seen)
    walk.inked[:] = kept.inked
    for plate, name in enumerate(kept.names):
        if name is not None:
            walk.canvas.paint(plate, name + b" Do ", None, None)


def _reach(source: pikepdf.Object, ctm: Matrix) -> Area:
    """The area of the page that a form can paint on; ink elsewhere does not matter to it."""
    box = [float(part) for part in source["/BBox"].as_list()]
    return bounds(times(_matrix(source), ctm), (box[0], box[1], box[2], box[3]))


def _read_form(walk: Walk, source: pikepdf.Object) -> KeptForm:
    if walk.depth >= _DEEPEST:
        raise Unreadable("forms are nested too deeply")
    writer = walk.writer
    box = [float(part) for part in source["/BBox"].as_list()]
    matrix = _matrix(source)
    state = walk.state.copy()
    state.ctm = times(matrix, state.ctm)
    group = source.get("/Group")
    if group is not None:
        if group.get("/K", False):
            raise Unreadable("a knockout group")
        state.grouped = True
    resources = source.get("/Resources")
    inner = Walk(
        writer, writer.shared.of(resources) if resources is not None else walk.resources, state, Seen(), walk.inked[:]
    )
    inner.depth = walk.depth + 1
    inner.layers = [walk.layer]
    # What the page has on its spot plates so far may be knocked out from inside the form.
    inner.seen.spot_areas = {plate: list(found) for plate, found in walk.seen.spot_areas.items()}
    streams = inner.run(source.read_bytes())
    for plate, found in walk.seen.spot_areas.items():
        del inner.seen.spot_areas[plate][: len(found)]
    names = tuple(writer.out.form(stream, box, list(matrix)) if stream is not None else None for stream in streams)
    return KeptForm(names, tuple(inner.inked), inner.seen)


def _matrix(source: pikepdf.Object) -> Matrix:
    value = source.get("/Matrix")
    if value is None:
        return (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    a, b, c, d, e, f = (float(part) for part in value.as_list())
    return (a, b, c, d, e, f)


# -- pictures ----------------------------------------------------------------------------------------------------------


def _picture(walk: Walk, source: pikepdf.Object) -> None:
    writer, state = walk.writer, walk.state
    walk.seen.pictures.append(Placed(source, walk.resources.source.get("/ColorSpace"), state.ctm, walk.depth))
    check_picture(source)
    space = _picture_space(walk, source)
    if state.op and state.grouped:
        raise Unreadable("overprinting inside a transparency group")
    walk.check_ink(space, state.op)
    touched = walk.plates.touched(space, state.op)
    tints = tuple(None if there is None else float(there) for there in touched)

    def area() -> Area:
        return bounds(state.ctm, _UNIT)

    tints = walk.note(tints, space, area)
    if writer.far(area):
        return
    for plate, tint in enumerate(tints):
        if tint is None:
            continue
        name = writer.picture(source, walk.resources.spaces, plate, inked=touched[plate] is True)
        walk.canvas.paint(plate, name + b" Do ", None, None)


def _picture_space(walk: Walk, source: pikepdf.Object) -> Space:
    """The space of a picture's inks; that of its palette's colours for an indexed one."""
    value = source.get("/ColorSpace")
    spaces = walk.resources.spaces
    if isinstance(value, pikepdf.Name) and spaces is not None and str(value) in spaces:
        value = spaces[str(value)]
    if isinstance(value, pikepdf.Array) and str(value[0]) in ("/Indexed", "/I"):
        value = value[1]
    if value is None:
        raise Unreadable("a picture without a colour space")
    space = colour_space(value, spaces)
    walk.writer.shared.sign(value, space)
    return space


def _mask(walk: Walk, source: pikepdf.Object) -> None:
    state, writer = walk.state, walk.writer
    if "/SMask" in source or "/Mask" in source:
        raise Unreadable("an image mask has a mask of its own")

    def area() -> Area:
        return bounds(state.ctm, _UNIT)

    tints = walk.note(walk.ink(fill=True), state.fill_space, area)
    if writer.far(area):
        return
    for plate, tint in enumerate(tints):
        if tint is not None:
            walk.canvas.paint(plate, writer.out.mask(source) + b" Do ", tint, None)


# -- shadings ----------------------------------------------------------------------------------------------------------


def _shade(walk: Walk, operands: bytes) -> None:
    name = lex.name(operands)
    source = walk.resources.shading(name)
    kind = int(source.get("/ShadingType", 0))
    if kind not in (1, 2, 3):
        raise Unreadable("a mesh shading")
    state, writer = walk.state, walk.writer
    space = _picture_space(walk, source)
    if state.op and state.grouped:
        raise Unreadable("overprinting inside a transparency group")
    walk.check_ink(space, state.op)
    touched = walk.plates.touched(space, state.op)
    tints = walk.note(
        tuple(None if there is None else float(there) for there in touched), space, lambda: walk.writer.whole
    )
    for plate, tint in enumerate(tints):
        if tint is not None:
            walk.canvas.paint(plate, writer.shading(source, space, plate) + b" sh ", None, None)


OBJECTS: dict[bytes, Handler] = {b"Do": _do, b"sh": _shade}
