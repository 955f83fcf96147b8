"""Finished pages → one-plate copies, by rewriting their content streams; what a page shows is noted in the same pass.

Lives here: the rewriting of a batch of pages, and the rules that spot plates obey.  Not here: operators (`rewrite*`),
rendering (`raster`), judging what was seen.

Overprinting, knocking out, nested forms, pictures and shadings come out as a press would print them.  What cannot be
judged raises `Unreadable`: soft masks, blend modes, transparency, Type 3 fonts, patterns, meshes, RGB and Lab.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, Sequence

import numpy as np
import pikepdf

from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.inks import Plates, Space
from vdp.verify.platefile import PlateFile
from vdp.verify.resources import Shared
from vdp.verify.rewrite import STATES, Handler, InlinePicture, Walk
from vdp.verify.rewrite_objects import OBJECTS, KeptForm
from vdp.verify.rewrite_paths import PATHS
from vdp.verify.rewrite_text import TEXT
from vdp.verify.samples import Bytes, plate_picture, read_samples
from vdp.verify.state import EVERYWHERE, Area, State, meets
from vdp.verify.view import PageView, Seen

#: Memory that plate pictures may take between batches, in bytes.
MOST_KEPT = 64_000_000
_HANDLERS: Mapping[bytes, Handler] = {**STATES, **PATHS, **TEXT, **OBJECTS}


class PictureStore:
    """Plate pictures kept from batch to batch, least recently used out first."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self.most, self._held = most, 0
        self._kept: OrderedDict[tuple[tuple[int, int], str], Bytes] = OrderedDict()

    def get(self, key: tuple[tuple[int, int], str], make: Callable[[], Bytes]) -> Bytes:
        """The picture of an object on a plate."""
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
            return found
        made = make()
        if key[0] != (0, 0):
            self._kept[key] = made
            self._held += made.nbytes
            while self._held > self.most and len(self._kept) > 1:
                self._held -= self._kept.popitem(last=False)[1].nbytes
        return made


