"""The chosen pieces of a proof: composed into a file that is thrown away, or found in a finished run, and looked at.

Not here: looking (`vdp.proof.look`), which pieces (`vdp.proof.choose`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from vdp.compose.piece import compose
from vdp.errors import CallerError
from vdp.proof.choose import Choice, Chosen
from vdp.proof.comments import Comment
from vdp.proof.document import Shown
from vdp.proof.look import Looker
from vdp.run.expected import Expected
from vdp.run.make import book_of, make
from vdp.run.screen import Screen
from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.manifest import PieceLine, read_pieces
from vdp.verify.tree import open_pdf

PDF, LINES = "pieces.pdf", "pieces.jsonl"


def look_at(
    expected: Expected, choice: Choice, comments: Sequence[Comment], *, secrets: bool, screen: Screen
) -> tuple[Shown, ...]:
    """Every chosen piece as it is shown, `comments` pinned on it by their number from 1.

    Raises CallerError when pages cannot be judged, or are another run's."""
    plan = expected.intake.plan
    composed = compose(plan, [chosen.record for chosen in choice.pieces])
    pins = tuple(enumerate(comments, 1))
    shown = []
    try:
        with _found(expected, choice.pieces) as (file, lines, places), pdf_faults(), open_pdf(file) as pdf:
            looker = Looker(pdf, plan, secrets=secrets)
            with screen.step("looking", len(composed), "pieces") as tell:
                for chosen, piece in zip(choice.pieces, composed, strict=True):
                    own = [pin for pin in pins if pin[1].piece == chosen.piece]
                    looked = looker.look(places[chosen.piece], lines[chosen.piece], piece, own)
                    shown.append(Shown(_title(chosen), chosen.reasons, tuple(_facts(expected, chosen)), looked))
                    tell(len(shown))
    except Unreadable as doubt:
        raise CallerError.one(str(expected.opened.job.path), f"its pages cannot be proofed: {doubt}") from doubt
    return tuple(shown)


_Found = tuple[Path, Mapping[int, PieceLine], Mapping[int, int]]


@contextmanager
def _found(expected: Expected, pieces: Sequence[Chosen]) -> Iterator[_Found]:
    """The file that holds the pieces, and by piece its line of the manifest and its 0-based place in the file."""
    if expected.folder is not None:
        yield _of_run(expected.folder, pieces)
        return
    with TemporaryDirectory(prefix="vdp-proof-") as name:
        folder, intake = Path(name), expected.intake
        records = [chosen.record for chosen in pieces]
        book = book_of(intake.plan, expected.opened.table, len(records), intake.numbers.firsts)
        header = expected.opened.table.header
        make(intake.plan, records, book, folder, workers=1, header=header, tell=lambda _: None)
        lines = {line.piece: line for line in read_pieces(folder / LINES)}
        yield folder / PDF, lines, {chosen.piece: place for place, chosen in enumerate(pieces)}


def _of_run(folder: Path, pieces: Sequence[Chosen]) -> _Found:
    """Raises CallerError where the run's own manifest has other serials than the job gives."""
    wanted = {chosen.piece: chosen for chosen in pieces}
    lines = {line.piece: line for line in read_pieces(folder / LINES) if line.piece in wanted}
    for piece, chosen in wanted.items():
        line = lines.get(piece)
        if line is None or dict(line.serials) != dict(chosen.record.serials) or line.row != chosen.record.row:
            message = f"piece {piece} is not the one that the job and its records give"
            raise CallerError.one(str(folder / LINES), message, "vdp verify says more")
    return folder / PDF, lines, {piece: piece - 1 for piece in wanted}


def _title(chosen: Chosen) -> str:
    serials = " · ".join(chosen.record.serials.values())
    return f"Piece {chosen.piece:,}{f' · {serials}' if serials else ''}"


def _facts(expected: Expected, chosen: Chosen) -> Iterator[str]:
    language = f", language {chosen.language}" if chosen.language else ""
    place = ""
    if expected.laid is not None:
        at = expected.laid.run.place_of(chosen.piece)
        place = f", on roll {at.roll}, frame {at.frame}, lane {at.lane}, place {at.along}"
    yield f"Row {chosen.record.row} of the list{language}{place}"
