"""Which characters a font never shapes by anything but pairs: read from its GSUB and GPOS tables.

Lives here: the tables as far as that question needs them (ISO/IEC 14496-22, OpenType layout common table formats).
Not here: shaping (HarfBuzz does it), what is made of the answer (`spell`).

A glyph is changed by a lookup only where it stands in that lookup's coverage.  What stands in none of those that can
be reached, but in those that kern pairs, keeps its glyph, and its advance depends on the next glyph alone.  What begins
a ligature keeps its glyph too, unless the ligature's second part follows it.
"""

from __future__ import annotations

from collections.abc import Sequence
from struct import unpack_from
from typing import NamedTuple

#: Features that HarfBuzz leaves off unless asked for (OpenType layout tag registry), and that nothing here asks for.
_OFF = frozenset(
    [
        "aalt",
        "afrc",
        "c2pc",
        "c2sc",
        "case",
        "cpsp",
        "dlig",
        "dnom",
        "frac",
        "halt",
        "hist",
        "hlig",
        "lnum",
        "numr",
        "onum",
        "ordn",
        "palt",
        "pcap",
        "pnum",
        "salt",
        "sinf",
        "smcp",
        "subs",
        "sups",
        "swsh",
        "titl",
        "tnum",
        "unic",
        "zero",
    ]
) | {f"ss{number:02}" for number in range(1, 21)}

#: Tables that HarfBuzz shapes by besides, or instead.
FOREIGN = frozenset({"morx", "mort", "kerx", "kern", "trak", "Silf"})

#: Lookups that change nothing themselves but call others, and the one that only says where the real one is.
_CONTEXT = {"GSUB": {5: 2, 6: 3}, "GPOS": {7: 2, 8: 3}}
_EXTENSION = {"GSUB": 7, "GPOS": 9}
_PAIRS = 2
_LIGATURES = 4
#: Value formats that move nothing but the first glyph's advance, with or without variation.
_ADVANCE_ONLY = 0x0044
#: Lookup flags that pass over base glyphs or ligatures.
_SKIPS = 0x0006


class _Lookup(NamedTuple):
    """`subtables` are (kind, offset)."""

    flags: int
    subtables: list[tuple[int, int]]


class Changed(NamedTuple):
    """What rules may change but for kerning a pair: glyphs `anywhere`, and `pairs` where one follows the other."""

    anywhere: frozenset[int]
    pairs: frozenset[tuple[int, int]]


def unruly(data: bytes, tag: str, glyphs: frozenset[int]) -> Changed:
    """What the rules of a GSUB or GPOS table may change in text made of `glyphs` alone.  All of them where the table
    cannot be judged."""
    if not data:
        return Changed(frozenset(), frozenset())
    minor, features, lookups = unpack_from(">2xH2x2H", data)
    if minor and unpack_from(">I", data, 10)[0]:
        return Changed(glyphs, frozenset())
    table = _Table(data, tag, lookups, glyphs)
    return table.changed(_asked_for(data, features))


def _asked_for(data: bytes, features: int) -> set[int]:
    """Lookups of features that may be on."""
    found: set[int] = set()
    (count,) = unpack_from(">H", data, features)
    for at in range(count):
        name, offset = unpack_from(">4sH", data, features + 2 + 6 * at)
        if name.decode("latin-1") not in _OFF and not name.startswith(b"cv"):
            (many,) = unpack_from(">H", data, features + offset + 2)
            found.update(unpack_from(f">{many}H", data, features + offset + 4))
    return found


