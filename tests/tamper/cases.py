"""What may be done to a finished run, and the finding each deed must give.

Lives here: one deed a case.  `gives` are the codes that the whole verdict must consist of, with job and records at
hand; `alone` those from the files alone, where they differ.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

import pikepdf
from pikepdf import Array, Dictionary, Name, Stream

from tests.tamper.folder import SYMBOL, Tampered, swap_symbols
from vdp.barcode.qr import Qr

Deed = Callable[[Tampered], None]
Edit = Callable[[bytes], bytes]


class Case(NamedTuple):
    """A deed, what it must give against the rows, and from the files alone (None: the same)."""

    title: str
    deed: Deed
    gives: frozenset[str]
    alone: frozenset[str] | None


CASES: list[Case] = []


def case(title: str, gives: Iterable[str], alone: Iterable[str] | None = None) -> Callable[[Deed], Deed]:
    def keep(deed: Deed) -> Deed:
        CASES.append(Case(title, deed, frozenset(gives), None if alone is None else frozenset(alone)))
        return deed

    return keep


# -- edits of a content stream -----------------------------------------------------------------------------------------


def replaced(old: bytes, new: bytes, count: int = -1) -> Edit:
    """Replaces what must be there."""

    def edit(content: bytes) -> bytes:
        assert old in content, old
        return content.replace(old, new, count)

    return edit


def added(more: bytes) -> Edit:
    return lambda content: content + more


def symbol(which: int, change: Callable[[bytes], bytes]) -> Edit:
    """Changes the symbol that is drawn `which`th."""

    def edit(content: bytes) -> bytes:
        found = list(SYMBOL.finditer(content))[which]
        return content[: found.start()] + change(found[0]) + content[found.end() :]

    return edit


def text(which: int, change: Callable[[bytes], bytes]) -> Edit:
    """Changes the text object that stands `which`th."""

    def edit(content: bytes) -> bytes:
        found = list(re.finditer(rb"BT\n.*?ET\n", content, re.DOTALL))[which]
        return content[: found.start()] + change(found[0]) + content[found.end() :]

    return edit


def place(fragment: bytes) -> tuple[int, int, int]:
    """Module size and lower left corner of a symbol, in dots."""
    module, _, _, _, x, y = (int(part) for part in fragment[2 : fragment.index(b" cm")].split())
    return module, x, y


def covered(share_x: float, share_y: float, side: int) -> Callable[[bytes], bytes]:
    """Paints paper over a share of a symbol of `side` modules."""

    def change(fragment: bytes) -> bytes:
        module, x, y = place(fragment)
        box = (x, y, round(module * side * share_x), round(module * side * share_y))
        return fragment + b"q 0 0 0 0 k %d %d %d %d re f Q\n" % box

    return change


def redrawn(payload: str) -> Callable[[bytes], bytes]:
    """The QR code of another payload in the same place, at the version and level of the layout."""

    def change(fragment: bytes) -> bytes:
        (matrix,) = Qr(2, "M").encode([payload])
        rows = [
            b"%d %d 1 1 re\n" % (x, matrix.width - 1 - y)
            for y, row in enumerate(matrix.rows)
            for x in range(matrix.width)
            if row >> x & 1
        ]
        return fragment[: fragment.index(b"\n") + 1] + b"".join(rows) + b"f Q\n"

    return change


# Order of what the composer draws: front: bars, square; back: hidden.
BARS, SQUARE, HIDDEN = 0, 1, 0
# Front: hello, number.  Back: fine, stub, secret.
HELLO, NUMBER, FINE, STUB, SECRET = 0, 1, 0, 1, 2


# -- the folder --------------------------------------------------------------------------------------------------------


@case("a file that report.json names is not there", ["file-missing"])
def _(t: Tampered) -> None:
    t.report(lambda report: report["files"].update({"sheets.pdf": "0" * 64}))


@case("a file is written again with other bytes", ["file-changed"])
def _(t: Tampered) -> None:
    path = t.out / "pieces.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"piece":1,', b'"piece": 1,'))


@case("report.json is cut short", ["file-unreadable"])
def _(t: Tampered) -> None:
    path = t.out / "report.json"
    path.write_bytes(path.read_bytes()[:200])


@case("the report counts one record more", ["count-differs"])
def _(t: Tampered) -> None:
    t.report(lambda report: report.update({"records": report["records"] + 1}))


@case("a page names its content twice, and readers differ", ["reader-differs"])
def _(t: Tampered) -> None:
    def doubled(pdf: pikepdf.Pdf) -> None:
        page = pdf.pages[0].obj
        good = page.Contents
        page.Contents = pdf.make_indirect(Stream(pdf, good.read_bytes().replace(b"0 0 0 1 k", b"0 0 0 0 k", 1)))
        page.Zz = Array([good, pikepdf.String("P" * 30)])

    path = t.out / "pieces.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        doubled(pdf)
        pdf.save(path, object_stream_mode=pikepdf.ObjectStreamMode.disable)
    data = path.read_bytes()
    found = re.search(rb"/Zz \[ (\d+ 0 R) \(P+\) \]", data)
    assert found is not None
    data = data.replace(found[0], (b"/Contents " + found[1]).ljust(len(found[0])))
    path.write_bytes(data)
    t.refresh(contents=False)


# -- pages -------------------------------------------------------------------------------------------------------------


@case("the last page is dropped", ["page-missing"])
def _(t: Tampered) -> None:
    def drop(pdf: pikepdf.Pdf) -> None:
        del pdf.pages[-1]

    t.pdf(drop)
    t.refresh()


@case("a page is appended", ["page-extra"])
def _(t: Tampered) -> None:
    def append(pdf: pikepdf.Pdf) -> None:
        pdf.add_blank_page(page_size=(209.7638, 153.0709))

    t.pdf(append)
    t.refresh(contents=False)


@case("one page object stands in two places", ["page-repeated", "side-swapped"])
def _(t: Tampered) -> None:
    path = t.out / "pieces.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        pdf.save(path, object_stream_mode=pikepdf.ObjectStreamMode.disable)
    with pikepdf.open(path) as pdf:
        one, other = (pdf.pages[place].obj.objgen[0] for place in (1, 3))
        contents = pdf.pages[1].Contents.read_bytes()
    # Saving would make two objects of it again, so the reference is written over in place.
    data = path.read_bytes()
    old, new = b" %d 0 R" % other, b" %d 0 R" % one
    kids = re.search(rb"/Kids \[[^\]]*" + old + rb"[^\]]*\]", data)
    assert kids is not None
    assert len(new) <= len(old)
    path.write_bytes(data.replace(kids[0], kids[0].replace(old, new.rjust(len(old)))))
    t.refresh(contents=False)

    def hashed(lines: list[dict[str, Any]]) -> None:
        with pikepdf.open(path) as pdf:
            front = pdf.pages[2].Contents.read_bytes()
        lines[1]["sha256"] = hashlib.sha256(front + contents).hexdigest()

    t.lines(hashed)
    t.refresh(contents=False)


@case("a page is trimmed elsewhere", ["page-boxes"])
def _(t: Tampered) -> None:
    def trim(pdf: pikepdf.Pdf) -> None:
        edges = [float(edge) for edge in pdf.pages[4].trimbox.as_list()]
        pdf.pages[4].obj.TrimBox = Array([edges[0], edges[1], edges[2] - 3, edges[3]])

    t.pdf(trim)
    t.refresh()


@case("a content stream is changed and its hash is not", ["content-changed"])
def _(t: Tampered) -> None:
    t.page(2, added(b"\n"))
    t.refresh(contents=False)


@case("something is made half transparent", ["cannot-judge"])
def _(t: Tampered) -> None:
    def add(pdf: pikepdf.Pdf) -> None:
        resources(pdf.pages[0]).ExtGState["/Half"] = Dictionary(ca=0.5)

    t.pdf(add)
    t.page(0, replaced(b"BT\n", b"/Half gs BT\n", 1))
    t.refresh()


def resources(page: pikepdf.Page) -> pikepdf.Object:
    """The resources of a page, its own from now on, with every kind that a case adds to."""
    mine = Dictionary(dict(page.resources.items()))
    for kind in ("/ExtGState", "/ColorSpace"):
        mine[kind] = Dictionary(dict(mine.get(kind, Dictionary()).items()))
    page.obj.Resources = mine
    return mine


# -- plates ------------------------------------------------------------------------------------------------------------


@case("a box is printed on a plate that nobody ordered", ["plate-unknown"])
def _(t: Tampered) -> None:
    def add(pdf: pikepdf.Pdf) -> None:
        gold = Array([Name.Separation, Name.Gold, Name.DeviceCMYK, function(0, 0.3, 0.8, 0)])
        resources(pdf.pages[0]).ColorSpace["/Gold"] = gold

    t.pdf(add)
    t.page(0, added(b"q /Gold cs 1 scn 1000 100 60 60 re f Q\n"))
    t.refresh()


def function(*ink: float) -> pikepdf.Object:
    return Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0] * 4), C1=Array(list(ink)), N=1)


@case("one page describes Clear in its own way", ["separation-differs"])
def _(t: Tampered) -> None:
    def add(pdf: pikepdf.Pdf) -> None:
        other = Array([Name.Separation, Name.Clear, Name.DeviceCMYK, function(0.5, 0, 0, 0)])
        resources(pdf.pages[1]).ColorSpace["/Clear"] = pdf.make_indirect(other)

    t.pdf(add)
    t.refresh()


@case("Clear knocks out instead of overprinting", ["clear-knockout"])
def _(t: Tampered) -> None:
    t.page(1, replaced(b" /Overprint gs", b""))
    t.refresh()


@case("Clear leaves its layer", ["clear-layer"])
def _(t: Tampered) -> None:
    t.page(1, lambda content: replaced(b"EMC", b"")(replaced(b"/OC /Clear BDC", b"")(content)))
    t.refresh()


@case(
    "Clear marks move to process colour",
    ["clear-in-process", "symbol-wrong-plate", "text-ink"],
    ["clear-in-process", "symbol-wrong-plate"],
)
def _(t: Tampered) -> None:
    t.page(1, lambda content: re.sub(rb"/Clear cs(.*?)1 scn", rb"\1 0 0.9 0 0 k", content, flags=re.DOTALL))
    t.refresh()


@case("a white box is laid over Clear", ["clear-covered"])
def _(t: Tampered) -> None:
    def cover(content: bytes) -> bytes:
        x, y = (int(part) for part in re.findall(rb"1 0 0 1 (\d+) (\d+) Tm", content)[-1])
        return content + b"0 0 0 0 k %d %d 300 60 re f\n" % (x, y)

    t.page(1, cover)
    t.refresh()


@case("the number is built of cyan, magenta and yellow", ["black-in-colour"])
def _(t: Tampered) -> None:
    t.page(0, text(NUMBER, lambda old: b"1 1 1 0 k\n" + old + b"0 0 0 1 k\n"))
    t.refresh()


@case("a code is built of cyan, magenta and yellow", ["black-in-colour"])
def _(t: Tampered) -> None:
    t.page(0, symbol(SQUARE, lambda old: b"1 1 1 0 k\n" + old + b"0 0 0 1 k\n"))
    t.refresh()


@case("a code is built of all four", ["black-in-colour"])
def _(t: Tampered) -> None:
    t.page(0, symbol(SQUARE, lambda old: b"0.75 0.68 0.65 0.9 k\n" + old + b"0 0 0 1 k\n"))
    t.refresh()


# -- symbols -----------------------------------------------------------------------------------------------------------


@case("the manifest keeps silent about a symbol", ["symbol-missing"], [])
def _(t: Tampered) -> None:
    t.lines(lambda lines: lines[0]["symbols"].pop(0))
    t.refresh()


@case("the manifest tells of a symbol too many", ["symbol-unexpected"], [])
def _(t: Tampered) -> None:
    t.lines(lambda lines: lines[0]["symbols"].append(lines[0]["symbols"][0] | {"name": "another"}))
    t.refresh()


@case("the layout puts a symbol elsewhere", ["symbol-moved"], [])
def _(t: Tampered) -> None:
    path = t.home / "layout.yaml"
    path.write_text(path.read_text("utf-8").replace("at: [46 mm, 5 mm]", "at: [46.1 mm, 5 mm]"), "utf-8")
    t.refresh()


@case("half a code is covered", ["symbol-unreadable"])
def _(t: Tampered) -> None:
    t.page(0, symbol(SQUARE, covered(1, 0.5, 25)))
    t.refresh()


@case("half the height of a bar code is covered", ["symbol-damaged"])
def _(t: Tampered) -> None:
    t.page(0, symbol(BARS, covered(1, 0.12, 123)))
    t.refresh()


@case("some modules of a code are missing", ["symbol-damaged"])
def _(t: Tampered) -> None:
    t.page(0, symbol(SQUARE, lambda old: old.replace(re.findall(rb"\n[ \d]+re", old)[60], b"")))
    t.refresh()


@case("a code says something that nobody ordered", ["symbol-misread"])
def _(t: Tampered) -> None:
    t.page(0, symbol(SQUARE, redrawn("VC-0000000/Elsewhere")))
    t.refresh()


@case("the codes of two pieces are swapped", ["symbol-swapped"])
def _(t: Tampered) -> None:
    t.contents(lambda contents: swap_symbols(contents, 0, 4, SQUARE))
    t.refresh()


@case("the hidden codes of two pieces are swapped", ["symbol-swapped"])
def _(t: Tampered) -> None:
    t.contents(lambda contents: swap_symbols(contents, 1, 5, HIDDEN))
    t.refresh()


@case("a speck lies in a quiet zone", ["symbol-quiet"])
def _(t: Tampered) -> None:
    def speck(fragment: bytes) -> bytes:
        module, x, y = place(fragment)
        return fragment + b"%d %d 30 30 re f\n" % (x - 2 * module, y + 6 * module)

    t.page(0, symbol(SQUARE, speck))
    t.refresh()


@case("the hidden code is lightened to 30 %", ["symbol-weak"])
def _(t: Tampered) -> None:
    t.page(1, symbol(HIDDEN, lambda old: b"0.3 scn\n" + old))
    t.refresh()


@case("a code is printed in K and somewhat lighter", ["symbol-weak"])
def _(t: Tampered) -> None:
    t.page(0, symbol(SQUARE, lambda old: b"0 0 0 0.7 k\n" + old + b"0 0 0 1 k\n"))
    t.refresh()


@case("a code is drawn with a smaller X-dimension, and can be read", ["symbol-size"])
def _(t: Tampered) -> None:
    def smaller(fragment: bytes) -> bytes:
        module, x, y = place(fragment)
        end = fragment.index(b" cm")
        return b"q %d 0 0 %d %d %d" % (module - 2, module - 2, x + 25, y + 25) + fragment[end:]

    t.page(4, symbol(SQUARE, smaller))
    t.refresh()


@case("bars are drawn wider, into their quiet zones", ["symbol-size"])
def _(t: Tampered) -> None:
    def wider(fragment: bytes) -> bytes:
        old = re.match(rb"q (\d+) 0 0 (\d+) (\d+) (\d+) cm", fragment)
        assert old is not None
        module, height, x, y = (int(part) for part in old.groups())
        last = re.findall(rb"(\d+) 0 (\d+) 1 re", fragment)[-1]
        more = sum(map(int, last))  # a dot for each module
        return b"q %d 0 0 %d %d %d cm" % (module + 1, height, x - more // 2, y) + fragment[old.end() :]

    t.page(4, symbol(BARS, wider))
    t.refresh()


@case("bars are lower than they are laid out, in file and manifest", ["symbol-size"], [])
def _(t: Tampered) -> None:
    def lower(fragment: bytes) -> bytes:
        old = re.match(rb"q (\d+) 0 0 (\d+) (\d+) (\d+) cm", fragment)
        assert old is not None
        module, height, x, y = (int(part) for part in old.groups())
        return b"q %d 0 0 %d %d %d cm" % (module, height - 50, x, y + 50) + fragment[old.end() :]

    def told(lines: list[dict[str, Any]]) -> None:
        (bars,) = (one for one in lines[2]["symbols"] if one["name"] == "bars")
        bars["box"][1] += 3.0  # points: 50 dots of 1200 an inch

    t.page(4, symbol(BARS, lower))
    t.lines(told)
    t.refresh()


@case("report.json tells another X-dimension", ["symbol-size"])
def _(t: Tampered) -> None:
    t.report(lambda report: report["symbols"]["square"].update({"x_dots": 22}))


def _thinned(run: re.Match[bytes]) -> bytes:
    """A run of modules without 30 % of a module at either end; those at the code's own edges stay."""
    x, y, width = (int(part) for part in run.groups())
    if x == 0 or x + width == 25:
        return run[0]
    return b"%.1f %d %.1f 1 re" % (x + 0.3, y, width - 0.6)


