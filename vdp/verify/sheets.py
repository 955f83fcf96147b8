"""The sheet files of a run: every place holds the piece that pieces.jsonl puts there, every frame is there once.

Lives here: the order of work over the files, and what only the whole run shows.  Not here: a frame (`frames`).
"""

from __future__ import annotations

import json
from array import array
from collections.abc import Callable, Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import NamedTuple

import pikepdf

from vdp.errors import Finding
from vdp.verify.doubt import Unreadable
from vdp.verify.frames import Due, FrameOutcome, FrameSetup, FrameTask
from vdp.verify.manifest import PUBLIC, PieceLine, piece_of, read_pieces
from vdp.verify.second import second_look
from vdp.verify.sheetplan import FrameAt, SheetPlan
from vdp.verify.standins import BLANK, SPECIMEN, said
from vdp.verify.tree import open_pdf, page_count
from vdp.verify.verdict import CheckDone
from vdp.verify.workers import Elsewhere, outcomes

#: Frames examined together: their plate copies are one file in memory.
BATCH = 8
#: Findings of one code that are told in full.
MOST = 200

Progress = Callable[[int], None]


class SheetVerdict(NamedTuple):
    """`findings`, and what was checked."""

    findings: list[Finding]
    checks: tuple[CheckDone, ...]


class Places:
    """Which piece pieces.jsonl puts in which place, and the lines of pieces, found again by theirs."""

    def __init__(self, manifest: Path, plan: SheetPlan) -> None:
        """Reads the manifest once.  Raises Unreadable."""
        self.manifest, self.plan, self.findings = manifest, plan, list[Finding]()
        self._cells = {(cell.lane, cell.along): at for at, cell in enumerate(plan.cells)}
        self._starts: dict[int, int] = {}
        frames = 0
        for roll in plan.rolls:
            self._starts[roll.roll] = frames
            frames += roll.frames
        self._frames = {roll.roll: roll.frames for roll in plan.rolls}
        self.held = array("L", bytes(array("L").itemsize * frames * len(plan.cells)))
        live = _Live() if any(roll.leader or roll.trailer for roll in plan.rolls) else None
        for line, piece in enumerate(read_pieces(manifest), 1):
            self._take(piece, line)
            if live is not None:
                live.take(piece)
        #: What live pieces say, where there are specimens that must not.
        self.live = live.hashes() if live is not None else ()
        self._offsets = _line_offsets(manifest)
        self._file = manifest.open("rb")

    def _take(self, piece: PieceLine, line: int) -> None:
        where = f"piece {piece.piece}"
        if piece.place is None:
            self.findings.append(Finding("place-missing", where, "pieces.jsonl gives it no place on the sheets"))
            return
        roll, frame, lane, along = piece.place
        cell = self._cells.get((lane, along))
        if cell is None or not 1 <= frame <= self._frames.get(roll, 0):
            message = f"pieces.jsonl puts it in roll {roll}, frame {frame}, lane {lane}, place {along}: there is none"
            self.findings.append(Finding("place-missing", where, message))
            return
        at = (self._starts[roll] + frame - 1) * len(self.plan.cells) + cell
        if self.held[at]:
            message = f"roll {roll}, frame {frame}, lane {lane}, place {along} is that of line {self.held[at]} already"
            self.findings.append(Finding("place-repeated", where, message))
            return
        self.held[at] = line

    def due(self, at: FrameAt) -> tuple[Due, ...]:
        """What must lie in each place of a frame."""
        start = (self._starts[at.roll.roll] + at.frame - 1) * len(self.plan.cells)
        numbers = self.held[start : start + len(self.plan.cells)]
        return tuple(self._line(n) if n else BLANK if self.plan.live(at) else SPECIMEN for n in numbers)

    def _line(self, line: int) -> PieceLine:
        self._file.seek(self._offsets[line - 1])
        return piece_of(json.loads(self._file.readline()), told=self.manifest.name != PUBLIC)

    def close(self) -> None:
        self._file.close()


class _Live:
    """What one piece alone says: its serials, payloads that hold one, and payloads that no other piece has.  What many
    say, such as the address of a house's web site, tells no piece from a specimen."""

    def __init__(self) -> None:
        self.own: set[int] = set()
        self.once: set[int] = set()
        self.often: set[int] = set()
        self.pieces = 0

    def take(self, piece: PieceLine) -> None:
        self.pieces += 1
        self.own.update(map(said, piece.serials.values()))
        for data in {symbol.data for symbol in piece.symbols if symbol.told}:
            if any(serial in data for serial in piece.serials.values()):
                self.own.add(said(data))
            else:
                (self.often if said(data) in self.once else self.once).add(said(data))

    def hashes(self) -> tuple[int, ...]:
        alone = self.once - self.often if self.pieces > 1 else set[int]()
        return tuple(self.own | alone)


