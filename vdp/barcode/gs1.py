"""GS1 element strings in bracket form, ``(01)09501101530003(10)AB-123``: read, judged, written as symbols hold them.

Lives here: the bracket form and FNC1 separators (GS1 General Specifications §7.8).  Not here: what each application
identifier holds (`gs1_rules`), URIs (`digital_link`), modules.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from vdp.barcode.gs1_rules import IDENTIFIERS, clashes, lacks
from vdp.errors import RowRefused

#: How FNC1 between element strings is written in text and reported by readers (§7.8.3): ASCII group separator.
SEPARATOR = "\x1d"

#: Own limit, no source: more than the largest GS1 symbol holds.
LONGEST = 8000

_ELEMENT = re.compile(r"\(([0-9]{2,4})\)((?:[^(\\]|\\\()*)")


@dataclass(frozen=True, slots=True)
class ElementString:
    """Application identifiers and their values, judged, in the order given."""

    elements: tuple[tuple[str, str], ...]

    def data(self) -> str:
        """What follows FNC1 in first position: AIs and values, SEPARATOR after each that does not end itself but the
        last."""
        words = [ai + value + ("" if IDENTIFIERS[ai].ends_itself else SEPARATOR) for ai, value in self.elements]
        return "".join(words).removesuffix(SEPARATOR)

    def text(self) -> str:
        """Human readable interpretation (§4.14): AIs in brackets, which are not in the symbol."""
        return "".join(f"({ai}){value}" for ai, value in self.elements)

    def missing(self) -> tuple[str, ...]:
        """Sentences on AIs whose partner is not in this symbol; another symbol on the same item may carry it."""
        return lacks(tuple(ai for ai, _ in self.elements))


def parse(text: str) -> ElementString:
    r"""The element string that `text` writes in bracket form; a bracket within a value is written ``\(``.

    Raises RowRefused with every fault: unknown AI, wrong length, character, check digit or date, AIs that must not
    stand together.
    """
    if len(text) > LONGEST:
        raise RowRefused((f"a GS1 element string of {len(text)} characters is longer than {LONGEST}",))
    elements: list[tuple[str, str]] = []
    place = 0
    while match := _ELEMENT.match(text, place):
        elements.append((match[1], match[2].replace("\\(", "(")))
        place = match.end()
    if place < len(text) or not elements:
        mend = "write (AI)value, such as (10)AB-123, and \\( for a bracket within a value"
        raise RowRefused((f"'{text[place : place + 20]}' is not a GS1 element string: {mend}",))
    return judged(tuple(elements))


def judged(elements: tuple[tuple[str, str], ...]) -> ElementString:
    """The same, from AIs and values already apart."""
    faults: list[str] = []
    for ai, value in elements:
        if ai not in IDENTIFIERS:
            faults.append(f"({ai}) is not an application identifier that is known here")
        else:
            faults += [f"({ai}) {fault}" for fault in IDENTIFIERS[ai].faults(value)]
    faults += clashes(tuple(ai for ai, _ in elements))
    if faults:
        raise RowRefused(faults)
    return ElementString(elements)
