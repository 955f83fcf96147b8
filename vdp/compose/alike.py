"""Records whose serials differ in nothing but their figures: what is printed of the serials and the layout's own words
alone is tried once for all of them.

Lives here: which steps that holds for, and when it is proved.  Not here: how a step is tried (`fit`).  The proof goes
by the widest figures, and holds for the first pass alone: the second sets every record whatever was proved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from vdp.barcode import carriers
from vdp.compose.small import SmallType
from vdp.job.context import Context
from vdp.marks import Spelled, Stretch
from vdp.plan.steps import FixedStep, ImageStep, MicroStep, SymbolStep, TextStep

FIGURES = "0123456789"
_FIGURES = frozenset(FIGURES)
_AS_ZERO = str.maketrans(FIGURES, "0" * len(FIGURES))

#: The language and each serial with zeros for figures.
Key = tuple[str, ...]

#: Keys remembered; prefixes of a record's own may make any number of them.
_KEPT = 1024
#: Proofs attempted in any case, most in vain while figures of small type are still to be met; and how many records one
#: more must have saved before.
_ATTEMPTS = 256
_PAYS = 8


def depends_on_serials(step: TextStep | MicroStep | SymbolStep | ImageStep | FixedStep) -> bool:
    """Whether a step prints nothing of a record but serials, always, and is of a kind that can be proved."""
    match step:
        case TextStep():
            templates = [*step.wordings.values()]
        case MicroStep():
            templates = [step.template]
        case SymbolStep():
            templates = (
                [step.template] if step.human is None and carriers.figures_alike(step.carrier, step.form) else []
            )
        case _:
            return False
    return step.when is None and bool(templates) and all(template.of_serials for template in templates)


class Alike:
    """What is proved of the records met so far."""

    def __init__(self) -> None:
        self._needs: dict[Key, Mapping[str, int]] = {}
        self._attempts = self._saved = 0

    def key(self, context: Context) -> Key:
        return (context.language, *[serial.translate(_AS_ZERO) for serial in context.serials.values()])

    def proved(self, key: Key) -> Mapping[str, int] | None:
        """What the symbols among those steps need; None where a record has to be tried."""
        needs = self._needs.get(key)
        if needs is not None:
            self._saved += 1
        return needs

    def worth(self) -> bool:
        """Whether another proof is to be attempted: serials with letters of their own would need one each."""
        self._attempts += 1
        return self._attempts <= _ATTEMPTS or self._attempts * _PAYS <= self._saved

    def keep(self, key: Key, needs: Mapping[str, int]) -> None:
        """Takes a key for proved."""
        if len(self._needs) >= _KEPT:
            self._needs.clear()
        self._needs[key] = needs


def letters_hold(step: MicroStep, glyphs: Sequence[Stretch], small: SmallType | None) -> bool:
    """Whether microtext that differs from this in its figures alone can be set, and has no letter left to be judged."""
    width = 0.0
    for part in glyphs:
        figures = "" if _FIGURES.isdisjoint(part.text) else FIGURES
        if small is not None and not small.knows(step.name, step.size, part, figures):
            return False
        if isinstance(part, Spelled):
            try:
                width += part.letters.broadest(part.text)
            except LookupError:
                return False
        elif figures:
            return False
        else:
            width += part.width
    return width < step.room
