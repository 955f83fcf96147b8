"""What a verification checked and how, in words for the report.

Not here: the checks.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from vdp.errors import Finding
from vdp.verify.codes import CODES
from vdp.verify.conformance.codes import CONFORMANCE
from vdp.verify.conformance.judge import MOST_PAGES
from vdp.verify.conformance.opened import ALL_PAGES, SAMPLE
from vdp.verify.grade.scale import PREDICTION
from vdp.verify.grade.told import Grades
from vdp.verify.outcome import Outcome
from vdp.verify.verdict import CheckDone


def checks_done(
    total: Outcome,
    pieces: int,
    findings: Sequence[Finding],
    *,
    with_rows: bool,
    standard: str = "",
    grades: Grades | None = None,
) -> tuple[CheckDone, ...]:
    """One line a kind of check; `good` when no finding of its codes was made."""
    codes = {finding.code for finding in findings}

    def line(what: str, how: str, count: str, starts: Iterable[str]) -> CheckDone:
        return CheckDone(what, how, count, not any(code.startswith(tuple(starts)) for code in codes))

    done = [
        line(
            "Files whole",
            "SHA-256 of every file against report.json; records = pieces + set aside",
            f"{pieces} pieces",
            ("file-", "count-", "content-"),
        ),
        line(
            "Pages",
            "two a piece, none twice; boxes; contents hashed; a second reader agrees (pypdf on a sample, PDFium in "
            "large files)",
            f"{total.pages} pages",
            ("page-", "reader-", "cannot-judge"),
        ),
        line(
            "Plates",
            "content streams read operator by operator: spot marks overprint, in their layer, by one Separation, "
            "and nothing knocks them out; black type is black alone",
            f"{total.pages} pages",
            ("plate-", "separation-", "clear-", "black-"),
        ),
        line(
            "Symbols",
            "each rendered on its own plate, cropped at random fractions of a pixel, decoded by zxing-cpp, compared; "
            "not to be read on another plate; ink, quiet zone, error correction unused; X-dimension, reduction and "
            "the posts' sizes measured; text for people says the same",
            f"{total.decoded} of {total.expected}",
            [code for code in CODES if code.startswith(("symbol-", "human-")) and code != "symbol-grade"],
        ),
        line(
            "Small type",
            "every glyph under 67 dots of type body drawn from its plate at 8 pixels a dot, once for each size and "
            "quarter of a dot: its dots keep parts and holes",
            f"{len(total.glyphs):,} looked at",
            ("type-",),
        ),
        line(
            "Serials",
            "read back from the pages through ToUnicode; equal to the manifest's, each once",
            f"{total.serials} read back",
            ("serial-",),
        ),
    ]
    if total.lines:
        done.append(
            line(
                "Fine lines",
                "lines, frames and areas under 12 dots of the pieces that are graded, cut in five places on their "
                "plates: as thick as they are laid out",
                f"{total.lines:,} looked at",
                ("line-",),
            )
        )
    if grades is not None and grades.worst is not None:
        press = grades.rules.press
        done.append(
            line(
                "Simulated print",
                f"growth {press.growth:g}, raggedness {press.noise:g}, blur {press.blur:g} dots (press: "
                f"{grades.rules.source}); decoded and graded after ISO/IEC 15416 and 15415: {PREDICTION}",
                f"{grades.sampled} of {pieces} pieces, {grades.worst.grade:.1f} at the lowest",
                ("symbol-grade",),
            )
        )
    if standard:
        done.append(
            line(
                standard,
                "rules of the standard one by one, read by pypdf: metadata, intent, boxes, fonts, colour spaces, "
                f"document parts (every page up to {ALL_PAGES:,} pages, beyond that the ends and a sample of {SAMPLE})",
                f"{len(CONFORMANCE)} rules" if 2 * pieces <= MOST_PAGES else f"not asked beyond {MOST_PAGES:,} pages",
                ("standard-", "parts-"),
            )
        )
    if with_rows:
        done.append(
            line(
                "Each piece against its own row",
                "payloads and serials worked out again; words shaped again by HarfBuzz and found by glyph ids on the "
                "right page in the right ink; pictures by their samples; artwork alike on all pages",
                f"{pieces} rows",
                ("row-", "side-", "payload-", "text-", "image-", "art-"),
            )
        )
    return tuple(done)
