"""A YAML 1.2 file → plain values, and where in the file each of them stands.

Lives here: reading bytes, ruamel.yaml's events, the core schema, duplicate keys, bounds on size, depth and aliases.
Not here: what the keys mean (`model`, `checks`).

Sequences become tuples, which the models take; below a key that is left free they stay lists.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)
from ruamel.yaml.reader import ReaderError

from vdp.errors import CallerError, Fault

#: Largest file, in bytes.
LARGEST = 1_000_000
#: How deep mappings and sequences may be nested.
DEEPEST = 30
#: Most values a file may hold once its aliases are written out.
MOST_VALUES = 100_000
#: Longest number, in characters; what is longer is left as text.
LONGEST_NUMBER = 30

Keys = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Document:
    """What a file holds: plain values, and 1-based (line, column) of every key and every value by its path."""

    shown: str
    data: Any
    keys: Mapping[Keys, tuple[int, int]]
    values: Mapping[Keys, tuple[int, int]]
    texts: Mapping[Keys, str]
    faults: tuple[Fault, ...] = ()

    def where(self, path: Keys, *, key: bool = False) -> str:
        """``file:line:column`` of a value (or its key); of the nearest thing around it when it is not in the file."""
        if key and path in self.keys:
            return self._at(self.keys[path])
        while path not in self.values and path:
            path = path[:-1]
        return self._at(self.values.get(path, (1, 1)))

    def _at(self, place: tuple[int, int]) -> str:
        return f"{self.shown}:{place[0]}:{place[1]}"


def read_document(path: Path, shown: str, free: frozenset[str] = frozenset()) -> Document:
    """Reads a file; `free` names the keys whose values have no shape of their own.

    Raises CallerError when it cannot be read at all; lesser faults are in the document.
    """
    text = _decoded(_bytes(path, shown), shown)
    builder = _Builder(shown, free)
    try:
        data = builder.build(YAML(typ="safe", pure=True).parse(text))
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line, column = (mark.line + 1, mark.column + 1) if mark is not None else (1, 1)
        message = str(error.problem or error.context or "not YAML").split("\n", 1)[0]
        fault = Fault(f"{shown}:{line}:{column}", f"not YAML: {message}", _syntax_mend(text, line))
        raise CallerError((*builder.faults, fault)) from error
    except ReaderError as error:
        place = _place(text[: error.position])
        raise CallerError.one(
            f"{shown}:{place}", f"the character U+{ord(text[error.position]):04X} cannot stand in YAML"
        ) from error
    except YAMLError as error:
        raise CallerError.one(f"{shown}:1:1", f"not YAML: {error}") from error
    return Document(shown, data, builder.keys, builder.values, builder.texts, tuple(builder.faults))


def _bytes(path: Path, shown: str) -> bytes:
    try:
        if not path.is_file():
            raise CallerError.one(shown, "there is no such file" if not path.exists() else "this is not a file")
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        raise CallerError.one(shown, f"cannot be read: {error}") from error
    if len(raw) > LARGEST:
        raise CallerError.one(shown, f"is larger than {LARGEST:,} bytes, too large for a job or layout")
    return raw


def _decoded(raw: bytes, shown: str) -> str:
    """YAML 1.2.2 clause 5.2: UTF-8, or UTF-16 told by its byte order mark."""
    wide = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        return raw.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        place = "1:1" if wide else _place(raw[: error.start].decode("utf-8", "replace"))
        raise CallerError.one(
            f"{shown}:{place}", f"byte {error.start} is not {'UTF-16' if wide else 'UTF-8'}", "save the file as UTF-8"
        ) from error


def _place(before: str) -> str:
    """line:column of what follows a text."""
    last = before.rfind("\n")
    return f"{before.count(chr(10)) + 1}:{len(before) - last}"


def _syntax_mend(text: str, line: int) -> str:
    lines = text.splitlines()
    nearby = " ".join(lines[max(0, line - 2) : line])
    if re.search(r":\s*\{[{%]|-\s*\{[{%]", nearby):
        return "put a text that starts with a brace in quotes"
    if "\t" in nearby:
        return "indent with spaces, not tabs"
    return ""


# -- the core schema, YAML 1.2.2 clause 10.3.2 -----------------------------------------------------------------------

_WORDS: Mapping[str, bool | None] = {
    **dict.fromkeys(("null", "Null", "NULL", "~", "")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
_NUMBERS: tuple[tuple[re.Pattern[str], Callable[[str], int | float]], ...] = (
    (re.compile(r"[-+]?[0-9]+"), int),
    (re.compile(r"0o[0-7]+"), lambda text: int(text[2:], 8)),
    (re.compile(r"0x[0-9a-fA-F]+"), lambda text: int(text[2:], 16)),
    (re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?"), float),
)


def plain_value(text: str) -> Any:
    """An unquoted scalar by the core schema: ``no``, ``yes`` and dates are texts, ``007`` is 7.

    Infinities and NaN, and numbers longer than `LONGEST_NUMBER`, are left as texts: no key of ours takes them.
    """
    if text in _WORDS:
        return _WORDS[text]
    if len(text) <= LONGEST_NUMBER:
        for form, value in _NUMBERS:
            if form.fullmatch(text):
                return value(text)
    return text


# -- events to values ------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Builder:
    """Makes values out of events; what is merely wrong is noted, and the reading goes on."""

    shown: str
    free: frozenset[str]
    faults: list[Fault] = field(default_factory=list)
    keys: dict[Keys, tuple[int, int]] = field(default_factory=dict)
    values: dict[Keys, tuple[int, int]] = field(default_factory=dict)
    texts: dict[Keys, str] = field(default_factory=dict)
    anchors: dict[str, list[Event]] = field(default_factory=dict)
    count: int = 0

    def fault(self, event: Event, message: str, mend: str = "") -> None:
        self.faults.append(Fault(f"{self.shown}:{_line(event)}:{_column(event)}", message, mend))

    def build(self, events: Iterator[Event]) -> Any:
        """The value of the first document.  Raises CallerError where reading on is pointless."""
        data: Any = None
        documents = 0
        source = iter(events)
        for event in source:
            if isinstance(event, DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self.fault(event, "a second document starts here; a file holds one")
                    break
                if event.version is not None and tuple(event.version) != (1, 2):
                    self.fault(event, "the file says it is not YAML 1.2", "take the %YAML line out")
                data = self.node(next(source), source, ())
        return data

    def node(self, event: Event, source: Iterator[Event], path: Keys) -> Any:
        self.count += 1
        if self.count > MOST_VALUES or len(path) > DEEPEST:
            why = f"more than {MOST_VALUES:,} values" if self.count > MOST_VALUES else f"nested over {DEEPEST} deep"
            self.fault(event, f"the file holds {why}, aliases written out")
            raise CallerError(self.faults)
        self.values.setdefault(path, (_line(event), _column(event)))
        if isinstance(event, AliasEvent):
            return self._alias(event, path)
        if isinstance(event, NodeEvent) and event.anchor is not None:
            recorded: list[Event] = [event]
            value = self._value(event, _recording(source, recorded), path)
            self.anchors[str(event.anchor)] = recorded
            return value
        return self._value(event, source, path)

    def _alias(self, event: AliasEvent, path: Keys) -> Any:
        recorded = self.anchors.get(str(event.anchor))
        if recorded is None:
            self.fault(event, f"'*{event.anchor}' has no '&{event.anchor}' before it")
            return None
        replay = iter(recorded)
        return self._value(next(replay), replay, path)

    def _value(self, event: Event, source: Iterator[Event], path: Keys) -> Any:
        tag = getattr(event, "ctag", None) or getattr(event, "tag", None)
        if tag is not None:
            short = str(tag).replace("tag:yaml.org,2002:", "!!")
            self.fault(event, f"tags such as {short} are not used here", "take it out")
        if isinstance(event, MappingStartEvent):
            return self._mapping(source, path)
        if isinstance(event, SequenceStartEvent):
            return self._sequence(source, path)
        text = self._scalar(event)
        self.texts[path] = text
        return plain_value(text) if getattr(event, "style", None) is None else text

    def _scalar(self, event: Event) -> str:
        """A scalar's text; what ``"\\ud83d\\ude00"`` spells in halves, as JSON does, is put together."""
        text = str(getattr(event, "value", ""))
        if text.isascii() or not any("\ud800" <= char <= "\udfff" for char in text):
            return text
        try:
            return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le")
        except UnicodeDecodeError:
            self.fault(event, "half of a character is escaped here", "write the character itself")
            return ""

    def _sequence(self, source: Iterator[Event], path: Keys) -> Sequence[Any]:
        items: list[Any] = []
        for event in source:
            if isinstance(event, SequenceEndEvent):
                break
            items.append(self.node(event, source, (*path, len(items))))
        return tuple(items) if self.free.isdisjoint(path) else items

    def _mapping(self, source: Iterator[Event], path: Keys) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for event in source:
            if isinstance(event, MappingEndEvent):
                break
            key = self._key(event, source, path)
            value_event = next(source)
            if key is None:
                self.node(value_event, source, (*path, "?"))
                continue
            place = (*path, key)
            if key in found:
                first = self.keys[place]
                self.fault(event, f"'{key}' stands here a second time (first on line {first[0]})", "take one out")
                self.node(value_event, source, (*path, "?"))
                continue
            self.keys[place] = (_line(event), _column(event))
            if isinstance(value_event, ScalarEvent) and value_event.style is None and not value_event.value:
                # The parser puts what is not there at the next thing that is.
                self.values[place] = self.keys[place]
            found[key] = self.node(value_event, source, place)
        return found

    def _key(self, event: Event, source: Iterator[Event], path: Keys) -> str | None:
        """Every key is taken as text, so that ``no: Norsk`` and ``1: one`` are what they look like."""
        if isinstance(event, ScalarEvent):
            if event.style is None and event.value == "<<":
                self.fault(event, "'<<' is not YAML 1.2", "write the keys out")
                return None
            return self._scalar(event)
        if isinstance(event, AliasEvent):
            value = self._alias(event, (*path, "?"))
            if isinstance(value, str):
                return value
        else:
            self.node(event, source, (*path, "?"))
        self.fault(event, "a key must be a text", "put a text that starts with a brace in quotes")
        return None


def _recording(source: Iterator[Event], recorded: list[Event]) -> Iterator[Event]:
    for event in source:
        recorded.append(event)
        yield event


def _line(event: Event) -> int:
    return int(event.start_mark.line) + 1


def _column(event: Event) -> int:
    return int(event.start_mark.column) + 1
