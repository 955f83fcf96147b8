"""Conditions inside an item's texts, and which of their outcomes some piece has shown already.

Not here: finding and asking them (`vdp.job.outcomes`), the choice (`choose`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from vdp.job.context import Context
from vdp.job.outcomes import watched
from vdp.job.template import Template


class Branches:
    """The conditions inside one template of an item, and what each has come to so far."""

    def __init__(self, item: str, language: str, template: Template) -> None:
        self.item, self.language = item, language
        self._watched = watched(template)
        self.conditions = self._watched.conditions if self._watched is not None else ()
        self.seen: list[set[bool]] = [set() for _ in self.conditions]

    @property
    def name(self) -> str:
        return f"{self.item} ({self.language})" if self.language else self.item

    def new(self, context: Context) -> list[str]:
        """Every outcome that the record is the first to show, in words."""
        if self._watched is None or all(len(seen) == 2 for seen in self.seen):
            return []
        found = []
        for nth, true in self._watched.outcomes(context):
            if true not in self.seen[nth]:
                self.seen[nth].add(true)
                found.append(f"{self.conditions[nth]} is {'true' if true else 'false'}")
        return found


def one_sided(branches: Iterable[Branches]) -> Iterator[str]:
    """Sentences about conditions inside texts that always come to the same, or are never reached."""
    found: dict[tuple[str, str, str], list[str]] = {}
    for each in branches:
        for condition, seen in zip(each.conditions, each.seen, strict=True):
            if len(seen) < 2:
                always = "never asked" if not seen else "always true" if True in seen else "always false"
                found.setdefault((each.item, condition, always), []).append(each.language)
    for (item, condition, always), languages in found.items():
        among = f" ({', '.join(languages)})" if any(languages) else ""
        yield f"{item}{among}: {condition} is {always}, so its other outcome cannot be shown."
