"""sheets.pdf: the finished pieces on the web, roll by roll, after pieces.pdf is known good.

The pieces are not set again: their bytes are taken from pieces.pdf and held against pieces.jsonl.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from itertools import chain
from pathlib import Path
from typing import Any

from vdp.errors import CallerError
from vdp.job.load import Job
from vdp.marks import Mark
from vdp.pdf.book import Book
from vdp.pdf.carried import Pieces
from vdp.pdf.content import Renderer
from vdp.pdf.finished import PieceFile
from vdp.pdf.names import Names, name_resources
from vdp.pdf.sheets import SheetBook, SheetWriter, Side
from vdp.pdf.squeeze import Squeeze
from vdp.press.backs import back_turn
from vdp.press.framecode import FrameWriter, measure_code
from vdp.press.frames import BLANK, SPECIMEN, Roll, SheetPlan, rolls_of
from vdp.press.laying import Sides, around, lay_frame, sides_of
from vdp.press.printmarks import FrameMarks, MarksWanted, plan_marks
from vdp.press.standins import blank_marks
from vdp.run.specimen import Specimen
from vdp.run.web import Laid
from vdp.text.faces import Faces
from vdp.text.fit import Setter

Tell = Callable[[int], None]
#: Forms that stand where no finished piece does: key → marks of its front and of its back.
StandIns = Mapping[str, tuple[Sequence[Mark], Sequence[Mark]]]


def file_name(roll: int) -> str:
    """The sheets of one roll in a file of their own."""
    return f"sheets-{roll:03}.pdf"


def lay_sheets(
    folder: Path,
    book: Book,
    laid: Laid,
    job: Job,
    tell: Tell,
    reprint: int = 0,
    specimen: Specimen | None = None,
) -> dict[str, Any]:
    """Writes the sheets of a job; → what report.json says of them.  `reprint` is how often they were printed again,
    `specimen` what stands on leader, trailer and make-ready, where the job has any."""
    where = job.where("job", "web")
    stand_ins: dict[str, tuple[Sequence[Mark], Sequence[Mark]]] = {}
    told = None
    if specimen is not None:
        stand_ins[SPECIMEN] = (specimen.front, specimen.back)
        renderer = Renderer(book.dpi, _names(book))
        contents = b"".join(renderer.render_form(marks) for marks in stand_ins[SPECIMEN])
        told = specimen.as_json(book.dpi, hashlib.sha256(contents).hexdigest())
    write_sheets(
        folder,
        book,
        laid.plan,
        rolls_of(laid.run, reprint=reprint),
        apart=laid.apart,
        stand_ins=stand_ins,
        compression=job.model.compression,
        tell=tell,
        where=where,
    )
    section = sheet_section(laid.plan, book, rolls_of(laid.run), apart=laid.apart, where=where)
    parts = [{"press": part.press, "pieces": part.order.pieces} for part in laid.run.parts]
    return section | {"parts": parts, "specimen": told, "reprint": reprint}


def _names(book: Book) -> Names:
    return name_resources(book.faces, book.forms, book.art, sorted(book.pictures))


def write_sheets(
    folder: Path,
    book: Book,
    plan: SheetPlan,
    rolls: Sequence[Roll],
    *,
    apart: bool,
    stand_ins: StandIns,
    compression: Squeeze,
    tell: Tell,
    where: str = "web",
) -> list[str]:
    """Writes sheets.pdf, or with `apart` one file a roll; → their names.  `book` is that of pieces.pdf.

    Raises CallerError for marks that do not fit, a full disk, and pieces that are no longer those of pieces.jsonl.
    """
    setter = Setter(Faces(book.faces), book.dpi)
    size = measure_code(plan.code, book.dpi)
    wanted = MarksWanted(plan.marks, tuple(book.spots), size.box, plan.lines)
    marks = plan_marks(plan.web, wanted, plan.backs, where)
    writer = FrameWriter(plan.web, plan.backs, marks, size, setter, book.identity, book.title)
    page = (book.bleed, book.bleed, book.width - 2 * book.bleed, book.height - 2 * book.bleed)
    blank = blank_marks(page, setter, book.dpi)
    forms = {BLANK: (blank, blank), **stand_ins}
    done, names = 0, []
    groups = [[roll] for roll in rolls] if apart else [list(rolls)]
    with PieceFile(folder / "pieces.pdf", read_hashes(folder / "pieces.jsonl")) as pieces:
        for group in groups:
            name = file_name(group[0].number) if apart else "sheets.pdf"
            told = _sheet_book(book, plan, marks, sum(roll.count for roll in group), forms, name)
            sides = sides_of(plan.web, plan.backs)
            with SheetWriter(folder / name, told, Pieces(pieces, book.dpi), compression) as sheets:
                for roll in group:
                    for frame in roll.frames:
                        front, back = lay_frame(frame.pieces, sides, plan.web.turn, plan.heads, book.bleed)
                        own = writer.marks(frame.name, len(rolls), roll.count, frame.note)
                        sheets.add(Side(front, own[0]), Side(back, own[1]))
                        done += 1
                        tell(done)
                sheets.finish()
            names.append(name)
    return names


def _sheet_book(book: Book, plan: SheetPlan, marks: FrameMarks, frames: int, forms: StandIns, name: str) -> SheetBook:
    sides: Sides = sides_of(plan.web, plan.backs)
    trims = tuple(around([cell.trim for cell in cells]) for cells in sides)
    bleeds = tuple(around([cell.area for cell in cells]) for cells in sides)
    named = chain.from_iterable(
        ((f"{key}-front", front), (f"{key}-back", back)) for key, (front, back) in forms.items()
    )
    return SheetBook(
        dpi=book.dpi,
        width=plan.web.width,
        height=plan.web.frame,
        trim=(trims[0], trims[1]),
        bleed=(bleeds[0], bleeds[1]),
        piece=(book.width, book.height),
        frames=frames,
        faces=book.faces,
        names=_names(book),
        title=book.title,
        created=book.created,
        identity=hashlib.sha256(book.identity + name.encode()).digest(),
        creator=book.creator,
        static=(marks.front, marks.back),
        forms=dict(named),
    )


def read_hashes(path: Path) -> Callable[[int], bytes]:
    """The SHA-256 of every piece, 32 bytes each."""
    found = bytearray()
    with path.open("rb") as file:
        for number, line in enumerate(file, 1):
            try:
                found += bytes.fromhex(json.loads(line)["sha256"])
            except (ValueError, KeyError, TypeError) as error:
                where = f"{path.name}, line {number}"
                raise CallerError.one(where, f"is not a piece: {error}", "run the job again") from error
    held = bytes(found)
    return lambda index: held[32 * index : 32 * index + 32]


def sheet_section(
    plan: SheetPlan, book: Book, rolls: Sequence[Roll], *, apart: bool, where: str = "web"
) -> dict[str, Any]:
    """What report.json says of the sheets: everything that the verifier holds them against, in dots."""
    size = measure_code(plan.code, book.dpi)
    wanted = MarksWanted(plan.marks, tuple(book.spots), size.box, plan.lines)
    marks = plan_marks(plan.web, wanted, plan.backs, where)
    return {
        "size": [plan.web.width, plan.web.frame],
        "bleed": book.bleed,
        "turn": plan.web.turn,
        "behind": back_turn(plan.web.turn, plan.heads),
        "backs": plan.backs,
        "places": [
            {"lane": cell.lane, "along": cell.along, "trim": list(cell.trim), "area": list(cell.area)}
            for cell in plan.web.cells()
        ],
        "code": plan.code,
        "codes": [list(box) for box in marks.codes],
        "register": "register" in plan.marks,
        "slug": "slug" in plan.marks,
        "identity": book.identity.hex(),
        "rolls": [
            {
                "roll": roll.number,
                "file": file_name(roll.number) if apart else "sheets.pdf",
                "frames": roll.count,
                "leader": roll.leader,
                "trailer": roll.trailer,
                "ready": roll.ready,
                "press": roll.press,
            }
            for roll in rolls
        ],
    }
