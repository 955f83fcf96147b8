"""Small books and marks for the writer's tests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from vdp.job.faces import builtin_faces
from vdp.job.model import Spot
from vdp.marks import BLACK, FillMark, Ink, Line, Mark, Stretch, TextMark
from vdp.pdf.book import Book
from vdp.pdf.content import Renderer
from vdp.pdf.names import name_resources
from vdp.pdf.writer import Writer
from vdp.text import Faces, Setter

FACES = builtin_faces()
SETTER = Setter(Faces(FACES), 1200)
CLEAR = Ink("Clear", 1.0, (0, 0, 0, 0))


def book(pieces: int = 1, **more: Any) -> Book:
    """A page of 1000 × 600 dots with 50 of bleed."""
    base: dict[str, Any] = {
        "dpi": 1200,
        "width": 1000,
        "height": 600,
        "bleed": 50,
        "pieces": pieces,
        "faces": FACES,
        "spots": {"Clear": Spot()},
        "title": "Small ⟨book⟩ & more",
        "created": datetime(2027, 1, 15, 12, tzinfo=UTC),
        "identity": bytes(range(32)),
        "creator": "vdp test",
    }
    return Book(**(base | more))


def glyphs(text: str, face: str = "sans", language: str = "en") -> tuple[Stretch, ...]:
    return SETTER.shape(text, face, language)


def text(words: str, face: str = "sans", language: str = "en", ink: Ink = BLACK, turn: int = 0) -> TextMark:
    line = Line(100, 300, glyphs(words, face, language), words)
    return TextMark("t", ink, (100, 200, 800, 200), turn, 12.0, (line,))


def sides(count: int) -> list[list[Mark]]:
    """Pages that differ: a text with the page's number, and a mark on Clear."""
    return [[text(f"Page {n}"), FillMark("c", CLEAR, (100 + n % 50, 100, 50, 50))] for n in range(count)]


def renderer(faces: Mapping[str, object] = FACES, assets: Sequence[str] = ()) -> Renderer:
    return Renderer(1200, name_resources(faces, assets, [], []))


def parts(count: int, first: int = 1) -> list[bytes]:
    """What the document parts of so many pieces hold."""
    return [b"/Record %d" % (first + at) for at in range(count)]


def write(path: Path, pages: Sequence[Sequence[Mark]], **more: Any) -> Path:
    """A whole file of these pages, two a piece."""
    with Writer(path, book(len(pages) // 2, **more)) as writer:
        drawer = Renderer(1200, writer.names)
        writer.add(drawer.render(pages), parts(len(pages) // 2))
        writer.finish(drawer.glyphs)
    return path
