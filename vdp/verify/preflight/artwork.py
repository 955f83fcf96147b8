"""A file of artwork, judged: the order in which it is done, and pictures of the places.

Not here: the rules (`rules`, `document`), toner (`vdp.verify.coverage`).
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from pathlib import Path

import pikepdf
import pypdfium2
from PIL import Image, ImageDraw

from vdp.verify.coverage import leaf_tints, measure
from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.inks import PROCESS
from vdp.verify.preflight.concern import Concern, Wanted
from vdp.verify.preflight.document import judge_file, judge_page
from vdp.verify.preflight.painting import paintings
from vdp.verify.preflight.rules import judge_fonts, judge_paintings
from vdp.verify.state import Area
from vdp.verify.tree import open_pdf, pages

#: Resolution at which toner is summed, in dpi.
TONER_DPI = 150
#: Side of a picture of a place, in pixels, and how much of the page it shows around the place, in points.
SHOWN, AROUND = 360, 30.0


def judge_artwork(path: Path, wanted: Iterable[tuple[int, Wanted]]) -> list[Concern]:
    """Everything wrong with the pages that a job uses: (1-based page, what it must suit).

    Never raises for a bad file.
    """
    try:
        with pdf_faults():
            return list(_judge(path, wanted))
    except Unreadable as doubt:
        return [Concern("art-unreadable", 0, None, str(doubt))]


def _judge(path: Path, wanted: Iterable[tuple[int, Wanted]]) -> Iterator[Concern]:
    try:
        pdf = pikepdf.open(path, suppress_warnings=True)
    except OSError as error:
        yield Concern("art-unreadable", 0, None, f"it cannot be opened: {error.strerror}")
        return
    except pikepdf.PasswordError:
        yield Concern("art-unreadable", 0, None, "it is encrypted: save it without a password or restrictions")
        return
    with pdf:
        if pdf.is_encrypted:
            yield Concern("art-unreadable", 0, None, "it is encrypted: save it without a password or restrictions")
            return
        count = len(pdf.pages)
        yield from judge_file(pdf, [str(trouble) for trouble in pdf.get_warnings()])
        for number, suits in wanted:
            if not 1 <= number <= count:
                yield Concern("art-unreadable", number, None, f"there is no page {number}: the file has {count}")
                continue
            yield from _page(path, pdf.pages[number - 1], number, suits)


def _page(path: Path, page: pikepdf.Page, number: int, suits: Wanted) -> Iterator[Concern]:
    try:
        with pdf_faults():
            found, fonts = paintings(page)
            told = [*judge_page(page, number, suits), *judge_fonts(fonts, number)]
            told += judge_paintings(found, suits, number)
    except Unreadable as doubt:
        yield Concern("art-unreadable", number, None, str(doubt))
        return
    yield from told
    converted = any(concern.code == "art-colour-converted" for concern in told)
    yield from _toner(path, number, suits, converted=converted)


def _toner(path: Path, number: int, suits: Wanted, *, converted: bool) -> Iterator[Concern]:
    """What lies on the page, read as the verifier reads the finished one.  Pictures that are still to be `converted`
    cannot be read yet, and annotations do not become part of a piece."""
    try:
        with pdf_faults(), open_pdf(path) as pdf:
            (leaf,) = pages(pdf, number - 1, number)
            if "/Annots" in leaf.page:
                del leaf.page.Annots
            tints, trim = leaf_tints(pdf, leaf, suits.spots, TONER_DPI)
            covered = measure(tints, trim, PROCESS, TONER_DPI)
    except Unreadable as doubt:
        if not converted:
            said = f"{doubt}: no check could judge the finished pages; flatten the artwork, or export it without that"
            yield Concern("art-not-judged", number, None, said)
        return
    if covered.most > suits.limits.coverage:
        said = f"{covered.most:.0f} % of toner on one place; the job allows {suits.limits.coverage:.0f} %"
        yield Concern("art-coverage", number, covered.where, said)


def picture_of(path: Path, page: int, area: Area | None) -> bytes | None:
    """PNG of a place with its surroundings, framed; of the whole page for None; None for what cannot be drawn."""
    try:
        with pypdfium2.PdfDocument(path) as document:
            sheet = document[page - 1]
            left, bottom, right, top = sheet.get_mediabox()
            shown = area if area is not None else (left, bottom, right, top)
            margin = AROUND if area is not None else 0.0
            box = (
                max(left, shown[0] - margin),
                max(bottom, shown[1] - margin),
                min(right, shown[2] + margin),
                min(top, shown[3] + margin),
            )
            if box[2] - box[0] < 1 or box[3] - box[1] < 1:
                return None
            scale = SHOWN / max(box[2] - box[0], box[3] - box[1])
            crop = (box[0] - left, box[1] - bottom, right - box[2], top - box[3])
            picture: Image.Image = sheet.render(scale=scale, crop=crop, rotation=-sheet.get_rotation() % 360).to_pil()
            sheet.close()
    except (pypdfium2.PdfiumError, ValueError, OSError):
        return None
    picture = picture.convert("RGB")
    if area is not None:
        frame = [
            (shown[0] - box[0]) * scale - 3,
            (box[3] - shown[3]) * scale - 3,
            (shown[2] - box[0]) * scale + 3,
            (box[3] - shown[1]) * scale + 3,
        ]
        ImageDraw.Draw(picture).rectangle(frame, outline=(214, 0, 110), width=2)
    out = io.BytesIO()
    picture.save(out, "PNG", optimize=False)
    return out.getvalue()