def _line_offsets(path: Path) -> array[int]:
    found, at = array("Q"), 0
    with path.open("rb") as file:
        for line in file:
            found.append(at)
            at += len(line)
    return found


def verify_sheets(
    manifest: Path,
    plan: SheetPlan,
    spots: tuple[str, ...],
    patterns: Mapping[str, str],
    seed: int,
    progress: Progress,
    workers: int = 1,
    elsewhere: Elsewhere | None = None,
) -> SheetVerdict:
    """Judges the sheet files beside a list of pieces.  `patterns` are what serials look like; `progress` counts frames.

    Raises Unreadable when the list cannot be read.
    """
    places = Places(manifest, plan)
    try:
        judge = _Sheets(manifest.parent, plan, spots, patterns, seed, places)
        for file, due in plan.files().items():
            judge.file(file, due, progress, workers, elsewhere)
        return judge.verdict()
    finally:
        places.close()


class _Sheets:
    """One judgement in the making."""

    def __init__(
        self,
        folder: Path,
        plan: SheetPlan,
        spots: tuple[str, ...],
        patterns: Mapping[str, str],
        seed: int,
        places: Places,
    ) -> None:
        self.folder, self.plan, self.spots, self.seed, self.places = folder, plan, spots, seed, places
        self.patterns = patterns
        self.findings = list(places.findings)
        self.total = FrameOutcome([], 0, 0, 0, 0, 0, 0)

    def file(self, name: str, due: int, progress: Progress, workers: int, elsewhere: Elsewhere | None) -> None:
        path = self.folder / name
        try:
            pdf = open_pdf(path)
        except (pikepdf.PdfError, OSError) as error:
            self.findings.append(Finding("file-unreadable", name, str(error)))
            return
        try:
            with pdf:
                count = page_count(pdf)
            self._counted(name, path, count, due)
            setup = FrameSetup(path, self.plan, self.spots, self.patterns, self.seed, self.places.live)
            tasks = self._tasks(name, min(count, due))
            for outcome in outcomes(setup, setup.examiner(None), tasks, workers, elsewhere):
                self._take(outcome)
                progress(self.total.frames)
        except Unreadable as doubt:
            self.findings.append(Finding("file-unreadable", name, str(doubt)))

    def _counted(self, name: str, path: Path, count: int, due: int) -> None:
        if count != due:
            code = "frame-missing" if count < due else "frame-extra"
            message = f"it has {count} pages; {due // 2} frames need {due}"
            self.findings.append(Finding(code, name, message))
        try:
            seen, _ = second_look(path, count, self.seed)
        except Unreadable as doubt:
            self.findings.append(Finding("reader-differs", name, str(doubt)))
            return
        if seen != count:
            message = f"the second reader counts {seen} pages, qpdf {count}"
            self.findings.append(Finding("reader-differs", name, message))

    def _tasks(self, name: str, count: int) -> Iterator[FrameTask]:
        frames = (at for at in self.plan.frames(name) if at.page + 1 < count)
        while batch := tuple(islice(frames, BATCH)):
            yield FrameTask(batch, tuple(self.places.due(at) for at in batch))

    def _take(self, outcome: FrameOutcome) -> None:
        self.findings += outcome.found
        self.total = FrameOutcome([], *(a + b for a, b in zip(self.total[1:], outcome[1:], strict=True)))

    def verdict(self) -> SheetVerdict:
        total = self.total
        codes = {finding.code for finding in self.findings}

        def line(what: str, how: str, count: str, starts: tuple[str, ...]) -> CheckDone:
            return CheckDone(what, how, count, not any(code.startswith(starts) for code in codes))

        checks = (
            line(
                "Places on the sheets",
                "each piece's bytes by their hash in its own place, front and back; blanks say so and nothing else",
                f"{total.places} places, {total.blanks} blanks on {total.frames} frames",
                ("place-", "back-", "frame-", "blank-", "specimen-"),
            ),
            line(
                "Symbols on the sheets",
                "each rendered again on its own plate where it lies on the sheet, decoded, compared",
                f"{total.decoded} of {total.expected}",
                ("symbol-",),
            ),
            line(
                "Marks on the sheets",
                "front and back coincide within a dot; nothing inside a bleed; frame codes decoded",
                f"{total.codes} frame codes",
                ("mark-", "slug-", "frame-code"),
            ),
        )
        return SheetVerdict(_shortened(self.findings), checks)


def _shortened(findings: list[Finding]) -> list[Finding]:
    """Of each code the first `MOST`, and how many more there are."""
    counts: dict[str, int] = {}
    kept = []
    for finding in findings:
        counts[finding.code] = counts.get(finding.code, 0) + 1
        if counts[finding.code] <= MOST:
            kept.append(finding)
    more = [(code, count - MOST) for code, count in counts.items() if count > MOST]
    return kept + [Finding(code, "the sheets", f"and {count} more of this kind") for code, count in more]
