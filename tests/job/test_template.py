"""Templates: what they give, what they refuse of a record, how fast they are."""

from __future__ import annotations

import pickle
import timeit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.errors import CallerError, RowRefused
from vdp.job.template import (
    LONGEST_TEMPLATE,
    LONGEST_TEXT,
    Context,
    compile_condition,
    compile_text,
)

VALUES = {
    "name": "Ana Bo",
    "First name": "Ana",
    "empty": "",
    "self": "me",
    "loop": "round",
    "travel": "2026-03-09",
    "born": "9.3.2026",
    "amount": "1234.5",
    "language": "fr",
    "row": "12A",
}
SERIALS = {"main": "A-000001", "items": "B-7", "pass": "C"}
RECORD = Context(VALUES, SERIALS, "de", "de", 7, {"born": "%d.%m.%Y"})


def render(text: str, record: Context = RECORD) -> str:
    return compile_text(text, "l.yaml:4:11").render(record)


def refused(text: str, record: Context = RECORD) -> str:
    with pytest.raises(RowRefused) as caught:
        render(text, record)
    return str(caught.value)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("as it is {x} % %s", "as it is {x} % %s"),
        ("{{ 'quoted' }}!", "quoted!"),
        ("", ""),
        ("Dear {{ name }}!", "Dear Ana Bo!"),
        ('{{ field["First name"] }}', "Ana"),
        ("{{ series.main }}/{{ series['main'] }}", "A-000001/A-000001"),
        # Methods of mappings, words of Python and of Jinja2 are names like any other.
        ("{{ series.items }}{{ series.pass }}", "B-7C"),
        ("{{ self }} {{ loop }} {{ self | upper }}", "me round ME"),
        ("{{ language }} {{ row }}", "de 7"),
        ('{{ field["language"] }} {{ field["row"] }}', "fr 12A"),
        ("{% if name == 'Ana Bo' %}yes{% elif empty %}no{% else %}never{% endif %}", "yes"),
        ("{% if empty %}a{% elif row > 6 and not empty or false %}b{% else %}c{% endif %}", "b"),
        ("{% if 'Bo' in name and row in [6, 7] %}in{% endif %}", "in"),
        ("{{ 'a' if row is odd else 'b' }}{{ 'a' if row is even else 'b' }}", "ab"),
        ("{{ name ~ '-' ~ row }} {{ name + '!' }}", "Ana Bo-7 Ana Bo!"),
        (
            "{{ row + 1 }} {{ row - 10 }} {{ row * 2 }} {{ row // 2 }} {{ row % 4 }} {{ -row }} {{ +row }}",
            "8 -3 14 3 3 -7 7",
        ),
        ("{{ name[0] }}{{ name[-1] }} {{ name[:3] }} {{ name[4:6:1] }}", "Ao Ana Bo"),
        ("{{ name.split(' ')[1] }} {{ name.split()[0].strip('A') }}", "Bo na"),
        ("{% if name.startswith('Ana') and not name.isdigit() %}{{ name.removeprefix('Ana ') }}{% endif %}", "Bo"),
        (
            "{{ name | upper }} {{ name | lower }} {{ 'o neil' | title }} {{ 'aBC' | capitalize }}",
            "ANA BO ana bo O Neil Abc",
        ),
        ("{{ '  x ' | trim }}{{ name | length }}{{ row | length }}", "x61"),
        ("{{ name | replace('Bo', 'Lu') }} {{ row | replace('7', 'seven') }}", "Ana Lu seven"),
        ("{{ empty | default('none') }} {{ name | default('none') }} {{ ' ' | default(row) }}", "none Ana Bo 7"),
        (
            "{{ travel | date }} {{ travel | date('long') }} {{ travel | date('EEEE') }}",
            "09.03.2026 9. März 2026 Montag",
        ),
        ("{{ born | date('short') }} {{ born | trim | date('y') }}", "09.03.26 2026"),
        ("{{ field['born'] | default('1.1.1999') | date('d. MMMM') }}", "9. März"),
        ("{{ amount | number }} {{ amount | number(2) }} {{ row | number }}", "1.234,5 1.234,50 7"),
        ("{{ amount | money('EUR') }} {{ '0.255' | percent }}", "1.234,50\u00a0€ 25,5\u00a0%"),
        ("{# not seen #}a{% raw %}{{ b }}{% endraw %}", "a{{ b }}"),
        # A tag that has a line to itself leaves no empty line; one line end at the end is YAML's.
        ("a\n{% if row %}\nb\n{% endif %}\nc\n", "a\nb\nc"),
        ("a\n\n", "a\n"),
        ("e\u0301", "é"),
    ],
)
def test_what_a_template_gives(text: str, expected: str) -> None:
    assert render(text) == expected


