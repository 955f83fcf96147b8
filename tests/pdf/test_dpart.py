"""The document part tree: one leaf a piece, in page order, each page once, every level named (ISO 32000-2, 14.12)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pikepdf
import pytest

from tests.pdf.made import book, parts
from vdp.pdf.arithmetic import Arithmetic
from vdp.pdf.dpart import level_names, record_metadata, scope, scope_bytes
from vdp.pdf.writer import Writer


def leaves(node: pikepdf.Object, depth: int = 0) -> Iterator[tuple[int, pikepdf.Object]]:
    """Depth and leaf, in order."""
    if "/Start" in node:
        assert "/DParts" not in node
        yield depth, node
        return
    for array in node.DParts.as_list():
        for kid in array.as_list():
            assert kid.is_indirect
            assert kid.Parent.objgen == node.objgen
            yield from leaves(kid, depth + 1)


@pytest.mark.parametrize(("pieces", "levels"), [(1, 3), (32, 3), (33, 3), (64 * 32, 3), (64 * 32 + 1, 4)])
def test_the_tree_covers_each_page_once(pieces: int, levels: int, tmp_path: Path) -> None:
    with Writer(tmp_path / "p.pdf", book(pieces)) as writer:
        writer.add([b""] * (2 * pieces), parts(pieces))
        writer.finish({})
    with pikepdf.open(tmp_path / "p.pdf") as pdf:
        root = pdf.Root.DPartRoot
        assert root.is_indirect
        assert root.DPartRootNode.Parent.objgen == root.objgen
        found = list(leaves(root.DPartRootNode))
        assert {depth for depth, _ in found} == {int(root.RecordLevel)} == {levels - 1}
        names = [str(name) for name in root.NodeNameList.as_list()]
        assert names == [f"/{name}" for name in level_names(levels)]
        assert len(set(names)) == levels
        assert [int(leaf.DPM.Record) for _, leaf in found] == list(range(1, pieces + 1))
        pages = [page.obj for page in pdf.pages]
        for at, (_, leaf) in enumerate(found):
            assert (leaf.Start.objgen, leaf.End.objgen) == (pages[2 * at].objgen, pages[2 * at + 1].objgen)
            assert pages[2 * at].DPart.objgen == pages[2 * at + 1].DPart.objgen == leaf.objgen


def test_a_million_pieces_have_a_balanced_tree() -> None:
    """Every node above the groups has its number and its parent; nothing is kept for it but a formula."""
    arithmetic = Arithmetic(pieces=1_000_000, first=40)
    nodes = list(arithmetic.nodes())
    assert arithmetic.levels == 5
    assert sum(node.parent == 0 for node in nodes) == 1
    parts = [arithmetic.part_of_node(node.number) for node in nodes]
    assert len({*parts, *(node.number for node in nodes)}) == 2 * len(nodes)
    assert max(parts) == arithmetic.body - 1
    last = arithmetic.groups - 1
    assert arithmetic.stream(last) == arithmetic.parts(last)[-1] + 1 == arithmetic.tail - 1
    held = {kid for node in nodes for kid in node.kids}
    assert {arithmetic.leaf(group) for group in (0, 777, last)} <= held


def test_what_a_record_says_of_itself() -> None:
    said = record_metadata(
        7, 9, "el", {"pass": "TL-7"}, {"Ναύλος": "full (1)"}, {"roll": 1, "frame": 12, "lane": 3, "along": 2}
    )
    entries = pikepdf.Object.parse(b"<<" + said + b">>")
    assert str(entries.CIP4_Root.CIP4_Recipient.CIP4_ExternalID) == "/7"
    assert str(entries.CIP4_Root.Type) == "/CIP4_Root"
    assert (int(entries.Record), int(entries.Row), str(entries.Language)) == (7, 9, "el")
    assert str(entries.Serials["/pass"]) == "TL-7"
    assert str(entries.Fields["/Ναύλος"]) == "full (1)"
    assert {key: int(at) for key, at in entries.Place.items()} == {"/Roll": 1, "/Frame": 12, "/Lane": 3, "/Along": 2}
    bare = pikepdf.Object.parse(b"<<" + record_metadata(1, 2, "", {}) + b">>")
    assert set(bare.keys()) == {"/CIP4_Root", "/Record", "/Row"}


def test_scope_is_the_same_in_both_spellings() -> None:
    parsed = pikepdf.Object.parse(b"<<" + scope_bytes("ab", form=True) + b">>")
    assert dict(parsed.items()) == {
        "/GTS_Encapsulated": True,
        "/GTS_Scope": pikepdf.Name.File,
        "/GTS_XID": pikepdf.String("form:ab"),
    }
    assert scope("ab", form=False)["GTS_XID"] == "image:ab"
