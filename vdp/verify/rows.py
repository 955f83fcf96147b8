"""Pieces against the rows of the records: in input order, each row once, nothing lost.

Lives here: the pairing, and set_aside.csv read back.  Not here: what a row must become (`against`).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

from vdp.records.table import Row, Table
from vdp.verify.doubt import Unreadable
from vdp.verify.manifest import PieceLine

_REASON = re.compile(r"row (\d+): ")

#: Told of a finding: piece (0 for none), code, where, message.
Tell = Callable[[int, str, str, str], None]


def read_set_aside(path: Path) -> dict[int, tuple[str, ...]]:
    """Row number → the refused row verbatim.  Raises Unreadable for a line without a reason that names its row."""
    found: dict[int, tuple[str, ...]] = {}
    try:
        with path.open(encoding="utf-8", newline="") as file:
            reader = csv.reader(file, strict=True)
            if next(reader, None) is None:
                raise Unreadable("there is no header")
            for line in reader:
                reason = _REASON.match(line[-1]) if line else None
                if reason is None or int(reason[1]) in found:
                    raise Unreadable(f"line {reader.line_num} does not name a row of its own")
                found[int(reason[1])] = tuple(line[:-1])
    except (OSError, ValueError, csv.Error) as error:
        raise Unreadable(str(error)) from error
    return found


def paired(
    pieces: Iterable[PieceLine],
    table: Table,
    set_aside: Mapping[int, tuple[str, ...]],
    tell: Tell,
    *,
    whole: bool = True,
) -> Iterator[tuple[PieceLine, Row | None]]:
    """Each piece with its row; None where the piece names a row that cannot be its own.

    Of a reprint, which is not the `whole` of the list, no row is missed.
    """
    rows = table.rows()
    current = next(rows, None)
    last = 0
    for piece in pieces:
        where = f"piece {piece.piece}"
        if piece.row == last:
            tell(piece.piece, "row-repeated", where, f"row {piece.row} has a piece already")
            yield piece, None
            continue
        if piece.row < last:
            tell(piece.piece, "row-order", where, f"row {piece.row} stands before row {last} in the records")
            yield piece, None
            continue
        while current is not None and current.row < piece.row:
            if whole:
                _passed(current, set_aside, tell)
            current = next(rows, None)
        last = piece.row
        if current is None or current.row != piece.row:
            tell(piece.piece, "row-missing", where, f"the records have no row {piece.row}")
            yield piece, None
            continue
        if current.row in set_aside:
            tell(piece.piece, "row-repeated", where, f"row {current.row} was set aside and has a piece all the same")
        yield piece, current
        current = next(rows, None)
    while whole and current is not None:
        _passed(current, set_aside, tell)
        current = next(rows, None)


def _passed(row: Row, set_aside: Mapping[int, tuple[str, ...]], tell: Tell) -> None:
    """A row without a piece: it must have been set aside, verbatim."""
    kept = set_aside.get(row.row)
    if kept is None:
        tell(0, "row-missing", f"row {row.row}", "the row is neither a piece nor set aside")
    elif kept != row.raw:
        tell(0, "row-missing", f"row {row.row}", "the row was set aside with other values than the records have")
