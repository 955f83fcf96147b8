"""Conditions inside templates: found in the order they stand in, in their own words, and told as they are reached."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.errors import OurBug
from vdp.job import outcomes
from vdp.job.context import Context
from vdp.job.outcomes import Watched, watched
from vdp.job.template import compile_text


def asked(text: str, **values: str) -> tuple[tuple[str, ...], list[tuple[int, bool]]]:
    seen = Watched(compile_text(text, "layout.yaml:1:1"))
    context = Context(values, {"if": "A1"}, "en", "en", 5)
    return seen.conditions, [tuple(each) for each in seen.outcomes(context)]  # type: ignore[misc]  # pairs


@pytest.mark.parametrize(
    ("text", "conditions", "reached"),
    [
        ("{% if a %}x{% endif %}", ("a",), [(0, True)]),
        ("{% if a -%} x {%- elif b == 'y' %}y{% else %}z{% endif %}", ("a", "b == 'y'"), [(0, True)]),
        ("{% if not a %}x{% elif b == 'y' %}y{% endif %}", ("not a", "b == 'y'"), [(0, False), (1, False)]),
        ("{% if a %}{% if b %}x{% endif %}{% endif %}", ("a", "b"), [(0, True), (1, False)]),
        ("{{ 'x' if a else 'y' }}", ("a",), [(0, True)]),
        ("{{ ('p' if a else 'q') if b else ('r' if c else 's') }}", ("a", "b", "c"), [(1, False), (2, True)]),
        ("{% if (c if a else b) == 'z' %}x{% endif %}", ("(c if a else b) == 'z'", "a"), [(1, True), (0, True)]),
        ("{% if a and (b or 'if' in c) %}x{% endif %}", ("a and (b or 'if' in c)",), [(0, False)]),
        ("{{ ['p', 'q' if a else 'r'][1] }}", ("a",), [(0, True)]),
        ("{% if row\n  is   odd %}x{% endif %}{# if #}if {{ series.if }}", ("row is odd",), [(0, True)]),
        ("plainly {{ a }}, if you like", (), []),
    ],
)
def test_conditions_and_what_they_come_to(
    text: str, conditions: tuple[str, ...], reached: list[tuple[int, bool]]
) -> None:
    assert asked(text, a="x", b="", c="z") == (conditions, reached)


def test_a_template_without_conditions_is_not_watched() -> None:
    for text in ("Dear {{ name }}", "Dear guest", "{{ name|upper }}"):
        assert watched(compile_text(text, "layout.yaml:1:1")) is None
    assert watched(compile_text("{% if name %}x{% endif %}", "layout.yaml:1:1")) is not None


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(("", "x", "yes")), min_size=3, max_size=3))
def test_outcomes_are_those_that_the_text_shows(values: list[str]) -> None:
    """The branch that is rendered is the one that the outcomes tell."""
    text = "{% if a %}A{% elif b == 'x' %}B{% else %}{{ 'C' if c else 'D' }}{% endif %}"
    named = dict(zip("abc", values, strict=True))
    told = dict(asked(text, **named)[1])
    expected = "A" if told[0] else "B" if told[1] else "C" if told[2] else "D"
    assert compile_text(text, "x").render(Context(named, {}, "en", "en", 2)) == expected


def test_words_that_do_not_go_with_the_conditions_are_our_bug(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outcomes, "_words", lambda _: [])
    with pytest.raises(OurBug, match="1 conditions, and the words of 0"):
        Watched(compile_text("{% if a %}x{% endif %}", "layout.yaml:1:1"))
