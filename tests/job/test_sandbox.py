"""Tricks: everything a template must not do is refused before any record is read, with its place."""

from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jinja2 import nodes

from vdp.errors import CallerError, RowRefused
from vdp.job.filters import FILTERS
from vdp.job.sandbox import ENVIRONMENT, check
from vdp.job.template import Context, compile_text

RECORD = Context({"name": "Ana", "a": "x"}, {"main": "1"}, "en", "en", 2)


def told(text: str) -> list[str]:
    begun = time.perf_counter()
    with pytest.raises(CallerError) as caught:
        compile_text(text, "l.yaml:4:11")
    assert time.perf_counter() - begun < 5
    return [str(fault).removeprefix("l.yaml:4:11: template: ") for fault in caught.value.faults]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Attributes
        ("{{ ''.__class__ }}", "'.__class__' cannot be asked for"),
        ("{{ ''.__class__.__mro__[1].__subclasses__() }}", "'.__subclasses__()' cannot be called"),
        ("{{ name.__class__ }}", "'.__class__' cannot be asked for"),
        ("{{ ()|attr('__class__') }}", "there is no filter 'attr'"),
        ("{{ ''['__class__'] }}", "only places counted in whole numbers can be taken from a text, such as name[0]"),
        ("{{ name[name] }}", "only places counted in whole numbers can be taken from a text, such as name[0]"),
        ("{{ name['a':] }}", "only places counted in whole numbers can be taken from a text, such as name[0]"),
        ("{{ field.name }}", '\'.name\' cannot be asked for (write field["name"])'),
        ("{{ field[name] }}", 'field[…] takes a name in quotes (write field["name"])'),
        ("{{ field[1] }}", 'field[…] takes a name in quotes (write field["name"])'),
        ("{{ series[name] }}", 'series[…] takes a name in quotes (write series["name"])'),
        ("{{ field }}", '\'field\' stands alone (write field["name"])'),
        ("{{ series }}", '\'series\' stands alone (write series["name"])'),
        ("{{ field.items() }}", "'.items()' cannot be called"),
        ("{{ series.main.__class__ }}", "'.__class__' cannot be asked for"),
        # Loops and everything else that is a statement
        ("{% for x in range(10**9) %}{% endfor %}", "a template has no loops ('for')"),
        ("{% macro m() %}{{ m() }}{% endmacro %}", "a template has no macros ('macro')"),
        ("{% call x() %}{% endcall %}", "a template has no 'call'"),
        ("{% include 'x' %}", "a template cannot include others ('include')"),
        ("{% import 'x' as y %}", "a template cannot import others ('import')"),
        ("{% from 'x' import y %}", "a template cannot import others ('from')"),
        ("{% extends 'x' %}", "a template cannot extend another ('extends')"),
        ("{% block b %}{% endblock %}", "a template has no blocks ('block')"),
        ("{% set x = 1 %}", "a template cannot set anything ('set')"),
        ("{% set x %}{% endset %}", "a template cannot set anything ('set')"),
        ("{% filter upper %}x{% endfilter %}", "a template has no filter blocks: write {{ value | filter }}"),
        ("{% with x = 1 %}{% endwith %}", "a template has no 'with'"),
        ("{% do x %}", "Encountered unknown tag 'do'."),
        ("{% if name %}", "Unexpected end of template."),
        # Numbers and texts that grow
        ("{{ 'a' * 1000000000 }}", "a text cannot be counted with ('*')"),
        ("{{ 1000000000 * 'a' }}", "a text cannot be counted with ('*')"),
        ("{{ '%999999999d' % 1 }}", "a text cannot be counted with ('%')"),
        ("{{ 2 ** 99999999 }}", "a template has no powers ('**')"),
        ("{{ 9 / 2 }}", "a template has no fractions ('/'): use '//' for whole numbers"),
        ("{{ 1.5 }}", "1.5 is not a whole number"),
        ("{{ {'a': 1} }}", "a template has no dictionaries"),
        ("{{ '{:>999999999}'.format(name) }}", "'.format()' cannot be called"),
        ("{{ name.ljust(999999999) }}", "'.ljust()' cannot be called"),
        ("{{ name.zfill(999999999) }}", "'.zfill()' cannot be called"),
        ("{{ name.center(999999999) }}", "'.center()' cannot be called"),
        ("{{ name.join(['a', 'b']) }}", "'.join()' cannot be called"),
        ("{{ name.expandtabs(999999999) }}", "'.expandtabs()' cannot be called"),
        ("{{ name.upper() }}", "'.upper()' cannot be called (use the filter: | upper)"),
        ("{{ name.replace('a', 'b') }}", "'.replace()' cannot be called (use the filter: | replace)"),
        # Globals
        ("{{ range(3) }}", "'range' cannot be called (there are filters, and methods of texts)"),
        ("{{ cycler('a', 'b').next() }}", "'.next()' cannot be called"),
        ("{{ lipsum(9999) }}", "'lipsum' cannot be called (there are filters, and methods of texts)"),
        ("{{ namespace(a=1) }}", "arguments are given by their place, without names or stars"),
        ("{{ dict(*name) }}", "arguments are given by their place, without names or stars"),
        ("{{ joiner.__init__.__globals__ }}", "'.__globals__' cannot be asked for"),
        ("{{ cycler.__init__.__globals__.os.popen('id').read() }}", "'.read()' cannot be called"),
        ("{{ (name ~ 'a')() }}", "this cannot be called (there are filters, and methods of texts)"),
        # Filters and tests
        ("{{ name | uper }}", "there is no filter 'uper' (did you mean 'upper'?)"),
        ("{{ name | map('upper') }}", "there is no filter 'map'"),
        ("{{ name | format(1) }}", "there is no filter 'format'"),
        ("{{ name | center(99999999) }}", "there is no filter 'center'"),
        ("{{ name | upper('x') }}", "filter 'upper' takes 0 arguments, not 1"),
        ("{{ name | date('short', 'x') }}", "filter 'date' takes 0 or 1 arguments, not 2"),
        ("{{ name | replace('x') }}", "filter 'replace' takes 2 arguments, not 1"),
        ("{{ name | date(of='born') }}", "arguments are given by their place, without names or stars"),
        ("{{ name | date('HH:mm') }}", "'HH:mm' is not a way to write a date: use short, medium, long, full or"),
        ("{{ name | date('ddd') }}", "'ddd' is not a way to write a date: Invalid length for field: 'ddd'"),
        ("{{ name | date(3) }}", "'3' is not a way to write a date: use short, medium, long, full or"),
        ("{{ name | number(99) }}", "'number' takes 0 to 10 places, not 99"),
        ("{{ name | money('EURO') }}", "'EURO' is not a currency code such as 'EUR'"),
        ("{{ name | money(3) }}", "3 is not a currency code such as 'EUR'"),
        ("{{ name is defined }}", "there is no test 'defined' (use ==, !=, in, even or odd)"),
        ("{{ name is odd(3) }}", "there is no test 'odd' (use ==, !=, in, even or odd)"),
        ("{{ name is sameas name }}", "there is no test 'sameas' (use ==, !=, in, even or odd)"),
        ("{{ 'a' if name }}", "an 'if' inside braces needs an 'else'"),
        # Size and depth
        ("{{ " + "(" * 3000 + "name" + ")" * 3000 + " }}", "nested too deeply"),
        ("{{ name" + " + a" * 60 + " }}", "nested more than 50 deep"),
        ("{% if a %}" * 60 + "{% endif %}" * 60, "nested more than 50 deep"),
        ("{{ " + "9" * 5000 + " }}", "Exceeds the limit (4300 digits) for integer string conversion"),
        # Lines
        ("a\nb {{ name.x }}", "'.x' cannot be asked for (line 2 of the text)"),
        ("a\n\n{{ name", "unexpected end of template, expected 'end of print statement'. (line 3 of the text)"),
    ],
)  # fmt: skip
def test_tricks_are_refused_at_compiling(text: str, expected: str) -> None:
    assert told(text)[0].startswith(expected)