def _leaning(run: re.Match[bytes]) -> bytes:
    """A run of modules of the same width, 30 % of a module to the left or right as its row is odd or even."""
    x, y, width = (int(part) for part in run.groups())
    if x == 0 or x + width == 25:
        return run[0]
    return b"%.1f %d %d 1 re" % (x + (0.3 if y % 2 else -0.3), y, width)


@case("the inner modules of a code are thin, and yet it can be read", ["symbol-size"])
def _(t: Tampered) -> None:
    def thin(fragment: bytes) -> bytes:
        return re.sub(rb" *(\d+) +(\d+) +(\d+) 1 re", _thinned, fragment)

    t.page(0, symbol(SQUARE, thin))
    t.refresh()


@case("the modules of a code lean to either side, and yet it can be read", ["symbol-grade"])
def _(t: Tampered) -> None:
    def lean(fragment: bytes) -> bytes:
        return re.sub(rb" *(\d+) +(\d+) +(\d+) 1 re", _leaning, fragment)

    t.page(0, symbol(SQUARE, lean))
    t.refresh()


@case("the hidden code is printed in magenta too", ["symbol-wrong-plate"])
def _(t: Tampered) -> None:
    def twice(content: bytes) -> bytes:
        found = list(SYMBOL.finditer(content))[HIDDEN]
        return content + b"q /Overprint gs 0 1 0 0 k\n" + found[0] + b"Q\n"

    t.page(1, twice)
    t.refresh()


