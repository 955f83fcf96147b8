"""The page as an ASGI application: which address shows which screen, and how refusals look.

Not here: serving it (`serve`).
"""

from __future__ import annotations

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from vdp.page import auditing, entering, living, screens, signing, webbing
from vdp.page.guard import Guard, TooLarge
from vdp.page.house import HERE, House

_RUN = "/run/{run:int}"
_PIECE = f"{_RUN}/piece/{{piece:int}}"


def make_app(house: House, hosts: frozenset[str]) -> ASGIApp:
    """The application for a house that answers under `hosts`."""
    routes = [
        Route("/", screens.home),
        Route("/enter", entering.enter, methods=["GET", "POST"]),
        Route("/open", entering.open_link),
        Route("/leave", entering.leave, methods=["POST"]),
        Route(f"{_RUN}/pieces", screens.pieces),
        Route(f"{_RUN}/find", screens.find, methods=["POST"]),
        Route(_PIECE, screens.piece),
        Route(f"{_PIECE}/code/{{code:int}}", screens.code),
        Route(f"{_PIECE}/{{side:str}}.png", screens.picture),
        Route(f"{_PIECE}/{{side:str}}/dots.png", screens.dots),
        Route(f"{_RUN}/aside", screens.set_aside),
        Route(f"{_RUN}/findings", screens.findings),
        Route(f"{_RUN}/web", webbing.web),
        Route(f"{_RUN}/web/place", webbing.place, methods=["POST"]),
        Route(f"{_RUN}/web/told", webbing.tell),
        Route(f"{_RUN}/web/stacks.svg", webbing.stacks),
        Route(f"{_RUN}/web/{{roll:int}}/{{frame:int}}", webbing.frame),
        Route(f"{_RUN}/live", living.live),
        Mount("/static", StaticFiles(directory=HERE / "static"), name="static"),
    ]
    if house.auditing is not None:
        routes += auditing.ROUTES
    if house.signing is not None:
        routes += signing.ROUTES
    app = Starlette(routes=routes, exception_handlers={HTTPException: _refused, TooLarge: _too_large})
    app.state.house = house
    return Guard(app, hosts, house.say)


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)  # noqa: S101  as registered
    house = entering.house_of(request)
    told = {"status": _WORDS.get(error.status_code, "Refused"), "why": error.detail}
    return house.show(request, "refused.html", told, error.status_code)


async def _too_large(request: Request, error: Exception) -> Response:
    house = entering.house_of(request)
    house.say(f"refused: {error}")
    return house.show(request, "refused.html", {"status": _WORDS[413], "why": f"This page does not read {error}."}, 413)


_WORDS = {403: "Refused", 404: "Not here", 405: "Not so", 413: "Too large", 422: "Cannot be read", 429: "Wait"}
