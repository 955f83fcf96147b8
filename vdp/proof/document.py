"""The numbering proof as a PDF: cover, stack map, a page or more of pieces, and a box to sign.

Facts and pictures come in ready; nothing here opens a job or a finished file.  Same proof, same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reportlab import rl_config
from reportlab.lib.colors import CMYKColor
from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    Image,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Spacer,
    Table,
)

from vdp.audit.setting import BAD, GOOD, INK, QUIET, RULE
from vdp.job.faces import FaceFile
from vdp.proof.basis import SHORT
from vdp.proof.look import Looked, View
from vdp.proof.typeset import FONT, Typesetter

PAGE = landscape(A4)
_SIDE, _TOP, _FOOT = 15 * mm, 15 * mm, 17 * mm
WIDTH = PAGE[0] - 2 * _SIDE
HEIGHT = PAGE[1] - _TOP - _FOOT
#: Largest height of a picture of a piece, the least that it is shrunk to, and what a loupe measures.
_PICTURE, _LEAST, _LOUPE = 140 * mm, 60 * mm, 33 * mm
#: Facts that may be many are told up to here.
MOST = 40
_UNPADDED = tuple(
    (side, (0, 0), (-1, -1), 0) for side in ("LEFTPADDING", "RIGHTPADDING", "TOPPADDING", "BOTTOMPADDING")
)


@dataclass(frozen=True, slots=True)
class Shown:
    """A piece of the proof: `title` names it, `facts` are lines below that, `reasons` why it was chosen."""

    title: str
    reasons: tuple[str, ...]
    facts: tuple[str, ...]
    looked: Looked


@dataclass(frozen=True, slots=True)
class Proof:
    """Everything that the document says.

    `state` is one sentence on where its numbers come from; `facts` are label and words; `troubles` what speaks against
    printing; `notes` what could not be shown; `stacks` a picture (PNG) of how stacks are cut, empty for a job without a
    web; `command` what signs it.
    """

    title: str
    hash: str
    state: str
    facts: tuple[tuple[str, tuple[str, ...]], ...]
    troubles: tuple[str, ...]
    notes: tuple[str, ...]
    stacks: bytes
    shown: tuple[Shown, ...]
    command: str


def proof_pdf(proof: Proof, faces: Mapping[str, FaceFile]) -> bytes:
    """The document, set with a job's faces.  Same proof, same bytes."""
    rl_config.invariant = 1
    rl_config.useA85 = 0
    setter = Typesetter(faces)
    buffer = io.BytesIO()
    document = BaseDocTemplate(
        buffer, pagesize=PAGE, title=f"Numbering proof: {setter.shown(proof.title)}", author="vdp", invariant=1
    )
    frame = Frame(_SIDE, _FOOT, WIDTH, HEIGHT, 0, 0, 0, 0)

    def furniture(canvas: Canvas, _: BaseDocTemplate) -> None:
        canvas.setFont(FONT, 7.5)
        canvas.setFillColor(QUIET)
        canvas.drawString(_SIDE, 9 * mm, f"Numbering proof {proof.hash[:SHORT]} · specimens, of no value")
        canvas.drawRightString(PAGE[0] - _SIDE, 9 * mm, str(canvas.getPageNumber()))

    document.addPageTemplates(PageTemplate("page", [frame], onPage=furniture))
    document.build(list(_Story(setter).of(proof)))
    return buffer.getvalue()


def _style(size: float, colour: CMYKColor = INK, before: float = 0, after: float = 2) -> ParagraphStyle:
    return ParagraphStyle(
        f"p{size}{colour.hexval()}{before}{after}",
        fontName=FONT,
        fontSize=size,
        leading=size * 1.35,
        textColor=colour,
        spaceBefore=before,
        spaceAfter=after,
        splitLongWords=1,
    )


BODY, SMALL = _style(9), _style(8, QUIET)
HEAD, TITLE = _style(12.5, before=9, after=4), _style(21, after=3)
WARN = _style(9.5, BAD)