def test_all_faults_of_a_template_at_once() -> None:
    assert told("{{ name.x }}\n{{ 2 ** 9 }} {{ a | uper }}") == [
        "'.x' cannot be asked for",
        "a template has no powers ('**') (line 2 of the text)",
        "there is no filter 'uper' (line 2 of the text) (did you mean 'upper'?)",
    ]


def test_names_that_need_a_longer_list_are_told_what_there_is() -> None:
    assert told("{{ name | zzzz }}") == [f"there is no filter 'zzzz' (there are: {', '.join(FILTERS)})"]


def test_a_long_template_is_refused() -> None:
    with pytest.raises(CallerError, match="longer than 20,000 characters"):
        compile_text("x" * 20_001, "l.yaml:4:11")


def test_a_value_is_no_format() -> None:
    record = Context({"name": "%999999999d"}, {}, "", "en", 2)
    for text in ("{{ name % 5 }}", "{{ name is even }}", "{{ name is odd }}"):
        with pytest.raises(RowRefused):
            compile_text(text, "x").render(record)


def test_the_second_fence_stands_alone() -> None:
    """What the tree's list would refuse does not work in the environment either."""
    assert not ENVIRONMENT.globals
    assert set(ENVIRONMENT.filters) == set(FILTERS)
    assert set(ENVIRONMENT.tests) == {"even", "odd"}
    for text in (
        "{{ range(3) }}",
        "{{ lipsum() }}",
        "{{ ''.__class__ }}",
        "{{ 2 ** 3 }}",
        "{{ 'a' * 9 }}",
        "{{ 1.5 }}",
    ):
        with pytest.raises(Exception, match=r"undefined|unsafe|cannot work out|neither text"):
            ENVIRONMENT.from_string(text).render()


@settings(max_examples=200)
@given(
    st.lists(
        st.sampled_from(
            ["{{", "}}", "{%", "%}", "if", "endif", "for", "in", "name", ".", "__class__", "(", ")", "[", "]", "|",
             "upper", "date", "'a'", "9", "*", "**", "%", "~", "==", "is", "odd", "else", "series", "field", "\n", " "]
        ),
        max_size=12,
    )
)  # fmt: skip
def test_any_text_is_compiled_or_refused_and_then_rendered_or_refused(parts: list[str]) -> None:
    text = " ".join(parts)
    try:
        template = compile_text(text, "x")
    except CallerError as error:
        assert error.faults  # noqa: PT017 - either way out is right
        return
    try:
        assert isinstance(template.render(RECORD), str)
    except RowRefused as error:
        assert error.reasons  # noqa: PT017 - as above


def test_every_node_of_the_language_is_allowed_or_refused() -> None:
    """A node that nobody thought of is refused, not let through."""
    with pytest.raises(CallerError, match="'MarkSafe' cannot be used here"):
        check(nodes.Template([nodes.Output([nodes.MarkSafe(nodes.Const("a"))])]), "x")
