"""Small PDFs made by hand for the verifier's tests: one page, the resources that the cases name."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pikepdf
import uharfbuzz as hb
from pikepdf import Array, Dictionary, Name, Stream
from PIL import Image

from vdp.job.faces import builtin_faces
from vdp.verify.inks import Plates
from vdp.verify.plates import PlateWriter
from vdp.verify.raster import Raster
from vdp.verify.samples import Bytes
from vdp.verify.view import PageView

SIDE = 200
BOX = (0.0, 0.0, float(SIDE), float(SIDE))


def tint(pdf: pikepdf.Pdf, code: bytes, inputs: int) -> pikepdf.Object:
    """A tint transform into CMYK."""
    return pdf.make_indirect(Stream(pdf, code, FunctionType=4, Domain=Array([0, 1] * inputs), Range=Array([0, 1] * 4)))


def separation(pdf: pikepdf.Pdf, name: str, code: bytes = b"{dup 0 exch 0 exch pop 0}") -> pikepdf.Object:
    return pdf.make_indirect(Array([Name.Separation, Name(f"/{name}"), Name.DeviceCMYK, tint(pdf, code, 1)]))


def picture(
    pdf: pikepdf.Pdf, data: bytes, size: tuple[int, int], space: object, bits: int = 8, **more: object
) -> pikepdf.Object:
    stream = Stream(pdf, data)
    stream.Type, stream.Subtype = Name.XObject, Name.Image
    stream.Width, stream.Height, stream.BitsPerComponent = size[0], size[1], bits
    stream.ColorSpace = space
    for key, value in more.items():
        stream[f"/{key}"] = value
    return pdf.make_indirect(stream)


def form(pdf: pikepdf.Pdf, content: bytes, resources: object, **more: object) -> pikepdf.Object:
    stream = Stream(pdf, content)
    stream.Type, stream.Subtype, stream.BBox = Name.XObject, Name.Form, Array([0, 0, SIDE, SIDE])
    stream.Resources = resources
    for key, value in more.items():
        stream[f"/{key}"] = value
    return pdf.make_indirect(stream)


def cmyk_jpeg() -> bytes:
    """A four-ink JPEG as Pillow writes it: with Adobe's marker, values inverted."""
    across = np.tile(np.linspace(0, 255, 64).astype(np.uint8), (64, 1))
    values = np.stack([across, across.T, 255 - across, across], axis=-1)
    out = io.BytesIO()
    Image.fromarray(values, "CMYK").save(out, "JPEG", quality=95)
    return out.getvalue()


def with_resources(pdf: pikepdf.Pdf) -> pikepdf.Object:
    """Every resource that a case may name."""
    clear = separation(pdf, "Clear")
    ramp = bytes(range(0, 256, 4)) * 64

    def between(start: list[float], end: list[float]) -> pikepdf.Object:
        return Dictionary(FunctionType=2, Domain=Array([0, 1]), N=1, C0=Array(start), C1=Array(end))

    noise = np.random.default_rng(5).integers(0, 256, 4096 * 4, dtype=np.uint8).tobytes()
    resources = Dictionary(
        ColorSpace=Dictionary(
            Clear=clear,
            Black=separation(pdf, "Black", b"{0 exch 0 exch 0 exch}"),
            All=separation(pdf, "All", b"{dup dup dup}"),
            None_=separation(pdf, "None", b"{dup dup dup}"),
            Duo=pdf.make_indirect(
                Array(
                    [
                        Name.DeviceN,
                        Array([Name.Black, Name.Clear]),
                        Name.DeviceCMYK,
                        tint(pdf, b"{pop 0 exch 0 exch 0 exch}", 2),
                    ]
                )
            ),
        ),
        ExtGState=Dictionary(
            Over=Dictionary(OP=True, op=True, OPM=1),
            Over0=Dictionary(OP=True, op=True, OPM=0),
            Knock=Dictionary(OP=False, op=False, OPM=0),
            Line=Dictionary(LW=12, LC=1, D=Array([Array([24, 24]), 0])),
        ),
        Shading=Dictionary(
            Axial=Dictionary(
                ShadingType=2,
                ColorSpace=Name.DeviceCMYK,
                Coords=Array([0, 0, SIDE, 0]),
                Extend=Array([True, True]),
                Function=between([0, 0, 0, 1], [0, 0.6, 0, 0.2]),
            ),
            Spot=Dictionary(
                ShadingType=3,
                ColorSpace=clear,
                Coords=Array([100, 100, 0, 100, 100, 90]),
                Extend=Array([False, False]),
                Function=between([1], [0.3]),
            ),
        ),
    )
    resources.Font = Dictionary(Mono=glyph_font(pdf))
    resources.XObject = Dictionary(
        Jpeg=picture(pdf, cmyk_jpeg(), (64, 64), Name.DeviceCMYK, Filter=Name.DCTDecode, Decode=Array([1, 0] * 4)),
        Grey=picture(pdf, ramp, (64, 64), Name.DeviceGray),
        Cmyk=picture(pdf, noise, (64, 64), Name.DeviceCMYK),
        Spot=picture(pdf, ramp, (64, 64), clear),
        Duo=picture(pdf, ramp * 2, (64, 64), resources.ColorSpace.Duo),
        Bits=picture(pdf, bytes(range(256)) * 2, (64, 64), Name.DeviceGray, bits=1, Decode=Array([1, 0])),
        Few=picture(
            pdf,
            bytes(range(256)) * 8,
            (64, 64),
            Array([Name.Indexed, Name.DeviceCMYK, 15, bytes(range(0, 256, 4))]),
            bits=4,
        ),
        Mask=_mask(pdf),
        Cut=picture(pdf, ramp, (64, 64), Name.DeviceGray, Mask=_mask(pdf)),
    )
    resources.XObject["/Form"] = form(
        pdf, b"0.5 g 60 60 90 90 re f /Clear cs 1 scn 20 20 60 60 re f", resources_of(resources)
    )
    resources.XObject["/Bare"] = form(pdf, b"60 60 90 90 re f", Dictionary(), Matrix=Array([0.5, 0, 0, 0.5, 20, 10]))
    resources.XObject["/Deep"] = form(pdf, b"/Over gs q 0.7 0 0 0.7 10 30 cm /Form Do Q", resources_of(resources))
    return pdf.make_indirect(resources)


