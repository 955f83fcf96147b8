"""What may be done to finished sheets, and the finding each deed must give from the files alone."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, NamedTuple

import pikepdf

from tests.sheeted import put_lines, read_lines, refresh
from vdp.barcode.carriers import Encoder, need
from vdp.marks import Matrix
from vdp.run.folder import sha256_of

Deed = Callable[[Path], None]


class SheetCase(NamedTuple):
    title: str
    deed: Deed
    gives: frozenset[str]


SHEET_CASES: list[SheetCase] = []


def case(title: str, gives: Iterable[str]) -> Callable[[Deed], Deed]:
    def keep(deed: Deed) -> Deed:
        SHEET_CASES.append(SheetCase(title, deed, frozenset(gives)))
        return deed

    return keep


def edit(folder: Path, change: Callable[[pikepdf.Pdf], None]) -> None:
    """Changes sheets.pdf, and report.json with it."""
    path = folder / "sheets.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        change(pdf)
        pdf.save(path)
    refresh(folder)


def content(folder: Path, page: int, change: Callable[[bytes], bytes]) -> None:
    """Changes the content of one page."""

    def write(pdf: pikepdf.Pdf) -> None:
        stream = pdf.pages[page].Contents
        old = stream.read_bytes()
        new = change(old)
        assert new != old
        stream.write(new)

    edit(folder, write)


def own(page: pikepdf.Page, kind: str = "/XObject") -> pikepdf.Object:
    """A page's own resources of a kind."""
    return page.obj.Resources[kind]


def swapped(page: pikepdf.Page, one: str, other: str) -> None:
    names = own(page)
    names[one], names[other] = names[other], names[one]


@case("the last page is dropped", ["frame-missing"])
def _(folder: Path) -> None:
    def drop(pdf: pikepdf.Pdf) -> None:
        del pdf.pages[-2:]

    edit(folder, drop)


@case("a page is appended", ["frame-extra"])
def _(folder: Path) -> None:
    def append(pdf: pikepdf.Pdf) -> None:
        pdf.add_blank_page(page_size=(100, 100))

    edit(folder, append)


@case("a frame is dropped and another is there twice", ["frame-wrong"])
def _(folder: Path) -> None:
    def twice(pdf: pikepdf.Pdf) -> None:
        pdf.pages[4] = pdf.pages[2]
        pdf.pages[5] = pdf.pages[3]

    edit(folder, twice)


@case("two frames change places", ["frame-wrong"])
def _(folder: Path) -> None:
    def swap(pdf: pikepdf.Pdf) -> None:
        for side in (0, 1):
            one, other = pdf.pages[side].obj, pdf.pages[2 + side].obj
            for key in ("/Contents", "/Resources"):
                one[key], other[key] = other[key], one[key]

    edit(folder, swap)


@case("a page is trimmed elsewhere", ["frame-boxes"])
def _(folder: Path) -> None:
    def trim(pdf: pikepdf.Pdf) -> None:
        edges = [float(edge) for edge in pdf.pages[1].obj.TrimBox.as_list()]
        pdf.pages[1].obj.TrimBox = pikepdf.Array([edges[0] + 3, *edges[1:]])

    edit(folder, trim)


@case("two pieces change places, both sides", ["place-wrong"])
def _(folder: Path) -> None:
    def swap(pdf: pikepdf.Pdf) -> None:
        swapped(pdf.pages[0], "/P1", "/P2")
        swapped(pdf.pages[1], "/P1", "/P2")

    edit(folder, swap)


@case("two backs change places", ["back-wrong"])
def _(folder: Path) -> None:
    edit(folder, lambda pdf: swapped(pdf.pages[1], "/P1", "/P2"))


@case("the backs are not mirrored", ["back-wrong", "blank-printed"])
def _(folder: Path) -> None:
    def unmirrored(pdf: pikepdf.Pdf) -> None:
        for page in range(1, len(pdf.pages), 2):
            swapped(pdf.pages[page], "/P1", "/P3")
            swapped(pdf.pages[page], "/P4", "/P6")

    edit(folder, unmirrored)


@case("a piece is left out", ["place-wrong"])
def _(folder: Path) -> None:
    content(folder, 0, lambda old: re.sub(rb"q [^\n]* /P2 Do Q\n", b"", old))