# -- serials -----------------------------------------------------------------------------------------------------------


@case("a number is left out", ["serial-missing"], [])
def _(t: Tampered) -> None:
    t.page(0, text(NUMBER, lambda old: b""))
    t.refresh()


@case("one digit of a number is changed", ["serial-wrong"])
def _(t: Tampered) -> None:
    t.page(0, text(NUMBER, digit_changed))
    t.refresh()


def digit_changed(old: bytes) -> bytes:
    """The number's first zero (its glyph comes four times in a row) becomes what its last digit is."""
    run = re.search(rb"<([0-9A-F]+)>", old)
    assert run is not None
    glyphs = [run[1][i : i + 4] for i in range(0, len(run[1]), 4)]
    assert glyphs[3] == glyphs[4] == glyphs[5]
    glyphs[4] = glyphs[8]
    return old.replace(run[1], b"".join(glyphs))


@case(
    "two pieces have one number", ["serial-repeated", "serial-wrong", "text-missing", "text-extra"], ["serial-repeated"]
)
def _(t: Tampered) -> None:
    def shown(contents: list[bytes]) -> None:
        numbers = [re.findall(rb"<([0-9A-F]+)>", contents[page])[-1] for page in (0, 4)]
        assert len(numbers[0]) == len(numbers[1]) == 40
        contents[4] = contents[4].replace(numbers[1], numbers[0])
        contents[5] = contents[5].replace(numbers[1], numbers[0])
        for which in (STUB, SECRET):
            one, other = (list(re.finditer(rb"BT\n.*?ET\n", contents[page], re.DOTALL))[which][0] for page in (1, 5))
            old, new = serial_part(other), serial_part(one)
            contents[5] = contents[5].replace(old, new)

    t.contents(shown)
    t.lines(lambda lines: lines[2].update(serials=lines[0]["serials"]))
    t.refresh()


