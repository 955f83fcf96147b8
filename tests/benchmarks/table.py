"""Tables for people: columns as wide as they need to be, figures to the right."""

from __future__ import annotations

from collections.abc import Sequence


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Markdown, so that it can go into a README as it is; all columns but the first are set to the right."""
    widths = [max(len(cell) for cell in column) for column in zip(head, *rows, strict=True)]

    def line(cells: Sequence[str]) -> str:
        first, *others = (
            cell.ljust(w) if not at else cell.rjust(w) for at, (cell, w) in enumerate(zip(cells, widths, strict=True))
        )
        return f"| {' | '.join((first, *others))} |\n"

    rule = ["-" * widths[0], *("-" * (width - 1) + ":" for width in widths[1:])]
    return line(head) + line(rule) + "".join(line(row) for row in rows)


def megabytes(size: float) -> str:
    return f"{size / 1e6:,.0f}"
