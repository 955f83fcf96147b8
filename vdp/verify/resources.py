"""A resource dictionary read on demand and kept: fonts, colour spaces, graphics states, layers, XObjects, shadings.

Lives here: names → what the rewriting needs of them.  Not here: painting.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple, TypeVar

import pikepdf

from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.fonts import SourceFont, read_font
from vdp.verify.inks import Space, colour_space, signature

T = TypeVar("T")


class GraphicsState(NamedTuple):
    """An ExtGState: overprint as far as it says so, and the rest as ordinary operators."""

    op: bool | None
    stroke_op: bool | None
    opm: int | None
    width: float | None
    mitre: float | None
    rest: bytes


class Layers:
    """The file's optional-content groups: which are plates of the job, and which are hidden."""

    def __init__(self, pdf: pikepdf.Pdf, spots: tuple[str, ...]) -> None:
        self.spots = spots
        with pdf_faults():
            self._read(pdf)

    def _read(self, pdf: pikepdf.Pdf) -> None:
        settings = pdf.Root.get("/OCProperties", pikepdf.Dictionary()).get("/D", pikepdf.Dictionary())
        if not isinstance(settings, pikepdf.Dictionary):
            raise Unreadable("the file's layers cannot be read")
        self._dark = settings.get("/BaseState", pikepdf.Name.ON) != pikepdf.Name.ON
        off = settings.get("/OFF", pikepdf.Array())
        self._off = {group.objgen for group in off.as_list()} if isinstance(off, pikepdf.Array) else set()

    def name(self, group: pikepdf.Object) -> str | None:
        """The plate whose layer this is, or None for a layer that is simply shown.  Raises Unreadable otherwise."""
        kind = group.get("/Type")
        if kind != pikepdf.Name.OCG:
            raise Unreadable("a layer depends on other layers")
        title = str(group.get("/Name", ""))
        if title in self.spots:
            return title
        if self._dark or group.objgen in self._off:
            raise Unreadable(f"the layer '{title}' is hidden")
        return None


class Shared:
    """What all resource dictionaries of a file have in common: fonts by object, Separation arrays by plate."""

    def __init__(self, pdf: pikepdf.Pdf, spots: tuple[str, ...]) -> None:
        self.pdf, self.spots, self.layers = pdf, spots, Layers(pdf, spots)
        self.fonts: dict[tuple[int, int], SourceFont] = {}
        self.separations: dict[str, set[str]] = {spot: set() for spot in spots}
        self._signed: set[tuple[int, int]] = set()
        self.resources: dict[tuple[int, int], Resources] = {}

    def of(self, source: pikepdf.Object) -> Resources:
        """The Resources over a dictionary, one for each indirect one."""
        key = source.objgen
        if key == (0, 0):
            return Resources(source, self)
        found = self.resources.get(key)
        if found is None:
            found = self.resources[key] = Resources(source, self)
        return found

    def sign(self, value: pikepdf.Object, space: Space) -> None:
        """Notes what a plate's Separation array says."""
        mine = [spot for spot in self.spots if spot in space.names]
        if not mine or (value.is_indirect and value.objgen in self._signed):
            return
        for spot in mine:
            self.separations[spot].add(signature(value))
        if value.is_indirect:
            self._signed.add(value.objgen)


