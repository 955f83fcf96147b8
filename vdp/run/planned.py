"""What `vdp plan` came to: as one JSON object, and as text for people.

Not here: planning (`plan`), the files it draws (`drawn`).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field
from itertools import groupby, islice
from typing import Any, NamedTuple

from vdp.errors import Finding
from vdp.press.order import Place
from vdp.press.parts import Part, Run
from vdp.press.stock import Usage, feet, metres
from vdp.press.winding import Winding
from vdp.units import mm

HEAD = ("roll", "lane", "first", "first_serial", "last", "last_serial", "pieces", "blanks")
STACKS = (
    *("roll", "block", "stack", "lane", "along", "first", "first_serial", "last", "last_serial", "pieces", "blanks"),
)
#: Stacks that are listed as text; stacks.csv has them all.
MOST_STACKS = 24
#: Rolls and lanes that are listed as text; plan.csv has them all.
MOST_LISTED = 60
#: Rolls whose good frames are told as text.
MOST_ROLLS = 6


class PartTold(NamedTuple):
    """A press's part: what it uses, None where paper or press are not stated, how its rolls come off, and how many
    pages (sides of pieces) it prints a minute, None where its speed is not stated."""

    part: Part
    usage: Usage | None
    winding: Winding
    pages: float | None


@dataclass(frozen=True, slots=True)
class PlateArea:
    """A plate over all pieces: mean percent of the trim, square metres on both sides together, grams of toner."""

    percent: float
    square_metres: float
    grams: float


@dataclass(slots=True)
class Planned:
    """What was planned.  `frame` in points; `found`: what was asked for by serial or place; `serials` of pieces that
    are told or drawn; `measured` says what `plates` come from; `refused` are rows and why they cannot be set."""

    title: str
    run: Run
    frame: float
    parts: list[PartTold]
    serials: dict[int, str]
    found: list[tuple[str, Place, str]]
    plates: Mapping[str, PlateArea] = field(default_factory=dict)
    measured: str = ""
    refused: list[tuple[int, str]] = field(default_factory=list)
    warnings: list[Finding] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    folder: str = ""

    def spans(self) -> list[list[str]]:
        """Roll, lane, least and greatest piece with their serials, pieces, blanks."""
        rows = []
        for span in self.run.spans():
            first, last = self.serials.get(span.first, ""), self.serials.get(span.last, "")
            numbers = (span.roll, span.lane, span.first, first, span.last, last, span.pieces, span.blanks)
            rows.append([str(value) for value in numbers])
        return rows

    def stacks(self) -> Iterator[list[str]]:
        """Every stack as it is cut, in the order in which stacks are put together: roll, block, its number in the
        block, lane, place along (0 where it holds all), ends with their serials, pieces, blanks at its foot."""
        for roll in range(1, self.run.rolls + 1):
            for _, block in groupby(self.run.stacks(roll), key=lambda stack: stack.block):
                for number, stack in enumerate(block, 1):
                    first, last = (stack.pieces[0], stack.pieces[-1]) if stack.pieces else (0, 0)
                    ends = (first, self.serials.get(first, ""), last, self.serials.get(last, ""))
                    where = (roll, stack.block, number, stack.lane, stack.along)
                    yield [str(value) for value in (*where, *ends, len(stack.pieces), stack.blanks)]

    def paper(self) -> dict[str, float] | None:
        """Paper of all presses together, minutes until the last ends; None where it is not known of each."""
        used = [told.usage for told in self.parts if told.usage is not None]
        if len(used) < len(self.parts):
            return None
        total: dict[str, float] = {}
        for name in ("frames", "rolls", "length", "delivered", "splices", "kilograms", "square_metres"):
            total[name] = sum(getattr(one, name) for one in used)
        return total | {"minutes": max(one.minutes for one in used)}

    def to_json(self) -> str:
        """One object: counts, web, paper, presses, plates, spans, what was asked for, files."""
        run = self.run
        told: dict[str, Any] = {
            "ok": True,
            "pieces": run.pieces,
            "set_aside": len(self.refused),
            "blanks": run.blanks,
            "frames": run.frames,
            "specimen_frames": run.specimens,
            "rolls": run.rolls,
            "blocks": run.blocks,
            "frame_mm": round(mm(self.frame), 4),
            "metres": round(metres(self.frame * run.frames), 3),
            "paper": self.paper(),
            "presses": [self._press(part) for part in self.parts],
            "plates": {name: asdict(area) for name, area in self.plates.items()},
            "plates_from": self.measured,
            "spans": [dict(zip(HEAD, row, strict=True)) for row in self.spans()],
            "stacks": [dict(zip(STACKS, row, strict=True)) for row in self.stacks()],
            "found": [{"asked": asked, **place._asdict(), "serial": serial} for asked, place, serial in self.found],
            "refused": [{"row": row, "reason": reason} for row, reason in self.refused],
            "files": self.files,
            "warnings": [warning.as_json() for warning in self.warnings],
        }
        return json.dumps(told, ensure_ascii=False) + "\n"

    def _press(self, told: PartTold) -> dict[str, Any]:
        part, order = told.part, told.part.order
        first, last = part.before + 1, part.before + order.pieces
        return {
            "press": part.press,
            "first": first,
            "first_serial": self.serials.get(first, ""),
            "last": last,
            "last_serial": self.serials.get(last, ""),
            "pieces": order.pieces,
            "blocks": order.blocks,
            "frames": order.frames,
            "rolls": [part.rolls + 1, part.rolls + order.rolls],
            **part.ends._asdict(),
            "minutes": None if told.usage is None else round(told.usage.minutes, 3),
            "metres": None if told.usage is None else round(metres(told.usage.length), 3),
            "pages_a_minute": None if told.pages is None else round(told.pages, 1),
            "comes_off": told.winding.said,
        }

    def as_text(self) -> str:
        """The same for people."""
        run, length = self.run, self.frame * self.run.frames
        counts = f"{run.pieces:,} and {run.blanks:,} blanks on {run.frames:,} frames"
        good = f"{metres(length):,.1f} m ({feet(length):,.0f} ft) of good frames"
        lines = [
            self.title,
            f"  pieces   {counts} of {run.lanes} × {run.along}, {run.rolls} roll{'s' * (run.rolls != 1)}",
            f"  web      {good}, {mm(self.frame):.2f} mm each",
        ]
        if run.specimens:
            lines.append(f"  specimen {run.specimens:,} frames before and after them: make-ready, leaders, trailers")
            lines += [self._good(roll) for roll in range(1, min(run.rolls, MOST_ROLLS) + 1)]
        paper = self.paper()
        if paper is not None:
            lines.append(
                f"  paper    {metres(paper['length']):,.1f} m in all, {paper['kilograms']:,.1f} kg, "
                f"{paper['delivered']} delivered rolls, {paper['splices']} splices, {paper['minutes']:,.1f} minutes"
            )
        for told in self.parts:
            lines += self._part_lines(told)
        for name, area in self.plates.items():
            lines.append(
                f"  plate    {name}: {area.percent:.1f} % of the trim, {area.square_metres:,.2f} m², "
                f"about {area.grams:,.0f} g"
            )
        if self.measured:
            lines.append(f"           {self.measured}")
        lines += self._span_lines()
        lines += self._stack_lines()
        for asked, place, serial in self.found:
            where = f"roll {place.roll}, frame {place.frame}, lane {place.lane}, place {place.along}"
            lines.append(f"  {asked}: {where}{f', {serial}' if serial != asked else ''}")
        lines += [f"  row {row} cannot be set: {reason}" for row, reason in self.refused[:20]]
        lines += [f"  … and {len(self.refused) - 20} rows more"] if len(self.refused) > 20 else []
        lines += [f"  warning  {warning.where}: {warning.message}" for warning in self.warnings]
        if self.files:
            lines.append(f"  files    {', '.join(self.files)} in {self.folder}")
        return "\n".join(lines) + "\n"

    def _part_lines(self, told: PartTold) -> Iterator[str]:
        part, order = told.part, told.part.order
        if part.press:
            first, last = part.before + 1, part.before + order.pieces
            rolls = (
                f"rolls {part.rolls + 1} to {part.rolls + order.rolls}" if order.rolls > 1 else f"roll {part.rolls + 1}"
            )
            time = "" if told.usage is None else f", {told.usage.minutes:,.1f} minutes"
            yield (
                f"  press    {part.press}: {self._called(first)} to {self._called(last)}, {order.pieces:,} in "
                f"{order.blocks:,} blocks on {order.frames:,} frames, {rolls}{time}"
            )
        if told.pages is not None:
            yield f"  speed    {f'{part.press}: ' if part.press else ''}{told.pages:,.0f} pages a minute"
        yield f"  roll     {f'{part.press}: ' if part.press else ''}{told.winding.said}"

    def _good(self, roll: int) -> str:
        """Where the good frames of a roll begin and end, as they are counted on slug lines and by the press."""
        lead, live = self.run.lead(roll), self.run.frames_on(roll)
        every = lead + live + self.run.tail(roll)
        return f"           roll {roll}: frames {lead + 1:,} to {lead + live:,} of {every:,} are good"

    def _called(self, piece: int) -> str:
        return self.serials.get(piece) or str(piece)

    def _span_lines(self) -> Iterator[str]:
        rows = self.spans()
        width = _width((row[2], row[3], row[4], row[5]) for row in rows[:MOST_LISTED])
        yield f"  roll  lane  {'first piece':<{width}}  {'last piece':<{width}}  pieces  blanks"
        for roll, lane, first, serial, last, other, pieces, blanks in rows[:MOST_LISTED]:
            low, high = _end(first, serial), _end(last, other)
            yield f"  {roll:>4}  {lane:>4}  {low:<{width}}  {high:<{width}}  {pieces:>6}  {blanks:>6}"
        if len(rows) > MOST_LISTED:
            yield f"  … and {len(rows) - MOST_LISTED} lines more: see plan.csv with --out"

    def _stack_lines(self) -> Iterator[str]:
        rows = list(islice(self.stacks(), MOST_STACKS + 1))
        width = _width((row[5], row[6], row[7], row[8]) for row in rows[:MOST_STACKS])
        yield f"  roll  block  stack  lane  place  {'first piece':<{width}}  {'last piece':<{width}}  pieces  blanks"
        for roll, block, stack, lane, along, first, serial, last, other, pieces, blanks in rows[:MOST_STACKS]:
            low, high = _end(first, serial), _end(last, other)
            where = f"{roll:>4}  {block:>5}  {stack:>5}  {lane:>4}  {'all' if along == '0' else along:>5}"
            yield f"  {where}  {low:<{width}}  {high:<{width}}  {pieces:>6}  {blanks:>6}"
        if len(rows) > MOST_STACKS:
            yield "  … and more stacks: see stacks.csv with --out"


def _width(ends: Iterable[tuple[str, str, str, str]]) -> int:
    """Of a column that holds the first and the last piece."""
    return max([11, *(len(_end(*pair)) for end in ends for pair in (end[:2], end[2:]))])


def _end(piece: str, serial: str) -> str:
    """The piece at one end of a stack, with its serial; a dash where there is none."""
    return f"{piece} {serial}".rstrip() if piece != "0" else "–"
