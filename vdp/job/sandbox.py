"""What a template may do: a short list of Jinja2's own nodes, and an environment that knows nothing else.

Two fences, each enough: a tree with anything that is not on the list is refused before it is compiled; and what is
compiled runs in Jinja2's immutable sandbox, with no globals, and no filters or tests but the listed ones.
Not here: reading and rendering (`template`).
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any, NamedTuple

from jinja2 import StrictUndefined, nodes
from jinja2.runtime import Context as Runtime
from jinja2.runtime import Undefined
from jinja2.sandbox import ImmutableSandboxedEnvironment

from vdp.errors import CallerError, Fault, RowRefused
from vdp.job.context import WORDS
from vdp.job.filters import FILTERS, OF

#: Methods of a text that a template may call; letter case is left to the filters, which know the locale.
METHODS = frozenset(
    ("startswith", "endswith", "removeprefix", "removesuffix", "strip", "lstrip", "rstrip", "split", "isdigit")
)
#: How deep expressions and ifs may be nested.
DEEPEST = 50

_LOGIC = (nodes.And, nodes.Or, nodes.Not, nodes.Compare, nodes.Operand, nodes.Concat, nodes.Neg, nodes.Pos)
_SUMS = (nodes.Add, nodes.Sub, nodes.Mul, nodes.FloorDiv, nodes.Mod)
_VALUES = (nodes.Const, nodes.TemplateData, nodes.Tuple, nodes.List, nodes.CondExpr)
_PLAIN = (nodes.Template, nodes.Output, nodes.If, *_VALUES, *_LOGIC, *_SUMS)
#: Words that stand for a table and take a name in brackets.
_TABLES = ("field", "series")

#: What to say of nodes that people try.
_REFUSED: dict[type[nodes.Node], str] = {
    nodes.For: "a template has no loops ('for')",
    nodes.Macro: "a template has no macros ('macro')",
    nodes.CallBlock: "a template has no 'call'",
    nodes.Include: "a template cannot include others ('include')",
    nodes.Import: "a template cannot import others ('import')",
    nodes.FromImport: "a template cannot import others ('from')",
    nodes.Extends: "a template cannot extend another ('extends')",
    nodes.Block: "a template has no blocks ('block')",
    nodes.Assign: "a template cannot set anything ('set')",
    nodes.AssignBlock: "a template cannot set anything ('set')",
    nodes.FilterBlock: "a template has no filter blocks: write {{ value | filter }}",
    nodes.With: "a template has no 'with'",
    nodes.Pow: "a template has no powers ('**')",
    nodes.Div: "a template has no fractions ('/'): use '//' for whole numbers",
    nodes.Dict: "a template has no dictionaries",
}


class Checked(NamedTuple):
    """What a tree uses: fields, series, and which of `WORDS` it uses bare."""

    names: frozenset[str]
    series: frozenset[str]
    words: frozenset[str]


class _Environment(ImmutableSandboxedEnvironment):
    """Jinja2's immutable sandbox with nothing in it but the listed filters."""

    intercepted_binops = frozenset(("+", "-", "*", "/", "//", "%", "**"))

    def call_binop(self, context: Runtime, operator: str, left: Any, right: Any) -> Any:
        """Whole numbers only, and texts only put together: no 'a' * 10**9, no '%999999s' % 1."""
        for side in (left, right):
            if isinstance(side, Undefined):
                str(side)
        whole = type(left) is int and type(right) is int and operator not in ("**", "/")
        if not (whole or (operator == "+" and isinstance(left, str) and isinstance(right, str))):
            kinds = f"{type(left).__name__} {operator} {type(right).__name__}"
            raise RowRefused((f"a template cannot work out {kinds}: only whole numbers are counted with",))
        return super().call_binop(context, operator, left, right)


def _printed(value: Any) -> Any:
    """What an expression may put into the text: text and whole numbers.  True, None or a list there is a mistake."""
    if isinstance(value, str):
        return value
    if type(value) is int:
        return str(value)
    if isinstance(value, Undefined):
        return str(value)
    raise RowRefused((f"an expression gives {value!r:.40}, which is neither text nor a whole number",))


def _odd(number: Any) -> bool:
    # A text must not come near Python's %, which would format it.
    if type(number) is not int:
        raise RowRefused(("'even' and 'odd' are asked of whole numbers, such as row",))
    return number % 2 == 1