@case("a piece is moved by two dots", ["place-moved", "place-wrong"])
def _(folder: Path) -> None:
    def move(old: bytes) -> bytes:
        found = re.search(rb"q 1 0 0 1 (\d+)( \d+ cm [^\n]* /P3 Do)", old)
        assert found is not None
        return old.replace(found[0], b"q 1 0 0 1 %d%b" % (int(found[1]) + 2, found[2]))

    content(folder, 0, move)


@case("a piece's content is another than was proofed", ["place-wrong"])
def _(folder: Path) -> None:
    def change(pdf: pikepdf.Pdf) -> None:
        form = own(pdf.pages[0])["/P1"]
        data = form.read_bytes()
        form.write(data + b"\n")

    edit(folder, change)


@case("a blank bears a piece", ["blank-printed"])
def _(folder: Path) -> None:
    def fill(pdf: pikepdf.Pdf) -> None:
        last = len(pdf.pages) - 2
        for side in (0, 1):
            own(pdf.pages[last + side])["/P6"] = own(pdf.pages[side])["/P1"]

    edit(folder, fill)


@case("a blank says nothing", ["blank-printed"])
def _(folder: Path) -> None:
    def empty(pdf: pikepdf.Pdf) -> None:
        own(pdf.pages[-2])["/P6"].write(b"")

    edit(folder, empty)


@case("something covers a symbol on the sheet", ["mark-inside", "symbol-unreadable"])
def _(folder: Path) -> None:
    def cover(old: bytes) -> bytes:
        found = re.search(rb"q 1 0 0 1 (\d+) (\d+) cm [^\n]* /P1 Do", old)
        assert found is not None
        return old + b"0 0 0 0 k %d %d 3000 2000 re f\n" % (int(found[1]), int(found[2]))

    content(folder, 0, cover)


@case("a mark reaches into the bleed", ["mark-inside"])
def _(folder: Path) -> None:
    def reach(old: bytes) -> bytes:
        found = re.search(rb"q 1 0 0 1 (\d+) (\d+) cm [^\n]* /P1 Do", old)
        assert found is not None
        return old + b"0 0 0 1 k %d %d 200 20 re f\n" % (int(found[1]) - 150, int(found[2]) + 20)

    content(folder, 0, reach)


@case("the slug line is another frame's", ["slug-wrong"])
def _(folder: Path) -> None:
    def change(pdf: pikepdf.Pdf) -> None:
        streams = [pdf.pages[page].Contents for page in (0, 2)]
        slugs = [re.search(rb"BT\n.*?ET\n", stream.read_bytes(), re.DOTALL) for stream in streams]
        assert slugs[0] is not None and slugs[1] is not None  # noqa: PT018  both alike
        streams[0].write(streams[0].read_bytes().replace(slugs[0][0], slugs[1][0]))

    edit(folder, change)


def code_of(text: str) -> bytes:
    """A frame code's modules as they are drawn."""
    matrix = Encoder("datamatrix", need("datamatrix", text)).encode([text])[0]
    assert isinstance(matrix, Matrix)
    rows = [
        b"%d %d 1 1 re\n" % (x, len(matrix.rows) - 1 - y)
        for y, row in enumerate(matrix.rows)
        for x in range(matrix.width)
        if row >> x & 1
    ]
    return b"".join(rows) + b"f Q\n"


@case("a frame code is another lane's", ["frame-code"])
def _(folder: Path) -> None:
    identity = json.loads((folder / "report.json").read_bytes())["sheets"]["identity"][:8].upper()

    def change(old: bytes) -> bytes:
        found = re.search(rb"q 12 0 0 12 \d+ \d+ cm\n(.*?f Q\n)", old, re.DOTALL)
        assert found is not None
        return old.replace(found[1], code_of(f"{identity}-001-000001-02-00"), 1)

    content(folder, 0, change)


@case("a frame code is gone", ["frame-code"])
def _(folder: Path) -> None:
    content(folder, 1, lambda old: re.sub(rb"q 12 0 0 12 \d+ \d+ cm\n.*?f Q\n", b"", old, count=1, flags=re.DOTALL))


def marks(folder: Path, page: int, change: Callable[[bytes], bytes]) -> None:
    """Changes the marks that all sheets of a side have."""

    def write(pdf: pikepdf.Pdf) -> None:
        form = own(pdf.pages[page])["/M"]
        old = form.read_bytes()
        assert change(old) != old
        form.write(change(old))

    edit(folder, write)


