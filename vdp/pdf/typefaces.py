"""An embedded face as the objects of a Type0 font (ISO 32000-1, 9.7), numbered as the caller allots.

Not here: subsetting and measures (`fonts`), where the objects stand (`writer`, `sheets`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from vdp.pdf.fonts import FontFile
from vdp.pdf.objects import Name, Ref, Value, indirect, serialise, stream
from vdp.pdf.squeeze import pack
from vdp.pdf.unicodes import to_unicode

_FLATE: dict[str, Value] = {"Filter": Name("FlateDecode")}


def font_objects(
    number: int, file: FontFile, texts: Mapping[int, str], allot: Callable[[], int]
) -> Iterator[tuple[int, bytes]]:
    """The font under `number`, then what it leads to: (number, whole indirect object)."""
    descendant, descriptor, program, unicodes = (Ref(allot()) for _ in range(4))
    font: dict[str, Value] = {
        "Type": Name("Font"),
        "Subtype": Name("Type0"),
        "BaseFont": Name(file.base_font),
        "Encoding": Name("Identity-H"),
        "DescendantFonts": [descendant],
        "ToUnicode": unicodes,
    }
    yield number, indirect(number, serialise(font))
    cid: dict[str, Value] = {
        "Type": Name("Font"),
        "Subtype": Name("CIDFontType0" if file.cid_to_gid is None else "CIDFontType2"),
        "BaseFont": Name(file.base_font),
        "CIDSystemInfo": {"Registry": b"Adobe", "Ordering": b"Identity", "Supplement": 0},
        "FontDescriptor": descriptor,
        "DW": 1000,
        "W": file.widths,
    }
    if file.cid_to_gid is not None:
        mapping = Ref(allot())
        yield mapping.number, stream(mapping.number, _FLATE, pack(file.cid_to_gid))
        cid["CIDToGIDMap"] = mapping
    yield descendant.number, indirect(descendant.number, serialise(cid))
    key = "FontFile3" if file.cid_to_gid is None else "FontFile2"
    yield descriptor.number, indirect(descriptor.number, serialise(file.descriptor | {key: program}))
    entries: dict[str, Value] = dict(_FLATE)
    entries |= {"Subtype": Name("CIDFontType0C")} if file.cid_to_gid is None else {"Length1": len(file.program)}
    yield program.number, stream(program.number, entries, pack(file.program))
    yield unicodes.number, stream(unicodes.number, _FLATE, pack(to_unicode(texts)))