def _environment() -> _Environment:
    environment = _Environment(
        undefined=StrictUndefined,
        autoescape=False,
        finalize=_printed,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=False,
        cache_size=0,
        extensions=(),
    )
    environment.globals.clear()
    environment.filters.clear()
    environment.filters.update({name: allowed.run for name, allowed in FILTERS.items()})
    environment.tests.clear()
    environment.tests.update({"even": lambda number: not _odd(number), "odd": _odd})
    return environment


ENVIRONMENT = _environment()


def check(tree: nodes.Template, where: str) -> Checked:
    """Holds a tree against the list, and readies it: fields and series become look-ups, so that none can be taken for
    a name of Jinja2's own (self, loop), and filters learn their field's name.  Raises CallerError with every fault."""
    walk = _Walk(where)
    walk.visit(tree, 0)
    if walk.faults:
        raise CallerError(dict.fromkeys(walk.faults))
    return Checked(frozenset(walk.names), frozenset(walk.series), frozenset(walk.words))


class _Walk:
    """Visits every node once, from the root; `visit` gives back the node to put in its place."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.faults: list[Fault] = []
        self.names: set[str] = set()
        self.series: set[str] = set()
        self.words: set[str] = set()

    def fault(self, node: nodes.Node, message: str, mend: str = "") -> None:
        line = f" (line {node.lineno} of the text)" if node.lineno and node.lineno > 1 else ""
        self.faults.append(Fault(self.where, f"template: {message}{line}", mend))

    def visit(self, node: nodes.Node, depth: int) -> nodes.Node:
        if depth > DEEPEST:
            self.fault(node, f"nested more than {DEEPEST} deep")
            return node
        match node:
            case nodes.Name():
                return self._name(node)
            case nodes.Getattr():
                return self._attribute(node)
            case nodes.Getitem():
                self._item(node, depth)
            case nodes.Filter():
                self._filter(node, depth)
            case nodes.Test():
                self._test(node, depth)
            case nodes.Call():
                self._call(node, depth)
            case _:
                self._plain(node, depth)
        return node

    def _plain(self, node: nodes.Node, depth: int) -> None:
        match node:
            case nodes.Const(value=float()):
                self.fault(node, f"{node.value!r} is not a whole number")
            case nodes.CondExpr(expr2=None):
                self.fault(node, "an 'if' inside braces needs an 'else'")
            case nodes.Sub() | nodes.Mul() | nodes.FloorDiv() | nodes.Mod() if _texts(node):
                self.fault(node, f"a text cannot be counted with ('{node.operator}')")
        if isinstance(node, _PLAIN):
            for name, value in list(node.iter_fields()):
                if isinstance(value, list):
                    setattr(node, name, [self.visit(child, depth + 1) for child in value])
                elif isinstance(value, nodes.Node):
                    setattr(node, name, self.visit(value, depth + 1))
        else:
            self.fault(node, _REFUSED.get(type(node)) or f"'{type(node).__name__}' cannot be used here")

    def _name(self, node: nodes.Name) -> nodes.Node:
        if node.name in _TABLES:
            self.fault(node, f"'{node.name}' stands alone", f'write {node.name}["name"]')
        elif node.name in WORDS:
            self.words.add(node.name)
        else:
            self.names.add(node.name)
            return _look_up("field", node.name, node.lineno)
        return node

    def _attribute(self, node: nodes.Getattr) -> nodes.Node:
        if isinstance(node.node, nodes.Name) and node.node.name == "series":
            self.series.add(node.attr)
            self.words.add("series")
            return _look_up("series", node.attr, node.lineno)
        self.fault(node, f"'.{node.attr}' cannot be asked for", _attribute_mend(node))
        return node

    def _item(self, node: nodes.Getitem, depth: int) -> None:
        if isinstance(node.node, nodes.Name) and node.node.name in _TABLES:
            table = node.node.name
            self.words.add(table)
            if isinstance(node.arg, nodes.Const) and isinstance(node.arg.value, str):
                (self.names if table == "field" else self.series).add(node.arg.value)
            else:
                self.fault(node, f"{table}[…] takes a name in quotes", f'write {table}["name"]')
            return
        bounds: list[nodes.Node | None] = [node.arg]
        if isinstance(node.arg, nodes.Slice):
            bounds = [part for part in (node.arg.start, node.arg.stop, node.arg.step) if part is not None]
        if not all(_whole(part) for part in bounds):
            self.fault(node, "only places counted in whole numbers can be taken from a text, such as name[0]")
        node.node = self._expression(node.node, depth)

    def _expression(self, node: nodes.Expr, depth: int) -> nodes.Expr:
        seen = self.visit(node, depth + 1)
        return seen if isinstance(seen, nodes.Expr) else node

    def _arguments(self, node: nodes.Filter | nodes.Test | nodes.Call, depth: int) -> None:
        if node.kwargs or node.dyn_args is not None or node.dyn_kwargs is not None:
            self.fault(node, "arguments are given by their place, without names or stars")
        node.args = [self._expression(argument, depth) for argument in node.args]

    def _filter(self, node: nodes.Filter, depth: int) -> None:
        self._arguments(node, depth)
        if node.node is not None:
            node.node = self._expression(node.node, depth)
        allowed = FILTERS.get(node.name)
        if allowed is None:
            self.fault(node, f"there is no filter '{node.name}'", _like(node.name, FILTERS))
            return
        if not allowed.least <= len(node.args) <= allowed.most:
            count = f"{allowed.least}" if allowed.least == allowed.most else f"{allowed.least} or {allowed.most}"
            self.fault(node, f"filter '{node.name}' takes {count} arguments, not {len(node.args)}")
        elif allowed.judge is not None and node.args and isinstance(node.args[0], nodes.Const):
            try:
                allowed.judge(node.args[0].value)
            except ValueError as error:
                self.fault(node, str(error))
        if allowed.named and node.node is not None:
            of = nodes.Const(_field_of(node.node), lineno=node.lineno)
            keywords: list[Any] = [nodes.Keyword(OF, of, lineno=node.lineno)]
            node.kwargs = keywords

    def _test(self, node: nodes.Test, depth: int) -> None:
        self._arguments(node, depth)
        if node.name not in ENVIRONMENT.tests or node.args:
            self.fault(node, f"there is no test '{node.name}'", "use ==, !=, in, even or odd")
        node.node = self._expression(node.node, depth)

    def _call(self, node: nodes.Call, depth: int) -> None:
        self._arguments(node, depth)
        if not isinstance(node.node, nodes.Getattr):
            called = f"'{node.node.name}'" if isinstance(node.node, nodes.Name) else "this"
            self.fault(node, f"{called} cannot be called", "there are filters, and methods of texts")
            return
        if node.node.attr not in METHODS:
            self.fault(node, f"'.{node.node.attr}()' cannot be called", _attribute_mend(node.node))
        node.node.node = self._expression(node.node.node, depth)


def _look_up(table: str, key: str, lineno: int) -> nodes.Getitem:
    return nodes.Getitem(
        nodes.Name(table, "load", lineno=lineno), nodes.Const(key, lineno=lineno), "load", lineno=lineno
    )


def _texts(node: nodes.BinExpr) -> bool:
    return any(isinstance(side, nodes.Const) and isinstance(side.value, str) for side in (node.left, node.right))


def _whole(node: nodes.Node | None) -> bool:
    if isinstance(node, nodes.Neg):
        node = node.node
    return isinstance(node, nodes.Const) and type(node.value) is int


def _field_of(node: nodes.Node) -> str:
    """The field that a filter's value comes from, for messages and its date pattern; "" when it is worked out."""
    match node:
        case nodes.Getitem(node=nodes.Name(name="field"), arg=nodes.Const(value=str(key))):
            return key
        case nodes.Filter(name="trim" | "default", node=nodes.Node() as inner):
            return _field_of(inner)
        case _:
            return ""


def _attribute_mend(node: nodes.Getattr) -> str:
    if isinstance(node.node, nodes.Name) and node.node.name == "field":
        return f'write field["{node.attr}"]'
    if node.attr in FILTERS:
        return f"use the filter: | {node.attr}"
    return ""


def _like(name: str, known: Iterable[str]) -> str:
    close = difflib.get_close_matches(name, list(known), 1, 0.6)
    return f"did you mean '{close[0]}'?" if close else f"there are: {', '.join(known)}"
