"""The page tree, page boxes, and the second reader."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, Stream

from vdp.verify import second
from vdp.verify.doubt import Unreadable
from vdp.verify.pages import sheet_of
from vdp.verify.second import second_look
from vdp.verify.tree import Leaf, open_pdf, page_count, pages


def nested(shape: list[int]) -> pikepdf.Pdf:
    """A tree with a node for each number, holding that many pages; MediaBox inherited from the root."""
    pdf = pikepdf.new()
    root = pdf.Root.Pages
    root.MediaBox, root.Kids, number = Array([0, 0, 10, 20]), Array([]), 0
    for count in shape:
        node = pdf.make_indirect(Dictionary(Type=Name.Pages, Parent=root, Count=count, Kids=Array([])))
        for _ in range(count):
            content = Stream(pdf, b"%% %d" % number)
            node.Kids.append(pdf.make_indirect(Dictionary(Type=Name.Page, Parent=node, Contents=content)))
            number += 1
        root.Kids.append(node)
    root.Count = number
    return pdf


def contents(pdf: pikepdf.Pdf, start: int, stop: int) -> list[bytes]:
    return [leaf.page.Contents.read_bytes() for leaf in pages(pdf, start, stop)]


def test_pages_are_reached_by_their_counts() -> None:
    pdf = nested([3, 0, 2, 4])
    assert page_count(pdf) == 9
    assert contents(pdf, 2, 6) == [b"% 2", b"% 3", b"% 4", b"% 5"]
    assert contents(pdf, 7, 20) == [b"% 7", b"% 8"]
    leaf = next(pages(pdf, 0, 1))
    assert sheet_of(leaf).media == (0.0, 0.0, 10.0, 20.0)


@pytest.mark.parametrize("damage", ["count", "negative", "kids", "none", "circle"])
def test_a_tree_that_contradicts_itself_is_refused(damage: str) -> None:
    pdf = nested([2, 2])
    root = pdf.Root.Pages
    if damage == "count":
        root.Kids[1].Count = 3
    elif damage == "negative":
        root.Kids[0].Count = -1
    elif damage == "kids":
        root.Kids = Name.None_
    elif damage == "none":
        del pdf.Root["/Pages"]
    else:
        root.Kids[0].Kids[0] = root.Kids[0]
    with pytest.raises(Unreadable):
        list(pages(pdf, 0, 9))


def test_a_file_without_pages_has_no_count() -> None:
    pdf = pikepdf.new()
    del pdf.Root["/Pages"]
    with pytest.raises(Unreadable, match="no page tree"):
        page_count(pdf)


def test_boxes_and_turns() -> None:
    def sheet(**entries: object) -> object:
        return sheet_of(Leaf(Dictionary(MediaBox=Array([0, 0, 10, 20]), **entries), {}))  # type: ignore[arg-type]

    plain = sheet_of(Leaf(Dictionary(MediaBox=Array([10, 20, 0, 0]), TrimBox=Array([1, 1, 9, 19])), {}))
    assert plain == ((0.0, 0.0, 10.0, 20.0), (1.0, 1.0, 9.0, 19.0), (0.0, 0.0, 10.0, 20.0), True)
    for entries in ({"Rotate": 90}, {"UserUnit": 2}, {"CropBox": Array([0, 0, 5, 5])}):
        assert getattr(sheet(**entries), "plain") is False  # noqa: B009  the type is told by the function
    with pytest.raises(Unreadable, match="no MediaBox"):
        sheet_of(Leaf(Dictionary(), {}))
    with pytest.raises(Unreadable, match="not four numbers"):
        sheet_of(Leaf(Dictionary(MediaBox=Array([1, 2, 3])), {}))


def test_the_second_reader_sees_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pdf = nested([3, 4])
    pdf.save(tmp_path / "a.pdf")
    count, digests = second_look(tmp_path / "a.pdf", 7, 1)
    assert count == 7
    assert {0, 6} <= set(digests)
    with open_pdf(tmp_path / "a.pdf") as again:
        for number, digest in digests.items():
            assert hashlib.sha256(contents(again, number, number + 1)[0]).hexdigest() == digest
    monkeypatch.setattr(second, "MOST_PAGES", 3)
    assert second_look(tmp_path / "a.pdf", 7, 1) == (7, {})


def test_the_second_reader_refuses_what_it_cannot_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.pdf").write_bytes(b"%PDF-1.7 nothing")
    with pytest.raises(Unreadable, match="pypdf cannot read"):
        second_look(tmp_path / "a.pdf", 7, 1)
    monkeypatch.setattr(second, "MOST_PAGES", 3)
    with pytest.raises(Unreadable, match="PDFium cannot read"):
        second_look(tmp_path / "a.pdf", 7, 1)


@pytest.mark.parametrize(("old", "new"), [(b"/Count 4", b"/Count 9"), (b"/Kids [ 3 0 R", b"/Kids [ (x)  ")])
def test_the_second_reader_finds_a_tree_that_lies(tmp_path: Path, old: bytes, new: bytes) -> None:
    """Written over in place: saving would mend the tree."""
    nested([2, 2]).save(tmp_path / "a.pdf", object_stream_mode=pikepdf.ObjectStreamMode.disable)
    data = (tmp_path / "a.pdf").read_bytes()
    assert data.count(old) == 1
    (tmp_path / "a.pdf").write_bytes(data.replace(old, new))
    with pytest.raises(Unreadable):
        second_look(tmp_path / "a.pdf", 4, 1)