class _Story:
    def __init__(self, setter: Typesetter) -> None:
        self.set = setter.flow

    def of(self, proof: Proof) -> Sequence[Flowable]:
        story: list[Flowable] = [
            self.set(f"Numbering proof · {proof.title}", TITLE),
            self.set(proof.state, _style(10.5, after=6)),
            *(self.set(trouble, WARN) for trouble in proof.troubles),
            self._facts(proof.facts),
        ]
        if proof.notes:
            story.append(self.set("What this proof does not show", HEAD))
            story += [self.set(note, SMALL) for note in proof.notes[:MOST]]
        story.append(self._signing(proof))
        if proof.stacks:
            story += [PageBreak(), self.set("How the stacks are cut", HEAD), _fitted(proof.stacks, WIDTH, HEIGHT - 30)]
        story.append(PageBreak())
        for at, shown in enumerate(proof.shown):
            if at:
                story.append(CondPageBreak(HEIGHT / 2))
            story += self._piece(shown)
        return story

    def _facts(self, facts: Sequence[tuple[str, tuple[str, ...]]]) -> Table:
        rows = [[self.set(label, SMALL), [self.set(line, BODY) for line in lines]] for label, lines in facts]
        return _ruled(rows, (38 * mm, WIDTH - 38 * mm))

    def _signing(self, proof: Proof) -> Flowable:
        spaced = " ".join(proof.hash[at : at + 8] for at in range(0, len(proof.hash), 8))
        rows: list[list[Flowable]] = [
            [self.set("Sign-off", _style(12.5))],
            [self.set("Proof", SMALL), self.set(spaced, _style(10.5))],
            [self.set("Answer", SMALL), self._boxes("approved", "returned, with the comments beside it")],
            [self.set("Name, date, signature", SMALL), Spacer(1, 9 * mm)],
            [self.set("Or signed with a key", SMALL), self.set(proof.command, SMALL)],
        ]
        rows[0].append(
            self.set(
                "The proof stands for layout, artwork, pictures, recipient list, faces, series and first numbers as "
                "they are now: its number changes when any of them does.",
                SMALL,
            )
        )
        table = Table(rows, colWidths=[38 * mm, WIDTH - 38 * mm])
        table.setStyle([("BOX", (0, 0), (-1, -1), 1.1, INK), ("VALIGN", (0, 0), (-1, -1), "TOP")])
        table.hAlign = "LEFT"
        return KeepTogether([Spacer(1, 3 * mm), table])

    def _boxes(self, *answers: str) -> Table:
        """Answers, each after a box to tick."""
        row = [cell for answer in answers for cell in ("", self.set(answer, BODY))]
        table = Table([row], colWidths=[4.6 * mm, 90 * mm] * len(answers), rowHeights=[4.6 * mm])
        table.hAlign = "LEFT"
        table.setStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("TOPPADDING", (0, 0), (-1, -1), 0),
                *(("BOX", (2 * at, 0), (2 * at, 0), 0.8, INK) for at in range(len(answers))),
            ]
        )
        return table

    def _piece(self, shown: Shown) -> list[Flowable]:
        looked = shown.looked
        head: list[Flowable] = [
            self.set(shown.title, HEAD),
            self.set(f"Chosen for: {'; '.join(shown.reasons)}.", BODY),
            *(self.set(fact, SMALL) for fact in shown.facts),
            *(self.set(f"{found.code}: {found.message}", WARN) for found in looked.findings),
            Spacer(1, 2 * mm),
        ]
        room = HEIGHT - _height(head, WIDTH)
        if _tall(looked.views):
            return [KeepTogether([*head, self._beside(looked, room)])]
        codes, loupes = self._codes(looked, WIDTH), self._loupes(looked.loupes, WIDTH)
        room -= _height([*codes, *loupes], WIDTH) + 10 * mm
        return [KeepTogether([*head, self._views(looked.views, WIDTH, max(room, _LEAST)), *codes, *loupes])]

    def _beside(self, looked: Looked, room: float) -> Table:
        """Tall pictures, and to their right what codes say and small type."""
        right = WIDTH * 0.3
        column = [*self._codes(looked, right), *self._loupes(looked.loupes, right)]
        tall = max(min(room - 12 * mm, _PICTURE), _LEAST)
        views = self._views(looked.views, WIDTH - right - 4 * mm, tall)
        table = Table([[views, column]], colWidths=[WIDTH - right, right])
        table.hAlign = "LEFT"
        table.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), *_UNPADDED])
        return table

    def _views(self, views: Sequence[View], width: float, height: float) -> Table:
        each = width / max(3, len(views))
        row = [_framed(_fitted(view.data, each - 4 * mm, min(height, _PICTURE))) for view in views]
        table = Table([row, [self.set(view.label, SMALL) for view in views]], colWidths=[each] * len(views))
        table.hAlign = "LEFT"
        table.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)])
        return table

    def _codes(self, looked: Looked, width: float) -> list[Flowable]:
        """What each code says: a row a code, or where there is little room, a cell."""
        if not looked.codes:
            return [self.set("There is no code on it.", SMALL)]
        narrow = width < WIDTH / 2
        heads = ("what each code says when it is read",) if narrow else ("code", "kind, plate, side", "read", "it says")
        rows: list[list[Flowable | list[Flowable]]] = [[self.set(word, SMALL) for word in heads]]
        for code in looked.codes:
            said = "left out: it is hidden" if code.text is None else code.text or "(nothing)"
            told = ("as it must", _style(9, GOOD)) if code.good else ("NOT as it must", _style(9, BAD))
            kind = f"{code.symbology}, {code.plate}, {code.side}"
            if narrow:
                rows.append([[self.set(f"{code.name}: {kind}", SMALL), self.set(said, BODY), self.set(*told)]])
            else:
                rows.append([self.set(code.name, BODY), self.set(kind, BODY), self.set(*told), self.set(said, BODY)])
        return [_ruled(rows, (width,) if narrow else (38 * mm, 62 * mm, 30 * mm, width - 130 * mm))]

    def _loupes(self, loupes: Sequence[View], width: float) -> list[Flowable]:
        many = max(1, int(width / (_LOUPE + 4 * mm)))
        each = width / many
        found: list[Flowable] = []
        for first in range(0, len(loupes), many):
            row = loupes[first : first + many]
            table = Table(
                [[_fitted(view.data, _LOUPE, _LOUPE) for view in row], [self.set(view.label, SMALL) for view in row]],
                colWidths=[each] * len(row),
            )
            table.hAlign = "LEFT"
            table.setStyle([("LEFTPADDING", (0, 0), (-1, -1), 0), ("VALIGN", (0, 0), (-1, -1), "TOP")])
            found += [Spacer(1, 2 * mm), table]
        return found


