"""Invented recipients, seeded: the first n of a longer list are the list of n."""

from __future__ import annotations

import csv
import itertools
import random
from collections.abc import Iterator
from pathlib import Path

FIELDS = (
    *("name", "line1", "line2", "line3", "line4", "line5"),
    *("language", "greeting", "since", "picture", "code", "key"),
)
LANGUAGES = ("en", "pl", "el", "ar")
PICTURES = 6

_SYLLABLES = [first + last for first in "bcdfghjklmnprstvwz" for last in "aeo"]
_GREEK = ("Γιώργος", "Μαρία", "Ελένη", "Κώστας", "Νίκος", "Σοφία", "Άννα", "Πέτρος", "Ιωάννα", "Δημήτρης")
_ARABIC = ("محمد", "فاطمة", "علي", "ليلى", "خالد", "مريم", "يوسف", "عائشة", "إبراهيم", "سلمى")
_COUNTRIES = ("United States", "Canada", "España", "Österreich", "France")
_WAYS = ("Street", "Avenue", "Road", "Lane")


def make_records(count: int, path: Path) -> None:
    """Writes `count` recipients as CSV (UTF-8, comma), languages in turn."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(FIELDS)
        writer.writerows(itertools.islice(_people(random.Random(7)), count))


def _people(chance: random.Random) -> Iterator[tuple[str, ...]]:
    def word(syllables: int) -> str:
        return "".join(chance.choices(_SYLLABLES, k=syllables)).capitalize()

    first = [word(2) + chance.choice(("n", "l", "", "s", "é", "ö")) for _ in range(600)]
    last = [word(3) + chance.choice(("n", "r", "son", "ski", "ñez", "")) for _ in range(8000)]
    streets = [word(3) for _ in range(3000)]
    cities = [word(2) + chance.choice(("ton", "ville", "burg")) for _ in range(1200)]
    for language in itertools.cycle(LANGUAGES):
        name = f"{chance.choice(first)} {chance.choice(last)}"
        greeting = {
            "en": name.split(maxsplit=1)[0],
            "pl": name,
            "el": chance.choice(_GREEK),
            "ar": chance.choice(_ARABIC),
        }
        yield (
            name,
            f"Unit {chance.randrange(1, 400)}, Floor {chance.randrange(1, 30)}",
            f"{chance.randrange(1, 9999)} {chance.choice(streets)} {chance.choice(_WAYS)}",
            f"Building {word(2)}",
            f"{chance.choice(cities)} {chance.randrange(100000):05d}-{chance.randrange(10000):04d}",
            chance.choice(_COUNTRIES),
            language,
            greeting[language],
            str(chance.randrange(1990, 2024)),
            str(chance.randrange(1, PICTURES + 1)),
            f"{chance.getrandbits(32):08x}",
            f"{chance.getrandbits(80):020x}",
        )
