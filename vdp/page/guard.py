"""What every answer of the page has in common: security headers, the log, hosts that are answered, sizes that are read.

Lives here: one layer of ASGI around all screens.  Not here: who may come in (`gate`).

The log names the screen and the number of the piece, never the words of a search and no path that is not known: what is
unknown may hold anything.
"""

from __future__ import annotations

import ipaddress
import time
import traceback
from collections.abc import Callable, Mapping
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: Bytes of a request's body that are read: forms, and pictures of codes.
MOST_FORM, MOST_UPLOAD = 64_000, 16_000_000
UPLOADS = frozenset(("read_picture",))
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
Say = Callable[[str], None]


class TooLarge(Exception):
    """A request has a larger body than its screen reads."""

    def __init__(self, most: int) -> None:
        super().__init__(f"a body of more than {most:,} bytes")


class Guard:
    """`hosts` are the names under which the page answers; empty for any.  `say` takes a line of the log."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str], say: Say) -> None:
        self.app, self.hosts, self.say = app, hosts, say

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        begun, status, sent = time.monotonic(), 500, False

        async def answer(message: Message) -> None:
            nonlocal status, sent
            if message["type"] == "http.response.start":
                status, sent = message["status"], True
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("Cache-Control", "no-store")
                if "server" in headers:
                    del headers["server"]
            await send(message)

        try:
            refused = self._refused(scope)
            if refused is not None:
                await refused(scope, receive, answer)
            else:
                await self.app(scope, _bounded(scope, receive), answer)
        except Exception as bug:
            place = traceback.extract_tb(bug.__traceback__)[-1]
            self.say(f"our fault: {type(bug).__name__} at {place.name}, line {place.lineno}")
            if not sent:
                await PlainTextResponse("Our fault. The log says where.", 500)(scope, receive, answer)
        finally:
            took = 1000 * (time.monotonic() - begun)
            self.say(f"{scope['method'][:8]} {_screen(scope)} {status} {took:.0f} ms")

    def _refused(self, scope: Scope) -> PlainTextResponse | None:
        """A page of another site could reach a server of this machine under a name of its own."""
        headers = Headers(scope=scope)
        if self.hosts and _host(headers.get("host", "")) not in self.hosts:
            self.say("refused: a host name that is not this page's")
            return PlainTextResponse("This page does not answer under that name.", 400)
        origin = headers.get("origin")
        if scope["method"] not in ("GET", "HEAD") and origin is not None:
            own = f"{scope.get('scheme', 'http')}://{headers.get('host', '')}"
            if origin != own:
                self.say("refused: a form that another site sent")
                return PlainTextResponse("A form of this page must come from this page.", 403)
        return None


def _bounded(scope: Scope, receive: Receive) -> Receive:
    """Reads no more than the screen may have.  Raises TooLarge."""
    taken = 0

    async def bounded() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > _most(scope):
            raise TooLarge(_most(scope))
        return message

    return bounded


def _most(scope: Scope) -> int:
    return MOST_UPLOAD if _name(scope) in UPLOADS else MOST_FORM


def _name(scope: Scope) -> str:
    """The screen's name, when the router has found it."""
    endpoint: Any = scope.get("endpoint")
    return str(getattr(endpoint, "__name__", ""))


def _screen(scope: Scope) -> str:
    """The screen, and the numbers in its path."""
    numbers: Mapping[str, Any] = scope.get("path_params") or {}
    told = " ".join(f"{key} {value}" for key, value in numbers.items() if isinstance(value, int))
    return f"{_name(scope) or 'unknown'} {told}".rstrip()


def _host(said: str) -> str:
    """A Host header without its port."""
    return said.rsplit(":", 1)[0] if not said.endswith("]") and ":" in said else said


def hosts_of(host: str) -> frozenset[str]:
    """The names under which a page that binds to `host` answers; empty, any, where it binds to every address."""
    if host in ("0.0.0.0", "::"):  # noqa: S104  compared, not bound
        return frozenset()
    named = f"[{host}]" if ":" in host else host
    return frozenset((named, "localhost", "127.0.0.1", "[::1]")) if is_loopback(host) else frozenset((named,))


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches what binds to that host."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
