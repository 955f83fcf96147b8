"""Which pieces of a run a person should look at, and why: `choose`.

Lives here: the choice, over all accepted records, in one reading.  Not here: how pieces look, files.

Chosen are the first and the last piece, the ends of each block and roll, each language, each picture, both outcomes of
every condition (an item's own, those inside its texts, in each language's wording, and in what stands around a number),
the longest and the shortest text of every item that records change, a seeded random sample, and what is asked for.
Where one kind would take more than `most` pieces, some are left out, and `Choice.notes` says so.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import NamedTuple

from vdp.compose.fit import picture, wording
from vdp.compose.piece import Accepted
from vdp.errors import OurBug
from vdp.job.context import Context
from vdp.job.template import Template
from vdp.plan.build import Plan
from vdp.plan.numbering import affixes_of
from vdp.plan.steps import FixedStep, FormStep, ImageStep, Step, TextStep
from vdp.press.parts import Arranged
from vdp.proof.branches import Branches, one_sided

#: The sample is the same whenever the proof is made again.
SEED = 20270301
SAMPLE = 5
#: Pieces chosen at most because of one kind of thing that may be many: pictures, conditions in texts, blocks, rolls.
MOST = 24


class Chosen(NamedTuple):
    """A piece (1-based `piece`) with its record, and every reason for which it was chosen, as words."""

    record: Accepted
    language: str
    reasons: tuple[str, ...]

    @property
    def piece(self) -> int:
        return self.record.nth + 1


class Choice(NamedTuple):
    """The pieces in their order; `notes` are sentences about what could not be shown or was left out."""

    pieces: tuple[Chosen, ...]
    notes: tuple[str, ...]


def choose(
    plan: Plan,
    records: Iterable[Accepted],
    pieces: int,
    order: Arranged | None = None,
    *,
    sample: int = SAMPLE,
    seed: int = SEED,
    most: int = MOST,
    wanted: Mapping[int, str] | None = None,
    tell: Callable[[int], None] | None = None,
) -> Choice:
    """Chooses among the accepted records, given in order; `pieces` is how many they are.

    `order` is how they lie on the web, if they do; `wanted` are 1-based pieces with a reason each.  Same arguments,
    same choice.  `tell` is told the records looked at.
    """
    chooser = _Chooser(plan, most)
    fixed: dict[int, list[str]] = {}
    for piece, words in _by_number(pieces, order, sample, seed, most, wanted or {}, chooser.notes):
        fixed.setdefault(piece, []).append(words)
    for record in records:
        piece = record.nth + 1
        chooser.look(record, fixed.get(piece, ()))
        if tell is not None:
            tell(piece)
    chooser.settle()
    if not fixed.keys() <= chooser.chosen.keys():
        raise OurBug(f"{pieces} records were to come, and some did not")
    return Choice(tuple(chooser.chosen[piece] for piece in sorted(chooser.chosen)), tuple(chooser.notes))


def _by_number(
    pieces: int,
    order: Arranged | None,
    sample: int,
    seed: int,
    most: int,
    wanted: Mapping[int, str],
    notes: list[str],
) -> Iterator[tuple[int, str]]:
    """What is known without looking: piece and reason."""
    yield 1, "the first piece"
    yield pieces, "the last piece"
    yield from wanted.items()
    if order is not None:
        for kind, ends in (("roll", _rolls(order)), ("block", _blocks(order))):
            places = sorted({piece for piece, _ in ends})
            kept = places
            if len(places) > most:
                kept = places[: most - most // 2] + places[len(places) - most // 2 :]
                notes.append(
                    f"{len(kept)} of {len(places):,} pieces at the ends of a {kind} are shown, from both ends."
                )
            yield from ((piece, words) for piece, words in ends if piece in set(kept))
    chance = random.Random(seed)  # noqa: S311  a sample that anyone can draw again, no secret
    for piece in sorted(chance.sample(range(1, pieces + 1), min(sample, pieces))):
        yield piece, f"drawn at random (seed {seed})"


def _rolls(order: Arranged) -> list[tuple[int, str]]:
    """The ends of each roll, of every lane of it where lanes run on from roll to roll."""
    if order.rolls == 1:
        return []
    if order.kind == "lanes":
        spans = [span for span in order.spans() if span.pieces]
        return [
            (piece, f"{end} piece of roll {span.roll}, lane {span.lane}")
            for span in spans
            for piece, end in ((span.first, "first"), (span.last, "last"))
        ]
    ends: dict[int, tuple[int, int]] = {}
    for span in order.spans():
        if span.pieces:
            first, last = ends.get(span.roll, (span.first, span.last))
            ends[span.roll] = (min(first, span.first), max(last, span.last))
    return _ends(ends, "roll")


def _blocks(order: Arranged) -> list[tuple[int, str]]:
    if order.kind != "blocks" or order.blocks == 1:
        return []
    ends: dict[int, tuple[int, int]] = {}
    for roll in range(1, order.rolls + 1):
        for stack in order.stacks(roll):
            if stack.pieces:
                first, last = ends.get(stack.block, (stack.pieces[0], stack.pieces[-1]))
                ends[stack.block] = (min(first, stack.pieces[0]), max(last, stack.pieces[-1]))
    return _ends(ends, "block")


def _ends(ends: Mapping[int, tuple[int, int]], kind: str) -> list[tuple[int, str]]:
    """First and last piece of stretches by number."""
    found = []
    for number, (first, last) in ends.items():
        found.append((first, f"the first piece of {kind} {number}"))
        found.append((last, f"the last piece of {kind} {number}"))
    return found


class _Extreme(NamedTuple):
    record: Accepted
    language: str
    length: int


def _told(step: Step, context: Context) -> str:
    """The language of a wording, where an item has more than one; else ""."""
    if not isinstance(step, TextStep) or len(step.wordings) < 2:
        return ""
    return context.language if context.language in step.wordings else "other languages"


class _Chooser:
    """Looks at one record after another and remembers those that matter."""

    def __init__(self, plan: Plan, most: int) -> None:
        self.plan, self.most = plan, most
        self.chosen: dict[int, Chosen] = {}
        self.notes: list[str] = []
        self._steps = [step for step in plan.steps() if not isinstance(step, FormStep)]
        self._languages: set[str] = set()
        self._pictures: set[str] = set()
        self._outcomes: dict[str, set[bool]] = {step.name: set() for step in self._steps if step.when is not None}
        self._affixes = [
            (f"series {name}", template)
            for name in plan.job.model.series
            for template in affixes_of(plan.job, name)
            if template is not None
        ]
        self._branches: dict[tuple[str, Template], Branches] = {}
        self._branched: set[int] = set()
        self._unbranched = 0
        self._long: dict[str, _Extreme] = {}
        self._short: dict[str, _Extreme] = {}

    def take(self, record: Accepted, language: str, words: str) -> None:
        piece = record.nth + 1
        earlier = self.chosen.get(piece)
        reasons = (*earlier.reasons, words) if earlier is not None else (words,)
        self.chosen[piece] = Chosen(record, language, tuple(dict.fromkeys(reasons)))

    def look(self, record: Accepted, fixed: Iterable[str]) -> None:
        """Takes the record for the reasons that are known already, and for what it is the first of."""
        context = self.plan.job.context(record.values, record.serials, record.row)
        language = context.language
        for words in fixed:
            self.take(record, language, words)
        if language not in self._languages:
            self._languages.add(language)
            if self.plan.job.model.records.language is not None:
                self.take(record, language, f"the first in language {language or '(none)'}")
        for step in self._steps:
            if self._holds(step, context, record):
                self._text(step, context, record)
                self._picture(step, context, record)
                self._inside(step, context, record)
        for name, template in self._affixes:
            self._branch(name, "", template, context, record)

    def _holds(self, step: Step, context: Context, record: Accepted) -> bool:
        if isinstance(step, FormStep) or step.when is None:
            return True
        outcome = step.when.holds(context)
        seen = self._outcomes[step.name]
        if outcome not in seen:
            seen.add(outcome)
            self.take(
                record, context.language, f"{step.name} is {'there' if outcome else 'not there'}: {step.when.text}"
            )
        return outcome

    def _inside(self, step: Step, context: Context, record: Accepted) -> None:
        """Conditions that stand inside the item's template."""
        if isinstance(step, (FixedStep, FormStep)):
            return
        template = wording(step, context) if isinstance(step, TextStep) else step.template
        self._branch(step.name, _told(step, context), template, context, record)

    def _branch(self, name: str, language: str, template: Template, context: Context, record: Accepted) -> None:
        branches = self._branches.get((name, template))
        if branches is None:
            branches = self._branches[name, template] = Branches(name, language, template)
        new = branches.new(context)
        piece = record.nth + 1
        if not new or (len(self._branched) >= self.most and piece not in self._branched):
            self._unbranched += len(new)
            return
        self._branched.add(piece)
        self.take(record, context.language, f"{branches.name}: {', '.join(new)}")

    def _text(self, step: Step, context: Context, record: Accepted) -> None:
        if not isinstance(step, TextStep):
            return
        template = wording(step, context)
        if not template.names:
            return
        one = _Extreme(record, context.language, len(template.render(context)))
        if step.name not in self._long or one.length > self._long[step.name].length:
            self._long[step.name] = one
        if step.name not in self._short or one.length < self._short[step.name].length:
            self._short[step.name] = one

    def _picture(self, step: Step, context: Context, record: Accepted) -> None:
        if not isinstance(step, ImageStep):
            return
        path = picture(self.plan, step, context)
        name = path.name if path is not None else ""
        if f"{step.name}/{path}" in self._pictures:
            return
        self._pictures.add(f"{step.name}/{path}")
        if len(self._pictures) <= self.most:
            words = f"the first with {name} in {step.name}" if name else f"the first without a picture in {step.name}"
            self.take(record, context.language, words)

    def settle(self) -> None:
        """What is known only when all have been looked at."""
        for name, longest in self._long.items():
            shortest = self._short[name]
            if longest.length == shortest.length:
                continue
            for end, one in (("longest", longest), ("shortest", shortest)):
                self.take(one.record, one.language, f"the {end} text in {name}: {one.length} characters")
        for name, seen in self._outcomes.items():
            if len(seen) == 1:
                always = "on every piece" if True in seen else "on no piece"
                self.notes.append(f"{name} has a condition and is {always}: its other outcome cannot be shown.")
        self.notes += one_sided(self._branches.values())
        if self._unbranched:
            self.notes.append(
                f"{self._unbranched:,} outcomes of conditions inside texts are not shown: they would take more than "
                f"{self.most} pieces."
            )
        if len(self._pictures) > self.most:
            self.notes.append(f"{self.most} of {len(self._pictures):,} pictures are shown; every one was opened.")
