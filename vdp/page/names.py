"""Recipients by name: the records that a run was made of, searched where they are at hand and are still the same.

Not here: serials and rows (`shelf`).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from vdp.errors import CallerError
from vdp.job.load import Job
from vdp.records.table import open_table


class Names:
    """The records of a run, by the SHA-256 that its report tells.

    Raises CallerError where they are gone or are not those that the run was made of.
    """

    def __init__(self, job: Job, records: Path | None, sha256: str) -> None:
        path = records if records is not None else job.records_path
        self._table = open_table(path, job.model.records, path.name)
        if self._table.sha256 != sha256:
            raise CallerError.one(path.name, "is not the list that this run was made of", "name that one: --records")
        asked = [field for field in job.model.records.recipient if field in self._table.header]
        self._fields = tuple(asked) or self._table.header

    def find(self, text: str, most: int) -> Iterator[tuple[int, str]]:
        """Rows of which a field of the recipient has the text in it, whatever its case, with that field's value."""
        sought, found = text.casefold().strip(), 0
        if not sought:
            return
        for row in self._table.rows():
            hit = next((row.values[field] for field in self._fields if sought in row.values[field].casefold()), None)
            if hit is not None:
                yield row.row, hit
                found += 1
                if found >= most:
                    return