@case("a cut mark of the back is moved by three dots", ["mark-moved"])
def _(folder: Path) -> None:
    def move(old: bytes) -> bytes:
        found = re.search(rb"\n(\d+)( \d+ \d+ \d+ re f)", old)
        assert found is not None
        return old.replace(found[0], b"\n%d%b" % (int(found[1]) + 3, found[2]), 1)

    marks(folder, 1, move)


@case("a mark is on the front alone", ["mark-moved"])
def _(folder: Path) -> None:
    marks(folder, 0, lambda old: old + b"0 0 0 1 k 10 10 40 40 re f\n")


@case("the register marks are not on Clear", ["mark-missing"])
def _(folder: Path) -> None:
    def without(old: bytes) -> bytes:
        return re.sub(rb"/OC /Clear BDC.*?EMC\n", b"", old, count=2, flags=re.DOTALL)

    for page in (0, 1):
        marks(folder, page, without)


@case("the register marks are not on Magenta", ["mark-missing"])
def _(folder: Path) -> None:
    for page in (0, 1):
        marks(folder, page, lambda old: old.replace(b"1 1 1 1 k", b"1 0 1 1 k"))


@case("one arm of a register mark is not on Yellow, on the front", ["mark-missing", "mark-moved"])
def _(folder: Path) -> None:
    def without(old: bytes) -> bytes:
        found = re.search(rb"1 1 1 1 k\n(\d+ \d+ \d+ \d+ re f)", old)
        assert found is not None
        return old.replace(found[0], b"1 1 0 1 k\n" + found[1] + b"\n1 1 1 1 k", 1)

    marks(folder, 0, without)


@case("two pieces are told to be in one place", ["place-repeated", "blank-printed"])
def _(folder: Path) -> None:
    change_places(folder, lambda lines: lines[1].update(place=lines[0]["place"]))


@case("a piece is told to be on a roll that is none", ["place-missing", "blank-printed"])
def _(folder: Path) -> None:
    change_places(folder, lambda lines: lines[1]["place"].update(roll=9))


def change_places(folder: Path, change: Callable[[list[dict[str, Any]]], None]) -> None:
    lines = read_lines(folder)
    change(lines)
    put_lines(folder, lines)
    refresh(folder)


@case("a frame is said to be of specimens, and is live", ["specimen-live", "place-missing"])
def _(folder: Path) -> None:
    report = json.loads((folder / "report.json").read_bytes())
    report["sheets"]["rolls"][0]["leader"] = 1
    (folder / "report.json").write_text(json.dumps(report), "utf-8")
    lines = read_lines(folder)
    moved = [line for line in lines if line["place"]["frame"] == 1]
    for line in moved:
        line["place"] = None
    put_lines(folder, lines)
    refresh(folder)


@case("a sheet has a note", ["cannot-judge"])
def _(folder: Path) -> None:
    def note(pdf: pikepdf.Pdf) -> None:
        square = pikepdf.Dictionary(Type=pikepdf.Name.Annot, Subtype=pikepdf.Name.Square, Rect=[0, 0, 9, 9])
        pdf.pages[0].obj.Annots = pikepdf.Array([square])

    edit(folder, note)


@case("Clear knocks out among the marks", ["clear-knockout"])
def _(folder: Path) -> None:
    marks(folder, 0, lambda old: old.replace(b" /Overprint gs", b""))


# -- specimens ---------------------------------------------------------------------------------------------------------

#: Deeds done to sheets that have specimens before and after their live frames.
SPECIMEN_CASES: list[SheetCase] = []


def specimen_case(title: str, gives: Iterable[str]) -> Callable[[Deed], Deed]:
    def keep(deed: Deed) -> Deed:
        SPECIMEN_CASES.append(SheetCase(title, deed, frozenset(gives)))
        return deed

    return keep


def first_live(folder: Path) -> int:
    """The first page of the first live frame."""
    report = json.loads((folder / "report.json").read_bytes())
    return 2 * int(report["sheets"]["rolls"][0]["leader"])


@specimen_case("a live piece stands in the leader", ["specimen-live"])
def _(folder: Path) -> None:
    live = first_live(folder)

    def put(pdf: pikepdf.Pdf) -> None:
        for side in (0, 1):
            own(pdf.pages[side])["/P1"] = own(pdf.pages[live + side])["/P1"]

    edit(folder, put)


