"""Recipients by name: the records that a run was made of, where they are at hand and are still the same.

Not here: searching (`index`), serials and rows (`shelf`).
"""

from __future__ import annotations

from pathlib import Path

from vdp.errors import CallerError
from vdp.job.load import Job
from vdp.page.index import Index
from vdp.records.table import open_table


def names_of(job: Job, records: Path | None, sha256: str) -> Index:
    """What the recipient's fields say, by row: of records with the SHA-256 that the run's report tells.

    Raises CallerError where they are gone or are not those that the run was made of.
    """
    path = records if records is not None else job.records_path
    table = open_table(path, job.model.records, path.name)
    if table.sha256 != sha256:
        raise CallerError.one(path.name, "is not the list that this run was made of", "name that one: --records")
    asked = [field for field in job.model.records.recipient if field in table.header]
    fields = tuple(asked) or table.header
    return Index((row.row, row.values[field]) for row in table.rows() for field in fields if row.values[field])