def serial_part(text_object: bytes) -> bytes:
    """The operand's end, from the hyphen's place on: where two serials of the run differ."""
    found = re.findall(rb"[0-9A-F]{8}(?:>-?[\d.]+<)?[0-9A-F]{4}>\]TJ", text_object)
    return bytes(found[-1])


@case("a check character is changed in the manifest", ["serial-check", "serial-wrong"], ["serial-wrong"])
def _(t: Tampered) -> None:
    def change(lines: list[dict[str, Any]]) -> None:
        serial = lines[0]["serials"]["voucher"]
        lines[0]["serials"]["voucher"] = serial[:-1] + ("X" if serial[-1] != "X" else "Y")

    t.lines(change)
    t.refresh()


# -- rows --------------------------------------------------------------------------------------------------------------


@case("a row was set aside with other values", ["row-missing"], [])
def _(t: Tampered) -> None:
    path = t.out / "set_aside.csv"
    path.write_bytes(path.read_bytes().replace(b"Nowhere", b"Elsewhere"))
    t.refresh()


@case("two pieces name one row", ["row-repeated", "row-missing"], [])
def _(t: Tampered) -> None:
    t.lines(lambda lines: lines[2].update(row=lines[1]["row"]))
    t.refresh()


@case(
    "two pieces name each other's rows",
    ["row-order", "row-missing", "text-missing", "text-extra", "payload-wrong", "symbol-misread", "image-wrong"],
    [],
)
def _(t: Tampered) -> None:
    def exchange(lines: list[dict[str, Any]]) -> None:
        lines[2]["row"], lines[3]["row"] = lines[3]["row"], lines[2]["row"]

    t.lines(exchange)
    t.refresh()


