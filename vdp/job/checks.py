"""Rules of a job and layout that span several keys or both files: plates, series, faces, languages, templates, paths.

They look at the plain values rather than at the models, so that one wrong key hides no other fault.  Not here: rules of
one value (`model`), and what the records' header or the artwork decides (`plan`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from vdp.errors import CallerError, Fault
from vdp.job.document import Document, Keys
from vdp.job.faces import BUILTIN, FONT_ENDINGS
from vdp.job.locales import all_locales, known_locale
from vdp.job.paths import inside
from vdp.job.series import varies
from vdp.job.template import compile_condition, compile_text
from vdp.job.values import PROCESS_PLATES
from vdp.records.faults import did_you_mean

#: Separation names that PDF keeps for itself: ISO 32000-2, 8.6.6.4.
RESERVED_PLATES = ("all", "none")
SIDES = ("front", "back")
#: The keys of items that hold one template.
_TEMPLATES = ("data", "microtext", "image")


class Checks:
    """Gathers the faults of a job and, when it could be read, its layout."""

    def __init__(self, job: Document, layout: Document | None, folder: Path, layout_folder: Path) -> None:
        self.job, self.layout = job, layout
        self.folder, self.layout_folder = folder, layout_folder
        self.faults: list[Fault] = []
        data = _mapping(job.data)
        self.records = _mapping(data.get("records"))
        self.rules = _mapping(self.records.get("fields"))
        self.language = _text(self.records.get("language"))
        self.one_of = _one_of(self.rules, self.language)
        self.locales = _mapping(data.get("locales"))
        self.spots = _mapping(data.get("spots")) if "spots" in data else {"Clear": {}}
        self.plates = (*PROCESS_PLATES, *self.spots)
        self.series = _mapping(data.get("series"))
        self.faces = _mapping(data.get("faces"))

    def run(self) -> list[Fault]:
        """Every fault, not yet in order."""
        self._spots()
        self._locales()
        self._files()
        self._series()
        if self.layout is not None:
            names: set[str] = set()
            for path, item in _items(self.layout.data):
                self._item(self.layout, path, item)
                self._name(self.layout, path, item, names)
        return self.faults

    def _fault(self, where: str, message: str, mend: str = "") -> None:
        self.faults.append(Fault(where, message, mend))

    # -- the job -----------------------------------------------------------------------------------------------------

    def _spots(self) -> None:
        process = {plate.lower() for plate in PROCESS_PLATES}
        for name in self.spots:
            where = self.job.where(("spots", name), key=True)
            if name.lower() in process:
                self._fault(where, f"'{name}' is a process plate and cannot be a spot")
            elif name.lower() in RESERVED_PLATES:
                self._fault(where, f"'{name}' means something else in a PDF and cannot be a spot")

    def _locales(self) -> None:
        for language, locale in self.locales.items():
            if isinstance(locale, str) and not known_locale(locale):
                where = self.job.where(("locales", language))
                self._fault(where, f"there is no locale '{locale}'", did_you_mean(locale, all_locales()))
            if self.one_of and language not in self.one_of:
                where = self.job.where(("locales", language), key=True)
                self._fault(where, self._not_a_language(language), did_you_mean(language, self.one_of))

    def _not_a_language(self, language: str) -> str:
        return f"'{language}' is none of the languages of field '{self.language}'"

    def _files(self) -> None:
        for name, text in self.faces.items():
            if isinstance(text, str):
                self._path(self.job, ("faces", name), text, self.folder)
                if not text.lower().endswith(FONT_ENDINGS):
                    self._fault(self.job.where(("faces", name)), f"'{text}' is not a TrueType or OpenType font file")
        profile = _mapping(_mapping(self.job.data).get("colour")).get("profile")
        if isinstance(profile, str):
            self._path(self.job, ("colour", "profile"), profile, self.folder)

    def _path(self, document: Document, path: Keys, text: str, folder: Path) -> None:
        try:
            inside(folder, text)
        except ValueError as error:
            self._fault(document.where(path), f"'{text[:80]}' {error}")

    def _series(self) -> None:
        """Prefixes and suffixes that are templates: they cannot hold the serials that they are parts of."""
        for name, series in self.series.items():
            for key in ("prefix", "suffix"):
                text = _mapping(series).get(key)
                if not isinstance(text, str) or not varies(text):
                    continue
                where = self.job.where(("series", name, key))
                try:
                    compiled = compile_text(text, where)
                except CallerError as error:
                    self.faults.extend(error.faults)
                    continue
                if compiled.series:
                    self._fault(where, f"the {key} of a serial cannot have a serial in it")

    # -- the layout --------------------------------------------------------------------------------------------------

    def _name(self, layout: Document, path: Keys, item: Mapping[str, Any], names: set[str]) -> None:
        name = item.get("name")
        if not isinstance(name, str):
            return
        if name in names:
            self._fault(layout.where((*path, "name")), f"the name '{name}' is used twice", "give each item its own")
        names.add(name)

    def _item(self, layout: Document, path: Keys, item: Mapping[str, Any]) -> None:
        known: Iterable[tuple[str, str, Iterable[str]]] = (
            ("plate", "plate", self.plates),
            ("face", "face", (*BUILTIN, *self.faces)),
            ("number", "series", self.series),
        )
        for key, what, names in known:
            value = item.get(key)
            if isinstance(value, str) and value not in names:
                mend = did_you_mean(value, names) or (f"there are {', '.join(names)}" if names else "")
                self._fault(layout.where((*path, key)), f"there is no {what} '{value}'", mend)
        art = item.get("art")
        if isinstance(art, str):
            self._path(layout, (*path, "art"), art, self.layout_folder)
        for key in _TEMPLATES:
            self._template(layout, (*path, key), item.get(key), compile_text)
        self._template(layout, (*path, "when"), item.get("when"), compile_condition)
        wording = item.get("text")
        if isinstance(wording, Mapping):
            self._wording(layout, (*path, "text"), wording)
            for language, text in wording.items():
                self._template(layout, (*path, "text", language), text, compile_text)
        else:
            self._template(layout, (*path, "text"), wording, compile_text)

    def _wording(self, layout: Document, path: Keys, wording: Mapping[str, Any]) -> None:
        if self.language is None:
            mend = "name it in the job: records: language:"
            self._fault(layout.where(path), "one text per language, but the job names no field for the language", mend)
            return
        for language in wording:
            if language == "other":
                continue
            known = language in self.one_of if self.one_of else language in self.locales or known_locale(language)
            if not known:
                message = self._not_a_language(language) if self.one_of else f"'{language}' is not a language"
                mend = did_you_mean(language, self.one_of or (*self.locales, *all_locales()))
                self._fault(layout.where((*path, language), key=True), message, mend)
        lacking = [language for language in self.one_of if language not in wording]
        if lacking and "other" not in wording:
            mend = "add it, or a text for 'other'"
            self._fault(layout.where(path), f"there is no text for {', '.join(lacking)}", mend)

    def _template(self, layout: Document, path: Keys, text: Any, compile_: Callable[[str, str], Any]) -> None:
        if not isinstance(text, str):
            return
        where = layout.where(path)
        try:
            compiled = compile_(text, where)
        except CallerError as error:
            self.faults.extend(error.faults)
            return
        for series in sorted(compiled.series - set(self.series)):
            self._fault(where, f"there is no series '{series}'", did_you_mean(series, self.series))
        for word in sorted(compiled.words & {"language", "row"}):
            if word in self.rules and word != self.language:
                mend = f'write field["{word}"] for the field'
                self._fault(
                    where, f"'{word}' is a template's own word, and the records have a field of that name", mend
                )


# -- plain values ----------------------------------------------------------------------------------------------------


def _mapping(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


def _text(value: Any) -> str | None:
    return value if isinstance(value, str) else None


def _one_of(rules: Mapping[str, Any], language: str | None) -> tuple[str, ...]:
    """The languages that the job's field rule allows, or () when it does not say."""
    if language is None:
        return ()
    values = _mapping(rules.get(language)).get("one_of")
    return tuple(value for value in values if isinstance(value, str)) if isinstance(values, tuple) else ()


def _items(data: Any) -> Iterator[tuple[Keys, Mapping[str, Any]]]:
    for side in SIDES:
        items = _mapping(data).get(side)
        for index, item in enumerate(items if isinstance(items, tuple) else ()):
            if isinstance(item, Mapping):
                yield (side, index), item
