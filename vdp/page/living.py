"""A run under way: how far it is, how fast, what it has found so far.  The screen asks again every second.

Not here: what the run tells (`vdp.run.progress`).
"""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from vdp.page.entering import house_of, inside, wants_part
from vdp.run.progress import read_progress


@inside
async def live(request: Request) -> Response:
    """Progress, rate and findings of the run that writes into the folder now."""
    house = house_of(request)
    slot = house.slot(request)
    told = {"slot": slot, "progress": read_progress(slot.folder), "run": await slot.run(), "here": "live"}
    return house.show(request, "going.html" if wants_part(request) else "live.html", told)