@case("two rows of the records are swapped", ["row-swapped"], [])
def _(t: Tampered) -> None:
    path = t.home / "list.csv"
    rows = path.read_text("utf-8").splitlines()
    rows[1], rows[3] = rows[3], rows[1]
    path.write_text("\n".join(rows) + "\n", "utf-8")
    t.refresh()


@case("two backs are swapped", ["side-swapped"])
def _(t: Tampered) -> None:
    def swap(contents: list[bytes]) -> None:
        contents[1], contents[5] = contents[5], contents[1]

    t.contents(swap)
    t.refresh()


@case("two fronts are swapped", ["side-swapped"])
def _(t: Tampered) -> None:
    def swap(contents: list[bytes]) -> None:
        contents[0], contents[6] = contents[6], contents[0]

    t.contents(swap)
    t.refresh()


@case("code and manifest agree on what the row does not give", ["payload-wrong", "symbol-misread"], [])
def _(t: Tampered) -> None:
    def change(lines: list[dict[str, Any]]) -> None:
        (square,) = (one for one in lines[0]["symbols"] if one["name"] == "square")
        square["data"] = "VC-0000000/Elsewhere"

    t.page(0, symbol(SQUARE, redrawn("VC-0000000/Elsewhere")))
    t.lines(change)
    t.refresh()


