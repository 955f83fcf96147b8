"""What PDF/X asks of the file as a whole (ISO 15930-7): boxes, metadata, layers, output intent, identifier.

A file with a press profile says that it is PDF/X-4; one without does not, as it would not be true.
Lives here: dictionaries without object numbers, and bytes of the XMP packet.  Not here: order and numbers (`writer`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from xml.sax.saxutils import escape

from vdp.pdf.book import Book
from vdp.pdf.objects import Name, Ref, Value, number_text

#: PDF/X-4 is restricted PDF 1.6.  The comment of high bytes marks the file as binary (ISO 32000-1, 7.5.2).
HEADER = b"%PDF-1.6\n%\xe2\xe3\xcf\xd3\n"

_PDFX, _PDFVT = "PDF/X-4", "PDF/VT-1"


def catalog(
    pages: Ref, metadata: Ref, layers: Sequence[Ref], intent: Ref | None, parts: Ref | None = None
) -> dict[str, Value]:
    """The document's root; `parts` is the root of the document part tree."""
    root: dict[str, Value] = {"Type": Name("Catalog"), "Pages": pages, "Metadata": metadata}
    if parts is not None:
        root["DPartRoot"] = parts
    if layers:
        root["OCProperties"] = {
            "OCGs": list(layers),
            "D": {"Name": "Plates", "Order": list(layers), "ON": list(layers)},
        }
    if intent is not None:
        root["OutputIntents"] = [intent]
    return root


def layer(plate: str) -> dict[str, Value]:
    """The optional-content group of a spot plate."""
    return {"Type": Name("OCG"), "Name": plate}


def output_intent(profile: Ref, description: str) -> dict[str, Value]:
    """The one output intent; the printing condition is named by the profile itself."""
    return {
        "Type": Name("OutputIntent"),
        "S": Name("GTS_PDFX"),
        "OutputConditionIdentifier": description,
        "OutputCondition": description,
        "Info": description,
        "DestOutputProfile": profile,
    }


def boxes(book: Book) -> bytes:
    """The boxes of a page that are not inherited."""
    bleed = " ".join(number_text(side, 5) for side in book.media)
    trim = " ".join(number_text(side, 5) for side in book.trim)
    return f"/BleedBox[{bleed}]/TrimBox[{trim}]".encode("ascii")


def information(book: Book, *, pdfx: bool) -> dict[str, Value]:
    """The information dictionary; its values agree with the XMP packet's."""
    date = _pdf_date(book.created)
    entries: dict[str, Value] = {
        "Title": book.title,
        "Creator": book.creator,
        "Producer": book.creator,
        "CreationDate": date,
        "ModDate": date,
        "Trapped": Name("False"),
    }
    return entries | {"GTS_PDFXVersion": _PDFX} if pdfx else entries


def identifier(book: Book) -> list[Value]:
    """The trailer's ID: both halves alike, as the file has never been changed."""
    half = book.identity[:16]
    return [half, half]


def xmp(book: Book, *, pdfx: bool, parts: bool = False) -> bytes:
    """The metadata packet (ISO 16684-1), not compressed, so that anything can find it.

    `pdfx` says PDF/X-4; with `parts`, a tree of document parts, such a file is PDF/VT-1 too.
    """
    date = book.created.isoformat(timespec="seconds").replace("+00:00", "Z")
    identity = book.identity[:16].hex()
    uuid = "-".join((identity[:8], identity[8:12], identity[12:16], identity[16:20], identity[20:]))
    version = f"\n   <pdfxid:GTS_PDFXVersion>{_PDFX}</pdfxid:GTS_PDFXVersion>" if pdfx else ""
    if pdfx and parts:
        version += f"\n   <pdfvtid:GTS_PDFVTVersion>{_PDFVT}</pdfvtid:GTS_PDFVTVersion>"
        version += f"\n   <pdfvtid:GTS_PDFVTModDate>{date}</pdfvtid:GTS_PDFVTModDate>"
    title, creator = escape(book.title), escape(book.creator)
    return f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about=""
    xmlns:dc="http://purl.org/dc/elements/1.1/"
    xmlns:xmp="http://ns.adobe.com/xap/1.0/"
    xmlns:xmpMM="http://ns.adobe.com/xap/1.0/mm/"
    xmlns:pdf="http://ns.adobe.com/pdf/1.3/"
    xmlns:pdfxid="http://www.npes.org/pdfx/ns/id/"
    xmlns:pdfvtid="http://www.npes.org/pdfvt/ns/id/">
   <dc:format>application/pdf</dc:format>
   <dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
   <xmp:CreateDate>{date}</xmp:CreateDate>
   <xmp:ModifyDate>{date}</xmp:ModifyDate>
   <xmp:MetadataDate>{date}</xmp:MetadataDate>
   <xmp:CreatorTool>{creator}</xmp:CreatorTool>
   <xmpMM:DocumentID>uuid:{uuid}</xmpMM:DocumentID>
   <xmpMM:VersionID>1</xmpMM:VersionID>
   <xmpMM:RenditionClass>default</xmpMM:RenditionClass>
   <pdf:Producer>{creator}</pdf:Producer>
   <pdf:Trapped>False</pdf:Trapped>{version}
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="r"?>""".encode()


def _pdf_date(moment: datetime) -> str:
    """ISO 32000-1, 7.9.4."""
    zone = moment.strftime("%z") or "+0000"
    return moment.strftime("D:%Y%m%d%H%M%S") + (f"{zone[:3]}'{zone[3:5]}'")
