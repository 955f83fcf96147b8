"""A finished file, walked object by object against the Arlington PDF Model (PDF Association, Apache-2.0), read as data.

Evaluated at PDF 1.6 with the extensions PDF_X, PDF_VT2 (document parts) and ISO_21812 (CIP4
metadata) on.  Required keys,
types, indirectness and possible values are judged; what the model says in predicates that need more than the object
itself (whether a font has Latin letters, say) is left unjudged and counted.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

import pikepdf
from pikepdf import Array, Dictionary, Name, Stream, String

FOLDER = Path(__file__).parents[3] / "shared" / "arlington"
VERSION = 1.6
EXTENSIONS = frozenset({"PDF_VT2", "PDF_X", "ISO_21812"})

#: Arrays that the part of the model at hand has no table for, and what lies in them.
THROUGH: Mapping[str, tuple[str, ...]] = {
    "ArrayOfDescendantFonts": ("FontCIDType0", "FontCIDType2"),
    "ArrayOfOCGindirect": ("OptContentGroup",),
    "ArrayOfOptContentGroups": ("OptContentGroup",),
}

_TOKEN = re.compile(r"\s*(fn:\w+|\|\||&&|==|!=|>=|<=|[()<>,]|@?[\w:.*+-]+)")


class Rule(NamedTuple):
    """A row of a table."""

    key: str
    types: tuple[str, ...]
    since: str
    required: str
    indirect: tuple[str, ...]
    values: tuple[str, ...]
    links: tuple[tuple[str, ...], ...]


class Fault(NamedTuple):
    """Where, by table and key, and what is wrong."""

    where: str
    message: str


def read_model(folder: Path = FOLDER) -> dict[str, dict[str, Rule]]:
    """Table → key → rule."""
    model = {}
    for path in sorted(folder.glob("*.tsv")):
        with path.open(encoding="utf-8", newline="") as file:
            rows = csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE)
            model[path.stem] = {row["Key"]: _rule(row) for row in rows}
    return model


def _rule(row: Mapping[str, str]) -> Rule:
    types = tuple(re.sub(r"fn:\w+\([\d.]+,([\w-]+)\)", r"\1", kind) for kind in row["Type"].split(";"))
    links = tuple(
        tuple(link for link in re.sub(r"fn:\w+\([^,\]]*,(\w+)\)", r"\1", part).strip("[]").split(",") if link)
        for part in row["Link"].split(";")
    )
    values = row["PossibleValues"].split(";")
    return Rule(
        row["Key"],
        types,
        row["SinceVersion"],
        row["Required"],
        tuple(row["IndirectReference"].split(";")),
        tuple(values),
        links,
    )


# -- predicates ------------------------------------------------------------------------------------------------------


class _Unknown(Exception):
    """A predicate that an object alone cannot answer."""


def holds(expression: str, found: Mapping[str, Any]) -> bool | None:
    """A predicate over an object; None when it cannot be answered."""
    tokens = _TOKEN.findall(expression)
    try:
        value, rest = _either(tokens, found)
    except (_Unknown, IndexError, TypeError):
        return None
    return None if rest else bool(value)


def _either(tokens: list[str], found: Mapping[str, Any]) -> tuple[Any, list[str]]:
    value, tokens = _both(tokens, found)
    while tokens and tokens[0] == "||":
        other, tokens = _both(tokens[1:], found)
        value = value or other
    return value, tokens


def _both(tokens: list[str], found: Mapping[str, Any]) -> tuple[Any, list[str]]:
    value, tokens = _compared(tokens, found)
    while tokens and tokens[0] == "&&":
        other, tokens = _compared(tokens[1:], found)
        value = value and other
    return value, tokens


def _compared(tokens: list[str], found: Mapping[str, Any]) -> tuple[Any, list[str]]:
    left, tokens = _atom(tokens, found)
    if tokens and tokens[0] == "mod":
        by, tokens = _atom(tokens[1:], found)
        left = left % by
    if tokens and tokens[0] in ("==", "!=", ">=", "<=", ">", "<"):
        operator, (right, tokens) = tokens[0], _atom(tokens[1:], found)
        same = left == right
        if operator in ("==", "!="):
            return same == (operator == "=="), tokens
        more = left > right
        return {">=": more or same, ">": more, "<=": not more, "<": not more and not same}[operator], tokens
    return left, tokens


def _atom(tokens: list[str], found: Mapping[str, Any]) -> tuple[Any, list[str]]:  # noqa: PLR0911  one return a kind
    head, tokens = tokens[0], tokens[1:]
    if head == "(":
        value, tokens = _either(tokens, found)
        return value, tokens[1:]
    if not head.startswith("fn:"):
        return _literal(head, found), tokens
    inner, tokens = _arguments(tokens)
    name = head[3:]
    if name == "IsPresent" and len(inner) == 1 and "::" not in inner[0][0]:
        return f"/{inner[0][0].lstrip('@')}" in found, tokens
    if name == "Not":
        return not _either(inner[0], found)[0], tokens
    if name in ("Eval", "IsRequired"):
        return _either(inner[0], found)[0], tokens
    if name in ("SinceVersion", "BeforeVersion", "IsPDFVersion"):
        level = float(inner[0][0])
        true = {"SinceVersion": level <= VERSION, "BeforeVersion": level > VERSION}.get(name, level == VERSION)
        return true and (len(inner) < 2 or _either(inner[1], found)[0]), tokens
    if name == "Extension":
        return inner[0][0] in EXTENSIONS, tokens
    if name == "Contains":
        held, wanted = _literal(inner[0][0], found), inner[1][0]
        parts = held if isinstance(held, list) else [held]
        return wanted in parts, tokens
    raise _Unknown(name)


def _arguments(tokens: list[str]) -> tuple[list[list[str]], list[str]]:
    depth = 0
    parts: list[list[str]] = [[]]
    for at, word in enumerate(tokens):
        depth += {"(": 1, ")": -1}.get(word, 0)
        if depth == 0:
            return parts, tokens[at + 1 :]
        if (depth, word) == (1, ","):
            parts.append([])
        elif (depth, word) != (1, "("):
            parts[-1].append(word)
    raise _Unknown("no end")


def _literal(token: str, found: Mapping[str, Any]) -> Any:
    if token.startswith("@"):
        key = f"/{token[1:]}"
        if key not in found:
            return None
        return _plain(found[key])
    if re.fullmatch(r"-?\d+(\.\d+)?", token):
        return float(token)
    return {"true": True, "false": False}.get(token, token)


def _plain(value: Any) -> Any:
    if isinstance(value, Name):
        return str(value)[1:]
    if isinstance(value, Array):
        return [_plain(part) for part in value.as_list()]
    return float(value) if isinstance(value, int | Decimal | float) and not isinstance(value, bool) else value


# -- the walk --------------------------------------------------------------------------------------------------------


def kinds_of(value: Any) -> frozenset[str]:  # noqa: PLR0911  one return a kind
    """The model's names for what a value is."""
    if isinstance(value, bool):
        return frozenset({"boolean"})
    if isinstance(value, int):
        return frozenset({"integer", "number", "bitmask"})
    if isinstance(value, Decimal | float):
        return frozenset({"number"})
    if isinstance(value, Name):
        return frozenset({"name"})
    if isinstance(value, String):
        return frozenset({"string", "string-text", "string-byte", "string-ascii", "date"})
    if isinstance(value, Array):
        return frozenset({"array", "rectangle", "matrix"})
    if isinstance(value, Stream):
        return frozenset({"stream"})
    if isinstance(value, Dictionary):
        return frozenset({"dictionary", "name-tree", "number-tree"})
    return frozenset({"null"})


