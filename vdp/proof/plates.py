"""Pictures of finished pieces for people: the plates alone, all together, under a UV lamp, and the toner as heat.

Lives here: which pictures, their names, and the table of areas beside them.  Not here: pixels (`vdp.verify.views`).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from PIL import Image

from vdp.errors import CallerError
from vdp.verify.coverage import Coverage, leaf_tints, measure, total_of
from vdp.verify.doubt import Unreadable, pdf_faults
from vdp.verify.inks import PROCESS
from vdp.verify.manifest import read_report
from vdp.verify.tree import open_pdf, page_count, pages
from vdp.verify.views import Lamp, Pixels, heat, plate_alone, printed, under_lamp

SIDES = ("front", "back")
TABLE = "toner.csv"


class Page(NamedTuple):
    """A page that was drawn: its piece and side, its coverage, and the pictures made of it."""

    piece: int
    side: str
    coverage: Coverage
    files: tuple[str, ...]


def draw_plates(
    run: Path,
    pieces: Sequence[int],
    out: Path,
    *,
    lamp: Lamp,
    limit: float,
    counted: Sequence[str] = PROCESS,
    dpi: float = 150,
    tell: Callable[[int], None] | None = None,
) -> list[Page]:
    """Draws the pieces (1-based) of a run folder into `out`; returns what was drawn, in order.

    Raises CallerError for a folder without a run, a piece that is not in it, or a page that cannot be judged.
    """
    if not (run / "report.json").is_file():
        raise CallerError.one(str(run), "is not a run folder: it has no report.json", "name the folder of a run")
    try:
        spots = read_report(run / "report.json").spots
        drawn = []
        with pdf_faults(), open_pdf(run / "pieces.pdf") as pdf:
            count = page_count(pdf) // 2
            strangers = [piece for piece in pieces if not 1 <= piece <= count]
            if strangers:
                raise CallerError.one(
                    "--piece", f"there is no piece {strangers[0]}: the run has {count}", "name another"
                )
            out.mkdir(parents=True, exist_ok=True)
            for piece in pieces:
                for side, leaf in enumerate(pages(pdf, 2 * piece - 2, 2 * piece)):
                    tints, trim = leaf_tints(pdf, leaf, spots, dpi)
                    views: dict[str, Pixels] = {
                        "printed": printed(tints),
                        "uv": under_lamp(tints, lamp),
                        "toner": heat(total_of(tints, counted), limit),
                        **{plate: plate_alone(tint) for plate, tint in tints.items()},
                    }
                    names = tuple(f"piece-{piece:06d}-{SIDES[side]}-{name.replace(' ', '_')}.png" for name in views)
                    for name, pixels in zip(names, views.values(), strict=True):
                        Image.fromarray(pixels).save(out / name, "PNG", dpi=(dpi, dpi))
                    drawn.append(Page(piece, SIDES[side], measure(tints, trim, counted, dpi), names))
                    if tell is not None:
                        tell(len(drawn))
            (out / TABLE).write_text(_table(drawn), encoding="utf-8", newline="")
    except Unreadable as doubt:
        raise CallerError.one(str(run), f"its pages cannot be drawn: {doubt}", "vdp verify says more") from doubt
    except OSError as error:
        where = str(error.filename or out)
        message = f"cannot be used: {error.strerror}"
        raise CallerError.one(where, message, "name a folder for them with --pictures") from error
    return drawn


def _table(drawn: Sequence[Page]) -> str:
    """Areas in percent of the trim, one line a page."""
    out = io.StringIO()
    writer = csv.writer(out)
    plates = list(drawn[0].coverage.areas) if drawn else []
    writer.writerow(["piece", "side", *plates, "total mean", "total most", "at x mm", "at y mm"])
    for page in drawn:
        covered = page.coverage
        x, y = (25.4 / 72 * (covered.where[axis] + covered.where[axis + 2]) / 2 for axis in (0, 1))
        areas = [f"{area:.3f}" for area in covered.areas.values()]
        place = [f"{covered.mean:.2f}", f"{covered.most:.1f}", f"{x:.1f}", f"{y:.1f}"]
        writer.writerow([page.piece, page.side, *areas, *place])
    return out.getvalue()
