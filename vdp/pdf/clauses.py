"""PDF/X-4 and PDF/VT-1 clause by clause: what the file keeps to, by which check, and what stays the user's duty.

`source` S: published and found again in an open source (see the tests); M: from memory of the standard, not recomputed.
The codes are the second checker's, which reads the finished file apart from the writer.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

Status = Literal["enforced", "user's duty", "not used"]


class Clause(NamedTuple):
    """A rule, how it is kept, the code of its check ("" where none is needed), and where the rule is known from."""

    rule: str
    status: Status
    code: str
    source: Literal["S", "M"]


PDFX4: tuple[Clause, ...] = (
    Clause("header of PDF 1.6 or earlier, as restricted", "enforced", "standard-header", "S"),
    Clause("the trailer has an ID", "enforced", "standard-identity", "S"),
    Clause("no encryption", "enforced", "standard-encrypted", "S"),
    Clause("an XMP packet, not packed, says PDF/X-4", "enforced", "standard-claim", "S"),
    Clause("title, dates, document id, version id and rendition class in XMP", "enforced", "standard-metadata", "S"),
    Clause("dates and title agree with the information dictionary", "enforced", "standard-dates", "S"),
    Clause("Trapped is True or False, the same in both places", "enforced", "standard-trapped", "S"),
    Clause("whether the artwork is trapped is told truly: vdp says False", "user's duty", "", "S"),
    Clause("one output intent of GTS_PDFX, its condition identified", "enforced", "standard-intent", "S"),
    Clause("the output intent embeds the profile of a CMYK press", "enforced", "standard-profile", "M"),
    Clause("the profile is that of the press that prints", "user's duty", "", "S"),
    Clause("MediaBox; TrimBox or ArtBox, not both; each in the next", "enforced", "standard-boxes", "S"),
    Clause("every font is in the file", "enforced", "standard-font", "S"),
    Clause("transparency: none is made, in artwork it is left as it is", "enforced", "cannot-judge", "S"),
    Clause("optional content: a group a spot plate, all on", "enforced", "clear-layer", "S"),
    Clause("JPEG 2000 and OpenType fonts", "not used", "", "S"),
    Clause("no PostScript XObjects, no OPI, no streams outside the file", "enforced", "standard-foreign", "S"),
    Clause("no actions, scripts or attachments", "enforced", "standard-action", "S"),
    Clause("annotations lie outside the bleed", "enforced", "standard-note", "S"),
    Clause("no LZW", "enforced", "standard-filter", "S"),
    Clause("no transfer functions, no named halftones or their origin", "enforced", "standard-state", "M"),
    Clause("one Separation a spot name, the same throughout", "enforced", "standard-separation", "M"),
    Clause("names of spots in UTF-8; All and None by their rules", "enforced", "plate-unknown", "M"),
    Clause("no DeviceRGB under a CMYK intent", "enforced", "standard-colour", "M"),
    Clause("no overprint mode 1 with ICC-based CMYK", "enforced", "standard-overprint", "M"),
    Clause("no separation info: the file is composite", "enforced", "standard-separated", "S"),
)
PDFVT1: tuple[Clause, ...] = (
    Clause("PDF/X-4, and XMP says PDF/VT-1", "enforced", "standard-claim", "S"),
    Clause("the version's date is that of the last change", "enforced", "standard-dates", "S"),
    Clause("the catalog refers to DPartRoot, and that to its node", "enforced", "parts-root", "S"),
    Clause("NodeNameList: a name a level; RecordLevel counts from zero", "enforced", "parts-names", "S"),
    Clause("a node has a parent and either parts or pages", "enforced", "parts-node", "S"),
    Clause("leaves cover every page once, in page order", "enforced", "parts-order", "M"),
    Clause("every page leads to its leaf", "enforced", "parts-page", "M"),
    Clause("metadata by CIP4 where it has a key: record number", "enforced", "parts-metadata", "S"),
    Clause("no personal data in metadata, but what the job lists", "user's duty", "", "S"),
    Clause("XObjects that records share: encapsulated, File, an id", "enforced", "parts-scope", "S"),
    Clause("GTS_Env, streams of files (PDF/VT-2s)", "not used", "", "S"),
)


def as_table(clauses: tuple[Clause, ...]) -> str:
    """The table as DEVELOPERS.md shows it."""
    lines = ["| clause | kept | by | source |", "| --- | --- | --- | --- |"]
    lines += [f"| {c.rule} | {c.status} | {f'`{c.code}`' if c.code else '—'} | {c.source} |" for c in clauses]
    return "\n".join(lines) + "\n"
