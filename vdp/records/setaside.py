"""The records that were refused, written so that they can be mended and sent in again.

Lives here: writing `set_aside.csv`.  Not here: deciding what is refused (`rules`, compose).
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

from vdp.records.table import Row


def write_set_aside(path: Path, header: Sequence[str], rows: Iterable[tuple[Row, Sequence[str]]]) -> int:
    """Write the refused rows verbatim, each with its reasons in one more column, and return how many there were.

    RFC 4180: UTF-8 without a mark, commas, CRLF.  The column is called ``reason`` (``reason 2`` … where the list
    has one) and reads ``row 7: …; …``.  The file appears whole or not at all; without rows it has its header.
    """
    name, number = "reason", 1
    while name in header:
        number += 1
        name = f"reason {number}"
    aside = path.with_name(path.name + ".part")
    count = 0
    try:
        # A lone surrogate has no bytes in UTF-8: escaped, it is at least told.
        with aside.open("w", encoding="utf-8", errors="backslashreplace", newline="") as file:
            writer = csv.writer(file, lineterminator="\r\n")
            writer.writerow([*header, name])
            for row, reasons in rows:
                writer.writerow([*row.raw, f"row {row.row}: {'; '.join(reasons)}"])
                count += 1
        aside.replace(path)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise
    return count
