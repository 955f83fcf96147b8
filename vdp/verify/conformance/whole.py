"""Rules of PDF/X-4 about the file as a whole: header, trailer, metadata, output intent, actions.

Clauses: ISO 15930-7:2010 as STANDARDS §3.1 lists them by number, given beside each rule.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree as ET

from pypdf.generic import DictionaryObject, IndirectObject, StreamObject

from vdp.verify.conformance.opened import Broken, Opened, name_of

_NS = {
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "mm": "http://ns.adobe.com/xap/1.0/mm/",
    "pdf": "http://ns.adobe.com/pdf/1.3/",
    "x": "http://www.npes.org/pdfx/ns/id/",
    "vt": "http://www.npes.org/pdfvt/ns/id/",
}
#: Longest metadata packet that is read, in bytes.
MOST_XMP = 1_000_000


def packet(opened: Opened) -> dict[str, str] | None:
    """Properties of the XMP packet by prefix:name; None when there is no packet that can be found and parsed."""
    stream = opened.get(opened.root.get("/Metadata"))
    if not isinstance(stream, StreamObject):
        return None
    data = stream.get_data()
    if len(data) > MOST_XMP or b"<!DOCTYPE" in data or b"<!ENTITY" in data:
        return None
    try:
        tree = ET.fromstring(data)  # noqa: S314  entities were refused above
    except ET.ParseError:
        return None
    found: dict[str, str] = {}
    for described in tree.iter(f"{{{_NS['rdf']}}}Description"):
        for prefix, uri in _NS.items():
            for key, value in described.attrib.items():
                if key.startswith(f"{{{uri}}}"):
                    found[f"{prefix}:{key.split('}')[1]}"] = value
            for child in described:
                if child.tag.startswith(f"{{{uri}}}"):
                    text = child.text or ""
                    item = child.find(f".//{{{_NS['rdf']}}}li")
                    found[f"{prefix}:{child.tag.split('}')[1]}"] = (item.text or "") if item is not None else text
    return found


def judge_whole(opened: Opened, *, parts: bool) -> Iterator[Broken]:
    """`parts`: the file must be PDF/VT-1 too."""
    yield from _beginning(opened)
    yield from _metadata(opened, parts=parts)
    yield from _intent(opened)
    yield from _actions(opened)


def _beginning(opened: Opened) -> Iterator[Broken]:
    opened.file.seek(0)
    header = opened.file.read(16)
    found = re.match(rb"%PDF-1\.([0-9])[\r\n]", header)
    if found is None or int(found[1]) > 6:  # 3.1.1
        yield Broken("standard-header", opened.name, f"it begins with {header[:8].decode('latin-1')}")
    identity = opened.array(opened.trailer.get("/ID"))
    if len(identity) != 2 or not all(identity):  # 3.1.2
        yield Broken("standard-identity", opened.name, "the trailer has no /ID of two strings")
    if "/Encrypt" in opened.trailer:  # 3.1.3
        yield Broken("standard-encrypted", opened.name, "the trailer has /Encrypt")


def _metadata(opened: Opened, *, parts: bool) -> Iterator[Broken]:
    stream = opened.get(opened.root.get("/Metadata"))
    if isinstance(stream, StreamObject) and "/Filter" in stream:  # 3.1.4: readable without a PDF parser
        yield Broken("standard-metadata", opened.name, "the XMP packet is packed")
    found = packet(opened)
    if found is None:
        yield Broken("standard-metadata", opened.name, "there is no XMP packet that can be parsed")
        return
    if found.get("x:GTS_PDFXVersion") != "PDF/X-4":  # 3.1.4
        yield Broken("standard-claim", opened.name, f"pdfxid:GTS_PDFXVersion is {found.get('x:GTS_PDFXVersion')!r}")
    if parts and found.get("vt:GTS_PDFVTVersion") != "PDF/VT-1":  # 3.2.1
        yield Broken("standard-claim", opened.name, f"pdfvtid:GTS_PDFVTVersion is {found.get('vt:GTS_PDFVTVersion')!r}")
    if parts and found.get("vt:GTS_PDFVTModDate") != found.get("xmp:ModifyDate"):  # 3.2.1
        yield Broken("standard-dates", opened.name, "pdfvtid:GTS_PDFVTModDate is not xmp:ModifyDate")
    required = ("xmp:CreateDate", "xmp:ModifyDate", "xmp:MetadataDate", "dc:title")  # 3.1.5
    known = ("mm:DocumentID", "mm:VersionID", "mm:RenditionClass")  # 3.1.6
    for key in (*required, *known):
        if not found.get(key):
            yield Broken("standard-metadata", opened.name, f"the XMP packet has no {key.replace('mm:', 'xmpMM:')}")
    info = opened.get(opened.trailer.get("/Info"))
    yield from _agree(opened, info if isinstance(info, DictionaryObject) else DictionaryObject(), found)


def _agree(opened: Opened, info: DictionaryObject, found: dict[str, str]) -> Iterator[Broken]:
    """3.1.5, 3.1.7: the information dictionary says what the packet says."""
    pairs: tuple[tuple[str, str, Any], ...] = (
        ("/CreationDate", "xmp:CreateDate", _moment),
        ("/ModDate", "xmp:ModifyDate", _moment),
        ("/Title", "dc:title", str),
    )
    for key, other, form in pairs:
        if key in info and form(str(info[key])) != form(found.get(other, "")):
            yield Broken("standard-dates", opened.name, f"{key[1:]} and {other} differ")
    trapped = name_of(info.get("/Trapped"))
    if trapped not in ("True", "False"):
        yield Broken("standard-trapped", opened.name, f"Trapped is {trapped or 'not said'}")
    elif found.get("pdf:Trapped") != trapped:
        yield Broken(
            "standard-trapped", opened.name, f"Trapped is {trapped}, in the XMP packet {found.get('pdf:Trapped')!r}"
        )


def _moment(text: str) -> str:
    """Digits of a date, to the second; both spellings of universal time are alike."""
    digits = re.sub(r"\D", "", text.split("+", maxsplit=1)[0].split("Z", maxsplit=1)[0])
    return digits[:14]


def _intent(opened: Opened) -> Iterator[Broken]:
    intents = [opened.get(intent) for intent in opened.array(opened.root.get("/OutputIntents"))]
    mine = [one for one in intents if isinstance(one, DictionaryObject) and name_of(one.get("/S")) == "GTS_PDFX"]
    if len(mine) != 1:  # 3.1.8
        yield Broken("standard-intent", opened.name, f"it has {len(mine)} output intents of PDF/X")
        return
    if not str(mine[0].get("/OutputConditionIdentifier") or ""):
        yield Broken("standard-intent", opened.name, "the output intent has no OutputConditionIdentifier")
    profile = opened.get(mine[0].get("/DestOutputProfile"))
    data = profile.get_data() if isinstance(profile, StreamObject) else b""
    # ICC.1:2010, 7.2: bytes 12-15 the class, 16-19 the colour space, 36-39 the signature.
    if (data[12:16], data[16:20], data[36:40]) != (b"prtr", b"CMYK", b"acsp"):
        yield Broken("standard-profile", opened.name, "DestOutputProfile is no ICC profile of a CMYK press")
    elif isinstance(profile, StreamObject) and profile.get("/N") != 4:
        yield Broken("standard-profile", opened.name, f"DestOutputProfile says it has {profile.get('/N')} components")


def _actions(opened: Opened) -> Iterator[Broken]:
    """3.1.12."""
    names = opened.get(opened.root.get("/Names"))
    of_root = ("/OpenAction", "/AA", "/AF", "/Collection")
    for holder, keys in ((opened.root, of_root), (names, ("/JavaScript", "/EmbeddedFiles"))):
        for key in keys:
            if isinstance(holder, DictionaryObject) and key in holder:
                yield Broken("standard-action", opened.name, f"the catalog has {key}")
    if isinstance(opened.root.get("/AcroForm"), DictionaryObject | IndirectObject):
        yield Broken("standard-action", opened.name, "the catalog has /AcroForm")