class _Table:
    def __init__(self, data: bytes, tag: str, start: int, glyphs: frozenset[int]) -> None:
        self._data = data
        self._glyphs = glyphs
        self._contexts = _CONTEXT[tag]
        self._tag = tag
        self._lookups = [self._lookup(start + offset) for offset in self._list(start)]

    def _list(self, at: int) -> tuple[int, ...]:
        """Numbers of 16 bits after their count."""
        (count,) = unpack_from(">H", self._data, at)
        return unpack_from(f">{count}H", self._data, at + 2)

    def _lookup(self, at: int) -> _Lookup:
        kind, flags = unpack_from(">2H", self._data, at)
        subtables = []
        for offset in self._list(at + 4):
            place, real = at + offset, kind
            if kind == _EXTENSION[self._tag]:
                real, far = unpack_from(">HI", self._data, place + 2)
                place += far
            subtables.append((real, place))
        return _Lookup(flags, subtables)

    def changed(self, roots: set[int]) -> Changed:
        """What the lookups reached from `roots` may change."""
        called = self._called(roots)
        found: set[int] = set()
        pairs: set[tuple[int, int]] = set()
        for number in roots | called:
            lookup = self._lookups[number]
            for kind, at in lookup.subtables:
                if kind in self._contexts:
                    continue
                covered = self._covered(at + unpack_from(">H", self._data, at + 2)[0])
                if kind == _LIGATURES and self._tag == "GSUB":
                    begun = self._begun(at)
                    if number in called or lookup.flags & _SKIPS:
                        covered = {first for first, _ in begun}
                    else:
                        covered = {first for first, second in begun if second is None}
                        pairs |= {(first, second) for first, second in begun if second is not None}
                elif kind == _PAIRS and self._tag == "GPOS" and number not in called and not lookup.flags & _SKIPS:
                    first, second = unpack_from(">2H", self._data, at + 4)
                    if not second and not first & ~_ADVANCE_ONLY:
                        continue
                found |= covered
        return Changed(frozenset(found), frozenset(pairs))

    def _called(self, roots: set[int]) -> set[int]:
        """Lookups that contexts call, from `roots` on, where the context can come about."""
        called: set[int] = set()
        waiting = list(roots)
        seen = set(roots)
        while waiting:
            for kind, at in self._lookups[waiting.pop()].subtables:
                if kind in self._contexts:
                    calls = self._calls(kind, at)
                    called |= calls
                    waiting += calls - seen
                    seen |= calls
        return called

    def _calls(self, kind: int, at: int) -> set[int]:
        """What a context calls where its glyphs are among those asked about."""
        (form,) = unpack_from(">H", self._data, at)
        chained = self._contexts[kind] == 3
        if form == 3:
            return self._calls_by_place(at + 2, chained)
        (coverage,) = unpack_from(">H", self._data, at + 2)
        members = self._members(at + coverage)
        if self._glyphs.isdisjoint(members):
            return set()
        called: set[int] = set()
        # Which numbers a rule may ask for: glyphs, or classes that any of the glyphs is in; before, in and after it.
        firsts = self._glyphs.intersection(members)
        known = [self._glyphs] * 3
        if form == 2:
            offsets = unpack_from(">3H" if chained else ">H", self._data, at + 4)
            classes = [self._classes(at + offset if offset else 0) for offset in offsets] * (1 if chained else 3)
            firsts = frozenset(classes[1][glyph] for glyph in firsts)
            known = [frozenset(part.values()) for part in classes]
        sets = self._list(at + (4 if form == 1 else 10 if chained else 6))
        for place, offset in enumerate(sets):
            if offset and (place if form == 2 else members[place]) in firsts:
                for rule in self._list(at + offset):
                    called |= self._calls_by_rule(at + offset + rule, chained, known)
        return called

    def _classes(self, at: int) -> dict[int, int]:
        """The class of each of the glyphs; `at` 0 stands for no table, where all are of class 0."""
        classes = dict.fromkeys(self._glyphs, 0)
        if not at:
            return classes
        form, count = unpack_from(">2H", self._data, at)
        if form == 1:
            (many,) = unpack_from(">H", self._data, at + 4)
            listed = zip(range(count, count + many), unpack_from(f">{many}H", self._data, at + 6), strict=True)
            return classes | {glyph: number for glyph, number in listed if glyph in self._glyphs}
        for place in range(count):
            first, last, number = unpack_from(">3H", self._data, at + 4 + 6 * place)
            classes |= dict.fromkeys(self._glyphs.intersection(range(first, last + 1)), number)
        return classes

    def _calls_by_place(self, place: int, chained: bool) -> set[int]:
        """Format 3, a coverage for each place.  `place` is just behind the format."""
        data, start = self._data, place - 2
        coverages: list[int] = []
        if chained:
            for _ in range(3):
                part = self._list(place)
                coverages += part
                place += 2 + 2 * len(part)
            (count,) = unpack_from(">H", data, place)
            place += 2
        else:
            many, count = unpack_from(">2H", data, place)
            coverages += unpack_from(f">{many}H", data, place + 4)
            place += 4 + 2 * many
        if not all(self._covered(start + offset) for offset in coverages):
            return set()
        return self._records(place, count)

    def _calls_by_rule(self, place: int, chained: bool, known: Sequence[frozenset[int]]) -> set[int]:
        """Formats 1 and 2, a glyph or class for each place; `known` are those that there are before, in and after."""
        data = self._data
        others: list[tuple[int, ...]] = [(), (), ()]
        if chained:
            for part, less in enumerate((0, 1, 0)):
                (many,) = unpack_from(">H", data, place)
                others[part] = unpack_from(f">{many - less}H", data, place + 2)
                place += 2 + 2 * (many - less)
            (count,) = unpack_from(">H", data, place)
            place += 2
        else:
            many, count = unpack_from(">2H", data, place)
            others[1] = unpack_from(f">{many - 1}H", data, place + 4)
            place += 4 + 2 * (many - 1)
        if not all(numbers.issuperset(part) for numbers, part in zip(known, others, strict=True)):
            return set()
        return self._records(place, count)

    def _records(self, place: int, count: int) -> set[int]:
        return {unpack_from(">H", self._data, place + 4 * record + 2)[0] for record in range(count)}

    def _begun(self, at: int) -> set[tuple[int, int | None]]:
        """First and second glyphs of ligatures whose parts are all among the glyphs; None where there is one alone."""
        data = self._data
        (coverage,) = unpack_from(">H", data, at + 2)
        found: set[tuple[int, int | None]] = set()
        for first, offset in zip(self._members(at + coverage), self._list(at + 4), strict=False):
            if first not in self._glyphs:
                continue
            for ligature in self._list(at + offset):
                place = at + offset + ligature
                (count,) = unpack_from(">H", data, place + 2)
                parts = unpack_from(f">{count - 1}H", data, place + 4)
                if self._glyphs.issuperset(parts):
                    found.add((first, parts[0] if parts else None))
        return found

    def _covered(self, at: int) -> set[int]:
        return set(self._glyphs.intersection(self._members(at)))

    def _members(self, at: int) -> list[int]:
        """Glyphs of a coverage table in its order."""
        form, count = unpack_from(">2H", self._data, at)
        if form == 1:
            return list(unpack_from(f">{count}H", self._data, at + 4))
        members: list[int] = []
        for place in range(count):
            first, last, _ = unpack_from(">3H", self._data, at + 4 + 6 * place)
            members += range(first, last + 1)
        return members