def _tall(views: Sequence[View]) -> bool:
    width, height = ImageReader(io.BytesIO(views[0].data)).getSize()
    return bool(height > width)


def _height(parts: Sequence[Flowable], width: float) -> float:
    """What parts take below each other, with the space between them."""
    each = (part.wrap(width, HEIGHT)[1] + part.getSpaceBefore() + part.getSpaceAfter() for part in parts)
    return float(sum(each))


def _fitted(data: bytes, width: float, height: float) -> Image:
    pixels = ImageReader(io.BytesIO(data)).getSize()
    scale = min(width / pixels[0], height / pixels[1])
    image = Image(io.BytesIO(data), pixels[0] * scale, pixels[1] * scale)
    image.hAlign = "LEFT"
    return image


def _framed(image: Image) -> Table:
    """A picture with a thin line around it: white paper has no edge of its own."""
    table = Table([[image]], colWidths=[image.drawWidth], rowHeights=[image.drawHeight])
    table.hAlign = "LEFT"
    table.setStyle([("BOX", (0, 0), (-1, -1), 0.5, RULE), *_UNPADDED])
    return table


def _ruled(rows: Sequence[Sequence[Flowable | list[Flowable]]], widths: Sequence[float]) -> Table:
    table = Table([list(row) for row in rows], colWidths=list(widths))
    table.hAlign = "LEFT"
    table.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
        ]
    )
    return table
