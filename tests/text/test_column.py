"""Texts whose lines begin at one edge: set as columns they are what their lines set one by one are."""

from __future__ import annotations

from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.text.test_wording import drawn
from vdp.errors import RowRefused
from vdp.job.faces import builtin_faces
from vdp.marks import Column
from vdp.text import Faces, Frame, Setter, Setting, Style

SETTER = Setter(Faces(builtin_faces()), 1200)
VALIGNS: tuple[Literal["top", "middle", "bottom"], ...] = ("top", "middle", "bottom")
BOX = (300, 200, 3000, 2600)

#: Words that are spelled, that are not, and what a column must not be made of.
words = st.one_of(
    st.text(st.sampled_from("AVTof1920-.,ßł "), max_size=14),
    st.sampled_from(
        [
            "office",
            "Ωβάς",
            "Жук",
            "ليلى",
            "\u2066a b\u2069",
            "\u2066\u2069",
            "\u2066 a\u2069",
            "12",
            "tail ",
            "soft\u00adly",
        ]
    ),
)


def shown(setting: Setting) -> object:
    """Size and glyphs; that a line stands in an isolate is no more than how it was asked for."""
    lines = [line._replace(text=line.text.strip("\u2066\u2069")) for line in setting.lines]
    return setting.size, drawn(lines)


def whole(frame: Frame, text: str) -> object:
    """What the text comes to when no column is thought of."""
    frame.leads = False
    try:
        found = frame.set(text)
    finally:
        frame.leads = True
    return shown(found)


@pytest.mark.parametrize("language", ["en", "el", "ar", "und"])
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@given(lines=st.lists(words, max_size=5), valign=st.sampled_from(VALIGNS))
@settings(max_examples=40, deadline=None)
def test_a_column_is_what_its_lines_are(
    language: str, turn: int, lines: list[str], valign: Literal["top", "middle", "bottom"]
) -> None:
    style = Style("sans", 11, least=9, leading=13, align="left", valign=valign, turn=turn)
    frame = Setter(SETTER.faces, 1200).frame(style, language, BOX)
    text = "\n".join(lines)
    try:
        due = whole(frame, text)
    except RowRefused:
        with pytest.raises(RowRefused):
            frame.check(text)
        return
    found = frame.set(text)
    assert shown(found) == due
    assert frame.check(text) == isinstance(found.lines, Column)
    if isinstance(found.lines, Column):
        assert len(found.lines) == len(list(found.lines))
        assert shown(frame.assumed(text)) == due


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("Anna Low\n\n12 Quay", True),
        ("Anna Low \n12 Quay", False),
        ("W" * 40, False),
        ("a\nb\nc\nd\ne\nf\ng\nh\ni\nj\nk\nl\nm\nn", False),
        ("", False),
        ("\n\n", False),
    ],
)
def test_what_a_column_is(text: str, column: bool) -> None:
    frame = SETTER.frame(Style("sans", 11, leading=13), "en", BOX)
    try:
        assert isinstance(frame.set(text).lines, Column) is column
    except RowRefused:
        assert not column


def test_lines_of_another_edge_are_no_column() -> None:
    for align in ("centre", "right", "end"):
        frame = SETTER.frame(Style("sans", 11)._replace(align=align), "en", BOX)
        assert not isinstance(frame.set("Anna Low").lines, Column)
    assert not isinstance(SETTER.frame(Style("sans", 11), "ar", BOX).set("Anna").lines, Column)
    assert isinstance(SETTER.frame(Style("sans", 11, align="left"), "ar", BOX).set("Anna").lines, Column)


def test_a_column_is_a_sequence_of_its_lines() -> None:
    lines = SETTER.set("one\n\nthree", Style("sans", 11, leading=13), "en", BOX).lines
    assert isinstance(lines, Column)
    assert [line.text for line in lines] == ["one", "three"]
    assert lines[1].text == lines[-1].text == "three"
    assert [line.text for line in lines[:1]] == ["one"]
    assert lines[0].y - lines[1].y == 2 * 217
