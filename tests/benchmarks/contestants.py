"""Who takes part, by name: a title, and where the function is that composes.  It is imported when it is asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from types import MappingProxyType

#: Job folder, records, how many of them, and the PDF to write.
Compose = Callable[[Path, Path, int, Path], None]


@dataclass(frozen=True, slots=True)
class Contestant:
    name: str
    title: str
    module: str
    function: str = "compose"

    def compose(self) -> Compose:
        """The function that composes, with everything it needs imported."""
        function: Compose = getattr(import_module(f"tests.benchmarks.{self.module}"), self.function)
        return function


#: Those that leave a file to be judged.
JUDGED = ("straight", "tuned", "tuned-lent", "overlay", "typeset", "typeset-lent", "vdp", "vdp-small")
CONTESTANTS: Mapping[str, Contestant] = MappingProxyType(
    {
        contestant.name: contestant
        for contestant in (
            Contestant("straight", "(a) reportlab, straightforward", "rivals.straight"),
            Contestant("tuned", "(b) reportlab, tuned, segno", "rivals.tuned"),
            Contestant("tuned-lent", "(b) reportlab, tuned, QR of vdp lent", "rivals.tuned", "compose_lent"),
            Contestant("overlay", "(c) reportlab overlay + pypdf merge_page", "rivals.overlay"),
            Contestant("typeset", "(d) typst, segno", "rivals.typeset"),
            Contestant("typeset-lent", "    typst, QR of vdp lent", "rivals.typeset", "compose_lent"),
            Contestant("vdp", "vdp", "product"),
            Contestant("vdp-small", "vdp, smaller files", "product", "compose_small"),
            Contestant("vdp-to-nothing", "vdp, to a file that is forgotten", "product", "compose_to_nothing"),
        )
    }
)
