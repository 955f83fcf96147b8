"""What one page is about: its gate, its runs, what the auditor judged; and how a screen becomes HTML.

Not here: the screens.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse

from vdp.audit.opinion import Audit
from vdp.page.gate import Gate
from vdp.page.opened import Run, Slot
from vdp.page.signing import Signing
from vdp.run.reconcile import Told

HERE = Path(__file__).parent
_PAGES = Environment(
    loader=FileSystemLoader(HERE / "templates"),
    autoescape=select_autoescape(default=True),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_PAGES.filters["thousands"] = lambda count: f"{count:,}"


@dataclass(frozen=True, slots=True)
class Auditing:
    """What an auditor's page adds: the judgement made before it began, the ledgers, what the line's reads came to."""

    audit: Audit
    ledgers: tuple[str, ...]
    reconciled: tuple[Told, ...] = ()


@dataclass(frozen=True, slots=True)
class House:
    """`cookie` is the name of the session's; `say` takes a line of the log; `auditing` and `signing` are what such
    pages add."""

    gate: Gate
    slots: Sequence[Slot]
    cookie: str
    say: Callable[[str], None]
    auditing: Auditing | None = None
    signing: Signing | None = None

    def show(self, request: Request, name: str, told: Mapping[str, Any], status: int = 200) -> HTMLResponse:
        """A screen, or a part of one, as HTML."""
        session = getattr(request.state, "session", None)
        around = {
            "slots": self.slots,
            "auditor": self.auditing is not None,
            "token": self.gate.token(session) if session is not None else "",
            "signing": self.signing,
        }
        return HTMLResponse(_PAGES.get_template(name).render({**around, **told}), status)

    def slot(self, request: Request) -> Slot:
        """The run's slot that the path names.  Raises HTTPException."""
        number = int(request.path_params["run"])
        if not 1 <= number <= len(self.slots):
            raise HTTPException(404, "There is no such run here.")
        return self.slots[number - 1]

    async def run(self, request: Request) -> tuple[Slot, Run]:
        """The run that the path names, open.  Raises HTTPException."""
        slot = self.slot(request)
        run = await slot.run()
        if run is None:
            raise HTTPException(404, f"There is no finished run in this folder: {slot.why}.")
        return slot, run
