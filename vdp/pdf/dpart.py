"""The document part tree of PDF/VT (ISO 16612-2; ISO 32000-2, 14.12): what each record's pages are, for the press.

It has the shape of the page tree: a leaf a piece, a node a group, nodes above in steps, so every leaf lies at the
record level.  Lives here: dictionaries of the tree and the metadata of a record.  Not here: numbers (`arithmetic`).

Metadata keys by CIP4 (ISO 21812-1) where it has one: the record's number is the recipient's external ID.  No personal
data, but what the job lists.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache

from vdp.pdf.arithmetic import SIDES, Arithmetic
from vdp.pdf.book import Book
from vdp.pdf.objects import Name, Ref, Value, name_text, serialise, text_string


def part_root(node: int, levels: int) -> dict[str, Value]:
    """The root of it: every level is named, and the last is the record's."""
    return {
        "Type": Name("DPartRoot"),
        "DPartRootNode": Ref(node),
        "RecordLevel": levels - 1,
        "NodeNameList": [Name(name) for name in level_names(levels)],
    }


def level_names(levels: int) -> list[str]:
    """Names of the levels from the root's down: Job, then Section and Batch as far as there are any, then Record."""
    between = [f"Section{level}" for level in range(1, levels - 2)]
    return ["Job", *between, "Batch", "Record"] if levels > 2 else ["Job", "Record"]


def upper_parts(arithmetic: Arithmetic, root: int, book: Book) -> Iterator[tuple[int, dict[str, Value]]]:
    """Number and dictionary of every node above the groups, in the order of their numbers.  `root` is the part root."""
    for node in arithmetic.nodes():
        kids: list[Value] = [Ref(arithmetic.part_of_node(kid)) for kid in node.kids]
        top = node.parent == 0
        entries: dict[str, Value] = {
            "Type": Name("DPart"),
            "Parent": Ref(root if top else arithmetic.part_of_node(node.parent)),
            "DParts": [kids],
        }
        if top:
            entries["DPM"] = {"CIP4_Root": _job_metadata(book)}
        yield arithmetic.part_of_node(node.number), entries


def _job_metadata(book: Book) -> dict[str, Value]:
    return {
        "Type": Name("CIP4_Root"),
        "CIP4_DescriptiveName": book.title,
        "CIP4_Metadata": {
            "Type": Name("CIP4_Metadata"),
            "CIP4_Conformance": ["PDF/VT-1"],
            "CIP4_Creator": book.creator,
            "CIP4_JobID": Name(book.identity[:16].hex()),
        },
    }


def group_parts(arithmetic: Arithmetic, group: int, metadata: list[bytes]) -> list[bytes]:
    """A group's node, then a leaf for each of its pieces, as PDF syntax; `metadata` is what each DPM holds."""
    node, leaves, pages = arithmetic.part(group), arithmetic.parts(group), arithmetic.pages(group)
    above = arithmetic.part_of_node(arithmetic.parent(group))
    kids = b" ".join([b"%d 0 R" % leaf for leaf in leaves])
    found = [b"<</Type/DPart/Parent %d 0 R/DParts[[%b]]>>" % (above, kids)]
    for at, entries in enumerate(metadata):
        first = pages[SIDES * at]
        last = first + SIDES - 1
        found.append(b"<</Type/DPart/Parent %d 0 R/Start %d 0 R/End %d 0 R/DPM<<%b>>>>" % (node, first, last, entries))
    return found


def record_metadata(
    piece: int,
    row: int,
    language: str,
    serials: Mapping[str, str],
    fields: Mapping[str, str] | None = None,
    place: Mapping[str, int] | None = None,
) -> bytes:
    """The entries of a leaf's DPM: record number (as recipient), row, language, serials, place on the sheets; `fields`
    as the job lists."""
    entries = b"/CIP4_Root<</Type/CIP4_Root/CIP4_Recipient<</CIP4_ExternalID/%d>>>>/Record %d/Row %d" % (
        piece,
        piece,
        row,
    )
    if language:
        entries += _entry("Language", language)
    for key, values in ((b"Serials", serials), (b"Fields", fields)):
        if values:
            inner = b"".join([_key(name) + text_string(value) for name, value in values.items()])
            entries += b"/%b<<%b>>" % (key, inner)
    if place:
        entries += b"/Place<<%b>>" % b"".join([b"/%b %d" % (key.title().encode(), at) for key, at in place.items()])
    return entries


@lru_cache(maxsize=1024)
def _key(name: str) -> bytes:
    return name_text(name).encode()


@lru_cache(maxsize=1024)
def _entry(key: str, value: str) -> bytes:
    """An entry that few values come again in."""
    return _key(key) + text_string(value)


def scope(digest: str, *, form: bool) -> dict[str, Value]:
    """What lets a press keep an XObject that many records show (ISO 16612-2, 6.7): it needs nothing from around it, is
    good for the whole file, and is known by the hash of what it is."""
    return {"GTS_Encapsulated": True, "GTS_Scope": Name("File"), "GTS_XID": f"{'form' if form else 'image'}:{digest}"}


def scope_bytes(digest: str, *, form: bool) -> bytes:
    """The same as PDF syntax."""
    return b"".join(
        name_text(key).encode() + b" " + serialise(value) for key, value in scope(digest, form=form).items()
    )
