"""Templates over a record: what may be written in a layout's texts, payloads, file names and conditions.

Lives here: compiling and rendering.  What is allowed is in `sandbox`, what filters do in `filters` and `locales`.  The
language is Jinja2's, cut down to expressions and if/elif/else.

A template of text, fields and series alone is filled in directly; every other one runs in Jinja2's immutable sandbox.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from operator import itemgetter
from typing import Any

from jinja2 import TemplateSyntaxError, nodes
from jinja2.parser import Parser
from jinja2.runtime import Context as Runtime

from vdp.errors import CallerError, OurBug, RowRefused
from vdp.job.context import Context
from vdp.job.filters import RECORD
from vdp.job.sandbox import ENVIRONMENT, Checked, check

__all__ = ["Condition", "Context", "Template", "compile_condition", "compile_text"]

#: The longest text a template may give, in characters.
LONGEST_TEXT = 10_000
#: The longest template, in characters.
LONGEST_TEMPLATE = 20_000


def scope_of(context: Context) -> dict[str, Any]:
    """What a record's templates know by name."""
    return {
        "field": context.values,
        "series": context.serials,
        "language": context.language,
        "row": context.row,
        RECORD: context,
    }


def _runtime(context: Context) -> Runtime:
    """Jinja2's own context, made once a record and shared by its templates: none of them can change it."""
    if not context.engine:
        context.engine.append(Runtime(ENVIRONMENT, scope_of(context), None, {}))
    runtime: Runtime = context.engine[0]
    return runtime


class _Compiled:
    """What a text and a condition have in common.

    `names` are the fields used, `series` the series, `words` which of field, series, language and row are used bare.
    """

    __slots__ = ("_run", "names", "series", "text", "where", "words")

    def __init__(self, text: str, where: str, checked: Checked, tree: nodes.Template) -> None:
        self.text, self.where = text, where
        self.names, self.series, self.words = checked.names, checked.series, checked.words
        #: What Jinja2 makes of it; most texts never need that (see `Template`), and making it takes its time.
        self._run: Callable[[Runtime], Iterator[str]] | None = None
        if _parts(tree) is None:
            self._run = ENVIRONMENT.from_string(tree).root_render_func

    def _filled(self, context: Context) -> str:
        if self._run is None:
            raise OurBug(f"the template at {self.where} is filled without its engine")
        try:
            return "".join(self._run(_runtime(context)))
        except RowRefused:
            raise
        except Exception as error:
            self._present(context)
            # Whatever an allowed expression still runs into (5 < 'a', no third word) is this record's fault.
            message = str(error).split("\n", 1)[0] or type(error).__name__
            raise RowRefused((f"the template at {self.where} cannot be worked out: {message}",)) from error

    def _present(self, context: Context) -> None:
        """Refuses a record that lacks a field or a serial the template uses."""
        lacking = [f"field '{name}'" for name in sorted(self.names - context.values.keys())]
        lacking += [f"serial '{name}'" for name in sorted(self.series - context.serials.keys())]
        if lacking:
            raise RowRefused(f"the record has no {thing}, which the template at {self.where} uses" for thing in lacking)


class Template(_Compiled):
    """A compiled text.  `constant` is the text itself when no record changes it, else None.

    `literals` stand around its values (see `values`), and are () where there is more to it than text, fields and
    series; `wordless` is whether none of them is more than space; `of_serials` whether every value is a serial.
    """

    __slots__ = ("_parts", "_pick", "_weave", "constant", "literals", "of_serials", "wordless")

    def __init__(self, text: str, where: str, checked: Checked, tree: nodes.Template) -> None:
        super().__init__(text, where, checked, tree)
        self._parts = _parts(tree)
        self.constant: str | None = None
        if self._parts is not None and all(source is None for source, _ in self._parts):
            self.constant = "".join(part for _, part in self._parts)
        wanted: list[tuple[int, str]] = []
        self.literals: tuple[str, ...] = ()
        if self._parts is not None and self.constant is None:
            literals = [""]
            for source, part in self._parts:
                if source is None:
                    literals[-1] += part
                else:
                    wanted.append((source, part))
                    literals.append("")
            self.literals = tuple(literals)
        self.wordless = not "".join(self.literals).strip()
        self.of_serials = bool(wanted) and all(source for source, _ in wanted)
        self._pick = _picker(wanted)
        self._weave = _weaver(self.literals, wanted, self._pick)

    def values(self, context: Context) -> tuple[str, ...]:
        """What stands between the `literals`, which are not (), however long it is.  Raises RowRefused."""
        try:
            return self._pick(context)
        except KeyError:
            self._present(context)
            raise

    def render(self, context: Context) -> str:
        """The text for a record.  Raises RowRefused naming the field or filter that cannot be set."""
        if self.constant is not None:
            return self.constant
        if self._parts is None:
            text = self._filled(context)
        else:
            try:
                text = self._weave(context)
            except KeyError:
                self._present(context)
                raise
        if len(text) > LONGEST_TEXT:
            raise RowRefused((f"the text is {len(text):,} characters long; {LONGEST_TEXT:,} are the most",))
        return text

    def __reduce__(self) -> tuple[Any, ...]:
        return compile_text, (self.text, self.where)


