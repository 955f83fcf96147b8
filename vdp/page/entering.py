"""Coming in and going out: the screens of the gate, and what every other screen asks before it answers.

Not here: the decisions (`gate`).
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import wraps
from typing import TYPE_CHECKING

from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

if TYPE_CHECKING:
    from vdp.page.house import House

Screen = Callable[[Request], Awaitable[Response]]
#: Fields and files of a form, and bytes of a field.
MOST_FIELDS, MOST_FILES, MOST_FIELD = 40, 1, 20_000


def house_of(request: Request) -> House:
    """What the page is about."""
    house: House = request.app.state.house
    return house


def inside(screen: Screen) -> Screen:
    """Only for sessions: others are sent to the gate.  A form's token is checked by `form_of`."""

    @wraps(screen)
    async def asked(request: Request) -> Response:
        house = house_of(request)
        cookie = request.cookies.get(house.cookie)
        name = house.gate.session(cookie) if cookie is not None else None
        if name is None:
            if cookie is not None:
                house.say(f"refused: a session that is forged or ended, from {address(request)}")
            if request.method == "GET" and not wants_part(request):
                return RedirectResponse("/enter", 303)
            raise HTTPException(403, "Come in first: your session has ended.")
        request.state.session = name
        try:
            return await screen(request)
        finally:
            await request.close()  # files of a form

    return asked


async def form_of(request: Request) -> FormData:
    """The form that was sent.  Raises HTTPException for one without the session's token."""
    form = await request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=MOST_FIELD)
    house = house_of(request)
    token = form.get("token")
    if not isinstance(token, str) or not house.gate.agrees(request.state.session, token):
        house.say(f"refused: a form without this session's token, from {address(request)}")
        raise HTTPException(403, "This form is not of your session: load the page again.")
    return form


def word(form: FormData, name: str, most: int = 200) -> str:
    """A field of text, "" where it is missing, a file, or too long to be one."""
    value = form.get(name, "")
    return "" if isinstance(value, UploadFile) or len(value) > most else value.strip()


def wants_part(request: Request) -> bool:
    """Whether a part of a screen is asked for: it takes the place of another.  Going back takes a whole one."""
    return "hx-request" in request.headers and "hx-history-restore-request" not in request.headers


def address(request: Request) -> str:
    """Who asks."""
    return request.client.host if request.client is not None else "unknown"


async def enter(request: Request) -> Response:
    """The gate: a password, or only the word that a link is needed."""
    house, wrong = house_of(request), ""
    if request.method == "POST":
        form = await request.form(max_files=0, max_fields=4, max_part_size=2000)
        cookie = house.gate.by_password(word(form, "password", 1000), address(request))
        if cookie is not None:
            house.say(f"came in by password, from {address(request)}")
            return _let_in(house, cookie)
        house.say(f"refused: a wrong password, from {address(request)}")
        wrong = "That is not the password."
    wait = house.gate.wait(address(request))
    if wait > 0:
        wrong = f"Too many wrong tries. Wait {wait:.0f} seconds."
    told = {"wrong": wrong, "password": house.gate.has_password}
    answer = house.show(request, "enter.html", told, status=429 if wait > 0 else 401 if wrong else 200)
    if wait > 0:
        answer.headers["Retry-After"] = f"{wait:.0f}"
    return answer


async def open_link(request: Request) -> Response:
    """A link that works once."""
    house = house_of(request)
    cookie = house.gate.by_link(request.query_params.get("word", ""), address(request))
    if cookie is None:
        house.say(f"refused: a link that is used or wrong, from {address(request)}")
        told = {"wrong": "This link was used before, or is not one of this page.", "password": house.gate.has_password}
        return house.show(request, "enter.html", told, status=403)
    house.say(f"came in by link, from {address(request)}")
    return _let_in(house, cookie)


@inside
async def leave(request: Request) -> Response:
    """Ends the session."""
    await form_of(request)
    house = house_of(request)
    house.gate.end(request.state.session)
    answer = RedirectResponse("/enter", 303)
    answer.delete_cookie(house.cookie, path="/", httponly=True, samesite="strict")
    return answer


def _let_in(house: House, cookie: str) -> Response:
    answer = RedirectResponse("/", 303)
    answer.set_cookie(house.cookie, cookie, path="/", httponly=True, samesite="strict")
    return answer