@case("a line of text is left out", ["text-missing"], [])
def _(t: Tampered) -> None:
    t.page(1, text(STUB, lambda old: b""))
    t.refresh()


@case("the microtext is another piece's", ["text-missing"], ["serial-wrong"])
def _(t: Tampered) -> None:
    def swap(contents: list[bytes]) -> None:
        one, other = (list(re.finditer(rb"BT\n.*?ET\n", contents[page], re.DOTALL))[FINE][0] for page in (1, 5))
        contents[1] = contents[1].replace(one, other)

    t.contents(swap)
    t.refresh()


@case("the microtext is set at half its size", ["type-broken"])
def _(t: Tampered) -> None:
    t.page(1, text(FINE, lambda part: re.sub(rb"1 0 0 1 (\d+ \d+) Tm", rb".5 0 0 .5 \1 Tm", part)))
    t.refresh()


@case("a letter is added to a line", ["text-extra"], [])
def _(t: Tampered) -> None:
    t.page(0, text(HELLO, replaced(b">]TJ", b"0027>]TJ", 1)))
    t.refresh()


@case("a line is printed grey", ["text-ink"], [])
def _(t: Tampered) -> None:
    t.page(1, text(STUB, lambda old: b"0 0 0 0.5 k\n" + old + b"0 0 0 1 k\n"))
    t.refresh()


@case("a piece has another piece's picture", ["image-wrong"], [])
def _(t: Tampered) -> None:
    t.page(
        0, lambda content: re.sub(rb"/P[12] Do", lambda old: b"/P1 Do" if old[0] == b"/P2 Do" else b"/P2 Do", content)
    )
    t.refresh()


@case("a front lacks its artwork", ["art-wrong"], [])
def _(t: Tampered) -> None:
    t.page(0, replaced(b"/S1 Do\n", b""))
    t.refresh()
