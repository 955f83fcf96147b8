"""A finished PDF from elsewhere laid on the web: the same sheets as a job's, with pages for pieces."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vdp import __version__
from vdp.errors import CallerError
from vdp.job.faces import builtin_faces
from vdp.job.imposing import UNDATED, Imposing, ReadImposing
from vdp.pdf.foreign import ForeignPages
from vdp.pdf.names import name_resources
from vdp.pdf.sheets import SheetBook, SheetWriter, Side
from vdp.press.framecode import FrameWriter, measure_code
from vdp.press.frames import BLANK, SheetPlan, rolls_of
from vdp.press.laying import around, lay_frame, sides_of
from vdp.press.order import Order
from vdp.press.parts import whole
from vdp.press.printmarks import MarksWanted, plan_marks
from vdp.press.standins import blank_marks
from vdp.run.folder import sha256_of
from vdp.run.rolls import order_of
from vdp.run.sheets import file_name
from vdp.run.web import web_of
from vdp.text.faces import Faces
from vdp.text.fit import Setter
from vdp.units import dots

Tell = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Imposed:
    """What came of it."""

    pages: int
    pieces: int
    frames: int
    rolls: int
    blanks: int
    files: tuple[str, ...]
    folder: str

    def to_json(self) -> str:
        told: dict[str, Any] = {
            "ok": True,
            "pages": self.pages,
            "pieces": self.pieces,
            "frames": self.frames,
            "rolls": self.rolls,
            "blanks": self.blanks,
            "files": list(self.files),
            "findings": [],
            "warnings": [],
        }
        return json.dumps(told) + "\n"

    def as_text(self) -> str:
        rolls = f"{self.rolls} roll{'s' * (self.rolls != 1)}"
        return (
            f"{self.pages} pages are {self.pieces} pieces on {self.frames} frames of {rolls}, "
            f"{self.blanks} places blank\n  files    {', '.join(self.files)} in {self.folder}\n"
            "  nothing was verified: what these pages should say is not known here; look at the sheets\n"
        )


def impose(path: Path, layout: Path, out: Path, tell: Tell) -> Imposed:
    """Lays the pages of `path` as the file `layout` says; `out` is a folder.

    Raises CallerError for pages that cannot be laid, a web they do not fit, a full disk.
    """
    if path.resolve().parent == out.resolve() and path.name.startswith("sheets"):
        raise CallerError.one(str(path), "the sheets would be written over it", "choose another folder with --out")
    told = ReadImposing(layout)
    model, where = told.model, told.where("web")
    pages = ForeignPages(path, model.resolution)
    if pages.count % model.sides:
        message = f"it has {pages.count} pages, an odd number: fronts and backs take turns"
        raise CallerError.one(path.name, message, "add the missing page, or say sides: 1")
    faults = list(pages.bleed_faults(model.web.bleed))
    if faults:
        raise CallerError(faults[:20])
    web = web_of(model.web, pages.trim, max(pages.bleed, model.web.bleed), model.resolution, where)
    order = order_of(model.web, pages.count // model.sides, where)
    web_plan = SheetPlan(web, model.web.backs, model.web.heads, frozenset(model.web.marks), model.web.code)
    files = _write(path, out, model, pages, web_plan, order, where, tell)
    return Imposed(pages.count, order.pieces, order.frames, order.rolls, order.blanks, tuple(files), str(out))


def _write(
    path: Path,
    out: Path,
    model: Imposing,
    pages: ForeignPages,
    plan: SheetPlan,
    order: Order,
    where: str,
    tell: Tell,
) -> list[str]:
    dpi, faces, web = model.resolution, builtin_faces(), plan.web
    setter = Setter(Faces(faces), dpi)
    size = measure_code(plan.code, dpi)
    marks = plan_marks(web, MarksWanted(plan.marks, pages.spots, size.box), plan.backs, where)
    identity = hashlib.sha256(f"{__version__} {sha256_of(path)} {model.model_dump_json()}".encode()).digest()
    writer = FrameWriter(web, plan.backs, marks, size, setter, identity, path.stem)
    bleed = pages.piece_bleed()
    trim = (bleed, bleed, dots(pages.trim[0], dpi), dots(pages.trim[1], dpi))
    blank = blank_marks(trim, setter, dpi)
    sides = sides_of(web, plan.backs)
    rolls, names, done = rolls_of(whole(order)), [], 0
    for group in [[roll] for roll in rolls] if model.web.apart else [rolls]:
        name = file_name(group[0].number) if model.web.apart else "sheets.pdf"
        book = SheetBook(
            dpi=dpi,
            width=web.width,
            height=web.frame,
            trim=(around([cell.trim for cell in sides.front]), around([cell.trim for cell in sides.back])),
            bleed=(around([cell.area for cell in sides.front]), around([cell.area for cell in sides.back])),
            piece=(trim[2] + 2 * bleed, trim[3] + 2 * bleed),
            frames=sum(roll.count for roll in group),
            faces=faces,
            names=name_resources(faces, (), (), ()),
            title=path.stem,
            created=UNDATED,
            identity=hashlib.sha256(identity + name.encode()).digest(),
            creator=f"vdp {__version__}",
            static=(marks.front, marks.back),
            forms={f"{BLANK}-front": blank, f"{BLANK}-back": blank},
        )
        with SheetWriter(out / name, book, pages.anew()) as sheets:
            for roll in group:
                for frame in roll.frames:
                    front, back = lay_frame(frame.pieces, sides, web.turn, plan.heads, bleed)
                    if model.sides == 1:
                        front = [
                            mark._replace(what=mark.what // 2) if isinstance(mark.what, int) else mark for mark in front
                        ]
                        back = []
                    own = writer.marks(frame.name, len(rolls), roll.count)
                    sheets.add(Side(front, own[0]), Side(back, own[1]))
                    done += 1
                    tell(done)
            sheets.finish()
        names.append(name)
    return names
