"""The rules of both standards by their stable codes, and what a finding of each means."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

CONFORMANCE: Mapping[str, str] = MappingProxyType(
    {
        "standard-claim": "the file does not say that it is what report.json says it is",
        "standard-header": "the header is not that of PDF 1.6 or earlier",
        "standard-identity": "the trailer has no identifier",
        "standard-encrypted": "the file is encrypted",
        "standard-metadata": "the XMP packet is missing, hidden by a filter, or lacks what the standard requires",
        "standard-dates": "dates or title in the XMP packet and in the information dictionary differ",
        "standard-trapped": "the file does not say, or says in two ways, whether it is trapped",
        "standard-intent": "there is not exactly one output intent with its identifier",
        "standard-profile": "the output intent's profile is not that of a CMYK output device",
        "standard-boxes": "a page's boxes are missing, empty, doubled or not in one another",
        "standard-font": "a font is not in the file",
        "standard-action": "the file or a page acts, or carries scripts or attachments",
        "standard-note": "an annotation lies on the printed page",
        "standard-foreign": "an XObject is PostScript, refers to another file, or is of a kind for prepress servers",
        "standard-filter": "a stream is packed by LZW",
        "standard-state": "a graphics state sets transfer functions or halftones",
        "standard-separation": "one spot is described in two ways",
        "standard-colour": "a colour space is of a device that the output intent does not speak for",
        "standard-overprint": "ICC-based CMYK overprints in mode 1",
        "standard-separated": "a page claims to be one plate of a separated file",
        "parts-root": "the document part tree has no proper root",
        "parts-names": "the levels of the document part tree are not named",
        "parts-node": "a document part is malformed, or does not know its parent",
        "parts-order": "document parts do not cover each page once, in page order",
        "parts-page": "a page does not lead back to its document part",
        "parts-metadata": "a document part's metadata is missing or malformed",
        "parts-scope": "an XObject that many records show does not say that it may be kept",
    }
)