def resources_of(resources: pikepdf.Object) -> pikepdf.Object:
    """A copy that a form can own."""
    copy = Dictionary(dict(resources.items()))
    copy.XObject = Dictionary(dict(resources.XObject.items()))
    return copy


def mono() -> Path:
    """A static TrueType font with a glyph for every letter of ASCII."""
    return builtin_faces()["mono"].path


def glyph_font(pdf: pikepdf.Pdf) -> pikepdf.Object:
    """That font whole, addressed by its own glyph ids, with ToUnicode."""
    data = mono().read_bytes()
    face = hb.Face(data)
    font = hb.Font(face)
    scale = 1000 / face.upem
    widths = [round(font.get_glyph_h_advance(gid) * scale, 3) for gid in range(face.glyph_count)]
    letters = {gid: chr(code) for code in range(32, 127) if (gid := font.get_nominal_glyph(code)) is not None}
    entries = b"".join(b"<%04X> <%04X>\n" % (gid, ord(letter)) for gid, letter in letters.items())
    cmap = b"begincmap %d beginbfchar\n%sendbfchar endcmap" % (len(letters), entries)
    descriptor = Dictionary(
        Type=Name.FontDescriptor,
        FontName=Name("/AAAAAA+Mono"),
        Flags=4,
        FontBBox=Array([-200, -300, 800, 1100]),
        ItalicAngle=0,
        Ascent=1000,
        Descent=-250,
        CapHeight=700,
        StemV=80,
        FontFile2=pdf.make_indirect(Stream(pdf, data, Length1=len(data))),
    )
    descendant = Dictionary(
        Type=Name.Font,
        Subtype=Name.CIDFontType2,
        BaseFont=Name("/AAAAAA+Mono"),
        CIDToGIDMap=Name.Identity,
        CIDSystemInfo=Dictionary(Registry="Adobe", Ordering="Identity", Supplement=0),
        FontDescriptor=pdf.make_indirect(descriptor),
        DW=600,
        W=Array([0, Array(widths)]),
    )
    return pdf.make_indirect(
        Dictionary(
            Type=Name.Font,
            Subtype=Name.Type0,
            BaseFont=Name("/AAAAAA+Mono"),
            Encoding=Name("/Identity-H"),
            DescendantFonts=Array([pdf.make_indirect(descendant)]),
            ToUnicode=pdf.make_indirect(Stream(pdf, cmap)),
        )
    )


def glyphs(text: str) -> bytes:
    """A hexadecimal string of the font's glyph ids, without brackets."""
    font = hb.Font(hb.Face(mono().read_bytes()))
    return b"".join(b"%04X" % (font.get_nominal_glyph(ord(c)) or 0) for c in text)


def _mask(pdf: pikepdf.Pdf) -> pikepdf.Object:
    stream = Stream(pdf, bytes([0b11001100, 0b11110000] * 4 + [0b00110011, 0b00001111] * 4))
    stream.Type, stream.Subtype, stream.Width, stream.Height = Name.XObject, Name.Image, 16, 8
    stream.ImageMask, stream.BitsPerComponent = True, 1
    return pdf.make_indirect(stream)


def make(content: bytes, extra: Mapping[str, object] | None = None) -> pikepdf.Pdf:
    """A file of one page with that content."""
    pdf = pikepdf.new()
    page = pdf.add_blank_page(page_size=(SIDE, SIDE))
    page.obj.Contents = Stream(pdf, content)
    page.obj.Resources = with_resources(pdf)
    for key, value in (extra or {}).items():
        page.obj.Resources[key] = value
    return pdf


def saved(pdf: pikepdf.Pdf) -> bytes:
    out = io.BytesIO()
    pdf.save(out)
    return out.getvalue()


def view(pdf: pikepdf.Pdf, spots: tuple[str, ...] = ("Clear",)) -> tuple[PageView, bytes]:
    """The page as the verifier sees it, and its plate file."""
    writer = PlateWriter(pdf, spots)
    page = pdf.pages[0].obj
    seen = writer.read(page, page.get("/Resources"), BOX)
    return seen, writer.finish()


def plates(pdf: pikepdf.Pdf, dpi: int, spots: tuple[str, ...] = ("Clear",)) -> dict[str, Bytes]:
    """Every plate as grey pixels, 255 = paper."""
    seen, data = view(pdf, spots)
    size = SIDE * dpi // 72
    found: dict[str, Bytes] = {}
    if not any(copy is not None for copy in seen.copies.values()):
        return {plate: np.full((size, size), 255, np.uint8) for plate in Plates(spots).names}
    with Raster(data) as raster:
        for plate, copy in seen.copies.items():
            if copy is None:
                found[plate] = np.full((size, size), 255, np.uint8)
            else:
                found[plate] = raster.region(copy, BOX, dpi)[:size, :size]
    return found
