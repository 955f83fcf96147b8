"""How the conditions inside a template turn out for a record: every `if` of it, as it stands and as it is reached.

Lives here: finding them, their words, and a second compilation that tells what each came to.  Not here: rendering
(`template`), what may be written (`sandbox`).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import Any, NamedTuple, cast

from jinja2 import nodes
from jinja2.runtime import Context as Runtime

from vdp.errors import OurBug
from vdp.job.context import Context
from vdp.job.sandbox import ENVIRONMENT, check
from vdp.job.template import Template, scope_of

#: What a watched template calls with each outcome.  Fields cannot be taken for it: they are looked up in their table.
_TOLD = "told"
_OPENING, _CLOSING = frozenset("([{"), frozenset(")]}")


class Outcome(NamedTuple):
    """`nth` is the condition's place in the template, from 0; `true` what it came to."""

    nth: int
    true: bool


class Watched:
    """A template whose conditions are watched; `conditions` are their words, in the order they stand in."""

    __slots__ = ("_run", "conditions")

    def __init__(self, template: Template) -> None:
        source = unicodedata.normalize("NFC", template.text)
        tree = ENVIRONMENT.parse(source)
        check(tree, template.where)
        found = list(_conditions(tree))
        self.conditions = tuple(_words(source))
        if len(found) != len(self.conditions):
            raise OurBug(f"{template.where}: {len(found)} conditions, and the words of {len(self.conditions)}")
        for nth, node in enumerate(found):
            said = [nodes.Const(nth), cast("nodes.Expr", node.test)]
            node.test = nodes.Call(nodes.Name(_TOLD, "load"), said, [], None, None)
        tree.set_environment(ENVIRONMENT)
        self._run = ENVIRONMENT.from_string(tree).root_render_func

    def outcomes(self, context: Context) -> list[Outcome]:
        """What each condition that is reached comes to for a record that the template can be rendered for."""
        found: list[Outcome] = []

        def told(nth: int, value: Any) -> bool:
            found.append(Outcome(nth, bool(value)))
            return found[-1].true

        for _ in self._run(Runtime(ENVIRONMENT, {**scope_of(context), _TOLD: told}, None, {})):
            pass
        return found


@lru_cache(maxsize=1024)
def watched(template: Template) -> Watched | None:
    """A template with its conditions watched; None for one without."""
    if template.literals or template.constant is not None:
        return None
    seen = Watched(template)
    return seen if seen.conditions else None


def _conditions(node: nodes.Node) -> Iterator[nodes.If | nodes.CondExpr]:
    """Every condition, in the order of the word 'if' in the text."""
    if isinstance(node, nodes.CondExpr):
        yield from _conditions(node.expr1)
        yield node
        yield from _conditions(node.test)
        if node.expr2 is not None:
            yield from _conditions(node.expr2)
        return
    if isinstance(node, nodes.If):
        yield node
    for child in node.iter_child_nodes():
        yield from _conditions(child)


def _words(source: str) -> Iterator[str]:
    """The words of every condition, in the order of the word 'if'."""
    tokens = [(kind, value) for _, kind, value in ENVIRONMENT.lex(source)]
    for at, (kind, value) in enumerate(tokens):
        before = next((value for kind, value in reversed(tokens[:at]) if kind != "whitespace"), "")
        if kind == "name" and value in ("if", "elif") and before != ".":
            opened = next(kind for kind, _ in reversed(tokens[:at]) if kind.endswith("_begin"))
            block = opened == "block_begin" and before.startswith("{%")
            yield " ".join("".join(_until_end(tokens[at + 1 :], block=block)).split())


def _until_end(tokens: list[tuple[str, str]], *, block: bool) -> Iterator[str]:
    """The tokens of one condition: to the block's end, or, inside an expression, to its 'else'."""
    depth = 0
    for kind, value in tokens:
        depth += (value in _OPENING) - (value in _CLOSING) if kind == "operator" else 0
        ends = kind in ("block_end", "variable_end") or depth < 0
        if ends or (not block and depth == 0 and kind == "name" and value in ("else", "if")):
            return
        yield value
