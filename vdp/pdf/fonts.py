"""A face and its used glyphs → a subset and the PDF font that shows it (ISO 32000-1, 9.6 to 9.10).

Content streams name glyphs by the ids of the source font.  In a TrueType subset a CIDToGIDMap leads from them to the
compacted glyphs; in a CFF subset the charset keeps them as CIDs.  Layout tables and hints are dropped: the glyphs have
been chosen, and a press has dots enough.

Lives here: subsetting, measures, dictionaries without object numbers.  Not here: ToUnicode (`unicodes`), the charset
(`charset`), numbers and streams (`writer`).
"""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Mapping
from dataclasses import dataclass

import uharfbuzz as hb

from vdp.errors import CallerError
from vdp.pdf.charset import is_cid_keyed, with_charset
from vdp.pdf.objects import Name, Value
from vdp.text.faces import Face, FaceSource

#: Tables that a PDF reader has no use for, or that subsetting has made wrong.
_DROPPED = (
    "GSUB GPOS GDEF BASE JSTF MATH name OS/2 post cmap kern gasp DSIG STAT MVAR HVAR VVAR avar fvar gvar cvar meta "
    "vhea vmtx VORG VDMX hdmx LTSH PCLT FFTM COLR CPAL SVG  CBDT CBLC EBDT EBLC sbix"
)
_FLAG_FIXED, _FLAG_SYMBOLIC, _FLAG_ITALIC = 1, 4, 64


@dataclass(frozen=True, slots=True)
class FontFile:
    """An embedded face: everything of its objects but their numbers.

    `base_font` carries the subset tag; `program` is TrueType (`cid_to_gid` set) or bare CFF (`cid_to_gid` None).
    """

    base_font: str
    program: bytes
    cid_to_gid: bytes | None
    widths: list[Value]
    descriptor: dict[str, Value]


def embed(face: Face, source: FaceSource, gids: Mapping[int, object], name: str = "") -> FontFile:
    """Subsets a face to the glyphs of these ids, called `name` or by the face's own PostScript name.

    Raises CallerError for a font that cannot be embedded.
    """
    name = name or face.postscript_name
    used = sorted({0, *gids})
    cff = "CFF " in face.font.face.table_tags
    if not cff and "glyf" not in face.font.face.table_tags:
        raise CallerError.one(
            str(source.path), "has neither TrueType nor CFF outlines, and cannot be embedded", "give a .ttf or .otf"
        )
    embeddable(face, source)
    program, mapping = _subset(face, source, used, cff)
    base_font = f"{_tag(name, program)}+{name}"
    cid_to_gid = None
    if not cff:
        table = bytearray(2 * (used[-1] + 1))
        for gid in used:
            struct.pack_into(">H", table, 2 * gid, mapping[gid])
        cid_to_gid = bytes(table)
    return FontFile(base_font, program, cid_to_gid, _widths(face, used), _descriptor(face, base_font))


def embeddable(face: Face, source: FaceSource) -> None:
    """Raises CallerError for a font whose OS/2 fsType forbids embedding or subsetting (OpenType, OS/2 table)."""
    table = face.font.face.reference_table("OS/2").data or b""
    fs_type = struct.unpack_from(">H", table, 8)[0] if len(table) >= 10 else 0
    if fs_type & 0x000F == 2 or fs_type & 0x0300:
        raise CallerError.one(
            str(source.path), "its maker does not allow it to be embedded as a subset", "use another font"
        )


def _subset(face: Face, source: FaceSource, used: list[int], cff: bool) -> tuple[bytes, dict[int, int]]:
    """The font program, and source glyph id → glyph id in it."""
    wanted = hb.SubsetInput()
    wanted.glyph_set.update(used)
    wanted.unicode_set.clear()
    wanted.flags = hb.SubsetFlags.NO_HINTING | hb.SubsetFlags.NOTDEF_OUTLINE | hb.SubsetFlags.NO_LAYOUT_CLOSURE
    for at in range(0, len(_DROPPED), 5):
        wanted.drop_table_tag_set.add(int.from_bytes(_DROPPED[at : at + 4].encode("ascii"), "big"))
    whole = face.font.face
    for axis in whole.axis_infos:
        value = source.axes.get(axis.tag, axis.default_value)
        wanted.pin_axis_location(whole, axis.tag, min(max(value, axis.min_value), axis.max_value))
    cid_keyed = cff and is_cid_keyed(bytes(whole.reference_table("CFF ").data))
    if cff and not cid_keyed:
        # Without CIDs of its own a CFF program is addressed by glyph id: the ids stay, the unused glyphs become empty.
        wanted.flags |= hb.SubsetFlags.RETAIN_GIDS
    plan = hb.SubsetPlan(whole, wanted)
    mapping = dict(plan.old_to_new_glyph_mapping.items())
    subset = plan.execute()
    if not cff:
        return bytes(subset.blob.data), mapping
    program = bytes(subset.reference_table("CFF ").data)
    if cid_keyed:
        program = with_charset(program, [old for old, _ in sorted(mapping.items(), key=lambda pair: pair[1])])
    return program, mapping


def _tag(name: str, program: bytes) -> str:
    """Six capitals that differ between subsets (9.6.4), from a hash so that the same subset always has the same."""
    value = int.from_bytes(hashlib.sha256(name.encode() + program).digest()[:8], "big")
    letters = ""
    for _ in range(6):
        value, letter = divmod(value, 26)
        letters += chr(ord("A") + letter)
    return letters


def _widths(face: Face, used: list[int]) -> list[Value]:
    """The W array: runs of neighbouring ids, thousandths of an em."""
    runs: list[Value] = []
    run: list[Value] = []
    last = -2
    for gid in used:
        if gid != last + 1:
            run = []
            runs += [gid, run]
        run.append(_measure(face.font.get_glyph_h_advance(gid) * face.scale))
        last = gid
    return runs


def _measure(value: float) -> float:
    """Thousandths of an em to three places; whole numbers as int."""
    rounded = round(value, 3)
    return int(rounded) if rounded == int(rounded) else rounded


def _descriptor(face: Face, base_font: str) -> dict[str, Value]:
    """The FontDescriptor without its font file; measures in thousandths of an em."""
    head = _table(face, "head")
    post = _table(face, "post")
    weight = struct.unpack_from(">H", _table(face, "OS/2"), 4)[0] if len(_table(face, "OS/2")) >= 6 else 400
    stated = face.font.get_style_value(hb.StyleTag.WEIGHT)
    angle = struct.unpack_from(">i", post, 4)[0] / 65536
    fixed = struct.unpack_from(">I", post, 12)[0] != 0
    flags = _FLAG_SYMBOLIC | (_FLAG_FIXED if fixed else 0) | (_FLAG_ITALIC if angle else 0)
    # A stem's width from the weight class: common practice, no source.  Readers use it only to find a substitute.
    stem = 50 + round(((stated or weight) / 65) ** 2)
    return {
        "Type": Name("FontDescriptor"),
        "FontName": Name(base_font),
        "Flags": flags,
        "FontBBox": [round(side * face.scale) for side in struct.unpack_from(">4h", head, 36)],
        "ItalicAngle": _measure(angle),
        "Ascent": round(face.ascent),
        "Descent": -round(face.descent),
        "CapHeight": round(face.cap_height),
        "StemV": stem,
    }


def _table(face: Face, tag: str) -> bytes:
    return bytes(face.font.face.reference_table(tag).data or b"")