class PlateWriter:
    """Rewrites pages of one file into one plate file.

    `interest` are the areas that will be rendered, in points: pictures and type that surely lie outside them are left
    out of the copies (never out of the notes).  None keeps everything.  `spots` are the job's spot plates.
    `ignore_knockout` leaves spot plates whole where other marks knock them out, to see whether they do.
    `separate` keeps Cyan, Magenta and Yellow apart.
    """

    def __init__(
        self,
        pdf: pikepdf.Pdf,
        spots: tuple[str, ...],
        interest: Sequence[Area] | None = None,
        store: PictureStore | None = None,
        *,
        ignore_knockout: bool = False,
        separate: bool = False,
    ) -> None:
        self.pdf, self.plates, self.interest = pdf, Plates(spots, separate=separate), interest
        self.shared = Shared(pdf, spots)
        self.out = PlateFile(pdf)
        self.store = store if store is not None else PictureStore()
        self.forms: dict[object, KeptForm] = {}
        self.handlers = _HANDLERS
        self.ignore_knockout = ignore_knockout
        self.whole = EVERYWHERE
        self._names: dict[tuple[object, ...], bytes] = {}
        self._rules: dict[tuple[Space, bool, int, str | None], tuple[tuple[str, str], ...]] = {}

    # -- pages --------------------------------------------------------------------------------------------------------

    def read(self, page: pikepdf.Object, resources: pikepdf.Object | None, box: Area) -> PageView:
        """One page.  `resources` and `box` (its MediaBox) may be inherited.  Raises Unreadable."""
        with pdf_faults():
            content = page_content(page)
            source = resources if resources is not None else pikepdf.Dictionary()
            try:
                streams, seen = self._walk(content, source)
            except InlinePicture:
                pikepdf.Page(page).externalize_inline_images(min_size=0)
                streams, seen = self._walk(page_content(page), page.get("/Resources", source))
            if page.get("/Annots"):
                raise Unreadable("the page has annotations")
            copies = {
                plate: self.out.page(list(box), stream) if stream is not None else None
                for plate, stream in zip(self.plates.names, streams, strict=True)
            }
        return PageView(box, content, seen, copies)

    def _walk(self, content: bytes, resources: pikepdf.Object) -> tuple[list[bytes | None], Seen]:
        seen = Seen()
        walk = Walk(self, self.shared.of(resources), State(), seen, [False] * len(self.plates.names))
        try:
            return walk.run(content), seen
        except InlinePicture:
            # Forms that were read before the picture went out of line hold its old bytes.
            self.forms.clear()
            raise

    def finish(self) -> bytes:
        """The plate file; a page of nothing where there would be none, since PDFium opens no empty file."""
        if self.out.count == 0:
            self.out.page([0, 0, 1, 1], b"")
        return self.out.save()

    # -- what the operators ask for -----------------------------------------------------------------------------------

    def far(self, area: Callable[[], Area]) -> bool:
        """Whether an area surely lies outside everything that will be rendered."""
        if self.interest is None:
            return False
        where = area()
        return not any(meets(where, other) for other in self.interest)

    def picture(
        self, source: pikepdf.Object, spaces: Mapping[str, pikepdf.Object] | None, plate: int, *, inked: bool
    ) -> bytes:
        """A picture's grey copy for a plate; one white pixel where it only knocks out."""
        key = ("picture", source.objgen, plate, inked)
        name = self._names.get(key) if source.is_indirect else None
        if name is not None:
            return name
        mask = source.get("/Mask")
        title = self.plates.names[plate]

        def make() -> Bytes:
            whole = plate_picture(read_samples(source, spaces), self.plates, title)
            return whole if inked else np.full((1, 1), 255, np.uint8)

        grey = self.store.get((source.objgen, title if inked else ""), make)
        name = self.out.picture(grey, mask if isinstance(mask, pikepdf.Stream) else None)
        self._names[key] = name
        return name

    def shading(self, source: pikepdf.Object, space: Space, plate: int) -> bytes:
        """A shading in a plate's grey."""
        key = ("shading", source.objgen, plate)
        name = self._names.get(key) if source.is_indirect else None
        if name is None:
            which, inverted = self.plates.pick(space, self.plates.names[plate])
            name = self.out.shading(source, self.out.selecting_space(space.size, which, inverted))
            self._names[key] = name
        return name

    def rules(self, space: Space, op: bool, opm: int, layer: str | None) -> tuple[tuple[str, str], ...]:
        """What is wrong with painting in a colour space under an overprint setting, inside a layer."""
        key = (space, op, opm, layer)
        found = self._rules.get(key)
        if found is None:
            found = self._rules[key] = tuple(self._judge(space, op, opm, layer))
        return found

    def _judge(self, space: Space, op: bool, opm: int, layer: str | None) -> Iterator[tuple[str, str]]:
        mine = [spot for spot in self.plates.spots if spot in space.names]
        for spot in mine:
            if space.kind != "separation":
                yield "separation-differs", f"{spot} is mixed with other colorants in one colour space"
            if not op or opm != 1:
                yield "clear-knockout", f"a mark on {spot} does not overprint (overprint {op}, mode {opm})"
            if layer != spot:
                yield "clear-layer", f"a mark on {spot} is not in the layer {spot}"
        if not mine and layer is not None:
            yield "clear-in-process", f"a mark in the layer {layer} is printed on other plates"
        for name in self.plates.unknown(space):
            yield "plate-unknown", f"a mark is printed on '{name}', which is no plate of the job"
        if "All" in space.names:
            yield "plate-unknown", "a mark is printed on every plate at once"


def page_content(page: pikepdf.Object) -> bytes:
    """The uncompressed content of a page; several streams are parted by a line feed (ISO 32000-2, 7.8.2)."""
    contents = page.get("/Contents")
    if isinstance(contents, pikepdf.Array):
        return b"\n".join(part.read_bytes() for part in contents.as_list())
    return contents.read_bytes() if isinstance(contents, pikepdf.Stream) else b""
