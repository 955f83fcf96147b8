"""The sheet file: bytes of pieces as they were, boxes, standards, the same input the same bytes, refusals."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest

from tests.sheeted import PIECES, Small, lay_run, make_run, web_of
from vdp.errors import CallerError, OurBug
from vdp.job.model import Spot
from vdp.pdf.carried import Pieces
from vdp.pdf.finished import PieceFile
from vdp.pdf.frames import Frames
from vdp.pdf.names import Names
from vdp.pdf.sheets import SheetBook, SheetWriter, Side
from vdp.press.order import Order, arrange
from vdp.run.sheets import read_hashes


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Small:
    return make_run(tmp_path_factory.mktemp("small") / "job")


@pytest.fixture
def mine(small: Small, tmp_path: Path) -> Small:
    return small.at(Path(shutil.copytree(small.folder, tmp_path / "out")))


def order() -> Order:
    return arrange(PIECES, 3, 2, "blocks", height=2, roll_frames=2)


def opened(small: Small) -> PieceFile:
    return PieceFile(small.folder / "pieces.pdf", read_hashes(small.folder / "pieces.jsonl"))


def test_a_piece_on_a_sheet_has_the_bytes_of_pieces_pdf(mine: Small) -> None:
    lay_run(mine, order())
    with pikepdf.open(mine.folder / "pieces.pdf") as pieces, pikepdf.open(mine.folder / "sheets.pdf") as sheets:
        laid = order()
        for piece in range(1, PIECES + 1):
            place = laid.place_of(piece)
            page = 2 * ((place.roll - 1) * 2 + place.frame - 1)
            name = f"/P{(place.along - 1) * 3 + place.lane}"
            for side in (0, 1):
                form = sheets.pages[page + side].obj.Resources.XObject[name]
                whole = pieces.pages[2 * (piece - 1) + side].Contents
                assert form.read_raw_bytes() == whole.read_raw_bytes()


def test_pages_have_the_boxes_of_the_frame(mine: Small) -> None:
    web = web_of()
    lay_run(mine, order(), web)
    point = 72 / 1200
    with pikepdf.open(mine.folder / "sheets.pdf") as pdf:
        assert len(pdf.pages) == 8
        page = pdf.pages[0]
        assert [float(edge) for edge in page.mediabox.as_list()] == pytest.approx(
            [0, 0, web.width * point, web.frame * point], abs=1e-4
        )
        first, last = web.cell(1, 1).trim, web.cell(3, 2).trim
        trim = [first[0], last[1], last[0] + last[2], first[1] + first[3]]
        assert [float(edge) for edge in page.trimbox.as_list()] == pytest.approx([e * point for e in trim], abs=1e-4)
        bleed = [float(edge) / point for edge in page.obj.BleedBox.as_list()]
        assert bleed == pytest.approx([trim[0] - 94, trim[1] - 94, trim[2] + 94, trim[3] + 94], abs=0.01)


def test_a_page_is_tiny_and_its_numbers_are_whole(mine: Small) -> None:
    lay_run(mine, order())
    with pikepdf.open(mine.folder / "sheets.pdf") as pdf:
        content = pdf.pages[0].Contents.read_bytes()
        places = re.findall(rb"^q (.*) /P\d Do Q$", content, re.M)
        assert len(places) == 6
        assert all(re.fullmatch(rb"(-?\d+ ){6}cm (-?\d+ ){4}re W n", place) for place in places)
        assert len(pdf.pages[0].Contents.read_raw_bytes()) < 5000


def test_other_readers_accept_the_file(mine: Small, need: Callable[[str], str]) -> None:
    lay_run(mine, order())
    done = subprocess.run([need("qpdf"), "--check", str(mine.folder / "sheets.pdf")], capture_output=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    command = [
        need("gs"),
        "-q",
        "-dNOPAUSE",
        "-dBATCH",
        "-dSAFER",
        "-sDEVICE=nullpage",
        str(mine.folder / "sheets.pdf"),
    ]
    done = subprocess.run(command, capture_output=True, check=False)
    assert done.returncode == 0
    assert done.stdout + done.stderr == b""


def test_the_same_input_gives_the_same_bytes(small: Small, tmp_path: Path) -> None:
    found = []
    for name in ("one", "other"):
        mine = small.at(Path(shutil.copytree(small.folder, tmp_path / name)))
        lay_run(mine, order())
        found.append((mine.folder / "sheets.pdf").read_bytes())
    assert found[0] == found[1]


def test_a_file_a_roll_holds_that_rolls_pieces_alone(mine: Small) -> None:
    lay_run(mine, order(), apart=True)
    sizes = []
    for roll in (1, 2):
        with pikepdf.open(mine.folder / f"sheets-{roll:03}.pdf") as pdf:
            sizes.append(len(pdf.pages))
            ids = pdf.trailer.ID
            assert bytes(ids[0]) == bytes(ids[1])
    assert sizes == [4, 4]
    assert not (mine.folder / "sheets.pdf").exists()


def test_layers_and_plates_are_carried_over_once(mine: Small) -> None:
    lay_run(mine, order())
    with pikepdf.open(mine.folder / "sheets.pdf") as pdf:
        assert [str(group.Name) for group in pdf.Root.OCProperties.OCGs.as_list()] == ["Clear"]
        separations = {
            item.objgen
            for item in pdf.objects
            if isinstance(item, pikepdf.Array) and len(item) == 4 and item[0] == pikepdf.Name.Separation
        }
        assert len(separations) == 1


def test_pieces_that_have_changed_are_refused(mine: Small) -> None:
    lines = mine.folder / "pieces.jsonl"
    text = lines.read_text("utf-8")
    digest = re.search(r'"sha256":"([0-9a-f]{64})"', text)
    assert digest is not None
    lines.write_text(text.replace(digest[1], "0" * 64), "utf-8")
    with pytest.raises(CallerError, match="piece 1 is not the one"):
        lay_run(mine, order())
    assert not list(mine.folder.glob("sheets*"))


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data[:-40],
        lambda data: data[:2000],
        lambda data: b"",
        lambda data: data.replace(b"/W[1 3 2]", b"/W[1 2 2]").replace(b"/W[1 2 2]", b"/W[2 2 2]"),
    ],
    ids=["cut", "cut short", "empty", "other table"],
)
def test_a_damaged_file_of_pieces_is_refused(mine: Small, change: Callable[[bytes], bytes]) -> None:
    path = mine.folder / "pieces.pdf"
    path.write_bytes(change(path.read_bytes()))
    with pytest.raises(CallerError, match="is not the file that the run made"):
        opened(mine)


def test_a_stream_that_was_overwritten_is_refused(mine: Small) -> None:
    path = mine.folder / "pieces.pdf"
    data = path.read_bytes()
    found = list(re.finditer(rb"\d+ 0 obj\n<</Length \d+/Filter/FlateDecode>>stream\n", data))
    broken = bytearray(data)
    broken[found[0].end() + 4 : found[0].end() + 12] = b"\xff" * 8
    path.write_bytes(bytes(broken))
    with opened(mine) as pieces, pytest.raises(CallerError):
        pieces.piece(0)
    path.write_bytes(data.replace(found[2][0], b"%" * len(found[2][0])))
    with opened(mine) as pieces, pytest.raises(CallerError, match="is not where it was"):
        pieces.piece(1)


def test_a_manifest_without_hashes_is_refused(tmp_path: Path) -> None:
    (tmp_path / "pieces.jsonl").write_text("{}\n")
    with pytest.raises(CallerError, match="line 1"):
        read_hashes(tmp_path / "pieces.jsonl")


def test_frames_number_their_objects_without_a_gap() -> None:
    for count in (1, 31, 32, 33, 2049, 70_000):
        frames = Frames(count, 7)
        numbers = list(range(7, frames.body))
        assert [node.number for node in frames.nodes()] == numbers
        assert numbers[-1] == frames.root
        assert sum(node.pages for node in frames.nodes() if not node.parent) == 2 * count
        at = frames.body
        for group in range(frames.groups):
            assert frames.contents(group).start == at
            assert frames.leaf(group) == frames.contents(group).stop
            assert frames.pages(group).start == frames.leaf(group) + 1
            assert frames.stream(group) == frames.pages(group).stop
            at = frames.stream(group) + 1
        assert at == frames.tail


def book(small: Small, frames: int) -> SheetBook:
    box = (0, 0, 1200, 1200)
    faces = small.book.faces
    return SheetBook(
        dpi=1200,
        width=1200,
        height=1200,
        trim=(box, box),
        bleed=(box, box),
        piece=(1200, 1200),
        frames=frames,
        faces=faces,
        names=Names({face: f"/F{face}" for face in faces}, {}),
        title="Test",
        created=small.book.created,
        identity=small.book.identity,
        creator="vdp",
    )


def test_frames_that_do_not_come_or_are_too_many_are_our_fault(mine: Small, tmp_path: Path) -> None:
    empty = Side((), ())
    with opened(mine) as pieces:
        with SheetWriter(tmp_path / "a.pdf", book(mine, 2), Pieces(pieces, 1200)) as writer:
            writer.add(empty, empty)
            with pytest.raises(OurBug, match="not all of them came"):
                writer.finish()
        with SheetWriter(tmp_path / "a.pdf", book(mine, 1), Pieces(pieces, 1200)) as writer:
            writer.add(empty, empty)
            with pytest.raises(OurBug, match="more than the 1 frames"):
                writer.add(empty, empty)
        with pytest.raises(OurBug, match="at least one"):
            SheetWriter(tmp_path / "a.pdf", book(mine, 0), Pieces(pieces, 1200))
    assert not list(tmp_path.glob("a.pdf*"))


def test_many_frames_fill_groups_and_levels(mine: Small, tmp_path: Path) -> None:
    empty = Side((), ())
    with opened(mine) as pieces, SheetWriter(tmp_path / "a.pdf", book(mine, 2100), Pieces(pieces, 1200)) as writer:
        for _ in range(2100):
            writer.add(empty, empty)
        writer.finish()
    with pikepdf.open(tmp_path / "a.pdf") as pdf:
        assert len(pdf.pages) == 4200


def test_spots_of_the_job_are_those_of_the_sheets(mine: Small) -> None:
    assert list(mine.book.spots) == ["Clear"]
    assert isinstance(mine.book.spots["Clear"], Spot)
