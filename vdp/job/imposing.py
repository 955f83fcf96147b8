"""What `vdp impose` is told of the web: a small YAML file of its own, every fault with its line and column.

Lives here: shape and reading.  Not here: whether it fits (`press.web`), the pages (`pdf.foreign`).
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from vdp.errors import CallerError, Fault
from vdp.job.document import Document, read_document
from vdp.job.faults import faults_of, in_file_order
from vdp.job.web import WebModel
from vdp.records.spec import Model


class Imposing(Model):
    """The whole file.  `sides` is 2 where fronts and backs take turns, 1 where every page is a front."""

    web: WebModel
    sides: Literal[1, 2] = 2
    resolution: Annotated[int, Field(ge=300, le=4800)] = 1200


class ReadImposing:
    """The file as read, and where each of its keys stands."""

    def __init__(self, path: Path) -> None:
        """Raises CallerError with every fault."""
        self.document: Document = read_document(path, str(path), frozenset())
        faults: list[Fault] = list(self.document.faults)
        found: Imposing | None = None
        if self.document.data is None:
            faults.append(Fault(self.document.where(()), "the file is empty"))
        else:
            try:
                found = Imposing.model_validate(self.document.data, strict=True)
            except ValidationError as error:
                faults.extend(faults_of(self.document, Imposing, error))
        if faults or found is None:
            raise CallerError(in_file_order(faults))
        self.model = found

    def where(self, *keys: str) -> str:
        return self.document.where(keys)


#: Sheets of foreign pages bear no date of their own making.
UNDATED = datetime(2000, 1, 1, tzinfo=UTC)