@given(st.text(st.characters(exclude_categories=("Cs", "Cc"), exclude_characters="{}"), max_size=200))
def test_a_text_without_braces_is_given_as_it_is(text: str) -> None:
    import unicodedata

    template = compile_text(text, "x")
    assert template.constant == template.render(RECORD) == unicodedata.normalize("NFC", text)


@given(st.text(st.characters(codec="utf-8"), max_size=300))
def test_a_value_is_never_read_as_a_template(value: str) -> None:
    record = Context({"name": value}, {}, "", "en", 2)
    assert render("<{{ name }}>", record) == f"<{value}>"
    assert render("<{{ name ~ '' }}>", record) == f"<{value}>"


def test_names_series_and_words() -> None:
    template = compile_text("{{ name }}{{ field['First name'] }}{{ series.main }}{{ row }}", "x")
    assert template.names == {"name", "First name"}
    assert template.series == {"main"}
    assert template.words == {"row", "field", "series"}
    assert template.constant is None
    inside = "{% if a == b[0] %}{{ c | replace(d, e) }}{{ f.split(g) }}{{ h if i is odd else [j, (k, l)] }}{% endif %}"
    assert compile_text(inside, "x").names == set("abcdefghijkl")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{{ nobody }}", "the record has no field 'nobody', which the template at l.yaml:4:11 uses"),
        ("{{ nobody | upper }}", "the record has no field 'nobody', which the template at l.yaml:4:11 uses"),
        ("{{ series.none }}", "the record has no serial 'none', which the template at l.yaml:4:11 uses"),
        ("{{ name.split()[7] }}", "the template at l.yaml:4:11 cannot be worked out: list object has no element 7"),
        (
            "{{ name.split()[7] | upper }}",
            "the template at l.yaml:4:11 cannot be worked out: list object has no element 7",
        ),
        (
            "{{ name.split()[7] + 'a' }}",
            "the template at l.yaml:4:11 cannot be worked out: list object has no element 7",
        ),
        ("{{ name.split(empty) }}", "the template at l.yaml:4:11 cannot be worked out: empty separator"),
        (
            "{% if name > row %}{% endif %}",
            "the template at l.yaml:4:11 cannot be worked out: '>' not supported between",
        ),
        ("{{ row // 0 }}", "the template at l.yaml:4:11 cannot be worked out: integer division or modulo by zero"),
        ("{{ -name }}", "the template at l.yaml:4:11 cannot be worked out: bad operand type for unary -: 'str'"),
        ("{{ name * row }}", "a template cannot work out str * int: only whole numbers are counted with"),
        ("{{ name % row }}", "a template cannot work out str % int: only whole numbers are counted with"),
        ("{{ name + row }}", "a template cannot work out str + int: only whole numbers are counted with"),
        ("{{ [name] + [name] }}", "a template cannot work out list + list: only whole numbers are counted with"),
        ("{{ name is odd }}", "'even' and 'odd' are asked of whole numbers, such as row"),
        ("{{ name == '' }}", "an expression gives False, which is neither text nor a whole number"),
        ("{{ none }}", "an expression gives None, which is neither text nor a whole number"),
        ("{{ [name] }}", "an expression gives ['Ana Bo'], which is neither text nor a whole number"),
        ("{{ name.split() | upper }}", "filter 'upper' works on text, not on list"),
        ("{{ true | length }}", "filter 'length' works on text, not on bool"),
        ("{{ name | replace(empty, 'x') }}", "filter 'replace' cannot look for an empty text"),
        (
            "{{ name | date }}",
            "field 'name': 'Ana Bo' is not a date written year-month-day, such as 2026-03-09 (filter 'date')",
        ),
        (
            "{{ travel[:7] | date }}",
            "the value of filter 'date': '2026-03' is not a date written year-month-day, such as 2026-03-09",
        ),
        (
            "{{ '2026-02-30' | date }}",
            "the value of filter 'date': '2026-02-30' is not a day of the calendar (filter 'date')",
        ),
        (
            "{{ travel | date(name) }}",
            "'Ana Bo' is not a way to write a date: use short, medium, long, full or a pattern",
        ),
        ("{{ name | number }}", "field 'name': 'Ana Bo' is not a number such as 1234.5 (filter 'number')"),
        ("{{ amount | number(row + 7) }}", "filter 'number' takes 0 to 10 places, not 14"),
        ("{{ amount | number(name) }}", "filter 'number' takes 0 to 10 places, not 'Ana Bo'"),
        (
            "{{ amount | money(name) }}",
            "field 'amount': '1234.5' cannot be written in 'Ana Bo', which is not a currency code",
        ),
        (
            "{{ amount | money('JPY') }}",
            "field 'amount': '1234.5' has more decimals than JPY, which has 0 (filter 'money')",
        ),
        ("{{ empty | percent }}", "field 'empty': '' is not a number such as 1234.5 (filter 'percent')"),
    ],
)
def test_what_is_refused_of_a_record(text: str, says: str) -> None:
    assert refused(text).startswith(says)