class Walk:
    """A walk over one file: `faults` found, `unknown` tables that the model's part at hand does not have (counted by
    type), `unjudged` predicates, `objects` seen."""

    def __init__(self, model: Mapping[str, Mapping[str, Rule]]) -> None:
        self.model = model
        self.faults: list[Fault] = []
        self.unknown: Counter[str] = Counter()
        self.unjudged: Counter[str] = Counter()
        self.objects = 0
        self._seen: set[tuple[tuple[int, int], str]] = set()

    def file(self, pdf: pikepdf.Pdf) -> Walk:
        """From the trailer."""
        waiting: list[tuple[Any, str]] = [(pdf.Root, "Catalog"), (pdf.trailer.get("/Info"), "DocInfo")]
        while waiting:
            value, table = waiting.pop()
            waiting.extend(self._object(value, table))
        return self

    def _object(self, value: Any, table: str) -> Iterator[tuple[Any, str]]:
        if not isinstance(value, Dictionary | Array | Stream):
            return
        if value.is_indirect:
            if (value.objgen, table) in self._seen:
                return
            self._seen.add((value.objgen, table))
        rules = self.model.get(table)
        if rules is None:
            self.unknown[table] += 1
            if isinstance(value, Array):
                yield from ((part, self._chosen([*THROUGH[table]], part)) for part in value if table in THROUGH)
            return
        self.objects += 1
        if isinstance(value, Array):
            found = {f"/{at}": part for at, part in enumerate(value.as_list())}
        else:
            found = dict(value.items())
        for rule in rules.values():
            if rule.key != "*" and f"/{rule.key}" not in found and self._true(rule.required, found):
                self.faults.append(Fault(f"{table}::{rule.key}", "is required"))
        for key, part in found.items():
            mine = rules.get(key[1:]) or rules.get("*")
            if mine is not None:
                yield from self._entry(f"{table}::{key[1:]}", mine, part, found)

    def _true(self, expression: str, found: Mapping[str, Any]) -> bool:
        if expression in ("TRUE", "FALSE", ""):
            return expression == "TRUE"
        answer = holds(expression, found)
        if answer is None:
            self.unjudged[expression] += 1
        return bool(answer)

    def _entry(self, where: str, rule: Rule, value: Any, found: Mapping[str, Any]) -> Iterator[tuple[Any, str]]:
        kinds = kinds_of(value)
        places = [at for at, kind in enumerate(rule.types) if kind in kinds]
        if not places:
            self.faults.append(Fault(where, f"is {'/'.join(sorted(kinds))}, not {'/'.join(rule.types)}"))
            return
        since = re.fullmatch(r"[\d.]+", rule.since)
        if (float(rule.since) > VERSION) if since else not self._true(rule.since, found):
            self.faults.append(Fault(where, f"is of PDF {rule.since}"))
        at = places[0]
        self._reference(where, rule.indirect[min(at, len(rule.indirect) - 1)], value, found)
        allowed = rule.values[at] if at < len(rule.values) else ""
        if not self._allowed(allowed, value, found):
            self.faults.append(Fault(where, f"is {value}, not one of {allowed}"))
        links = [link for place in places if place < len(rule.links) for link in rule.links[place]]
        if links and isinstance(value, Dictionary | Array | Stream):
            yield value, self._chosen(links, value)

    def _reference(self, where: str, asked: str, value: Any, found: Mapping[str, Any]) -> None:
        indirect = isinstance(value, pikepdf.Object) and value.is_indirect
        must = asked == "TRUE" or (asked.startswith("fn:MustBeIndirect") and self._inner(asked, found))
        direct = asked.startswith("fn:MustBeDirect") and self._inner(asked, found)
        if (must and not indirect) or (direct and indirect):
            self.faults.append(Fault(where, f"is {'indirect' if indirect else 'direct'}"))

    def _inner(self, expression: str, found: Mapping[str, Any]) -> bool:
        inside = expression[expression.index("(") + 1 : -1]
        return not inside or self._true(inside, found)

    def _allowed(self, allowed: str, value: Any, found: Mapping[str, Any]) -> bool:
        inside = allowed.strip()[1:-1] if allowed.strip().startswith("[") else ""
        if not inside or isinstance(value, Array | Dictionary | Stream):
            return True
        if inside.startswith("fn:Eval"):
            answer = holds(inside, found)
            if answer is None:
                self.unjudged[inside] += 1
            return answer is not False
        if "fn:RequiredValue" in inside or "*" in inside:
            self.unjudged[inside] += 1
            return True
        plain = [re.sub(r"fn:\w+\([\d.]+,(\w+)\)", r"\1", part) for part in re.split(r",(?![^(]*\))", inside)]
        said = _plain(value) if isinstance(value, Name) else str(value)
        return said in plain or str(value) in plain

    def _chosen(self, links: list[str], value: Any) -> str:
        """Of several tables the one whose fixed values the object has."""
        known = [link for link in links if link in self.model]
        best, score = links[0], -1
        for link in known:
            points = 0
            for rule in self.model[link].values():
                fixed = rule.values[0].strip("[]") if rule.values else ""
                have = None
                if isinstance(value, Array) and rule.key.isdigit() and int(rule.key) < len(value):
                    have = value[int(rule.key)]
                elif not isinstance(value, Array):
                    have = value.get(f"/{rule.key}")
                if fixed and "," not in fixed and "fn:" not in fixed and isinstance(have, Name):
                    points += 3 if str(have)[1:] == fixed else -6
                elif have is None and rule.required == "TRUE":
                    points -= 2
            if best not in self.model or points > score:
                best, score = link, points
        stranger = next((link for link in links if link not in self.model), best)
        return best if score >= 0 or best not in self.model else stranger