class Condition(_Compiled):
    """A compiled condition."""

    __slots__ = ()

    def holds(self, context: Context) -> bool:
        """Whether the condition is true of a record; an empty text is false.  Raises RowRefused."""
        return self._filled(context) != ""

    def __reduce__(self) -> tuple[Any, ...]:
        return compile_condition, (self.text, self.where)


@lru_cache(maxsize=1024)
def compile_text(text: str, where: str) -> Template:
    """Compiles a text.  `where` is the file:line:column it stands at.  Raises CallerError with every fault."""
    tree = _parsed(text, where)
    return Template(text, where, check(tree, where), tree)


@lru_cache(maxsize=1024)
def compile_condition(text: str, where: str) -> Condition:
    """Compiles an expression that is true or false of a record.  Raises CallerError with every fault."""
    if "{{" in text or "{%" in text:
        raise CallerError.one(where, "a condition is an expression and stands without braces", f"'{_bare(text)}'")
    source = _accepted(text, where)
    tree = _guarded(lambda: _expression(source), where)
    return Condition(text, where, check(tree, where), tree)


def _bare(text: str) -> str:
    return text.strip().strip("{}%").strip()


def _accepted(text: str, where: str) -> str:
    if len(text) > LONGEST_TEMPLATE:
        raise CallerError.one(where, f"the template is longer than {LONGEST_TEMPLATE:,} characters")
    return unicodedata.normalize("NFC", text)


def _parsed(text: str, where: str) -> nodes.Template:
    source = _accepted(text, where)
    return _guarded(lambda: ENVIRONMENT.parse(source), where)


def _expression(source: str) -> nodes.Template:
    parser = Parser(ENVIRONMENT, source, state="variable")
    expression = parser.parse_expression()
    if not parser.stream.eos:
        parser.fail("there is more after the expression's end")
    body: list[nodes.Node] = [nodes.Output([nodes.TemplateData("1")])]
    tree = nodes.Template([nodes.If(expression, body, [], [])])
    tree.set_environment(ENVIRONMENT)
    tree.set_lineno(1)
    return tree


def _picker(wanted: Sequence[tuple[int, str]]) -> Callable[[Context], tuple[str, ...]]:
    """What takes those values, of a source (0 the fields, 1 the serials) and a name each, out of a record."""
    names = [name for _, name in wanted]
    if len(names) > 1 and not any(source for source, _ in wanted):
        of_fields = itemgetter(*names)
        return lambda context: of_fields(context.values)
    if len(names) == 2 and wanted[0][0] != wanted[1][0]:
        one, other = names
        if wanted[0][0]:
            return lambda context: (context.serials[one], context.values[other])
        return lambda context: (context.values[one], context.serials[other])
    if len(names) == 1:
        (name,) = names
        if wanted[0][0]:
            return lambda context: (context.serials[name],)
        return lambda context: (context.values[name],)

    def pick(context: Context) -> tuple[str, ...]:
        values, serials = context.values, context.serials
        return tuple([(serials if source else values)[name] for source, name in wanted])

    return pick


def _weaver(
    literals: Sequence[str], wanted: Sequence[tuple[int, str]], pick: Callable[[Context], tuple[str, ...]]
) -> Callable[[Context], str]:
    """What puts the values between the literals; most texts of a layout are one value and nothing else."""
    if len(wanted) == 1 and not any(literals):
        ((source, name),) = wanted
        if source:
            return lambda context: context.serials[name]
        return lambda context: context.values[name]
    form = "%s".join(literal.replace("%", "%%") for literal in literals)
    return lambda context: form % pick(context)


def _guarded(parse: Callable[[], nodes.Template], where: str) -> nodes.Template:
    """Runs Jinja2's parser; everything it can stumble over is a fault of the text."""
    try:
        return parse()
    except TemplateSyntaxError as error:
        line = f" (line {error.lineno} of the text)" if error.lineno > 1 else ""
        raise CallerError.one(where, f"template: {error.message}{line}") from error
    except RecursionError as error:
        raise CallerError.one(where, "template: nested too deeply") from error
    except (ValueError, ArithmeticError, SyntaxError) as error:
        raise CallerError.one(where, f"template: {error}") from error


def _parts(tree: nodes.Template) -> tuple[tuple[int | None, str], ...] | None:
    """Text and plain fields only: what to join, as (None, text), (0, field) and (1, series); else None."""
    parts: list[tuple[int | None, str]] = []
    for statement in tree.body:
        if not isinstance(statement, nodes.Output):
            return None
        for node in statement.nodes:
            match node:
                case nodes.TemplateData(data=text):
                    parts.append((None, text))
                case nodes.Const(value=str(text)):
                    parts.append((None, text))
                case nodes.Getitem(node=nodes.Name(name="field"), arg=nodes.Const(value=str(key))):
                    parts.append((0, key))
                case nodes.Getitem(node=nodes.Name(name="series"), arg=nodes.Const(value=str(key))):
                    parts.append((1, key))
                case _:
                    return None
    return tuple(parts)