def test_a_date_that_is_not_written_as_the_job_says() -> None:
    record = Context({"born": "2026-03-09"}, {}, "de", "de", 2, {"born": "%d.%m.%Y"})
    assert refused("{{ born | date }}", record) == (
        "field 'born': '2026-03-09' is not a date written %d.%m.%Y (filter 'date')"
    )


def test_a_long_wrong_value_is_cut_in_the_message() -> None:
    assert refused("{{ name | number }}", Context({"name": "x" * 99}, {}, "", "en", 2)) == (
        f"field 'name': '{'x' * 60}…' is not a number such as 1234.5 (filter 'number')"
    )


def test_a_text_has_a_longest() -> None:
    record = Context({"name": "x" * LONGEST_TEXT}, {}, "", "en", 2)
    assert len(render("{{ name }}", record)) == LONGEST_TEXT
    assert refused("{{ name }}!", record) == "the text is 10,001 characters long; 10,000 are the most"
    assert refused("{{ name ~ name }}", record) == "the text is 20,000 characters long; 10,000 are the most"


def test_replacing_cannot_blow_up() -> None:
    record = Context({"name": "a" * 5000}, {}, "", "en", 2)
    assert refused("{{ name | replace('a', name) | replace('a', name) }}", record) == (
        "filter 'replace' would give more than 10,000 characters"
    )
    # A long text may still be made shorter.
    long = Context({"name": "ab" * 20_000}, {}, "", "en", 2)
    assert render("{{ name | replace('ab', '') }}", long) == ""


@pytest.mark.parametrize(
    ("text", "holds"),
    [
        ("name == 'Ana Bo'", True),
        ("name", True),
        ("empty", False),
        ("not empty", True),
        ("row > 7", False),
        ("language in ['de', 'at']", True),
        ("series.main.endswith('1')", True),
        ("field['First name'] | length == 3", True),
    ],
)
def test_conditions(text: str, holds: bool) -> None:
    assert compile_condition(text, "x").holds(RECORD) is holds


def test_a_condition_knows_its_names() -> None:
    condition = compile_condition("name == series.main", "x")
    assert condition.names == frozenset(("name",))
    assert condition.series == frozenset(("main",))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{{ name }}", "x: a condition is an expression and stands without braces ('name')"),
        ("{% if name %}", "x: a condition is an expression and stands without braces ('if name')"),
        ("", "x: template: unexpected 'end of template'"),
        ("name ==", "x: template: unexpected 'end of template'"),
        ("name = 'a'", "x: template: there is more after the expression's end"),
        ("name %} x", "x: template: unexpected '}'"),
        ("name and range(3)", "x: template: 'range' cannot be called (there are filters, and methods of texts)"),
        ("x" * (LONGEST_TEMPLATE + 1), "x: the template is longer than 20,000 characters"),
    ],
)
def test_faults_of_conditions(text: str, says: str) -> None:
    with pytest.raises(CallerError) as caught:
        compile_condition(text, "x")
    assert str(caught.value) == says


def test_a_condition_that_cannot_be_judged_refuses_the_record() -> None:
    with pytest.raises(RowRefused, match="the template at x cannot be worked out"):
        compile_condition("name > 3", "x").holds(RECORD)


def test_templates_go_to_other_processes() -> None:
    template = pickle.loads(pickle.dumps(compile_text("{{ name | upper }}", "x")))  # noqa: S301 - our own, just made
    condition = pickle.loads(pickle.dumps(compile_condition("name", "x")))  # noqa: S301 - as above
    assert template.render(RECORD) == "ANA BO"
    assert condition.holds(RECORD)


def test_one_record_serves_many_templates_and_is_not_changed() -> None:
    record = Context(dict(VALUES), dict(SERIALS), "de", "de", 7)
    for text in ("{{ name | upper }}", "{{ row + 1 }}", "{% if name %}x{% endif %}"):
        assert render(text, record) == render(text, record)
    assert record == Context(VALUES, SERIALS, "de", "de", 7)
    assert record.values == VALUES


@pytest.mark.parametrize(
    ("text", "most"), [("constant", 3e-6), ("Dear {{ name }}", 3e-6), ("{{ name | upper }}", 30e-6)]
)
def test_rendering_is_fast(text: str, most: float) -> None:
    # Measured 0.1, 0.4 and 1.3 µs; the best of several runs, so that a busy machine does not decide.
    template = compile_text(text, "x")
    best = min(timeit.repeat(lambda: template.render(RECORD), number=1000, repeat=20)) / 1000
    assert best < most
