"""A job file and its layout file → a Job: frozen, every name in it known to exist, every fault told at once.

Lives here: the Job and what can be asked of it, and the order of reading.  Not here: YAML (`document`), shapes
(`model`), rules over several keys (`checks`), words for what is wrong (`faults`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from pydantic import ValidationError

from vdp.errors import CallerError, Fault, RowRefused
from vdp.job.checks import Checks
from vdp.job.context import Context
from vdp.job.document import Document, read_document
from vdp.job.faults import faults_of, in_file_order
from vdp.job.items import LayoutModel
from vdp.job.locales import canonical_locale
from vdp.job.model import JobModel
from vdp.job.paths import inside, name_fault, shown
from vdp.records.spec import Model

__all__ = ["Job", "load_job"]

#: How many picture names a job remembers the files of.
_REMEMBERED = 10_000
#: Where demo records may lie, as a job in layouts/<name>/ writes it.
_DEMO = re.compile(r"\.\./\.\./demo_records/(.*)\Z", re.DOTALL)

#: Hints for invented records: what they may say is known to `vdp.fake` alone.
_FREE = frozenset(("fake",))

_ModelT = TypeVar("_ModelT", bound=Model)


@dataclass(frozen=True, slots=True)
class Job:
    """A job that has been read: its model, its layout, and where everything is.

    `folder` holds the job file; no file named in the job, the layout or a record may lie outside it, save demo records.
    `records_path` need not exist; `dates` says how the date in a field is written (strptime patterns by field).
    """

    path: Path
    folder: Path
    model: JobModel
    layout_path: Path
    layout: LayoutModel
    records_path: Path
    documents: Mapping[str, Document] = field(repr=False)
    dates: Mapping[str, str]
    _pictures: dict[str, Path] = field(default_factory=dict, repr=False, compare=False)

    def where(self, document: str, *keys: str | int) -> str:
        """``file:line:column`` of a key path of the "job" or the "layout", such as ("front", 3, "data")."""
        return self.documents[document].where(keys)

    def file(self, text: str, where: str) -> Path:
        """The file that the job or layout names at `where`.  Raises CallerError."""
        folder = self.layout_path.parent if where.startswith(f"{self.documents['layout'].shown}:") else self.folder
        try:
            return inside(folder, text)
        except ValueError as error:
            raise CallerError.one(where, f"{shown(text)} {error}") from error

    def picture(self, name: str) -> Path:
        """The file of a picture whose name comes from a record.  Raises RowRefused."""
        known = self._pictures.get(name)
        if known is not None:
            return known
        try:
            path = inside(self.layout_path.parent, name)
        except ValueError as error:
            raise RowRefused((f"the picture {shown(name)} {error}",)) from error
        if len(self._pictures) >= _REMEMBERED:
            self._pictures.clear()
        self._pictures[name] = path
        return path

    def language_of(self, values: Mapping[str, str]) -> str:
        """The language of a record, "" when the job names no field for it."""
        name = self.model.records.language
        return values.get(name, "") if name is not None else ""

    def locale_of(self, language: str) -> str:
        """The locale of a language: the job's own choice, else the language itself where Babel knows it, else en."""
        return canonical_locale(self.model.locales.get(language, language)) or "en"

    def context(self, values: Mapping[str, str], serials: Mapping[str, str], row: int) -> Context:
        """What a record's templates see."""
        language = self.language_of(values)
        return Context(values, serials, language, self.locale_of(language), row, self.dates)

    def wording(self, text: str | Mapping[str, str], language: str, item: str) -> str:
        """The text of an item for a language, "other" for one that is not named.  Raises RowRefused."""
        if isinstance(text, str):
            return text
        chosen = text.get(language, text.get("other"))
        if chosen is None:
            raise RowRefused((f"{item}: there is no text for language '{language}'",))
        return chosen


def load_job(path: Path, records: Path | None = None) -> Job:
    """Reads a job and its layout.  `records` stands for the job's own records file and may lie anywhere.

    Raises CallerError with every fault of both files, each at file:line:column.
    """
    path = Path(path)
    job = read_document(path, str(path), _FREE)
    faults: list[Fault] = list(job.faults)
    model = _validated(job, JobModel, faults)
    layout_path, layout = _layout(job, path, faults)
    layout_model = None if layout is None else _validated(layout, LayoutModel, faults)
    records_path = records if records is not None else _records(job, path.parent, faults)
    faults.extend(Checks(job, layout, path.parent, layout_path.parent).run())
    if faults or model is None or layout is None or layout_model is None or records_path is None:
        raise CallerError(in_file_order(faults))
    documents = {"job": job, "layout": layout}
    dates = {name: rule.date for name, rule in model.records.fields.items() if rule.date is not None}
    return Job(path, path.parent, model, layout_path, layout_model, Path(records_path), documents, dates)


def _validated(document: Document, model: type[_ModelT], faults: list[Fault]) -> _ModelT | None:
    if document.data is None:
        faults.append(Fault(document.where(()), "the file is empty"))
        return None
    try:
        return model.model_validate(document.data, strict=True)
    except ValidationError as error:
        faults.extend(faults_of(document, model, error))
        return None


def _layout(job: Document, path: Path, faults: list[Fault]) -> tuple[Path, Document | None]:
    """The layout's path and what it holds; a fault and None when it cannot be read."""
    text = job.data.get("layout") if isinstance(job.data, Mapping) else None
    if not isinstance(text, str):
        return path, None
    try:
        inside(path.parent, text)
    except ValueError as error:
        faults.append(Fault(job.where(("layout",)), f"the layout {shown(text)} {error}"))
        return path, None
    layout_path = path.parent / text
    try:
        layout = read_document(layout_path, str(layout_path))
    except CallerError as error:
        faults.extend(error.faults)
        return layout_path, None
    faults.extend(layout.faults)
    return layout_path, layout


def _records(job: Document, folder: Path, faults: list[Fault]) -> Path | None:
    """Where the job's records are to lie; they need not be there yet."""
    spec = job.data.get("records") if isinstance(job.data, Mapping) else None
    text = spec.get("file") if isinstance(spec, Mapping) else None
    if not isinstance(text, str):
        return None
    demo = _DEMO.match(text)
    home, name = (folder / ".." / ".." / "demo_records", demo[1]) if demo else (folder, text)
    fault = name_fault(name)
    if fault is None and (home / name).exists():
        try:
            inside(home, name)
        except ValueError as error:
            fault = str(error)
    if fault is not None:
        faults.append(Fault(job.where(("records", "file")), f"the records {shown(text)} {fault}"))
        return None
    return folder / text
