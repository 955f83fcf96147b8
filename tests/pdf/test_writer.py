"""The file as a whole: readers agree on it, chunks do not show, limits are said."""

from __future__ import annotations

import errno
import os
import subprocess
from array import array
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pypdfium2 as pdfium
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from tests.pdf.made import CLEAR, book, parts, renderer, sides, text, write
from vdp.errors import CallerError, OurBug
from vdp.marks import BLACK, FillMark, FormMark, Ink, Mark
from vdp.pdf.arithmetic import PIECES_IN_GROUP, Arithmetic
from vdp.pdf.body import ChunkWriter
from vdp.pdf.content import Renderer
from vdp.pdf.sink import Sink
from vdp.pdf.squeeze import Squeeze
from vdp.pdf.writer import Writer
from vdp.pdf.xref import OFFSETS_IN_GROUP, entries, pack_table


@pytest.mark.parametrize("pieces", [1, 31, 32, 33, 65])
def test_readers_agree(tmp_path: Path, need: Callable[[str], str], pieces: int) -> None:
    path = write(tmp_path / "p.pdf", sides(2 * pieces))
    done = subprocess.run([need("qpdf"), "--check", path], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    reader = PdfReader(path, strict=True)
    assert len(reader.pages) == 2 * pieces
    with pdfium.PdfDocument(path) as document:
        for number in range(2 * pieces):
            assert document[number].get_textpage().get_text_range() == f"Page {number}"
        assert document[0].get_size() == (60, 36)
        assert document[0].get_trimbox() == (3, 3, 57, 33)
    with pikepdf.open(path) as pdf:
        assert pdf.get_warnings() == []
        assert bytes(pdf.trailer.ID[0]) == bytes(range(16))


def test_a_tree_of_three_levels_is_balanced_and_whole(tmp_path: Path, need: Callable[[str], str]) -> None:
    pieces = 64 * 32 + 40
    content = [b"0 g"] * (2 * pieces)
    with Writer(tmp_path / "p.pdf", book(pieces)) as writer:
        writer.add(content, parts(pieces))
        writer.finish()
    with pdfium.PdfDocument(tmp_path / "p.pdf") as document:
        assert len(document) == 2 * pieces
        assert document[2 * pieces - 1].get_trimbox() == (3, 3, 57, 33)
    subprocess.run([need("qpdf"), "--check", tmp_path / "p.pdf"], capture_output=True, check=True)
    with pikepdf.open(tmp_path / "p.pdf") as pdf:
        root = pdf.Root.Pages
        assert int(root.Count) == 2 * pieces
        assert [int(kid.Count) for kid in root.Kids] == [4096, 80]


@settings(max_examples=15, deadline=None)
@given(pieces=st.integers(1, 130), cuts=st.sets(st.integers(1, 4), max_size=3))
def test_any_chunks_give_the_same_bytes(tmp_path_factory: pytest.TempPathFactory, pieces: int, cuts: set[int]) -> None:
    folder = tmp_path_factory.mktemp("chunks")
    pages = sides(2 * pieces)
    whole = write(folder / "whole.pdf", pages).read_bytes()
    starts = [0, *sorted(cut * PIECES_IN_GROUP for cut in cuts if cut * PIECES_IN_GROUP < pieces)]
    with Writer(folder / "joined.pdf", book(pieces)) as writer:
        for start, end in zip(starts, [*starts[1:], pieces], strict=True):
            with ChunkWriter(folder / "part", writer.ticket, first_piece=start) as chunk:
                drawer = Renderer(writer.ticket.dpi, writer.ticket.names)
                chunk.add(drawer.render(pages[2 * start : 2 * end]), parts(end - start, start + 1))
                writer.append(chunk.close(drawer.glyphs))
        writer.finish()
    assert (folder / "joined.pdf").read_bytes() == whole


def test_chunks_must_be_whole_and_in_order(tmp_path: Path) -> None:
    with Writer(tmp_path / "p.pdf", book(64)) as writer:
        with pytest.raises(OurBug, match="groups are of 32"):
            ChunkWriter(tmp_path / "c", writer.ticket, first_piece=5)
        with ChunkWriter(tmp_path / "c", writer.ticket, first_piece=0) as chunk:
            chunk.add([b""] * 10, parts(5))
            with pytest.raises(OurBug, match="middle of a group"):
                chunk.close({})
        assert not (tmp_path / "c").exists()
        second = ChunkWriter(tmp_path / "d", writer.ticket, first_piece=32)
        second.add([b""] * 64, parts(32))
        result = second.close({})
        with pytest.raises(OurBug, match="group 0 comes next"):
            writer.append(result)
        with pytest.raises(OurBug, match="not all of them came"):
            writer.finish()
    assert not list(tmp_path.glob("p.pdf*"))


def test_a_piece_too_many_is_our_bug(tmp_path: Path) -> None:
    with Writer(tmp_path / "p.pdf", book(1)) as writer, pytest.raises(OurBug, match="more than the 1 pieces"):
        writer.add([b""] * 4, parts(2))
    with pytest.raises(OurBug, match="at least one piece"):
        Writer(tmp_path / "p.pdf", book(0))


def test_both_compressions_say_the_same(tmp_path: Path) -> None:
    contents: dict[str, list[bytes]] = {}
    kinds: tuple[Squeeze, ...] = ("fast", "small")
    for kind in kinds:
        with Writer(tmp_path / kind, book(3), compression=kind) as writer:
            drawer = Renderer(1200, writer.names)
            writer.add(drawer.render(sides(6)), parts(3))
            writer.finish(drawer.glyphs)
        with pikepdf.open(tmp_path / kind) as pdf:
            contents[kind] = [page.Contents.read_bytes() for page in pdf.pages]
    assert contents["fast"] == contents["small"]


def test_static_forms_are_drawn_once_with_their_own_resources(tmp_path: Path) -> None:
    form: list[Mark] = [text("Static"), FillMark("c", CLEAR, (0, 0, 9, 9)), FillMark("k", BLACK, (20, 20, 9, 9))]
    pages: list[list[Mark]] = [[FormMark("f", "form:a")], [FormMark("f", "form:a"), text("Own")]]
    path = write(tmp_path / "p.pdf", pages, forms={"form:a": form})
    with pikepdf.open(path) as pdf:
        xobjects = pdf.pages[0].Contents.read_bytes().split()
        assert b"Do" in xobjects
        forms = [o for o in pdf.objects if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Form"]
        assert len(forms) == 1
        assert set(forms[0].Resources.keys()) == {"/Font", "/ColorSpace", "/Properties", "/ExtGState"}
    with pdfium.PdfDocument(path) as document:
        assert {"Static", "Own"} <= set(document[1].get_textpage().get_text_range().split())


def test_clear_overprints_and_leaves_cmyk_alone(tmp_path: Path, need: Callable[[str], str]) -> None:
    """Ghostscript's tiffsep: the process plates are identical with and without the Clear marks."""
    ground: list[Mark] = [FillMark("g", Ink("", 0, (0.6, 0.2, 0.1, 0)), (100, 100, 600, 400)), text("Black on it")]
    veil: list[Mark] = [FillMark("v", CLEAR, (300, 200, 500, 200)), text("hidden", ink=CLEAR)]

    def plates(name: str, marks: list[Mark]) -> dict[str, Any]:
        folder = tmp_path / name
        folder.mkdir()
        path = write(folder / "p.pdf", [marks, []])
        command = [need("gs"), "-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=tiffsep", "-r1200", "-dLastPage=1"]
        subprocess.run([*command, f"-sOutputFile={folder}/o.tif", str(path)], check=True, capture_output=True)
        return {p.name.split("(")[1].split(")")[0]: np.asarray(Image.open(p)) for p in folder.glob("o(*).tif")}

    bare, both = plates("bare", ground), plates("both", ground + veil)
    for plate in ("Cyan", "Magenta", "Yellow", "Black"):
        assert np.array_equal(bare[plate], both[plate]), plate
    assert (both["Clear"] == 0).sum() >= 500 * 200
    assert (both["Black"] == 0).sum() > 0


def test_ghostscript_and_poppler_find_nothing_to_say(tmp_path: Path, need: Callable[[str], str]) -> None:
    pages: list[list[Mark]] = [[text("Latin"), text("你好", "cjk", "zh")], [text("שלום", "hebrew", "he")]]
    path = write(tmp_path / "p.pdf", pages)
    ghost = [need("gs"), "-q", "-dNOPAUSE", "-dBATCH", "-dPDFSTOPONWARNING", "-sDEVICE=nullpage", str(path)]
    done = subprocess.run(ghost, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    shown = subprocess.run([need("pdftotext"), str(path), "-"], capture_output=True, text=True, check=True)
    assert shown.stderr == ""
    assert "Latin" in shown.stdout
    assert "你好" in shown.stdout


def test_a_press_profile_makes_it_pdf_x_4(tmp_path: Path) -> None:
    from vdp.pdf.colouring import Colouring

    profile = Path(__file__).parents[2] / "layouts/ferry_pass/art/press.icm"
    path = write(tmp_path / "x.pdf", sides(2), colouring=Colouring(profile=profile))
    with pikepdf.open(path) as pdf:
        (intent,) = pdf.Root.OutputIntents
        assert (str(intent.S), int(intent.DestOutputProfile.N)) == ("/GTS_PDFX", 4)
        assert intent.DestOutputProfile.read_bytes() == profile.read_bytes()
        meta = pdf.open_metadata()
        assert meta["pdfxid:GTS_PDFXVersion"] == "PDF/X-4"
        assert meta["xmp:CreateDate"] == meta["xmp:ModifyDate"] == "2027-01-15T12:00:00Z"
        assert meta["dc:title"] == "Small ⟨book⟩ & more"
        assert str(pdf.docinfo["/Trapped"]) == "/False"
    plain = write(tmp_path / "n.pdf", sides(2))
    with pikepdf.open(plain) as pdf:
        assert "/OutputIntents" not in pdf.Root
        assert "pdfxid:GTS_PDFXVersion" not in pdf.open_metadata()


@pytest.mark.parametrize("bad", [b"not a profile", b""])
def test_a_profile_that_is_none_is_refused(tmp_path: Path, bad: bytes) -> None:
    from vdp.pdf.colouring import Colouring

    (tmp_path / "p.icm").write_bytes(bad)
    with pytest.raises(CallerError, match="is not an ICC profile"):
        write(tmp_path / "x.pdf", sides(2), colouring=Colouring(profile=tmp_path / "p.icm"))
    assert not list(tmp_path.glob("x.pdf*"))


def test_a_profile_of_a_screen_is_refused(tmp_path: Path) -> None:
    from PIL import ImageCms

    from vdp.pdf.colouring import Colouring

    (tmp_path / "s.icm").write_bytes(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    with pytest.raises(CallerError, match="not of a CMYK press"):
        write(tmp_path / "x.pdf", sides(2), colouring=Colouring(profile=tmp_path / "s.icm"))


# -- where every object is -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [5 << 30, 11 << 30, 1 << 41])
def test_offsets_of_huge_files_are_written_whole(size: int) -> None:
    """A classic table ends at 10 GB; the stream's field grows by a byte at each power of 256 (ISO 32000-1, 7.5.8)."""
    arithmetic = Arithmetic(pieces=33, first=4)
    count = OFFSETS_IN_GROUP + 3
    offsets = array("Q", [size + 1000 * n for n in range(count)])
    singles = {number: 15 * number for number in range(1, arithmetic.body)}
    table = pack_table(arithmetic, singles, offsets, arithmetic.tail, size + 1000 * count)
    assert table.widths == (1, (size.bit_length() + 7) // 8, 2)
    rows = np.concatenate(list(entries(arithmetic, singles, offsets, arithmetic.tail)))
    assert rows[arithmetic.contents(0)[0]].tolist() == [1, size, 0]
    assert rows[arithmetic.contents(1)[-1]].tolist() == [1, size + 1000 * (count - 2), 0]
    assert rows[arithmetic.stream(1)].tolist() == [1, size + 1000 * (count - 1), 0]
    assert rows[arithmetic.part(1)].tolist() == [2, arithmetic.stream(1), 1]
    assert rows[arithmetic.pages(1)[0]].tolist() == [2, arithmetic.stream(1), 2]
    assert rows[arithmetic.parts(1)[0]].tolist() == [2, arithmetic.stream(1), 4]
    # What readers open faster by (`vdp.pdf.arithmetic`).
    held = rows[:, 0] == 2
    assert (rows[held, 1] > np.flatnonzero(held)).all()
    # Undo predictor Up as a reader would, and find the same numbers in the bytes.
    import zlib

    packed = np.frombuffer(zlib.decompress(table.data), np.uint8).reshape(-1, table.columns + 1)
    assert set(packed[:, 0].tolist()) == {2}
    plain = np.cumsum(packed[:, 1:], axis=0, dtype=np.uint8)
    middle = table.widths[1]
    read = [int.from_bytes(row[1 : 1 + middle].tobytes(), "big") for row in plain]
    assert read == rows[:, 1].tolist()


def test_a_file_over_four_gigabytes_opens(tmp_path: Path, need: Callable[[str], str]) -> None:
    """A sparse hole of 4.5 GB stands where pieces would; readers find the last page behind it."""
    path = tmp_path / "big.pdf"
    with Writer(path, book(33)) as writer:
        sink: Sink = writer._sink
        sink.write(b"% a hole\n")
        sink.flush()
        hole = 4_500_000_000
        os.ftruncate(sink._file.fileno(), sink.position + hole)
        sink._file.seek(0, os.SEEK_END)
        sink.position += hole
        sink.write(b"\n")
        drawer = Renderer(1200, writer.names)
        writer.add(drawer.render(sides(66)), parts(33))
        writer.finish(drawer.glyphs)
    assert path.stat().st_size > 1 << 32
    assert path.stat().st_blocks * 512 < 1 << 28
    # pdfium keeps offsets in 32 bits and cannot be asked; qpdf's library and Ghostscript can.  Poppler can, but reads
    # the whole file for more than a minute.
    with pikepdf.open(path) as pdf:
        assert (len(pdf.pages), pdf.get_warnings()) == (66, [])
        assert b"Tj" in pdf.pages[65].Contents.read_bytes() or b"TJ" in pdf.pages[65].Contents.read_bytes()
    ask = [need("gs"), "-q", "-dBATCH", "-dNOPAUSE", "-dSAFER", "-dFirstPage=66", "-dLastPage=66", "-sDEVICE=txtwrite"]
    done = subprocess.run([*ask, "-sOutputFile=-", path], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "Page 65"


# -- what a disk can do ----------------------------------------------------------------------------------------------


def test_a_full_disk_is_said_and_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Full:
        def __init__(self, inner: Any) -> None:
            self.inner, self.left = inner, 3000

        def write(self, data: bytes) -> int:
            self.left -= len(data)
            if self.left < 0:
                raise OSError(errno.ENOSPC, "No space left on device")
            return int(self.inner.write(data))

        def __getattr__(self, name: str) -> Any:
            return getattr(self.inner, name)

    def make() -> None:
        with Writer(tmp_path / "p.pdf", book(40)) as writer:
            writer._sink._file = Full(writer._sink._file)  # type: ignore[assignment]  # a file that has only so much room
            drawer = renderer()
            writer.add(drawer.render(sides(80)), parts(40))
            writer.finish(drawer.glyphs)

    with pytest.raises(CallerError, match="No space left on device"):
        make()
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    with pytest.raises(CallerError, match="cannot be written"):
        Writer(tmp_path / "no/such/p.pdf", book(1))


def test_copying_works_without_the_kernel_s_help(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "part").write_bytes(b"0123456789")

    def refuse(*_: object) -> int:
        raise OSError(errno.EXDEV, "other device")

    monkeypatch.setattr(os, "copy_file_range", refuse)
    with Sink(tmp_path / "out", tmp_path / "out") as sink:
        sink.write(b"ab")
        sink.copy(tmp_path / "part", 6)
        sink.write(b"c")
        sink.close()
    assert (tmp_path / "out").read_bytes() == b"ab012345c"
    with Sink(tmp_path / "out", tmp_path / "out") as sink, pytest.raises(CallerError, match="shorter than it was"):
        sink.copy(tmp_path / "part", 60)
    monkeypatch.setattr(os, "copy_file_range", lambda *_: 0)
    with Sink(tmp_path / "out", tmp_path / "out") as sink:
        sink.copy(tmp_path / "part", 10)
        sink.close()
    assert (tmp_path / "out").read_bytes() == b"0123456789"

    def broken(*_: object) -> int:
        raise OSError(errno.EIO, "broken")

    monkeypatch.setattr(os, "copy_file_range", broken)
    with Sink(tmp_path / "out", tmp_path / "out") as sink, pytest.raises(CallerError, match="broken"):
        sink.copy(tmp_path / "part", 10)


def test_a_null_sink_takes_everything() -> None:
    with Writer(Path(os.devnull), book(2)) as writer:
        writer.add([b""] * 4, parts(2))
        assert writer.finish().size > 0
