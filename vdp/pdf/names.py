"""The resource names that content streams use; the same in every process, so workers' pages fit the parent's file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from vdp.marks import FormMark, ImageMark, Mark, TextMark
from vdp.pdf.objects import name_text


@dataclass(frozen=True, slots=True)
class Names:
    """Face key → font name, asset key → XObject name, both with their slash.  Spot plates go by their own names."""

    fonts: Mapping[str, str]
    assets: Mapping[str, str]


def name_resources(faces: Iterable[str], forms: Iterable[str], art: Iterable[str], pictures: Iterable[str]) -> Names:
    """Fonts are called after their face, XObjects by kind and place in the order given."""
    assets: dict[str, str] = {}
    for letter, keys in (("S", forms), ("A", art), ("P", pictures)):
        assets.update({key: f"/{letter}{place}" for place, key in enumerate(keys, 1)})
    return Names({face: name_text("F" + face) for face in faces}, assets)


class Uses(NamedTuple):
    """What a run of marks draws with."""

    faces: frozenset[str]
    assets: frozenset[str]
    spots: frozenset[str]
    over: bool = False


def uses_of(marks: Iterable[Mark]) -> Uses:
    faces: set[str] = set()
    assets: set[str] = set()
    spots: set[str] = set()
    over = False
    for mark in marks:
        if isinstance(mark, (ImageMark, FormMark)):
            assets.add(mark.asset)
            continue
        over = over or mark.ink.over
        if mark.ink.spot:
            spots.add(mark.ink.spot)
        if isinstance(mark, TextMark):
            faces.update(glyphs.face for line in mark.lines for glyphs in line.glyphs)
    return Uses(frozenset(faces), frozenset(assets), frozenset(spots), over)
