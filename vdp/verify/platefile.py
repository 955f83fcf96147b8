"""The one-plate copies of a batch of pages, as a small PDF of grey pages in memory.

Lives here: objects of the copy (fonts, pictures, forms, shadings, pages) under names that are unique in it, so that all
pages and forms share one resource dictionary.  Not here: what goes into a content stream (`rewrite`).
"""

from __future__ import annotations

import io

import pikepdf
from pikepdf import Array, Dictionary, Name, Stream

from vdp.verify.samples import Bytes


class PlateFile:
    """Grows by what pages need; `save` gives the bytes."""

    def __init__(self, finished: pikepdf.Pdf) -> None:
        self.finished, self.pdf = finished, pikepdf.new()
        self.resources = self.pdf.make_indirect(
            Dictionary(Font=Dictionary(), XObject=Dictionary(), Shading=Dictionary(), ColorSpace=Dictionary())
        )
        self._known: dict[tuple[int, int], bytes] = {}
        self._count = 0
        self._kids: list[pikepdf.Object] = []
        self._pages = self.pdf.make_indirect(Dictionary(Type=Name.Pages))

    @property
    def count(self) -> int:
        """Pages so far."""
        return len(self._kids)

    def _add(self, kind: str, value: pikepdf.Object) -> bytes:
        self._count += 1
        name = f"/{kind[0]}{self._count}"
        self.resources[f"/{kind}"][name] = value
        return name.encode()

    def font(self, source: pikepdf.Object) -> bytes:
        """A font of the finished file → its name here."""
        return self._copy("Font", source)

    def mask(self, source: pikepdf.Object) -> bytes:
        """An image mask of the finished file → its name here: it has no colour of its own."""
        return self._copy("XObject", source)

    def _copy(self, kind: str, source: pikepdf.Object) -> bytes:
        key = source.objgen
        name = None if key == (0, 0) else self._known.get(key)
        if name is None:
            copy = self._foreign(source)
            if "/OC" in copy:
                del copy["/OC"]
            name = self._known[key] = self._add(kind, copy)
        return name

    def _foreign(self, source: pikepdf.Object) -> pikepdf.Object:
        """A copy here of an object there; only indirect objects can be copied."""
        return self.pdf.copy_foreign(source if source.is_indirect else self.finished.make_indirect(source))

    def picture(self, grey: Bytes, mask: pikepdf.Object | None) -> bytes:
        """A grey picture, and the stencil that cuts it → its name."""
        stream = Stream(self.pdf, grey.tobytes())
        stream.Type, stream.Subtype = Name.XObject, Name.Image
        stream.Width, stream.Height, stream.BitsPerComponent = grey.shape[1], grey.shape[0], 8
        stream.ColorSpace = Name.DeviceGray
        if mask is not None:
            stream.Mask = self._foreign(mask)
        return self._add("XObject", self.pdf.make_indirect(stream))

    def form(self, content: bytes, box: list[float], matrix: list[float]) -> bytes:
        """A form → its name."""
        stream = Stream(self.pdf, content)
        stream.Type, stream.Subtype = Name.XObject, Name.Form
        stream.BBox, stream.Matrix, stream.Resources = Array(box), Array(matrix), self.resources
        return self._add("XObject", self.pdf.make_indirect(stream))

    def shading(self, source: pikepdf.Object, space: pikepdf.Object) -> bytes:
        """A shading of the finished file with its colour space exchanged → its name."""
        copy = self._foreign(source)
        exchanged = Dictionary({key: value for key, value in copy.items() if key != "/Background"})
        exchanged["/ColorSpace"] = space
        return self._add("Shading", self.pdf.make_indirect(exchanged))

    def selecting_space(self, count: int, which: list[int], inverted: bool) -> pikepdf.Object:
        """A colour space of `count` components whose grey is 1 − the strongest of `which`, or, inverted, the component
        itself.  White when `which` is empty."""
        code = _selecting(count, which, inverted)
        function = self.pdf.make_indirect(
            Stream(self.pdf, code, FunctionType=4, Domain=Array([0, 1] * count), Range=Array([0, 1]))
        )
        if count == 1:
            return self.pdf.make_indirect(Array([Name.Separation, Name.Ink, Name.DeviceGray, function]))
        names = Array([Name(f"/Ink{i}") for i in range(count)])
        return self.pdf.make_indirect(Array([Name.DeviceN, names, Name.DeviceGray, function]))

    def page(self, box: list[float], content: bytes) -> int:
        """A page → its 0-based number here."""
        page = Dictionary(
            Type=Name.Page,
            Parent=self._pages,
            MediaBox=Array(box),
            Resources=self.resources,
            Contents=Stream(self.pdf, content),
        )
        self._kids.append(self.pdf.make_indirect(page))
        return len(self._kids) - 1

    def save(self) -> bytes:
        """The whole file."""
        self._pages.Kids, self._pages.Count = Array(self._kids), len(self._kids)
        self.pdf.Root.Pages = self._pages
        out = io.BytesIO()
        self.pdf.save(
            out,
            compress_streams=False,
            stream_decode_level=pikepdf.StreamDecodeLevel.none,
            object_stream_mode=pikepdf.ObjectStreamMode.disable,
            static_id=True,
            fix_metadata_version=False,
        )
        return out.getvalue()


def _selecting(count: int, which: list[int], inverted: bool) -> bytes:
    """A PostScript calculator function (ISO 32000-2, 7.10.5)."""
    if not which:
        return b"{" + b"pop " * count + b"1}"
    # Copies of the wanted components are gathered on top; then the originals are rolled up and dropped.
    code = b"".join(b"%d index " % (count - 1 - index + taken) for taken, index in enumerate(which))
    # max(a, b): PostScript has no max, so compare and drop the smaller.
    code += b"2 copy lt {exch} if pop " * (len(which) - 1)
    code += b"" if inverted else b"1 exch sub "
    return b"{" + code + b"%d 1 roll " % (count + 1) + b"pop " * count + b"}"