@specimen_case("a live back stands in the trailer", ["specimen-live"])
def _(folder: Path) -> None:
    live = first_live(folder)

    def put(pdf: pikepdf.Pdf) -> None:
        own(pdf.pages[-1])["/P3"] = own(pdf.pages[live + 1])["/P3"]

    edit(folder, put)


@specimen_case("a specimen stands where a live piece must", ["place-wrong"])
def _(folder: Path) -> None:
    live = first_live(folder)

    def put(pdf: pikepdf.Pdf) -> None:
        for side in (0, 1):
            own(pdf.pages[live + side])["/P2"] = own(pdf.pages[side])["/P2"]

    edit(folder, put)


#: Every frame that follows is another one than it should be.
SHIFTED = ["frame-missing", "frame-wrong", "frame-code", "slug-wrong", "specimen-live", "blank-printed", "place-wrong"]


@specimen_case("a frame of the leader is left out", SHIFTED)
def _(folder: Path) -> None:
    def drop(pdf: pikepdf.Pdf) -> None:
        del pdf.pages[:2]

    edit(folder, drop)


@specimen_case("a specimen's code is covered", ["specimen-wrong"])
def _(folder: Path) -> None:
    def cover(pdf: pikepdf.Pdf) -> None:
        form = own(pdf.pages[0])["/P1"]
        form.write(form.read_bytes() + b"q 0 0 0 0 k 1700 300 1200 1600 re f Q\n")

    edit(folder, cover)


# -- against the job ---------------------------------------------------------------------------------------------------

#: Deeds that only the job can tell; its file lies beside the run folder.
JOB_CASES: list[SheetCase] = []


def job_case(title: str, gives: Iterable[str]) -> Callable[[Deed], Deed]:
    def keep(deed: Deed) -> Deed:
        JOB_CASES.append(SheetCase(title, deed, frozenset(gives)))
        return deed

    return keep


def retold(folder: Path, old: str, new: str) -> None:
    """The job says something else than it said when it was run."""
    path = folder.parent / "job.yaml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")
    report = json.loads((folder / "report.json").read_bytes())
    report["inputs"]["job"]["sha256"] = sha256_of(path)
    (folder / "report.json").write_text(json.dumps(report), "utf-8")


@job_case("the job's order is another", ["place-order"])
def _(folder: Path) -> None:
    retold(folder, "height: 2", "height: 1")


@job_case("the job's web is wider", ["web-differs"])
def _(folder: Path) -> None:
    retold(folder, "width: 230 mm", "width: 235 mm")


@job_case("the job's gutters are wider", ["web-differs"])
def _(folder: Path) -> None:
    retold(folder, "gutter: 5 mm", "gutter: 4.5 mm")


@job_case("the job's backs are head to foot", ["web-differs"])
def _(folder: Path) -> None:
    retold(folder, "  order: blocks", "  heads: head_to_foot\n  order: blocks")


@job_case("the job has more lanes", ["web-differs", "place-order"])
def _(folder: Path) -> None:
    retold(folder, "lanes: 3", "lanes: 2")


@job_case("the job prints less bleed", ["web-differs"])
def _(folder: Path) -> None:
    retold(folder, "  bleed: 2 mm\n  margins", "  bleed: 1 mm\n  margins")


@job_case("the job asks for a wider margin", ["web-differs"])
def _(folder: Path) -> None:
    retold(folder, "head: 10 mm", "head: 12 mm")


@job_case("the report keeps silent about the sheets", ["web-differs"])
def _(folder: Path) -> None:
    report = json.loads((folder / "report.json").read_bytes())
    report["sheets"] = None
    (folder / "report.json").write_text(json.dumps(report), "utf-8")


@job_case("the job's leader is longer", ["web-differs", "place-order"])
def _(folder: Path) -> None:
    retold(folder, "leader: 1 mm", "leader: 300 mm")


@job_case("the job's make-ready is longer", ["web-differs", "place-order"])
def _(folder: Path) -> None:
    retold(folder, "make_ready: 1 mm", "make_ready: 300 mm")


@job_case("the job has no web", ["web-differs"])
def _(folder: Path) -> None:
    text = (folder.parent / "job.yaml").read_text("utf-8")
    retold(folder, text[text.index("web:") :], "")
