"""What pydantic found wrong with a document, in sentences a designer can use, at file:line:column.

Not here: rules that span several items (`checks`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any, get_args

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from vdp.errors import Fault
from vdp.job.document import Document, Keys
from vdp.job.items import KINDS
from vdp.records.faults import did_you_mean
from vdp.records.spec import Model

_TAG = re.compile(r"<[a-z]+>\Z")
#: What the forms of names are called, by the pattern that a name failed.
_FORMS = {
    "_-": "letters, digits, _ and -, a letter first, 40 characters at most",
    " _-": "letters, digits, spaces, _ and -, a letter first, 40 characters at most",
    "_": "letters, digits and _, a letter first, 40 characters at most",
}


def faults_of(document: Document, root: type[Model], error: ValidationError) -> list[Fault]:
    """Every fault pydantic found, once each, in the order of the file."""
    found: dict[tuple[Keys, str], tuple[tuple[int, int], Fault]] = {}
    for detail in error.errors(include_url=False):
        raw: Keys = tuple(detail["loc"])
        path = tuple(part for part in raw if not (isinstance(part, str) and _TAG.match(part)))
        keyed = path[-1:] == ("[key]",)
        path = path[:-1] if keyed else path
        kind = detail["type"]
        if kind == "extra_forbidden":
            model = _model_at(root, raw[:-1])
            mend = did_you_mean(str(path[-1]), model.model_fields if model is not None else ())
            fault = Fault(document.where(path, key=True), f"unknown key '{path[-1]}'", mend)
        elif kind == "missing":
            fault = Fault(document.where(path[:-1]), _missing(path))
        else:
            # Parts that are not in the file are pydantic's names for members of a union.
            while path and path not in document.values and len(path) > 1 and not _optional(root, raw, path):
                path = path[:-1]
            message, mend = _sentence(detail, document.texts.get(path))
            fault = Fault(document.where(path, key=keyed), f"{_label(path)}{message}", mend)
        found.setdefault((path, kind if kind in ("missing", "extra_forbidden") else ""), (_order(fault), fault))
    return [fault for _, fault in sorted(found.values(), key=lambda pair: pair[0])]


def _optional(root: type[Model], raw: Keys, path: Keys) -> bool:
    """Whether a path that is not in the file is a key of the model left out (its default was judged)."""
    model = _model_at(root, raw[:-1])
    return model is not None and path[-1] in model.model_fields


def _order(fault: Fault) -> tuple[int, int]:
    line, column = fault.where.rsplit(":", 2)[-2:]
    return int(line), int(column)


def _label(path: Keys) -> str:
    if len(path) == 2 and isinstance(path[1], int) and path[0] in ("front", "back"):
        return f"item {path[1] + 1} of the {path[0]}: "
    names = [part for part in path if isinstance(part, str)]
    return f"'{names[-1]}': " if names else ""


def _missing(path: Keys) -> str:
    if isinstance(path[-1], int):
        return f"{_label(path)}there are too few values"
    return f"'{path[-1]}' is missing"


def _model_at(root: type[Model], raw: Keys) -> type[Model] | None:
    """The model that stands at a path with its tags; None when there is none."""
    model: type[Model] | None = root
    annotation: Any = root
    for part in raw:
        if isinstance(part, str) and _TAG.match(part) and part[1:-1] in KINDS:
            annotation = KINDS[part[1:-1]]
        elif model is not None and part in model.model_fields:
            annotation = model.model_fields[str(part)].annotation
        model = annotation if isinstance(annotation, type) and issubclass(annotation, Model) else None
        if model is None and isinstance(part, str) and not _TAG.match(part):
            # A mapping of names to models: the next part is a name.
            inner = [arg for arg in get_args(annotation) if isinstance(arg, type) and issubclass(arg, Model)]
            annotation = inner[0] if inner else annotation
    return model


# -- sentences -------------------------------------------------------------------------------------------------------


def _sentence(detail: ErrorDetails, text: str | None) -> tuple[str, str]:
    """What is wrong and what to do; `text` is the scalar as it is written in the file."""
    context: Mapping[str, Any] = detail.get("ctx", {})
    say = _SAID.get(detail["type"])
    if say is not None:
        return say(context, detail["input"], text)
    message = detail["msg"]
    return message[:1].lower() + message[1:], ""


def _written(value: Any, text: str | None) -> str:
    if isinstance(value, Mapping):
        return "a mapping"
    if isinstance(value, tuple):
        return "a list"
    if value is None and not text:
        return "nothing"
    return f"'{(text if text is not None else str(value))[:60]}'"


def _quoted(_context: Mapping[str, Any], value: Any, text: str | None) -> tuple[str, str]:
    if text and not isinstance(value, (Mapping, tuple)):
        return f"must be text, and {text} without quotes is not", f"write '{text}' in quotes"
    return f"must be text, not {_written(value, text)}", ""


def _must(what: str) -> Callable[[Mapping[str, Any], Any, str | None], tuple[str, str]]:
    return lambda _context, value, text: (f"must be {what}, not {_written(value, text)}", "")


def _literal(context: Mapping[str, Any], value: Any, text: str | None) -> tuple[str, str]:
    expected = str(context.get("expected", "")).replace("'", "")
    choices = re.split(r", | or ", expected)
    return f"must be {expected}, not {_written(value, text)}", did_you_mean(str(value), choices)


def _own(context: Mapping[str, Any], _value: Any, _text: str | None) -> tuple[str, str]:
    return str(context["error"]), ""


def _form(context: Mapping[str, Any], value: Any, text: str | None) -> tuple[str, str]:
    pattern = str(context["pattern"])
    name = re.fullmatch(r"\^\[A-Za-z\]\[A-Za-z0-9([ _-]+)\]\{0,39\}\$", pattern)
    if name:
        return f"{_written(value, text)} cannot be a name", _FORMS[name[1]]
    return f"{_written(value, text)} has a character that cannot be printed there", "use printable ASCII without spaces"


def _bound(words: str, key: str) -> Callable[[Mapping[str, Any], Any, str | None], tuple[str, str]]:
    return lambda context, value, text: (f"must be {words} {context[key]:g}, not {_written(value, text)}", "")


def _long(context: Mapping[str, Any], _value: Any, _text: str | None) -> tuple[str, str]:
    most = context.get("max_length")
    return (f"there are too many values, {most} are the most" if most is not None else "there are too many values"), ""


_SAID: Mapping[str, Callable[[Mapping[str, Any], Any, str | None], tuple[str, str]]] = {
    "value_error": _own,
    "string_type": _quoted,
    "string_pattern_mismatch": _form,
    "int_type": _must("a whole number"),
    "int_from_float": _must("a whole number"),
    "float_type": _must("a number"),
    "bool_type": _must("true or false"),
    "tuple_type": _must("a list"),
    "dict_type": _must("a mapping"),
    "model_type": _must("a mapping"),
    "model_attributes_type": _must("a mapping"),
    "literal_error": _literal,
    "greater_than": _bound("more than", "gt"),
    "greater_than_equal": _bound("at least", "ge"),
    "less_than_equal": _bound("at most", "le"),
    "too_long": _long,
    "too_short": lambda _context, _value, _text: ("there are too few values", ""),
    "string_too_long": lambda context, _value, _text: (f"has more than {context['max_length']} characters", ""),
    "string_too_short": lambda _context, _value, _text: ("must not be empty", ""),
}


def in_file_order(faults: Iterable[Fault]) -> list[Fault]:
    """Faults without repeats; those of one file by line and column, files in the order they come."""
    unique = list(dict.fromkeys(faults))
    files = list(dict.fromkeys(fault.where.rsplit(":", 2)[0] for fault in unique))
    return sorted(unique, key=lambda fault: (files.index(fault.where.rsplit(":", 2)[0]), _placed(fault)))


def _placed(fault: Fault) -> tuple[int, int]:
    return _order(fault) if re.search(r":\d+:\d+\Z", fault.where) else (0, 0)
