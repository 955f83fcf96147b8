"""A column told at first sight is what a close look tells."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.job.faces import builtin_faces
from vdp.text import Faces
from vdp.text.glance import Glance
from vdp.text.languages import read_language
from vdp.text.shape import Shaper
from vdp.text.voice import Voice

FACES = Faces(builtin_faces())
#: Lines of addresses, and what makes a text none.
LINES = [
    "Anna Low",
    "W" * 14,
    "12 Quay Street",
    "VS1000000012",
    "",
    "Ötzi ñé",
    "12",
    "fi",
    "of",
    "tail ",
    " head",
    "Ωβάς",
    "ليلى",
    "a\tb",
    "Apt 3.",
    "(a",
]
LANGUAGES = ["en", "el", "ar", "ru", "und"]
MOST, ROOM = 4, 9000.0


def informed(language: str) -> Glance:
    """One that has seen many columns, isolated and not."""
    glance = Glance(Voice(FACES, Shaper(FACES), "sans", read_language(language)), MOST, ROOM)
    for _ in range(60):
        for line in ("Anna Low", "12 Quay Street", "fogli ABVWT", "Öñé, -.()of"):
            glance.column(f"\u2066{line}\u2069" if language == "ar" else line)
    return glance


GLANCES = {language: informed(language) for language in LANGUAGES}

line = st.one_of(
    st.sampled_from(LINES),
    st.sampled_from(LINES).map("\u2066{}\u2069".format),
    st.text(st.sampled_from("AVWTofi12, -.\u2066\u2069é"), max_size=18),
)


@pytest.mark.parametrize("language", LANGUAGES)
@given(lines=st.lists(line, max_size=6))
@settings(max_examples=150, deadline=None)
def test_a_glance_tells_what_a_close_look_tells(language: str, lines: list[str]) -> None:
    glance = GLANCES[language]
    text = "\n".join(lines)
    voice = Voice(FACES, Shaper(FACES), "sans", read_language(language))
    assert glance.column(text) == (voice.column(text, MOST, ROOM) is not None)


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_told_at_first_sight_is_not_looked_at(language: str, monkeypatch: pytest.MonkeyPatch) -> None:
    glance = GLANCES[language]
    monkeypatch.setattr(glance._voice, "column", lambda *_: pytest.fail("a close look was taken"))
    opened, closed = ("\u2066", "\u2069") if language == "ar" else ("", "")
    assert glance.column(f"{opened}Anna Low{closed}\n{opened}12 Quay Street{closed}")
    # More letters than surely fit, and narrow ones.
    assert glance.column(f"{opened}{'il' * 9}{closed}")
    assert glance.column("Anna Low")


def test_a_box_without_room_takes_no_column() -> None:
    for most, room in ((0, ROOM), (MOST, 100.0)):
        glance = Glance(Voice(FACES, Shaper(FACES), "sans", read_language("en")), most, room)
        for _ in range(100):
            assert not glance.column("Anna Low")