class Resources:
    """Names of one dictionary → things, each read once.  Raises Unreadable for a name that is not there."""

    def __init__(self, source: pikepdf.Object, shared: Shared) -> None:
        self.source, self.shared = source, shared
        self._kept: dict[tuple[str, str], object] = {}
        spaces = source.get("/ColorSpace")
        #: The named colour spaces.
        self.spaces: Mapping[str, pikepdf.Object] | None = None
        if isinstance(spaces, pikepdf.Dictionary):
            self.spaces = dict(spaces.items())
        #: Whether default colour spaces stand for device ones.
        self.redefined = spaces is not None and any(f"/Default{kind}" in spaces for kind in ("CMYK", "Gray", "RGB"))

    def _entry(self, kind: str, name: str) -> pikepdf.Object:
        entries = self.source.get(kind)
        entry = entries.get(name) if isinstance(entries, pikepdf.Dictionary) else None
        if entry is None:
            raise Unreadable(f"{name} is not among the page's {kind[1:]} resources")
        return entry

    def _keep(self, kind: str, name: str, read: Callable[[pikepdf.Object], T]) -> T:
        key = (kind, name)
        if key not in self._kept:
            self._kept[key] = read(self._entry(kind, name))
        return self._kept[key]  # type: ignore[return-value]  # what was kept under this kind is what `read` gives

    def font(self, name: str) -> SourceFont:
        def read(entry: pikepdf.Object) -> SourceFont:
            key = entry.objgen
            if key == (0, 0) or key not in self.shared.fonts:
                self.shared.fonts[key] = read_font(entry)
            return self.shared.fonts[key]

        return self._keep("/Font", name, read)

    def space(self, name: str) -> Space:
        """A colour space by the name that `cs` uses: a device space or a resource."""
        if name in ("/DeviceCMYK", "/DeviceGray", "/Pattern"):
            return colour_space(pikepdf.Name(name), self.spaces)

        def read(entry: pikepdf.Object) -> Space:
            space = colour_space(entry, self.spaces)
            self.shared.sign(entry, space)
            return space

        return self._keep("/ColorSpace", name, read)

    def graphics_state(self, name: str) -> GraphicsState:
        return self._keep("/ExtGState", name, _graphics_state)

    def layer(self, name: str) -> str | None:
        """The plate whose layer a property list stands for."""
        return self._keep("/Properties", name, self.shared.layers.name)

    def xobject(self, name: str) -> pikepdf.Object:
        return self._keep("/XObject", name, lambda entry: entry)

    def shading(self, name: str) -> pikepdf.Object:
        return self._keep("/Shading", name, lambda entry: entry)


#: Keys that change nothing about which plate gets which ink.
_HARMLESS = frozenset(
    ("/Type", "/SA", "/FL", "/RI", "/AIS", "/TK", "/SM", "/HT", "/HTO", "/BG", "/BG2", "/UCR", "/UCR2")
)
#: Line width, cap, join and mitre limit, and the dash: set by operators in the copies.
_LINES = (("/LW", b"w"), ("/LC", b"J"), ("/LJ", b"j"), ("/ML", b"M"))
_KNOWN = _HARMLESS | {"/OP", "/op", "/OPM", "/D", *dict(_LINES)}


def _graphics_state(entry: pikepdf.Object) -> GraphicsState:
    """ISO 32000-2, 8.4.5 and 11.6.4."""
    for key, value in entry.items():
        doubt = _doubt(key, value)
        if doubt is not None:
            raise Unreadable(doubt)
    stroke_op = bool(entry["/OP"]) if "/OP" in entry else None
    op = bool(entry["/op"]) if "/op" in entry else stroke_op
    opm = int(entry["/OPM"]) if "/OPM" in entry else None
    rest = b"".join(b"%g " % float(entry[key]) + operator + b" " for key, operator in _LINES if key in entry)
    dash = entry.get("/D")
    if dash is not None:
        rest += b"[" + b" ".join(b"%g" % float(part) for part in dash[0].as_list()) + b"] %g d " % float(dash[1])
    width = float(entry["/LW"]) if "/LW" in entry else None
    mitre = float(entry["/ML"]) if "/ML" in entry else None
    return GraphicsState(op, stroke_op, opm, width, mitre, rest)


def _doubt(key: str, value: pikepdf.Object) -> str | None:
    """Why an entry of an ExtGState cannot be judged, if it cannot."""
    if key in _KNOWN:
        return None
    if key == "/SMask":
        return None if value == pikepdf.Name("/None") else "a soft mask is in force"
    if key == "/BM":
        modes = value.as_list() if isinstance(value, pikepdf.Array) else [value]
        plain = bool(modes) and str(modes[0]) in ("/Normal", "/Compatible")
        return None if plain else "a blend mode other than Normal is in force"
    if key in ("/CA", "/ca"):
        return None if float(value) == 1 else "painting is partly transparent"
    if key in ("/TR", "/TR2"):
        return None if str(value) in ("/Identity", "/Default") else "a transfer function is in force"
    return f"a graphics state sets {key[1:]}"
